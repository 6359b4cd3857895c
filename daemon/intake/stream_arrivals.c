/* stream_arrivals.c - the even clock behind uneven arrivals.
 *
 * A simulator sends evenly; the network delays each datagram by its own time,
 * or holds several back and delivers them at once, and loses some. Followed is
 * the centre of the arrivals: where one would come with the mean delay, an
 * interval after the one before, corrected a little by each (a second-order
 * loop that begins as a line fit). An arrival far off says that slots were
 * lost. How far before its centre a datagram was sent is told by the spread
 * of the delays. Each packet costs a few dozen operations, whatever is
 * remembered. */
#include <math.h>
#include <string.h>

#include "stream.h"

#define MS INT64_C(1000000)

/* Ours, no source: chosen by the tests against delays, bursts and losses. */
static const double gap_ns = 600e6; /* a longer silence begins anew, */
static const double gap_slots = 6.0;
static const double gap_most_ns = 1500e6; /* but a slow sender may lose some */
static const double share_of_interval = 0.6; /* for one moment */
static const double share_of_copy = 0.3; /* a copy comes within, the next not */
static const double unknown_share_ns = 20e6; /* before the interval is known */
static const double least_interval_ns = 1e6;
static const double memory_ns = 3e9;     /* of the statistics */
static const double even_rms_ns = 1.5e6; /* nothing to smooth */
/* Senders slower than this show by their gaps whether they are even ones. */
static const double slow_interval_ns = 120e6;
static const double irregular_share = 0.5;
/* Where intervals are shorter, delays look like losses. */
static const double dense_interval_ns = 40e6;
static const double compared_ns = 55e6; /* longer than delays hang together */
static const double least_white = 0.25;
static const double gain_least = 0.08;
static const double gain_most = 0.30;
static const double interval_gain = 0.3;
/* Evidence of a lost slot, as the logarithm of odds. */
static const double half_slot = 0.45;
static const double odds_certain = 5.0;
static const double odds_even = 3.0;
static const double lost_memory = 0.045; /* of the share of lost slots */
static const double most_lost = 0.23;
static const double most_shared = 0.20;
/* The mean of evenly spread delays stands sqrt(3) of their spread above the
 * least. */
static const double mean_delay = 1.65;
static const double most_delay = 1.2; /* of how early arrivals were */
static const double early_fades = 1e-3;

enum { LEAST_ARRIVALS = 12, LEAST_FOR_SLOTS = 8, MOST_COMPARED = 16 };

static void begin(struct intake_arrivals *arrivals, int64_t arrival_ns)
{
    memset(arrivals, 0, sizeof *arrivals);
    arrivals->count = 1.0;
    arrivals->at_ns = arrivals->last_ns = arrival_ns;
}

/* The share of a new value in a running mean of so many values. */
static double share_of_new(const struct intake_arrivals *arrivals, double count)
{
    double steady = fmin(0.1, arrivals->interval_ns / memory_ns);

    return fmin(1.0, fmax(1.0 / fmax(count, 1.0), steady));
}

/* The evidence of one lost slot in units of log odds: a shift of T of values
 * with a spread s tells T / s^2 for each ns beyond the middle. */
static double odds_per_ns(const struct intake_arrivals *arrivals)
{
    return arrivals->interval_ns /
           fmax(arrivals->spread_ns * arrivals->spread_ns, 1.0);
}

/* How many slots were lost before this arrival (-1: one too many was counted).
 * off_ns: arrival less where it was expected. */
static double lost_slots(struct intake_arrivals *arrivals, double off_ns)
{
    double half_ns = half_slot * arrivals->interval_ns;
    double certain_ns = odds_certain / odds_per_ns(arrivals);
    double lost = 0.0;

    if (arrivals->count <= LEAST_FOR_SLOTS)
        return 0.0;
    arrivals->later = fmax(0.0, arrivals->later + off_ns - half_ns);
    arrivals->sooner = fmax(0.0, arrivals->sooner - off_ns - half_ns);
    if (arrivals->later > certain_ns && off_ns > 0.0)
        lost = fmax(1.0, round(off_ns / arrivals->interval_ns));
    else if (arrivals->sooner > certain_ns && off_ns < 0.0)
        lost = -1.0;
    if (lost != 0.0)
        arrivals->later = arrivals->sooner = 0.0;
    return lost;
}

