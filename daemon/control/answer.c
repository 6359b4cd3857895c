/* answer.c - requests and replies, without any socket. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/control.h"

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
    object = json_pack("{s:s, s:s, s:I, s:i, s:i, s:i}", "state",
                       audio_state_name(audio->state), "device", audio->device,
                       "buffers", (json_int_t)audio->callbacks, "underruns",
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
    return json_pack("{s:f, s:f}", "longest_turn_ms",
                     status->longest_turn_s * 1e3, "longest_held_ms",
                     status->longest_held_s * 1e3);
}

static json_t *status_json(const struct control_status *status)
{
    return json_pack(
        "{s:s, s:s, s:s, s:i, s:b, s:I, s:I, s:o, s:i, s:s, s:i, s:o, s:o}",
        "version", status->version, "layout", status->layout, "aircraft",
        status->aircraft, "port", (int)status->port, "signal",
        (int)status->signal, "datagrams", (json_int_t)status->counts.datagrams,
        "taken", (json_int_t)status->counts.taken, "rejected",
        rejects_json(&status->counts), "attempts", (int)status->attempts,
        "phase", maneuver_phase_name(status->phase), "calls",
        (int)status->calls, "loop", loop_json(status), "sound",
        audio_json(status));
}

static json_t *refuse(const char *error)
{
    return json_pack("{s:b, s:s}", "ok", 0, "error", error);
}

static json_t *answer(const struct control_handlers *handlers, const char *line,
                      size_t length)
{
    json_t *request = json_loadb(line, length, JSON_REJECT_DUPLICATES, NULL);
    const char *ask = json_string_value(json_object_get(request, "ask"));
    struct control_status status;
    json_t *reply;

    if (!json_is_object(request)) {
        reply = refuse("not a JSON object; try {\"ask\":\"status\"}");
    } else if (ask == NULL) {
        reply = refuse("no \"ask\"; accepted: status, stop");
    } else if (strcmp(ask, "status") == 0) {
        memset(&status, 0, sizeof status);
        handlers->status(handlers->context, &status);
        reply =
            json_pack("{s:b, s:o}", "ok", 1, "status", status_json(&status));
    } else if (strcmp(ask, "stop") == 0) {
        handlers->stop(handlers->context);
        reply = json_pack("{s:b}", "ok", 1);
    } else {
        reply = refuse("this \"ask\" is not known; accepted: status, stop");
    }
    json_decref(request);
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
