/* stream_clock.c - stream time out of the simulator's own.
 *
 * What the simulator tells is brought to real pace (slow motion, time lapse),
 * and tied to the arrivals of the packets that came through fastest. */
#include <math.h>

#include "stream.h"

#define MS INT64_C(1000000)

/* Ours, no source: what a home network and a simulator can do. */
#define LATE_LIMIT_NS (2000 * MS)  /* further back is no reordering */
#define AHEAD_LIMIT_NS (1000 * MS) /* gained on the arrivals at once */
#define OUTAGE_SLACK_NS (250 * MS) /* clock still good after a silence */
/* A pause without packets. The simulator's clock may have run on by so much as
 * trends are carried over (flight/estimator.c): a sender of one a second has
 * done so by the first packet. Less of a standing clock may be a hiccup of the
 * network, behind which the first packet is as old as after a pause. */
#define STOOD_RAN_NS (1500 * MS)
#define STOOD_LEAST_NS (2000 * MS)
#define CLOCK_STILL_NS (500 * MS)
#define WINDOW_NS (500 * MS)
#define STRETCH_NS (1000 * MS) /* over which a rate is measured */
#define MUCH_NS (100000 * MS)

/* Nearer to 1 is real time: drift, jitter, a machine that stutters. */
static const double rate_slack = 0.12;
static const double rate_least = 0.02;
static const double rate_most = 50.0;

static bool tells_time(const struct moment *moment)
{
    return (moment->brought & CHANNEL_BIT(CHANNEL_SIM_TIME)) != 0;
}

/* ---- order -------------------------------------------------------------- */

/* A clock that begins again at 0 goes on, the short way from the last. */
static int64_t unwrap(const struct intake_stream *stream, int64_t sim_ns)
{
    int64_t wrap_ns = llround(stream->layout->sim_time_wrap_s * 1e9);
    int64_t step_ns;

    if (wrap_ns <= 0 || !stream->has_sim_time)
        return sim_ns;
    step_ns = (sim_ns - stream->last_sim_ns) % wrap_ns;
    if (step_ns > wrap_ns / 2)
        step_ns -= wrap_ns;
    else if (step_ns <= -wrap_ns / 2)
        step_ns += wrap_ns;
    return stream->last_sim_ns + step_ns;
}

static enum clock_order order_of(const struct intake_stream *stream,
                                 const struct moment *moment)
{
    int64_t step_ns = moment->sim_ns - stream->last_sim_ns;
    int64_t passed_ns = moment->arrival_ns - stream->moved_ns;

    if (!stream->has_sim_time)
        return CLOCK_FIRST;
    if (step_ns <= -LATE_LIMIT_NS)
        return CLOCK_ELSEWHERE;
    if (step_ns < 0)
        return CLOCK_LATE;
    if (step_ns == 0)
        /* Two kinds of packets may share one moment. */
        return (moment->brought & ~stream->last_sim_has) != 0 ? CLOCK_NEXT
                                                              : CLOCK_SAME;
    if ((double)step_ns / fmax(stream->rate.rate, 1.0) - (double)passed_ns >
        (double)AHEAD_LIMIT_NS)
        return CLOCK_ELSEWHERE;
    return CLOCK_NEXT;
}

void clock_read(const struct intake_stream *stream, double sim_time_s,
                struct moment *moment)
{
    moment->sim_ns = 0;
    moment->order = CLOCK_NONE;
    if (!tells_time(moment))
        return;
    moment->sim_ns = unwrap(stream, (int64_t)llround(sim_time_s * 1e9));
    moment->order = order_of(stream, moment);
}

/* ---- pace --------------------------------------------------------------- */

/* Begin to measure anew. What ran on from where it stood runs as it did before;
 * what is elsewhere may be another flight. */
