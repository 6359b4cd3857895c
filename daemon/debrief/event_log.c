/* event_log.c - events and calls as JSON Lines, in time order. */
#include <assert.h>
#include <jansson.h>
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
    json_set_event(object, event, grade);
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
