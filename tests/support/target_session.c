/* target_session.c - chance bytes as a simulator gone mad: what they say is
 * sent, and what must hold whatever is sent is looked at. */
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../daemon/commands/session.h"
#include "promise.h"
#include "targets.h"

#define MS INT64_C(1000000)

/* In the order of the seeds' first bytes: new ones go to the end. */
static const char *const layout_name[] = {
    "plain-binary", "plain-text", "json-object", "name-value", "keyed-records"};

enum {
    LAYOUTS = sizeof layout_name / sizeof layout_name[0],
    MOST_SENT = 1500, /* of one input */
    MOST_BYTES = 2048
};

/* Values that are hard on arithmetic. */
static const double wild[] = {
    NAN,    INFINITY, -INFINITY, 0.0, -0.0, 5e-324, -5e-324, 1e300,
    -1e300, DBL_MAX,  DBL_MIN,   4e9, -4e9, 1e18,   -1e18,   FLT_MAX};

/* What is sent, and what was seen of it. */
struct mad {
    const uint8_t *data; /* the rest of the input */
    size_t size;
    struct session *session;
    struct debrief_log *log;
    int64_t t_ns;
    unsigned sent;
    uint8_t bytes[MOST_BYTES]; /* the latest datagram */
    size_t length;
    struct intake_sender sender;
    /* the airplane, as it goes on from one packet to the next */
    double value[CHANNEL_COUNT];
    double turn_radps;
    double climb_mps;
    double gain_mps2;
    double pace;
    /* what came of it */
    int64_t first_taken_ns; /* INT64_MAX: nothing yet */
    int64_t settled_ns;
    int64_t now_ns;
    uint32_t entries;
    uint32_t calls;
};

/* ---- what must hold ------------------------------------------------------ */

static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct mad *mad = context;

    promise(event->kind < EVENT_KIND_COUNT, "an event that has a name");
    promise(event->t_ns >= mad->settled_ns, "no event in what is settled");
    promise(event->t_ns <= mad->session->now_ns, "no event of the future");
    promise(!isinf(event->turn_rad) && !isinf(event->heading_rad) &&
                !isinf(event->pitch_rad) && !isinf(event->bank_rad) &&
                !isinf(event->cas_mps) && !isinf(event->altitude_m) &&
                !isinf(event->stall_margin_mps) && !isinf(event->angle_rad),
            "no infinite figure");
    promise((event->kind == EVENT_FINISHED) == (grade != NULL),
            "what is finished is graded");
    if (event->kind == EVENT_ENTRY)
        promise(event->attempt == ++mad->entries, "attempts are counted");
    promise(event->attempt <= mad->entries, "nothing of an attempt to come");
    promise(debrief_log_event(mad->log, event, grade) == 0, "a line for it");
}

/* Steady flight comes before every attempt, and that takes its time. */
static void check_earned(const struct mad *mad)
{
    double flown_s =
        (double)(mad->session->now_ns - mad->first_taken_ns) * 1e-9;

    promise(mad->first_taken_ns <= mad->session->now_ns &&
                flown_s >= mad->session->settings->standard.ready_time_s,
            "no call out of nothing");
}

static void on_call(void *context, const struct callout_call *call)
{
    struct mad *mad = context;
    int64_t now_ns = mad->session->now_ns;

    check_earned(mad);
    promise(call->number == ++mad->calls, "calls are counted");
    promise(call->cue < CUE_COUNT && call->rank <= RANK_WARNING,
            "a cue and its rank");
    promise(call->attempt > 0 && call->attempt <= mad->entries,
            "a call belongs to an attempt");
    promise(call->onset_ns >= now_ns && call->onset_ns - now_ns <= 1000 * MS,
            "a call is handed over shortly before it sounds");
    promise(call->expiry_ns >= call->onset_ns, "no call comes too late");
    promise(call->again || (call->moment_ns > call->onset_ns - 60000 * MS &&
                            call->moment_ns < call->onset_ns + 10000 * MS),
            "a call is near its moment");
    promise(call->clip_count >= 1 && call->clip_count <= CALLOUT_MAX_CLIPS,
            "a call has clips");
    for (uint32_t i = 0; i < call->clip_count; i++)
        promise(call->clip[i] < CLIP_COUNT &&
                    call->clip_onset_ns[i] >= call->onset_ns,
                "clips follow each other");
    promise(call->text[0] != '\0' &&
                memchr(call->text, '\0', sizeof call->text) != NULL,
            "a caption");
    promise(debrief_log_call(mad->log, call) == 0, "a line for it");
}

static void on_tone(void *context, const struct callout_tone *tone)
{
    const struct mad *mad = context;

    promise(tone->band >= 0 && tone->band <= 3, "a band of the tone");
    if (tone->band > 0)
        check_earned(mad);
}

static void on_help(void *context, int64_t t_ns, enum callout_help help,
                    uint32_t silent)
{
    const struct mad *mad = context;

    promise(debrief_log_help(mad->log, t_ns, help, silent) == 0,
            "a line for it");
}