static void rate_begin(struct intake_rate *rate, const struct moment *moment)
{
    rate->arrival_ns = moment->arrival_ns;
    rate->sim_ns = moment->sim_ns;
    if (moment->order != CLOCK_NEXT)
        rate->stretch = rate->rate = 1.0;
    rate->flow_from_sim_ns = rate->flow_ns = moment->sim_ns;
}

/* Simulator time at real pace; at a rate of 1 the simulator's own. */
static int64_t flow_at(const struct intake_rate *rate, int64_t sim_ns)
{
    int64_t since_ns = sim_ns - rate->flow_from_sim_ns;

    if (rate->rate != 1.0)
        since_ns = (int64_t)llround((double)since_ns / rate->rate);
    return rate->flow_ns + since_ns;
}

static bool is_real_time(double rate)
{
    return fabs(rate - 1.0) <= rate_slack;
}

/* A rate counts once two stretches in a row agree on it: one alone may be a
 * stutter of the simulator or of the network. */
static double rate_after(const struct intake_rate *rate, double stretch)
{
    if (is_real_time(stretch))
        return 1.0;
    if (fabs(stretch / rate->stretch - 1.0) > 1.5 * rate_slack ||
        stretch < rate_least || stretch > rate_most)
        return rate->rate;
    if (fabs(stretch / rate->rate - 1.0) < rate_slack)
        return rate->rate + 0.3 * (stretch - rate->rate);
    return 0.5 * (stretch + rate->stretch);
}

static void rate_follow(struct intake_rate *rate, const struct moment *moment)
{
    int64_t passed_ns = moment->arrival_ns - rate->arrival_ns;
    double stretch;
    double next;

    if (passed_ns < STRETCH_NS)
        return;
    stretch = (double)(moment->sim_ns - rate->sim_ns) / (double)passed_ns;
    next = rate_after(rate, stretch);
    if (next != rate->rate) {
        rate->flow_ns = flow_at(rate, moment->sim_ns);
        rate->flow_from_sim_ns = moment->sim_ns;
        rate->rate = next;
    }
    rate->stretch = stretch;
    rate->arrival_ns = moment->arrival_ns;
    rate->sim_ns = moment->sim_ns;
}

/* In slow motion and time lapse the clock runs on at its own pace. */
static int64_t ran_on_ns(const struct intake_stream *stream,
                         const struct moment *moment)
{
    /* There is none yet while all that came was of a pause. */
    double pace = stream->rate.rate > 0.0 ? stream->rate.rate : 1.0;

    return llround((double)(moment->sim_ns - stream->last_sim_ns) / pace);
}

bool clock_survived(const struct intake_stream *stream,
                    const struct moment *moment)
{
    int64_t off_ns =
        ran_on_ns(stream, moment) - (moment->arrival_ns - stream->moved_ns);

    return off_ns <= OUTAGE_SLACK_NS && off_ns >= -OUTAGE_SLACK_NS;
}

/* Whether a clock that begins again at 0 ran on, whole rounds of it. */
static bool went_round(const struct intake_stream *stream, int64_t behind_ns)
{
    int64_t wrap_ns = llround(stream->layout->sim_time_wrap_s * 1e9);
    int64_t rest_ns;

    if (wrap_ns <= 0 || behind_ns < wrap_ns - OUTAGE_SLACK_NS)
        return false;
    rest_ns = behind_ns % wrap_ns;
    return rest_ns <= OUTAGE_SLACK_NS || rest_ns >= wrap_ns - OUTAGE_SLACK_NS;
}

bool clock_stood(const struct intake_stream *stream,
                 const struct moment *moment)
{
    int64_t ran_ns;
    int64_t behind_ns;

    if (moment->order != CLOCK_NEXT && moment->order != CLOCK_SAME)
        return false;
    ran_ns = ran_on_ns(stream, moment);
    behind_ns = moment->arrival_ns - stream->moved_ns - ran_ns;
    return ran_ns < STOOD_RAN_NS && behind_ns >= STOOD_LEAST_NS &&
           !went_round(stream, behind_ns);
}

