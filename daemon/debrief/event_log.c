/* event_log.c - events and calls as JSON Lines, in time order. */
#include <assert.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "json.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"

enum { WAITING = 256 };

struct line {
    int64_t t_ns;
    char *text; /* owned, from jansson */
};

struct debrief_log {
    FILE *file;
    int64_t origin_ns;
    struct line
        waiting[WAITING]; /* sorted by time, equals in order of arrival */
    size_t count;
    bool failed;
};

int debrief_log_open(FILE *file, int64_t origin_ns, struct debrief_log **out)
{
    struct debrief_log *log = calloc(1, sizeof *log);

    if (log == NULL)
        return ERR_NO_MEMORY;
    log->file = file;
    log->origin_ns = origin_ns;
    *out = log;
    return 0;
}

/* ---- members ------------------------------------------------------------ */

static double stream_seconds(const struct debrief_log *log, int64_t t_ns)
{
    return (double)(t_ns - log->origin_ns) * 1e-9;
}

static void set_flight(json_t *object, const struct maneuver_event *event)
{
    json_set_text(object, "maneuver", maneuver_kind_name(event->maneuver));
    (void)json_object_set_new(object, "attempt",
                              event->attempt > 0
                                  ? json_integer((json_int_t)event->attempt)
                                  : json_null());
    json_set_text(object, "phase", maneuver_phase_name(event->phase));
    (void)json_object_set_new(
        object, "direction",
        event->direction == 0
            ? json_null()
            : json_string(event->direction > 0 ? "right" : "left"));
    json_set_number(object, "turn_deg", units_deg(event->turn_rad), 2);
    json_set_number(object, "heading_deg", units_deg(event->heading_rad), 2);
    json_set_number(object, "pitch_deg", units_deg(event->pitch_rad), 2);
    json_set_number(object, "bank_deg", units_deg(event->bank_rad), 2);
    json_set_number(object, "airspeed_kt", units_kt(event->cas_mps), 2);
    json_set_number(object, "altitude_ft", units_ft(event->altitude_m), 1);
    json_set_number(object, "stall_margin_kt",
                    units_kt(event->stall_margin_mps), 2);
}

static void set_extra(json_t *object, const struct maneuver_event *event,
                      const struct debrief_grade *grade)
{
    double angle_deg = units_deg(event->angle_rad);

    switch (event->kind) {
    case EVENT_BANK_SET:
    case EVENT_BANK_DRIFT:
        json_set_number(object, "bank_error_deg", angle_deg, 2);
        break;
    case EVENT_MARK:
        (void)json_object_set_new(object, "mark_deg",
                                  json_integer(lround(angle_deg)));
        break;
    case EVENT_PITCH_LIMIT:
        json_set_number(object, "limit_deg", angle_deg, 2);
        break;
    case EVENT_PITCH_SAG:
    case EVENT_PITCH_RISE:
        json_set_number(object, "held_deg", angle_deg, 2);
        break;
    case EVENT_BALL:
        json_set_text(object, "side", event->side < 0 ? "left" : "right");
        break;
    case EVENT_ROLL_OUT_ADVICE:
        json_set_text(object, "advice", event->side > 0 ? "faster" : "slower");
        json_set_number(object, "predicted_error_deg", angle_deg, 1);
        break;
    case EVENT_NEAR_STALL:
        (void)json_object_set_new(object, "band", json_integer(event->band));
        break;
    case EVENT_WINGS_LEVEL:
        json_set_number(object, "heading_error_deg", angle_deg, 2);
        json_set_number(object, "altitude_gain_ft", units_ft(event->length_m),
                        1);
        break;
    case EVENT_HOLD_BROKEN:
        json_set_number(object, "deviation_ft", units_ft(event->length_m), 1);
        break;
    case EVENT_FINISHED:
        if (grade != NULL)
            (void)json_object_set_new(object, "grade", json_of_grade(grade));
        break;
    case EVENT_ABANDONED:
        json_set_text(object, "reason", maneuver_reason_text(event->reason));
        break;
    case EVENT_READY:
    case EVENT_ENTRY:
    case EVENT_STALL:
    case EVENT_SIGNAL_LOST:
    case EVENT_SIGNAL_BACK:
    case EVENT_PAUSED:
    case EVENT_RESUMED:
    case EVENT_JUMPED:
    case EVENT_KIND_COUNT: break;
    }
}