static void on_attempt(void *context, const struct debrief_attempt *attempt)
{
    const struct mad *mad = context;

    (void)attempt;
    promise(mad->entries > 0, "no attempt that was not begun");
}

static void on_progress(void *context, int64_t now_ns, int64_t settled_ns)
{
    struct mad *mad = context;

    promise(now_ns >= mad->now_ns, "time goes on");
    promise(settled_ns <= now_ns, "what is to come is not settled");
    mad->now_ns = now_ns;
    if (settled_ns > mad->settled_ns)
        mad->settled_ns = settled_ns;
    promise(debrief_log_settle(mad->log, settled_ns) == 0, "lines are written");
}

static void check_lines(const char *lines)
{
    double last_s = -INFINITY;

    for (const char *line = lines; *line != '\0';) {
        double t_s = NAN;

        promise(strncmp(line, "{\"t\":", 5) == 0,
                "a line begins with its time");
        t_s = strtod(line + 5, NULL);
        promise(t_s >= last_s, "lines are in time order");
        last_s = t_s;
        line = strchr(line, '\n');
        promise(line != NULL, "lines are whole");
        line++;
    }
}

/* ---- what is sent -------------------------------------------------------- */

static unsigned next_byte(struct mad *mad)
{
    if (mad->size == 0)
        return 0;
    mad->size--;
    return *mad->data++;
}

static int next_signed(struct mad *mad)
{
    return (int)next_byte(mad) - 128;
}

static double rad(double deg)
{
    return units_rad(deg);
}

static void deliver(struct mad *mad)
{
    const struct intake_datagram datagram = {.t_ns = mad->t_ns,
                                             .data = mad->bytes,
                                             .length = mad->length,
                                             .sender = mad->sender};
    const struct intake_counts *counts = &mad->session->stream.counts;

    if (mad->sent >= MOST_SENT)
        return;
    mad->sent++;
    session_push(mad->session, &datagram);
    if (counts->taken > 0 && mad->first_taken_ns == INT64_MAX)
        mad->first_taken_ns = mad->session->now_ns;
    session_advance(mad->session, mad->t_ns);
    promise(session_deadline_ns(mad->session) > mad->session->now_ns,
            "what is due is done");
}

/* Send the airplane as it is now. with: a sample to put in its place. */
static void send_values(struct mad *mad, const double *value)
{
    struct intake_sample sample = {0};
    int length;

    memcpy(sample.value, value, sizeof sample.value);
    sample.valid = sample.fresh =
        intake_layout_channels(&mad->session->settings->layout);
    length = intake_encode(&mad->session->settings->layout, 0, &sample,
                           mad->bytes, sizeof mad->bytes);
    mad->length = length > 0 ? (size_t)length : 0;
    deliver(mad);
}

static void fly_on(struct mad *mad, int64_t by_ns)
{
    double by_s = (double)by_ns * 1e-9;
    double *value = mad->value;

    mad->t_ns += by_ns;
    value[CHANNEL_SIM_TIME] += by_s * mad->pace;
    by_s *= mad->pace;
    value[CHANNEL_HEADING] =
        angle_wrap_circle(value[CHANNEL_HEADING] + mad->turn_radps * by_s);
    value[CHANNEL_ALTITUDE] += mad->climb_mps * by_s;
    value[CHANNEL_AIRSPEED] += mad->gain_mps2 * by_s;
    value[CHANNEL_VERTICAL_SPEED] = mad->climb_mps;
}

static void fly_leg(struct mad *mad)
{
    unsigned count = next_byte(mad);
    int64_t interval_ns = (int64_t)(next_byte(mad) + 1) * MS;

    for (unsigned i = 0; i < count; i++) {
        fly_on(mad, interval_ns);
        send_values(mad, mad->value);
    }
}

static void set_course(struct mad *mad)
{
    mad->turn_radps = rad(next_signed(mad) * 0.1);
    mad->value[CHANNEL_BANK] = rad(next_signed(mad) * 0.5);
    mad->value[CHANNEL_PITCH] = rad(next_signed(mad) * 0.25);
    mad->climb_mps = next_signed(mad) * 0.1;
    mad->gain_mps2 = next_signed(mad) * 0.02;
}

static void set_speed(struct mad *mad)
{
    mad->value[CHANNEL_AIRSPEED] = next_byte(mad);
    mad->value[CHANNEL_LATERAL_G] = next_signed(mad) * 0.01;
    mad->value[CHANNEL_LOAD_FACTOR] = next_signed(mad) * 0.05;
}

static void send_wild(struct mad *mad)
{
    double value[CHANNEL_COUNT];
    unsigned which = next_byte(mad);
    unsigned pick = next_byte(mad);

    memcpy(value, mad->value, sizeof value);
    value[which % CHANNEL_COUNT] = wild[pick % (sizeof wild / sizeof wild[0])];
    fly_on(mad, 20 * MS);
    send_values(mad, value);
}