int64_t clock_began_ns(const struct intake_stream *stream,
                       const struct moment *moment, int64_t t_ns)
{
    if (moment->order != CLOCK_NEXT)
        return t_ns;
    return t_ns - ran_on_ns(stream, moment);
}

/* ---- tying it to the arrivals ------------------------------------------- */

static void clock_anchor(struct intake_stream *stream, int64_t arrival_ns,
                         int64_t sim_ns)
{
    int64_t delay_ns = arrival_ns - sim_ns;

    stream->clock_offset_ns = delay_ns;
    stream->window_least_ns[0] = delay_ns;
    stream->window_least_ns[1] = delay_ns;
    stream->window_since_ns = arrival_ns;
}

static int64_t least_of_window(struct intake_stream *stream, int64_t arrival_ns,
                               int64_t delay_ns)
{
    int64_t *least = stream->window_least_ns;

    if (arrival_ns - stream->window_since_ns >= WINDOW_NS) {
        least[1] = least[0];
        least[0] = delay_ns;
        stream->window_since_ns = arrival_ns;
    } else if (delay_ns < least[0]) {
        least[0] = delay_ns;
    }
    return least[0] < least[1] ? least[0] : least[1];
}

/* How far the offset rises toward the least delay, in a time passed: half a
 * second would do for what is far behind, some seconds for what is little.
 * Little is mostly chance: the network's delays of a few datagrams. Much is a
 * simulator that stuttered, or that runs slower than real time, and calls must
 * not lag behind it. At least 0.5 ms/s, ample for the drift of clocks. */
static int64_t rise_of(int64_t behind_ns, int64_t passed_ns)
{
    int64_t drift_ns = passed_ns / 2000;
    int64_t passed_us = (passed_ns < WINDOW_NS ? passed_ns : WINDOW_NS) / 1000;
    int64_t behind_us = (behind_ns < MUCH_NS ? behind_ns : MUCH_NS) / 1000;
    int64_t weighed_us = behind_us * behind_us / (behind_us + 50000);
    int64_t rise_ns = weighed_us * passed_us / 500;

    if (rise_ns < drift_ns)
        rise_ns = drift_ns;
    return rise_ns < behind_ns ? rise_ns : behind_ns;
}

/* The offset follows the least delay of the last half to whole second: down
 * at once, since nothing arrives before it is sent; up step by step. */
static void clock_follow(struct intake_stream *stream, int64_t arrival_ns,
                         int64_t sim_ns)
{
    int64_t delay_ns = arrival_ns - sim_ns;
    int64_t least_ns = least_of_window(stream, arrival_ns, delay_ns);
    int64_t behind_ns = least_ns - stream->clock_offset_ns;

    if (delay_ns <= stream->clock_offset_ns)
        stream->clock_offset_ns = delay_ns;
    else if (behind_ns > 0)
        stream->clock_offset_ns +=
            rise_of(behind_ns, arrival_ns - stream->moved_ns);
}

int64_t clock_stamp(struct intake_stream *stream, const struct moment *moment,
                    bool anchor)
{
    int64_t flow_ns;

    if (!tells_time(moment)) {
        if (!stream->has_sim_time)
            return arrivals_stamp(&stream->arrivals, moment);
        /* A packet without a time among packets with one belongs to the
         * moment last told. */
        return !anchor && moment->arrival_ns - stream->moved_ns < CLOCK_STILL_NS
                   ? stream->last_t_ns
                   : moment->arrival_ns;
    }
    if (anchor)
        rate_begin(&stream->rate, moment);
    else
        rate_follow(&stream->rate, moment);
    flow_ns = flow_at(&stream->rate, moment->sim_ns);
    if (anchor)
        clock_anchor(stream, moment->arrival_ns, flow_ns);
    else
        clock_follow(stream, moment->arrival_ns, flow_ns);
    return flow_ns + stream->clock_offset_ns;
}
