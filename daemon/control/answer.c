/* answer.c - requests and replies, without any socket. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/control.h"
#include "quarterturn/debrief.h"
#include "quarterturn/text.h"
#include "request.h"

/* Names of files and devices are bytes of any kind, and may have been cut
 * within a character: what is no UTF-8 becomes a question mark. */
static json_t *string_json(const char *text)
{
    char copy[CONTROL_MAX_REPLY / 2];
    size_t used = 0;

    while (*text != '\0') {
        size_t length = text_character_length(text);
        size_t taken = length > 0 ? length : 1;

        if (used + taken >= sizeof copy)
            break;
        if (length > 0)
            memcpy(copy + used, text, length);
        else
            copy[used] = '?';
        used += taken;
        text += taken;
    }
    return json_stringn(copy, used);
}

static json_t *rejects_json(const struct intake_counts *counts)
{
    json_t *object = json_object();

    for (int i = INTAKE_TAKEN + 1; i < INTAKE_REJECT_COUNT; i++)
        if (counts->rejected[i] > 0)
            (void)json_object_set_new(
                object, intake_reject_name((enum intake_reject)i),
                json_integer((json_int_t)counts->rejected[i]));
    return object;
}

static json_t *audio_json(const struct control_status *status)
{
    const struct audio_status *audio = &status->audio;
    json_t *object;

    if (!status->has_audio)
        return json_null();
    object = json_pack("{s:s, s:o, s:I, s:i, s:i, s:i}", "state",
                       audio_state_name(audio->state), "device",
                       string_json(audio->device), "buffers",
                       (json_int_t)audio->callbacks, "underruns",
                       (int)audio->underruns, "dropped", (int)audio->dropped,
                       "restarts", (int)audio->restarts);
    (void)json_object_set_new(object, "latency_ms",
                              isfinite(audio->latency_s)
                                  ? json_real(audio->latency_s * 1e3)
                                  : json_null());
    (void)json_object_set_new(
        object, "latency_from",
        json_string(audio->latency_measured ? "callbacks" : "device"));
    return object;
}

static json_t *loop_json(const struct control_status *status)
{
    return json_pack("{s:f, s:f, s:f}", "longest_turn_ms",
                     status->longest_turn_s * 1e3, "longest_held_ms",
                     status->longest_held_s * 1e3, "longest_wait_ms",
                     status->longest_wait_s * 1e3);
}

static json_t *text_json(const char *text)
{
    return text != NULL && text[0] != '\0' ? string_json(text) : json_null();
}

static json_t *silent_json(uint32_t silent)
{
    json_t *array = json_array();

    for (int i = 0; i < TOPIC_COUNT; i++)
        if ((silent >> i & 1) != 0)
            (void)json_array_append_new(
                array, json_string(callout_topic_name((enum callout_topic)i)));
    return array;
}

static json_t *figure_json(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

/* Why a roll-in would not be taken for the beginning of an attempt. */
static json_t *lacks_json(const struct control_status *status)
{
    struct debrief_lack told;
    char text[DEBRIEF_LACK_SIZE];

    if (status->lack.kind == LACK_NONE)
        return json_null();
    debrief_lack_of(&status->lack, &told);
    debrief_lack_text(&status->lack, false, text);
    return json_pack("{s:s, s:o, s:o, s:o, s:s, s:s}", "reason", told.reason,
                     "flown", figure_json(told.flown), "least",
                     figure_json(told.least), "most", figure_json(told.most),
                     "unit", told.unit, "text", text);
}

/* What arrives and where it goes. */
static json_t *stream_json(const struct control_status *status)
{
    return json_pack(
        "{s:s, s:o, s:o, s:o, s:s, s:i, s:b, s:f, s:o, s:I, s:I, s:o, s:o}",
        "version", status->version, "layout", string_json(status->layout),
        "aircraft", string_json(status->aircraft), "standard",
        string_json(status->standard), "maneuver", status->maneuver, "port",
        (int)status->port, "signal", (int)status->signal, "rate_hz",
        status->rate_hz, "sender", text_json(status->sender), "datagrams",
        (json_int_t)status->counts.datagrams, "taken",
        (json_int_t)status->counts.taken, "rejected",
        rejects_json(&status->counts), "recording",
        text_json(status->recording));
}

static json_t *status_json(const struct control_status *status)
{
    json_t *object = stream_json(status);
    json_t *flight = json_pack(
        "{s:i, s:s, s:b, s:b, s:o, s:b, s:i, s:I, s:s, s:o, s:b, s:I, s:o, "
        "s:o}",
        "attempts", (int)status->attempts, "phase",
        maneuver_phase_name(status->phase), "in_attempt",
        (int)status->in_attempt, "ready",
        !status->in_attempt && status->lack.kind == LACK_NONE, "lacks",
        lacks_json(status), "change_waits", (int)status->change_waits, "calls",
        (int)status->calls, "calls_dropped", (json_int_t)status->calls_dropped,
        "help", callout_help_name(status->help), "silent",
        silent_json(status->silent), "muted", (int)status->muted, "lines_lost",
        (json_int_t)status->lines_lost, "loop", loop_json(status), "sound",
        audio_json(status));

    (void)json_object_update(object, flight);
    json_decref(flight);
    return object;
}

static json_t *refuse(const char *error)
{
    return json_pack("{s:b, s:o}", "ok", 0, "error", string_json(error));
}

static json_t *obey(const struct control_handlers *handlers,
                    const struct control_command *command)
{
    char said[CONTROL_SAID_SIZE] = "";

    if (handlers->command(handlers->context, command, said) < 0)
        return refuse(said);
    if (said[0] == '\0')
        return json_pack("{s:b}", "ok", 1);
    return json_pack("{s:b, s:o}", "ok", 1, "said", string_json(said));
}

static json_t *answer(const struct control_handlers *handlers, const char *line,
                      size_t length)
{
    json_t *json = json_loadb(line, length, JSON_REJECT_DUPLICATES, NULL);
    struct control_command command;
    struct control_status status;
    char why[CONTROL_SAID_SIZE];
    json_t *reply;

    switch (request_read(json, &command, why)) {
    case REQUEST_STATUS:
        memset(&status, 0, sizeof status);
        handlers->status(handlers->context, &status);
        reply =
            json_pack("{s:b, s:o}", "ok", 1, "status", status_json(&status));
        break;
    case REQUEST_COMMAND: reply = obey(handlers, &command); break;
    case REQUEST_WRONG:
    default: reply = refuse(why); break;
    }
    json_decref(json);
    return reply;
}

size_t control_answer(const struct control_handlers *handlers, const char *line,
                      size_t length, char out[CONTROL_MAX_REPLY])
{
    json_t *reply = answer(handlers, line, length);
    size_t size = json_dumpb(reply, out, CONTROL_MAX_REPLY - 2,
                             JSON_COMPACT | JSON_REAL_PRECISION(6));

    json_decref(reply);
    /* No memory, or more than fits: still a line that is true. */
    if (size == 0 || size > CONTROL_MAX_REPLY - 2) {
        static const char failed[] = "{\"ok\":false,\"error\":\"no answer\"}";

        size = sizeof failed - 1;
        memcpy(out, failed, size);
    }
    out[size++] = '\n';
    out[size] = '\0';
    return size;
}