static void leap(struct mad *mad)
{
    mad->value[CHANNEL_HEADING] =
        angle_wrap_circle(mad->value[CHANNEL_HEADING] + rad(next_signed(mad)));
    mad->value[CHANNEL_ALTITUDE] += next_signed(mad) * 10.0;
    mad->value[CHANNEL_SIM_TIME] += next_signed(mad) * 0.1;
}

static void send_raw(struct mad *mad)
{
    size_t length = next_byte(mad);

    mad->t_ns += (int64_t)next_byte(mad) * MS;
    if (length > mad->size)
        length = mad->size;
    if (length > 0)
        memcpy(mad->bytes, mad->data, length);
    mad->length = length;
    mad->data += length;
    mad->size -= length;
    deliver(mad);
}

static void send_again(struct mad *mad)
{
    unsigned count = next_byte(mad);
    int64_t interval_ns = (int64_t)next_byte(mad) * MS;

    for (unsigned i = 0; i < count; i++) {
        mad->t_ns += interval_ns;
        deliver(mad);
    }
}

static void send_damaged(struct mad *mad)
{
    size_t at = next_byte(mad);

    if (mad->length > 0)
        mad->bytes[at % mad->length] ^= (uint8_t)next_byte(mad);
    mad->t_ns += 10 * MS;
    deliver(mad);
}

static void let_pass(struct mad *mad)
{
    static const int64_t step_ns[] = {MS, 100 * MS, 10000 * MS,
                                      INT64_C(3600000) * MS};

    mad->t_ns += step_ns[next_byte(mad) % 4] * next_byte(mad);
    session_advance(mad->session, mad->t_ns);
}

static void ask(struct mad *mad)
{
    static const double pace[] = {0.0, 0.05, 0.25, 0.5, 1.0, 2.0, 8.0, 60.0};
    unsigned value = next_byte(mad);

    switch (next_byte(mad) % 7) {
    case 0:
        session_set_help(mad->session, mad->t_ns,
                         (enum callout_help)(value % HELP_COUNT));
        break;
    case 1: (void)session_repeat_call(mad->session, mad->t_ns); break;
    case 2: session_give_up(mad->session, mad->t_ns); break;
    case 3: session_note(mad->session, mad->t_ns, "a note"); break;
    case 4: mad->sender.port = (uint16_t)(value % 3); break;
    case 5: mad->pace = pace[value % 8]; break;
    default: mad->t_ns -= (int64_t)value * 10 * MS; break;
    }
}

static void follow_input(struct mad *mad)
{
    static void (*const step[])(struct mad *) = {
        fly_leg,  set_course, set_speed,    send_wild, leap,
        send_raw, send_again, send_damaged, let_pass,  ask};

    while (mad->size > 0 && mad->sent < MOST_SENT)
        step[next_byte(mad) % (sizeof step / sizeof step[0])](mad);
}

/* ---- one input ----------------------------------------------------------- */

static const struct settings *ready_settings(size_t which)
{
    static struct settings settings[LAYOUTS];
    static bool loaded[LAYOUTS];
    struct settings_choice choice = {.layout = layout_name[which]};
    char why[512] = "";

    if (!loaded[which] &&
        settings_load(&choice, ".", &settings[which], why, sizeof why) != 0)
        promise(false, why);
    loaded[which] = true;
    return &settings[which];
}

void target_session(const uint8_t *data, size_t size)
{
    static struct session session;
    struct mad mad = {.data = data,
                      .size = size,
                      .session = &session,
                      .pace = 1.0,
                      .first_taken_ns = INT64_MAX,
                      .settled_ns = INT64_MIN,
                      .now_ns = INT64_MIN};
    const struct session_sink sink = {.context = &mad,
                                      .event = on_event,
                                      .call = on_call,
                                      .tone = on_tone,
                                      .help = on_help,
                                      .attempt = on_attempt,
                                      .progress = on_progress};
    char *lines = NULL;
    size_t lines_size = 0;
    FILE *file = open_memstream(&lines, &lines_size);

    promise(file != NULL && debrief_log_open(file, 0, &mad.log) == 0, "memory");
    mad.value[CHANNEL_AIRSPEED] = 105.0 * UNITS_MPS_PER_KT;
    mad.value[CHANNEL_TRUE_AIRSPEED] = 109.0 * UNITS_MPS_PER_KT;
    mad.value[CHANNEL_ALTITUDE] = mad.value[CHANNEL_HEIGHT] = 1000.0;
    mad.value[CHANNEL_LOAD_FACTOR] = 1.0;
    mad.value[CHANNEL_WEIGHT] = 1000.0;
    session_init(&session, ready_settings(next_byte(&mad) % LAYOUTS), &sink);
    follow_input(&mad);
    session_advance(&session, mad.t_ns + INT64_C(3600) * 1000 * MS);
    session_end(&session);
    promise(debrief_log_close(mad.log) == 0, "the lines are written");
    (void)fclose(file);
    check_lines(lines);
    free(lines);
}
