/* stream_arrivals.c - the even clock behind uneven arrivals.
 *
 * A simulator sends evenly; the network delays each datagram by its own time,
 * or holds several back and delivers them at once, and loses some. Sought is
 * the line (interval, start) that the latest arrivals lie behind by the least
 * spread, each on a slot of its own and some slots empty. The lower edge of
 * what is left is the delay of the fastest, which counts as none. */
#include <math.h>
#include <string.h>

#include "stream.h"

#define MS INT64_C(1000000)

/* Ours, no source: chosen by the tests against delays, bursts and losses. */
#define WINDOW_NS (8000 * MS)
#define GAP_NS (600 * MS)                    /* a longer silence begins anew */
#define REFIT_NS (80 * MS)                   /* between two searches */
static const double even_rms_ns = 1.5e6;     /* nothing to smooth */
static const double worst_rms_ns = 80e6;     /* not an even sender */
static const double worst_lost = 0.15;       /* rather a slower sender */
static const double share_of_interval = 0.6; /* for one moment */
/* Where intervals are shorter, delays put datagrams in disorder and look like
 * losses; where they are longer, arrivals are few. Losses are then believed
 * only when they explain much. */
static const double short_interval_ns = 25e6;
static const double long_interval_ns = 150e6;
static const double changed_share = 0.12; /* of the interval */
static const double least_half_ns = 1.5e9;
static const double doubtful_gain = 0.6;
static const double certain_gain = 0.3;      /* it is a slower sender */
static const double unknown_share_ns = 20e6; /* before the interval is known */

enum { LEAST_ARRIVALS = 12 };

/* A line through arrivals, and how well they keep to it. Times in ns from the
 * first arrival of the window. */
struct line {
    double interval;
    double slack; /* what was assumed of the delays */
    double rms;
    double lost; /* slots without an arrival, of all */
    double cost;
    double last; /* the last arrival's slot */
};

/* Sums of a least-squares line of arrival over slot. */
struct sums {
    double n, x, y, xx, xy, yy;
};

static void sums_add(struct sums *sums, double x, double y)
{
    sums->n += 1.0;
    sums->x += x;
    sums->y += y;
    sums->xx += x * x;
    sums->xy += x * y;
    sums->yy += y * y;
}

static double at_of(const struct intake_arrivals *arrivals, uint32_t i)
{
    return (double)(arrivals->at_ns[i] - arrivals->at_ns[0]);
}

/* Put each arrival on a slot: the next one, unless it would be later than
 * slack behind it; then slots before it were lost. One that is early moves
 * the slots. */
static void assign(const struct intake_arrivals *arrivals,
                   const struct line *line, double slot[INTAKE_ARRIVALS])
{
    double edge = 0.0; /* when the present slot was sent */

    slot[0] = 0.0;
    for (uint32_t i = 1; i < arrivals->count; i++) {
        double at = at_of(arrivals, i);

        edge += line->interval;
        slot[i] = slot[i - 1] + 1.0;
        if (at - edge > line->slack) {
            double lost = ceil((at - edge - line->slack) / line->interval);

            slot[i] += lost;
            edge += lost * line->interval;
        }
        if (at < edge)
            edge = at;
    }
}

/* Lay the line through the slots; its start is then lowered until no arrival
 * is before its slot. */
static void lay(const struct intake_arrivals *arrivals, struct line *line)
{
    double slot[INTAKE_ARRIVALS];
    struct sums sums = {0};
    double start;
    double least = INFINITY;
    double square = 0.0;
    uint32_t last = arrivals->count - 1;

    assign(arrivals, line, slot);
    for (uint32_t i = 0; i <= last; i++)
        sums_add(&sums, slot[i], at_of(arrivals, i));
    line->interval = (sums.n * sums.xy - sums.x * sums.y) /
                     (sums.n * sums.xx - sums.x * sums.x);
    start = (sums.y - line->interval * sums.x) / sums.n;
    for (uint32_t i = 0; i <= last; i++) {
        double rest = at_of(arrivals, i) - start - line->interval * slot[i];

        square += rest * rest;
        least = fmin(least, rest);
    }
    line->rms = sqrt(square / sums.n);
    line->last = start + least + line->interval * slot[last];
    line->lost = 1.0 - sums.n / (slot[last] + 1.0);
    /* Losses explain much, so they must explain it well. */
    line->cost = line->rms * (1.0 + 3.0 * line->lost);
}

/* Try what the true interval may be when the mean one hides losses, and what
 * delays there may be. */
static void search(const struct intake_arrivals *arrivals, struct line *best)
{
    static const double shares[] = {0.98, 0.96, 0.93, 0.90, 0.86};
    static const double slacks[] = {0.4, 0.7, 1.0, 1.4, 2.0, 3.0, 5.0, 8.0};
    struct line plain = {.interval = 1.0, .slack = INFINITY};
    bool doubtful;

    lay(arrivals, &plain);
    *best = plain;
    doubtful =
        plain.interval < short_interval_ns || plain.interval > long_interval_ns;
    /* Where there is nothing to smooth, a better line would change nothing. */
    if (!(plain.interval > 0.0) || plain.rms <= even_rms_ns)
        return;
    for (size_t i = 0; i < sizeof shares / sizeof shares[0]; i++) {
        for (size_t k = 0; k < sizeof slacks / sizeof slacks[0]; k++) {
            struct line line = {.interval = plain.interval * shares[i]};

            line.slack = line.interval * slacks[k];
            lay(arrivals, &line);
            lay(arrivals, &line);
            if (doubtful &&
                line.rms > plain.rms * (line.lost > worst_lost ? certain_gain
                                                               : doubtful_gain))
                continue;
            if (line.cost < best->cost)
                *best = line;
        }
    }
}