/* Correct centre and interval. The gains are those of a line fitted through
 * all arrivals until they have come down to the steady ones. */
static void correct(struct intake_arrivals *arrivals, double expected_ns,
                    double rest_ns)
{
    double n = arrivals->count;
    double gain = 1.0;
    double gain_interval = 1.0;

    if (n > 2.0) {
        gain = fmax(2.0 * (2.0 * n - 1.0) / (n * (n + 1.0)), arrivals->gain);
        gain_interval =
            fmax(6.0 / (n * (n + 1.0)), interval_gain * gain * gain);
    }
    arrivals->centre_ns = expected_ns + gain * rest_ns;
    arrivals->interval_ns = fmax(
        least_interval_ns, arrivals->interval_ns + gain_interval * rest_ns);
}

/* An interval that needs many slots lost, or shared, is a wrong one: the sender
 * has another pace, or the beginning misled. The mean one is tried. */
static void keep_pace(struct intake_arrivals *arrivals, double lost)
{
    if (arrivals->count <= LEAST_FOR_SLOTS)
        return;
    arrivals->lost_share += lost_memory * (lost - arrivals->lost_share);
    if (arrivals->lost_share <= most_lost &&
        arrivals->lost_share >= -most_shared)
        return;
    arrivals->interval_ns *= 1.0 + arrivals->lost_share;
    arrivals->lost_share = 0.0;
    arrivals->later = arrivals->sooner = 0.0;
    arrivals->count = 2.0;
}

/* The variance of steps over so many arrivals. which: short or double. */
static double variance_of_steps(struct intake_arrivals *arrivals, int which,
                                unsigned steps, double share)
{
    double step_ns =
        arrivals->path_ns[arrivals->newest] -
        arrivals->path_ns[(arrivals->newest - steps) % INTAKE_ARRIVALS];
    double *mean_ns = &arrivals->mean_ns[which];
    double *square_ns2 = &arrivals->square_ns2[which];

    *mean_ns += share * (step_ns - *mean_ns);
    *square_ns2 += share * (step_ns * step_ns - *square_ns2);
    return fmax(0.0, *square_ns2 - *mean_ns * *mean_ns);
}

/* Tell delays, which stay the same over longer steps, from losses that were
 * not seen, which add up; from both follows the gain (the steady one of a
 * Kalman filter for a random walk seen through noise). */
static void weigh(struct intake_arrivals *arrivals)
{
    double slots = ceil(compared_ns / arrivals->interval_ns);
    unsigned steps = (unsigned)fmin(slots, MOST_COMPARED);
    double count = arrivals->count - 2.0 * steps - 3.0;
    double share = share_of_new(arrivals, count);
    double once;
    double twice;
    double delays;
    double ratio;

    if (count <= 1.0)
        return;
    once = variance_of_steps(arrivals, 0, steps, share);
    twice = variance_of_steps(arrivals, 1, 2 * steps, share);
    delays =
        fmax(fmin(once / 2.0, once - twice / 2.0), least_white * once / 2.0);
    ratio =
        fmax(0.0, (twice - 2.0 * delays) / (2.0 * steps)) / fmax(delays, 1.0);
    /* Losses alone leave nothing over. */
    arrivals->spread_ns = sqrt(fmin(delays, arrivals->uneven_ns2));
    arrivals->gain = fmin(
        gain_most,
        fmax(gain_least, (sqrt(ratio * ratio + 4.0 * ratio) - ratio) / 2.0));
}

