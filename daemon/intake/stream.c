/* stream.c - time, order and state of a stream of datagrams.
 *
 * Everything depends on arrival times and contents alone, never on when a
 * tick comes: replaying a recording gives the same result to the digit. */
#include <math.h>
#include <string.h>

#include "stream.h"

#define MS INT64_C(1000000)

/* Ours, no source: what a home network and a simulator can do. */
#define CLOCK_STILL_NS (500 * MS) /* simulator time and values stand */
#define VALUES_STILL_NS (2000 * MS)
#define CRUISE_STILL_NS (10000 * MS) /* values of flight straight and level */
#define DEFAULT_AGE_NS (1000 * MS)   /* of a value among other datagrams */

enum { CLOCK_STILL_COUNT = 2, VALUES_STILL_COUNT = 10 };

/* Level is what turns by no degree and climbs by no ten feet in some seconds,
 * at speeds at which maneuvers begin. */
static const double cruise_bank_rad = 1.0 * UNITS_RAD_PER_DEG;
static const double cruise_pitch_rad = 10.0 * UNITS_RAD_PER_DEG;
static const double cruise_climb_mps = 0.5;

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

void intake_stream_init(struct intake_stream *stream,
                        const struct intake_layout *layout,
                        int64_t signal_timeout_ns)
{
    memset(stream, 0, sizeof *stream);
    stream->layout = layout;
    stream->signal_timeout_ns = signal_timeout_ns;
    stream->last_arrival_ns = INT64_MIN;
    stream->last_t_ns = INT64_MIN;
    stream->rate.rate = 1.0;
}

static bool has(const struct intake_sample *sample, enum intake_channel channel)
{
    return (sample->valid & CHANNEL_BIT(channel)) != 0;
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
    out->notice[out->notice_count].flown_ns = t_ns;
    out->notice_count++;
}

/* A notice with which a pause ends, or is known to have been one. */
static void give_stood(struct intake_stream *stream,
                       enum intake_notice_kind kind, int64_t t_ns,
                       struct intake_result *out)
{
    give_notice(stream, kind, t_ns, out);
    out->notice[out->notice_count - 1].flown_ns = stream->flown_ns;
}

/* ---- moving, standing, leaping ----------------------------------------- */

/* Whether a value differs from the newest one known; time does not count. */
static bool values_moved(const struct intake_stream *stream,
                         const struct intake_sample *sample)
{
    uint32_t channels = sample->fresh & ~CHANNEL_BIT(CHANNEL_SIM_TIME);

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
static bool values_leapt(struct intake_stream *stream,
                         const struct moment *moment,
                         const struct intake_sample *sample)
{
    int64_t now_ns =
        moment->order == CLOCK_NONE ? moment->arrival_ns : moment->sim_ns;
    bool leapt = false;

    for (unsigned i = 0; i < INTAKE_WATCHED; i++) {
        enum intake_channel channel = watched[i].channel;

        if ((sample->fresh & CHANNEL_BIT(channel)) == 0)
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

/* Whether an airplane may fly on and change none of the values known: straight
 * and level in calm air, by a steady hand or an autopilot. Not when one of them
 * is its place, which changes in any flight. */
static bool may_cruise(const struct intake_sample *known)
{
    if (!has(known, CHANNEL_BANK) || !has(known, CHANNEL_PITCH) ||
        has(known, CHANNEL_LATITUDE) || has(known, CHANNEL_LONGITUDE))
        return false;
    return fabs(known->value[CHANNEL_BANK]) <= cruise_bank_rad &&
           fabs(known->value[CHANNEL_PITCH]) <= cruise_pitch_rad &&
           (!has(known, CHANNEL_VERTICAL_SPEED) ||
            fabs(known->value[CHANNEL_VERTICAL_SPEED]) <= cruise_climb_mps);
}

/* Note whether the simulation moves on with this datagram.
 * Returns: true when it has stood still long enough to call it paused. */
static bool stands_still(struct intake_stream *stream,
                         const struct moment *moment)
{
    int64_t still_ns = moment->arrival_ns - stream->moved_ns;
    bool none = moment->order == CLOCK_NONE;

    if (none && stream->has_sim_time)
        return stream->paused;
    if (moment->order == CLOCK_SAME || (none && !moment->moved)) {
        stream->still_count++;
        if (stream->paused)
            return true;
        /* Long enough level to be ready for a maneuver, it is no loss to be
         * taken for paused until something moves. */
        if (none)
            return still_ns > (may_cruise(&stream->last) ? CRUISE_STILL_NS
                                                         : VALUES_STILL_NS) &&
                   stream->still_count >= VALUES_STILL_COUNT;
        /* Values that move under a standing clock: the clock may only be
         * coarse. */
        return stream->still_count >= CLOCK_STILL_COUNT &&
               still_ns > (moment->moved ? VALUES_STILL_NS : CLOCK_STILL_NS);
    }
    stream->still_count = 0;
    return false;
}

/* ---- what is known by now ---------------------------------------------- */

/* Nothing of another place or time is known any more but the pause. */
static void forget(struct intake_stream *stream)
{
    stream->last.valid &= CHANNEL_BIT(CHANNEL_PAUSED);
}

static void remember(struct intake_stream *stream,
                     const struct intake_sample *sample, int64_t t_ns)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->fresh >> i & 1) == 0)
            continue;
        stream->last.value[i] = sample->value[i];
        stream->value_ns[i] = t_ns;
    }
    stream->last.valid |= sample->fresh;
}