static void drop_oldest(struct intake_arrivals *arrivals, uint32_t number)
{
    arrivals->count -= number;
    memmove(arrivals->at_ns, arrivals->at_ns + number,
            arrivals->count * sizeof arrivals->at_ns[0]);
}

/* Mean interval from an arrival on. */
static double interval_from(const struct intake_arrivals *arrivals,
                            uint32_t from)
{
    struct sums sums = {0};

    for (uint32_t i = from; i < arrivals->count; i++)
        sums_add(&sums, i, at_of(arrivals, i));
    return (sums.n * sums.xy - sums.x * sums.y) /
           (sums.n * sums.xx - sums.x * sums.x);
}

/* Whether the newer half has another pace; a short one tells nothing, bursts
 * would do the same. */
static bool has_changed(const struct intake_arrivals *arrivals)
{
    uint32_t middle = arrivals->count / 2;
    double span_ns =
        at_of(arrivals, arrivals->count - 1) - at_of(arrivals, middle);

    return span_ns >= least_half_ns &&
           fabs(interval_from(arrivals, middle) / interval_from(arrivals, 0) -
                1.0) > changed_share;
}

static void fit(struct intake_arrivals *arrivals)
{
    struct line line;

    arrivals->even = false;
    if (arrivals->count < LEAST_ARRIVALS)
        return;
    if (has_changed(arrivals))
        drop_oldest(arrivals, arrivals->count / 2);
    if (arrivals->count < LEAST_ARRIVALS)
        return;
    search(arrivals, &line);
    if (!(line.interval > 0.0 && line.rms <= worst_rms_ns &&
          line.lost <= worst_lost)) {
        /* The sender has changed its rate, or has none. */
        drop_oldest(arrivals, arrivals->count / 2);
        return;
    }
    arrivals->even = true;
    arrivals->interval_ns = line.interval;
    arrivals->slack_ns = line.rms > even_rms_ns ? line.slack : 0.0;
    arrivals->slot_ns = arrivals->at_ns[0] + llround(line.last);
}

/* Between two searches the line is only followed. */
static void follow(struct intake_arrivals *arrivals, int64_t arrival_ns)
{
    double late_ns;

    arrivals->slot_ns += llround(arrivals->interval_ns);
    late_ns = (double)(arrival_ns - arrivals->slot_ns);
    if (late_ns > arrivals->slack_ns && isfinite(arrivals->slack_ns))
        arrivals->slot_ns += llround(
            ceil((late_ns - arrivals->slack_ns) / arrivals->interval_ns) *
            arrivals->interval_ns);
    if (arrivals->slot_ns > arrival_ns)
        arrivals->slot_ns = arrival_ns;
}

/* Whether a datagram belongs to the moment of the one before: another kind of
 * packet, or the same again. */
static bool joins(const struct intake_arrivals *arrivals,
                  const struct moment *moment)
{
    double most_ns = arrivals->even ? share_of_interval * arrivals->interval_ns
                                    : unknown_share_ns;
    int64_t since_ns;

    if (arrivals->count == 0 ||
        (moment->moved && (moment->brought & arrivals->moment_has) != 0))
        return false;
    since_ns = moment->arrival_ns - arrivals->at_ns[arrivals->count - 1];
    return (double)since_ns < most_ns;
}

int64_t arrivals_stamp(struct intake_arrivals *arrivals,
                       const struct moment *moment)
{
    int64_t arrival_ns = moment->arrival_ns;
    int64_t t_ns = arrival_ns;

    if (arrivals->count > 0 &&
        arrival_ns - arrivals->at_ns[arrivals->count - 1] > GAP_NS) {
        arrivals->count = 0;
        arrivals->even = false;
    }
    if (joins(arrivals, moment)) {
        arrivals->moment_has |= moment->brought;
        return arrivals->even ? arrivals->last_ns : arrival_ns;
    }
    arrivals->moment_has = moment->brought;
    if (arrivals->count == INTAKE_ARRIVALS)
        drop_oldest(arrivals, 1);
    arrivals->at_ns[arrivals->count++] = arrival_ns;
    while (arrival_ns - arrivals->at_ns[0] > WINDOW_NS)
        drop_oldest(arrivals, 1);
    if (arrivals->even)
        follow(arrivals, arrival_ns);
    if (arrival_ns - arrivals->fitted_ns >= REFIT_NS) {
        arrivals->fitted_ns = arrival_ns;
        fit(arrivals);
    }
    if (arrivals->even && arrivals->slack_ns > 0.0)
        t_ns = arrivals->slot_ns;
    arrivals->last_ns = t_ns;
    return t_ns;
}
