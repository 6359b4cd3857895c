/* stream.c - time, order and state of a stream of datagrams.
 *
 * Everything depends on arrival times and contents alone, never on when a
 * tick comes: replaying a recording gives the same result to the digit. */
#include <math.h>
#include <string.h>

#include "quarterturn/intake.h"

#define MS INT64_C(1000000)

/* Ours, no source: what a home network and a simulator can do. */
#define LATE_LIMIT_NS (2000 * MS)  /* further back is no reordering */
#define AHEAD_LIMIT_NS (1000 * MS) /* gained on the arrivals at once */
#define OUTAGE_SLACK_NS (250 * MS) /* clock still good after a silence */
#define CLOCK_STILL_NS (500 * MS)  /* simulator time and values stand */
#define VALUES_STILL_NS (2000 * MS)
#define WINDOW_NS (500 * MS)
#define MUCH_NS (100000 * MS)

enum { CLOCK_STILL_COUNT = 2, VALUES_STILL_COUNT = 10 };

/* A step beyond both limits is no flying: the airplane was put elsewhere. */
struct watched_row {
    enum intake_channel channel;
    bool angle;
    double least_step; /* rad, m */
    double rate;       /* per s */
};

static const struct watched_row watched[INTAKE_WATCHED] = {
    {CHANNEL_HEADING, true, 30.0 * UNITS_RAD_PER_DEG,
     180.0 * UNITS_RAD_PER_DEG},
    {CHANNEL_BANK, true, 60.0 * UNITS_RAD_PER_DEG, 720.0 * UNITS_RAD_PER_DEG},
    {CHANNEL_ALTITUDE, false, 60.0, 300.0},
};

/* How a datagram's simulator time stands to what was taken before. */
enum clock_order {
    CLOCK_NONE,  /* the datagram has none */
    CLOCK_FIRST, /* nothing to compare with */
    CLOCK_NEXT,
    CLOCK_SAME,     /* again, with nothing new beside it */
    CLOCK_LATE,     /* overtaken on the way */
    CLOCK_ELSEWHERE /* set back, or far ahead: another flight */
};

void intake_stream_init(struct intake_stream *stream,
                        const struct intake_layout *layout,
                        int64_t signal_timeout_ns)
{
    memset(stream, 0, sizeof *stream);
    stream->layout = layout;
    stream->signal_timeout_ns = signal_timeout_ns;
    stream->last_arrival_ns = INT64_MIN;
    stream->last_t_ns = INT64_MIN;
}

static bool has(const struct intake_sample *sample, enum intake_channel channel)
{
    return (sample->valid & CHANNEL_BIT(channel)) != 0;
}

static int64_t sim_time_ns(const struct intake_sample *sample)
{
    return (int64_t)llround(sample->value[CHANNEL_SIM_TIME] * 1e9);
}

static void give_notice(struct intake_stream *stream,
                        enum intake_notice_kind kind, int64_t t_ns,
                        struct intake_result *out)
{
    if (t_ns < stream->last_t_ns)
        t_ns = stream->last_t_ns;
    stream->last_t_ns = t_ns;
    out->notice[out->notice_count].kind = kind;
    out->notice[out->notice_count].t_ns = t_ns;
    out->notice_count++;
}

/* ---- the simulator's clock --------------------------------------------- */

static enum clock_order order_of(const struct intake_stream *stream,
                                 int64_t arrival_ns,
                                 const struct intake_sample *sample)
{
    int64_t step_ns;
    uint32_t new_channels;

    if (!has(sample, CHANNEL_SIM_TIME))
        return CLOCK_NONE;
    if (!stream->has_sim_time)
        return CLOCK_FIRST;
    step_ns = sim_time_ns(sample) - stream->last_sim_ns;
    if (step_ns <= -LATE_LIMIT_NS)
        return CLOCK_ELSEWHERE;
    if (step_ns < 0)
        return CLOCK_LATE;
    if (step_ns == 0) {
        /* Two kinds of packets may share one moment. */
        new_channels = sample->valid & ~stream->last_sim_has;
        return new_channels != 0 ? CLOCK_NEXT : CLOCK_SAME;
    }
    if (step_ns - (arrival_ns - stream->moved_ns) > AHEAD_LIMIT_NS)
        return CLOCK_ELSEWHERE;
    return CLOCK_NEXT;
}

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

/* Whether the clock ran on evenly through a silence. */
static bool clock_survived(const struct intake_stream *stream,
                           int64_t arrival_ns, int64_t sim_ns)
{
    int64_t off_ns =
        (sim_ns - stream->last_sim_ns) - (arrival_ns - stream->moved_ns);

    return off_ns <= OUTAGE_SLACK_NS && off_ns >= -OUTAGE_SLACK_NS;
}