/* ---- order -------------------------------------------------------------- */

static void write_first(struct debrief_log *log)
{
    struct line first = log->waiting[0];

    log->count--;
    memmove(&log->waiting[0], &log->waiting[1],
            log->count * sizeof log->waiting[0]);
    if (!log->failed &&
        (fputs(first.text, log->file) < 0 || fputc('\n', log->file) < 0)) {
        log->failed = true;
        log_line(LOG_LEVEL_WARNING,
                 "events cannot be written any more; flying on without");
    }
    free(first.text);
}

/* Takes over object. */
static int queue(struct debrief_log *log, int64_t t_ns, json_t *object)
{
    char *text = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(12));
    size_t at;

    json_decref(object);
    if (text == NULL)
        return ERR_NO_MEMORY;
    if (log->count == WAITING)
        write_first(log);
    at = log->count++;
    while (at > 0 && log->waiting[at - 1].t_ns > t_ns) {
        log->waiting[at] = log->waiting[at - 1];
        at--;
    }
    log->waiting[at] = (struct line){t_ns, text};
    return 0;
}

int debrief_log_event(struct debrief_log *log,
                      const struct maneuver_event *event,
                      const struct debrief_grade *grade)
{
    json_t *object = json_object();

    json_set_number(object, "t", stream_seconds(log, event->t_ns), 3);
    json_set_text(object, "event", maneuver_event_name(event->kind));
    if (maneuver_event_is_flight(event->kind)) {
        set_flight(object, event);
        set_extra(object, event, grade);
    }
    return queue(log, event->t_ns, object);
}

int debrief_log_call(struct debrief_log *log, const struct callout_call *call)
{
    json_t *object = json_object();

    json_set_number(object, "t", stream_seconds(log, call->onset_ns), 3);
    json_set_text(object, "event", "callout");
    json_set_text(object, "cue", callout_cue_info(call->cue)->name);
    json_set_text(object, "rank", callout_rank_name(call->rank));
    json_set_number(object, "onset_t", stream_seconds(log, call->onset_ns), 3);
    json_set_number(object, "moment_t", stream_seconds(log, call->moment_ns),
                    3);
    json_set_text(object, "text", call->text);
    if (call->again)
        (void)json_object_set_new(object, "again", json_true());
    return queue(log, call->onset_ns, object);
}

int debrief_log_help(struct debrief_log *log, int64_t t_ns,
                     enum callout_help help, uint32_t silent)
{
    json_t *object = json_object();
    json_t *topics = json_array();

    json_set_number(object, "t", stream_seconds(log, t_ns), 3);
    json_set_text(object, "event", "help");
    json_set_text(object, "level", callout_help_name(help));
    for (int i = 0; i < TOPIC_COUNT; i++)
        if ((silent >> i & 1) != 0)
            (void)json_array_append_new(
                topics, json_string(callout_topic_name((enum callout_topic)i)));
    (void)json_object_set_new(object, "silent", topics);
    return queue(log, t_ns, object);
}

int debrief_log_note(struct debrief_log *log, int64_t t_ns, const char *text)
{
    json_t *object = json_object();

    json_set_number(object, "t", stream_seconds(log, t_ns), 3);
    json_set_text(object, "event", "note");
    json_set_text(object, "text", text);
    return queue(log, t_ns, object);
}

int debrief_log_command(struct debrief_log *log, int64_t t_ns, const char *ask,
                        const char *value)
{
    json_t *object = json_object();

    json_set_number(object, "t", stream_seconds(log, t_ns), 3);
    json_set_text(object, "event", "command");
    json_set_text(object, "ask", ask);
    if (value != NULL)
        json_set_text(object, "value", value);
    return queue(log, t_ns, object);
}

int debrief_log_settle(struct debrief_log *log, int64_t settled_ns)
{
    bool wrote = false;

    while (log->count > 0 && log->waiting[0].t_ns <= settled_ns) {
        write_first(log);
        wrote = true;
    }
    if (wrote && !log->failed && fflush(log->file) != 0) {
        log->failed = true;
        log_line(LOG_LEVEL_WARNING,
                 "events cannot be written any more; flying on without");
    }
    return log->failed ? ERR_IO : 0;
}

int debrief_log_close(struct debrief_log *log)
{
    int error = debrief_log_settle(log, INT64_MAX);

    assert(log->count == 0);
    free(log);
    return error;
}