/* Nothing grows old in a pause. */
static void keep_young(struct intake_stream *stream, int64_t stood_ns)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if (stream->value_ns[i] <= stream->flown_ns)
            stream->value_ns[i] += stood_ns;
    }
}

/* Add what other datagrams told and is still young enough. */
static void complete(const struct intake_stream *stream,
                     struct intake_sample *sample)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        int64_t most_ns = stream->layout->max_age_ns[i];

        if ((stream->last.valid >> i & 1) == 0 || (sample->fresh >> i & 1) != 0)
            continue;
        if (sample->t_ns - stream->value_ns[i] >
            (most_ns > 0 ? most_ns : DEFAULT_AGE_NS))
            continue;
        sample->value[i] = stream->last.value[i];
        sample->valid |= CHANNEL_BIT(i);
    }
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
    stream->untimed = false;
}

/* A clock tells that nothing was flown between the last moment and the one
 * from which it runs on, however long after them packets came. stood: and that
 * none came while it stood. Then the signal may have been lost first, and what
 * that was is known at its end: the lines are in time order. */
static void give_pause(struct intake_stream *stream,
                       const struct moment *moment, bool held, bool stood,
                       int64_t t_ns, struct intake_result *out)
{
    int64_t began_ns = clock_began_ns(stream, moment, t_ns);
    bool lost = stream->lost;

    if (lost && stood)
        give_stood(stream, INTAKE_SIGNAL_BACK, began_ns, out);
    else if (lost)
        give_notice(stream, INTAKE_SIGNAL_BACK, t_ns, out);
    if (!stream->paused && (held || (stood && !lost))) {
        give_notice(stream, INTAKE_PAUSED,
                    stream->has_sim_time ? stream->last_t_ns : t_ns, out);
        if (!stood)
            stream->flown_ns = stream->last_t_ns;
    }
    if (!held && (stream->paused || stood))
        give_stood(stream, INTAKE_RESUMED, began_ns, out);
    if (!held && stood)
        keep_young(stream, stream->last_t_ns - stream->flown_ns);
}

/* Bring the stream up to date with a datagram that moves on, is paused, or
 * stands elsewhere, and give out what follows from it. */
static void take(struct intake_stream *stream, const struct moment *moment,
                 bool still, struct intake_result *out)
{
    struct intake_sample *sample = &out->sample;
    bool leapt = values_leapt(stream, moment, sample);
    bool held = still || (has(&stream->last, CHANNEL_PAUSED) &&
                          stream->last.value[CHANNEL_PAUSED] != 0.0);
    bool elsewhere = moment->order == CLOCK_ELSEWHERE;
    bool stood = clock_stood(stream, moment);
    bool anchor = moment->order == CLOCK_FIRST || elsewhere ||
                  ((stream->paused || stood) && !held) ||
                  (stream->lost && moment->order == CLOCK_NEXT &&
                   !clock_survived(stream, moment));
    int64_t t_ns =
        held ? moment->arrival_ns : clock_stamp(stream, moment, anchor);

    give_pause(stream, moment, held, stood, t_ns, out);
    stream->lost = false;
    stream->paused = held;
    if (elsewhere || leapt) {
        give_notice(stream, INTAKE_JUMPED, t_ns, out);
        forget(stream);
    }
    out->has_sample = !held;
    sample->t_ns = t_ns > stream->last_t_ns ? t_ns : stream->last_t_ns;
    /* 0 until a simulator's clock has been seen. */
    sample->pace = stream->rate.rate > 0.0 ? stream->rate.rate : 1.0;
    remember(stream, sample, sample->t_ns);
    if (!held) {
        stream->last_t_ns = stream->flown_ns = sample->t_ns;
        complete(stream, sample);
    }
}

/* Remember the datagram's own time for the next one. */
static void move_on(struct intake_stream *stream, const struct moment *moment)
{
    if (moment->order == CLOCK_SAME)
        return;
    if (moment->order == CLOCK_NONE) {
        if (!stream->has_sim_time && moment->moved)
            stream->moved_ns = moment->arrival_ns;
        return;
    }
    if (!stream->has_sim_time || moment->sim_ns != stream->last_sim_ns) {
        stream->last_sim_has = 0;
        stream->last_sim_ns = moment->sim_ns;
        stream->moved_ns = moment->arrival_ns;
    }
    stream->last_sim_has |= moment->brought;
    stream->has_sim_time = true;
}