/* Stream time of a datagram that is taken. */
static int64_t stamp(struct intake_stream *stream, int64_t arrival_ns,
                     const struct intake_sample *sample, bool anchor)
{
    int64_t t_ns = arrival_ns;

    if (has(sample, CHANNEL_SIM_TIME)) {
        int64_t sim_ns = sim_time_ns(sample);

        if (anchor)
            clock_anchor(stream, arrival_ns, sim_ns);
        else
            clock_follow(stream, arrival_ns, sim_ns);
        t_ns = sim_ns + stream->clock_offset_ns;
    } else if (stream->has_sim_time && !anchor &&
               arrival_ns - stream->moved_ns < CLOCK_STILL_NS) {
        /* A packet without a time among packets with one belongs to the
         * moment last told. */
        t_ns = stream->last_t_ns;
    }
    return t_ns;
}

/* ---- moving, standing, leaping ----------------------------------------- */

/* Whether a value differs from the newest one known; time does not count. */
static bool values_moved(const struct intake_stream *stream,
                         const struct intake_sample *sample)
{
    uint32_t channels = sample->valid & ~CHANNEL_BIT(CHANNEL_SIM_TIME);

    if ((channels & ~stream->last.valid) != 0)
        return true;
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if ((channels >> i & 1) != 0 &&
            memcmp(&sample->value[i], &stream->last.value[i],
                   sizeof sample->value[i]) != 0)
            return true;
    }
    return false;
}

static bool is_leap(const struct watched_row *row, double step, double passed_s)
{
    if (row->angle)
        step = angle_wrap_half(step);
    step = fabs(step);
    return step > row->least_step && step > row->rate * passed_s;
}

/* Compare each watched channel with its last value, over the simulator's own
 * time where it tells one. */
static bool values_leapt(struct intake_stream *stream, int64_t arrival_ns,
                         const struct intake_sample *sample)
{
    int64_t now_ns =
        has(sample, CHANNEL_SIM_TIME) ? sim_time_ns(sample) : arrival_ns;
    bool leapt = false;

    for (unsigned i = 0; i < INTAKE_WATCHED; i++) {
        enum intake_channel channel = watched[i].channel;

        if (!has(sample, channel))
            continue;
        if (has(&stream->last, channel))
            leapt |=
                is_leap(&watched[i],
                        sample->value[channel] - stream->last.value[channel],
                        (double)(now_ns - stream->watched_ns[i]) * 1e-9);
        stream->watched_ns[i] = now_ns;
    }
    return leapt;
}

static void remember(struct intake_stream *stream,
                     const struct intake_sample *sample)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->valid >> i & 1) != 0)
            stream->last.value[i] = sample->value[i];
    }
    stream->last.valid |= sample->valid;
}

/* Note whether the simulation moves on with this datagram.
 * Returns: true when it has stood still long enough to call it paused. */
static bool stands_still(struct intake_stream *stream, int64_t arrival_ns,
                         enum clock_order order, bool moved)
{
    int64_t still_ns = arrival_ns - stream->moved_ns;

    if (order == CLOCK_NONE && stream->has_sim_time)
        return stream->paused;
    if (order == CLOCK_SAME || (order == CLOCK_NONE && !moved)) {
        stream->still_count++;
        if (stream->paused)
            return true;
        if (order == CLOCK_NONE)
            return still_ns > VALUES_STILL_NS &&
                   stream->still_count >= VALUES_STILL_COUNT;
        /* Values that move under a standing clock: the clock may only be
         * coarse. */
        return stream->still_count >= CLOCK_STILL_COUNT &&
               still_ns > (moved ? VALUES_STILL_NS : CLOCK_STILL_NS);
    }
    stream->still_count = 0;
    return false;
}

/* ---- one datagram ------------------------------------------------------ */

static void lose_signal(struct intake_stream *stream, int64_t now_ns,
                        struct intake_result *out)
{
    int64_t deadline_ns = intake_stream_deadline_ns(stream);

    if (now_ns < deadline_ns)
        return;
    give_notice(stream, INTAKE_SIGNAL_LOST, deadline_ns, out);
    stream->lost = true;
}

/* Bring the stream up to date with a datagram that moves on, is paused, or
 * stands elsewhere, and give out what follows from it. */