static void follow(struct intake_arrivals *arrivals, double passed_ns)
{
    double expected_ns;
    double off_ns;
    double lost;
    double rest_ns;
    double path_ns = arrivals->path_ns[arrivals->newest];
    double share;

    arrivals->count += 1.0;
    expected_ns = arrivals->centre_ns + arrivals->interval_ns - passed_ns;
    off_ns = -expected_ns;
    lost = lost_slots(arrivals, off_ns);
    rest_ns = off_ns - lost * arrivals->interval_ns;
    path_ns += arrivals->interval_ns < dense_interval_ns ? off_ns : rest_ns;
    path_ns += arrivals->centre_ns;
    correct(arrivals, -rest_ns, rest_ns);
    keep_pace(arrivals, lost);
    share = share_of_new(arrivals, arrivals->count - 2.0);
    arrivals->uneven_ns2 += share * (rest_ns * rest_ns - arrivals->uneven_ns2);
    arrivals->raw_ns2 += share * (off_ns * off_ns - arrivals->raw_ns2);
    arrivals->newest = (arrivals->newest + 1) % INTAKE_ARRIVALS;
    arrivals->path_ns[arrivals->newest] = path_ns;
    weigh(arrivals);
    arrivals->early_ns =
        fmin(0.0, fmin(arrivals->early_ns + early_fades * passed_ns,
                       -arrivals->centre_ns));
}

/* Whether there is an even clock to be told, and anything to take out. */
static bool smooths(const struct intake_arrivals *arrivals)
{
    double interval_ns = arrivals->interval_ns;

    if (arrivals->count <= LEAST_ARRIVALS ||
        arrivals->uneven_ns2 <= even_rms_ns * even_rms_ns)
        return false;
    return interval_ns < slow_interval_ns ||
           arrivals->raw_ns2 < irregular_share * interval_ns * interval_ns;
}

/* A slot that may have been lost counts as far as it is likely. */
static double likely_ns(const struct intake_arrivals *arrivals, double evidence)
{
    if (evidence <= 0.0)
        return 0.0;
    return arrivals->interval_ns /
           (1.0 + exp(odds_even - evidence * odds_per_ns(arrivals)));
}

/* When the latest was sent, from its arrival. */
static double sent_ns(const struct intake_arrivals *arrivals)
{
    double delay_ns = fmin(mean_delay * arrivals->spread_ns,
                           -most_delay * arrivals->early_ns);

    return fmin(0.0, arrivals->centre_ns - delay_ns +
                         likely_ns(arrivals, arrivals->later) -
                         likely_ns(arrivals, arrivals->sooner));
}

/* Whether a datagram belongs to the moment of the one before: another kind of
 * packet, or the same again. */
static bool joins(const struct intake_arrivals *arrivals,
                  const struct moment *moment)
{
    double most_ns = arrivals->count > LEAST_ARRIVALS
                         ? share_of_interval * arrivals->interval_ns
                         : unknown_share_ns;

    if (moment->moved && (moment->brought & arrivals->moment_has) != 0)
        return false;
    return (double)(moment->arrival_ns - arrivals->at_ns) < most_ns;
}

bool arrivals_again(const struct intake_arrivals *arrivals,
                    const struct moment *moment)
{
    if (moment->moved || arrivals->count <= LEAST_ARRIVALS ||
        (moment->brought & ~arrivals->moment_has) != 0)
        return false;
    return (double)(moment->arrival_ns - arrivals->at_ns) <
           share_of_copy * arrivals->interval_ns;
}

int64_t arrivals_stamp(struct intake_arrivals *arrivals,
                       const struct moment *moment)
{
    int64_t arrival_ns = moment->arrival_ns;
    double passed_ns = (double)(arrival_ns - arrivals->at_ns);
    double slow_ns = fmin(gap_slots * arrivals->interval_ns, gap_most_ns);
    int64_t t_ns = arrival_ns;

    if (arrivals->count < 1.0 || passed_ns > fmax(gap_ns, slow_ns)) {
        begin(arrivals, arrival_ns);
        arrivals->moment_has = moment->brought;
        return arrival_ns;
    }
    if (joins(arrivals, moment)) {
        arrivals->moment_has |= moment->brought;
        return smooths(arrivals) ? arrivals->last_ns : arrival_ns;
    }
    arrivals->moment_has = moment->brought;
    arrivals->at_ns = arrival_ns;
    follow(arrivals, passed_ns);
    if (smooths(arrivals))
        t_ns += llround(sent_ns(arrivals));
    if (t_ns < arrivals->last_ns)
        t_ns = arrivals->last_ns;
    arrivals->last_ns = t_ns;
    return t_ns;
}