/* Whether it tells nothing that was not told before. */
static bool is_again(const struct intake_stream *stream,
                     const struct moment *moment)
{
    if (moment->order == CLOCK_NONE && !stream->has_sim_time)
        return arrivals_again(&stream->arrivals, moment);
    return moment->order == CLOCK_SAME;
}

/* Whether to wait for a packet that tells the time, before it is said what the
 * silence was; for a moment, for the sender may tell none any more. */
static bool waits_for_time(struct intake_stream *stream,
                           const struct moment *moment)
{
    if (!stream->lost || !stream->has_sim_time || moment->order != CLOCK_NONE)
        return false;
    if (!stream->untimed)
        stream->untimed_ns = moment->arrival_ns;
    stream->untimed = true;
    return moment->arrival_ns - stream->untimed_ns < CLOCK_STILL_NS;
}

static enum intake_reject judge(struct intake_stream *stream,
                                int64_t arrival_ns, struct intake_result *out)
{
    const struct intake_sample *sample = &out->sample;
    struct moment moment = {.arrival_ns = arrival_ns, .brought = sample->fresh};
    bool still;
    bool said_paused;

    stream->last_alive_ns = arrival_ns;
    if (!stream->started)
        stream->moved_ns = arrival_ns;
    stream->started = true;
    clock_read(stream, sample->value[CHANNEL_SIM_TIME], &moment);
    if (moment.order == CLOCK_LATE)
        return INTAKE_LATE;
    moment.moved = values_moved(stream, sample);
    still = stands_still(stream, &moment);
    said_paused =
        has(sample, CHANNEL_PAUSED) && sample->value[CHANNEL_PAUSED] != 0.0;
    if (is_again(stream, &moment) && !still && !said_paused)
        return INTAKE_DUPLICATE;
    /* The paused channel counts from this datagram on, the other values only
     * after they were compared. */
    if (has(sample, CHANNEL_PAUSED)) {
        stream->last.value[CHANNEL_PAUSED] = sample->value[CHANNEL_PAUSED];
        stream->last.valid |= CHANNEL_BIT(CHANNEL_PAUSED);
    }
    if (waits_for_time(stream, &moment))
        return INTAKE_TAKEN;
    take(stream, &moment, still, out);
    move_on(stream, &moment);
    return INTAKE_TAKEN;
}

static void begin_result(struct intake_result *out)
{
    out->reject = INTAKE_TAKEN;
    out->has_sample = false;
    out->notice_count = 0;
}

/* Returns: the arrival, which never runs back. */
static int64_t begin_datagram(struct intake_stream *stream, int64_t arrival_ns,
                              size_t length, struct intake_result *out)
{
    begin_result(out);
    if (arrival_ns < stream->last_arrival_ns)
        arrival_ns = stream->last_arrival_ns;
    stream->last_arrival_ns = arrival_ns;
    lose_signal(stream, arrival_ns, out);
    stream->counts.datagrams++;
    stream->counts.bytes += length;
    return arrival_ns;
}

static void count_result(struct intake_stream *stream,
                         const struct intake_result *out)
{
    if (out->reject == INTAKE_TAKEN)
        stream->counts.taken++;
    else
        stream->counts.rejected[out->reject]++;
}

void intake_stream_push(struct intake_stream *stream, int64_t arrival_ns,
                        const uint8_t *data, size_t length,
                        struct intake_result *out)
{
    arrival_ns = begin_datagram(stream, arrival_ns, length, out);
    out->reject = intake_decode(stream->layout, data, length, &out->sample);
    if (out->reject == INTAKE_TAKEN)
        out->reject = judge(stream, arrival_ns, out);
    count_result(stream, out);
}

void intake_stream_take(struct intake_stream *stream,
                        struct intake_senders *senders,
                        const struct intake_datagram *datagram,
                        struct intake_result *out)
{
    int64_t arrival_ns = datagram->t_ns;
    enum intake_reject verdict;

    if (arrival_ns < stream->last_arrival_ns)
        arrival_ns = stream->last_arrival_ns;
    verdict = intake_senders_judge(senders, arrival_ns, &datagram->sender);
    if (verdict != INTAKE_TAKEN) {
        (void)begin_datagram(stream, arrival_ns, datagram->length, out);
        out->reject = verdict;
        count_result(stream, out);
        return;
    }
    intake_stream_push(stream, arrival_ns, datagram->data, datagram->length,
                       out);
    /* A late or doubled one shows a sender as well as any. */
    if (out->reject == INTAKE_TAKEN || out->reject == INTAKE_LATE ||
        out->reject == INTAKE_DUPLICATE)
        intake_senders_pin(senders, arrival_ns, &datagram->sender);
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