static void take(struct intake_stream *stream, int64_t arrival_ns,
                 enum clock_order order, bool still, struct intake_result *out)
{
    struct intake_sample *sample = &out->sample;
    bool leapt = values_leapt(stream, arrival_ns, sample);
    bool held = still || (has(&stream->last, CHANNEL_PAUSED) &&
                          stream->last.value[CHANNEL_PAUSED] != 0.0);
    bool elsewhere = order == CLOCK_ELSEWHERE;
    bool anchor = order == CLOCK_FIRST || elsewhere ||
                  (stream->paused && !held) ||
                  (stream->lost && order == CLOCK_NEXT &&
                   !clock_survived(stream, arrival_ns, sim_time_ns(sample)));
    int64_t t_ns =
        held ? arrival_ns : stamp(stream, arrival_ns, sample, anchor);

    if (stream->lost)
        give_notice(stream, INTAKE_SIGNAL_BACK, t_ns, out);
    stream->lost = false;
    if (held != stream->paused)
        give_notice(stream, held ? INTAKE_PAUSED : INTAKE_RESUMED, t_ns, out);
    stream->paused = held;
    if (elsewhere || leapt)
        give_notice(stream, INTAKE_JUMPED, t_ns, out);
    out->has_sample = !held;
    if (!held) {
        sample->t_ns = t_ns > stream->last_t_ns ? t_ns : stream->last_t_ns;
        stream->last_t_ns = sample->t_ns;
    }
}

/* Remember the datagram's own time for the next one. */
static void move_on(struct intake_stream *stream, int64_t arrival_ns,
                    enum clock_order order, bool moved,
                    const struct intake_sample *sample)
{
    if (order == CLOCK_SAME)
        return;
    if (order == CLOCK_NONE) {
        if (!stream->has_sim_time && moved)
            stream->moved_ns = arrival_ns;
        return;
    }
    if (!stream->has_sim_time || sim_time_ns(sample) != stream->last_sim_ns) {
        stream->last_sim_has = 0;
        stream->last_sim_ns = sim_time_ns(sample);
        stream->moved_ns = arrival_ns;
    }
    stream->last_sim_has |= sample->valid;
    stream->has_sim_time = true;
}

static enum intake_reject judge(struct intake_stream *stream,
                                int64_t arrival_ns, struct intake_result *out)
{
    const struct intake_sample *sample = &out->sample;
    enum clock_order order;
    bool moved;
    bool still;
    bool said_paused;

    stream->last_alive_ns = arrival_ns;
    if (!stream->started)
        stream->moved_ns = arrival_ns;
    stream->started = true;
    order = order_of(stream, arrival_ns, sample);
    if (order == CLOCK_LATE)
        return INTAKE_LATE;
    moved = values_moved(stream, sample);
    still = stands_still(stream, arrival_ns, order, moved);
    said_paused =
        has(sample, CHANNEL_PAUSED) && sample->value[CHANNEL_PAUSED] != 0.0;
    if (order == CLOCK_SAME && !still && !said_paused)
        return INTAKE_DUPLICATE;
    /* The paused channel counts from this datagram on, the other values only
     * after they were compared. */
    if (has(sample, CHANNEL_PAUSED)) {
        stream->last.value[CHANNEL_PAUSED] = sample->value[CHANNEL_PAUSED];
        stream->last.valid |= CHANNEL_BIT(CHANNEL_PAUSED);
    }
    take(stream, arrival_ns, order, still, out);
    remember(stream, sample);
    move_on(stream, arrival_ns, order, moved, sample);
    return INTAKE_TAKEN;
}

static void begin_result(struct intake_result *out)
{
    out->reject = INTAKE_TAKEN;
    out->has_sample = false;
    out->notice_count = 0;
}

void intake_stream_push(struct intake_stream *stream, int64_t arrival_ns,
                        const uint8_t *data, size_t length,
                        struct intake_result *out)
{
    begin_result(out);
    if (arrival_ns < stream->last_arrival_ns)
        arrival_ns = stream->last_arrival_ns;
    stream->last_arrival_ns = arrival_ns;
    lose_signal(stream, arrival_ns, out);
    stream->counts.datagrams++;
    stream->counts.bytes += length;
    out->reject = intake_decode(stream->layout, data, length, &out->sample);
    if (out->reject == INTAKE_TAKEN)
        out->reject = judge(stream, arrival_ns, out);
    if (out->reject == INTAKE_TAKEN)
        stream->counts.taken++;
    else
        stream->counts.rejected[out->reject]++;
}

void intake_stream_tick(struct intake_stream *stream, int64_t now_ns,
                        struct intake_result *out)
{
    begin_result(out);
    lose_signal(stream, now_ns, out);
}

int64_t intake_stream_deadline_ns(const struct intake_stream *stream)
{
    if (!stream->started || stream->lost)
        return INT64_MAX;
    return stream->last_alive_ns + stream->signal_timeout_ns;
}
