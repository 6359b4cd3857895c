/* flown.h - flights for replay tests: loaded, changed, flown, looked at. */
#ifndef SUPPORT_FLOWN_H
#define SUPPORT_FLOWN_H

#include <stdbool.h>
#include <stddef.h>

#include "../../daemon/commands/session.h"

/* ---- a stream of samples, each with its arrival ------------------------- */

struct stream_packet {
    int64_t arrival_ns; /* from 0 at the first packet of the recording */
    struct intake_sample sample;
};

struct stream {
    struct stream_packet *packet;
    size_t count;
    size_t capacity;
};

/* Decode a recording of tests/replay ("good_left", a layout's name). The test
 * fails if it cannot be. Owns: stream_free. */
void stream_load(struct stream *stream, const char *flight, const char *layout);
void stream_free(struct stream *stream);
void stream_append(struct stream *stream, const struct stream_packet *packet);
/* Append all of another one, its first packet pause_s after the last. */
void stream_join(struct stream *stream, const struct stream *other,
                 double pause_s);

/* Changes of a stream, in place. seed: of a generator that is the same on
 * every machine. */
void stream_mirror(struct stream *stream);
void stream_rotate(struct stream *stream, double rad);
void stream_thin(struct stream *stream, double rate_hz);
void stream_lose(struct stream *stream, double part, unsigned seed);
void stream_jitter(struct stream *stream, double most_s, unsigned seed);
void stream_double(struct stream *stream, double part, unsigned seed);
void stream_reorder(struct stream *stream, double part, unsigned seed);
/* Leave only these channels. */
void stream_keep_channels(struct stream *stream, uint32_t channels);

/* ---- a flight through the rooms ----------------------------------------- */

enum { FLOWN_EVENTS = 1024, FLOWN_CALLS = 512 };

struct flown {
    struct settings settings;
    struct session *session;
    struct maneuver_event event[FLOWN_EVENTS];
    size_t event_count;
    struct callout_call call[FLOWN_CALLS];
    int64_t call_now_ns[FLOWN_CALLS]; /* when each was handed over */
    size_t call_count;
    struct callout_tone tone[FLOWN_EVENTS];
    size_t tone_count;
    struct debrief_grade grade; /* of the last finished attempt */
    struct maneuver_summary summary;
    struct debrief_attempt *attempt; /* the last one; NULL none */
    size_t attempt_count;
    char *lines; /* the event lines as written */
    size_t lines_length;
};

/* Fly a stream with the shipped configuration. layout: the form its packets
 * are encoded in. aircraft: named or a file; NULL the configured one.
 * step_ns: 0, or a step in which time is also let pass between packets, which
 * must change nothing.
 * Owns: flown_free. */
void flown_fly_in(struct flown *flown, const struct stream *stream,
                  const char *layout, const char *aircraft, int64_t step_ns);
static inline void flown_fly(struct flown *flown, const struct stream *stream,
                             const char *layout, int64_t step_ns)
{
    flown_fly_in(flown, stream, layout, NULL, step_ns);
}
/* The same with an amount of help, in one go. */
void flown_fly_helped(struct flown *flown, const struct stream *stream,
                      const char *layout, enum callout_help help);
/* Load and fly a recording as it is. */
void flown_recording(struct flown *flown, const char *flight,
                     const char *layout);
/* The same for the recording's datagrams themselves, of any form; path: from
 * the top of the project. */
void flown_datagrams(struct flown *flown, const char *path, const char *layout);
void flown_free(struct flown *flown);

/* How many events of a kind there are. */
size_t flown_count(const struct flown *flown, enum maneuver_event_kind kind);
/* The n-th (from 0) event of a kind, or NULL. */
const struct maneuver_event *
flown_event(const struct flown *flown, enum maneuver_event_kind kind, size_t n);
/* The mark of so many degrees in an attempt, or NULL. */
const struct maneuver_event *flown_mark(const struct flown *flown,
                                        uint32_t attempt, double deg);
/* The n-th call of a cue, or NULL. */
const struct callout_call *flown_call(const struct flown *flown,
                                      enum callout_cue cue, size_t n);
double flown_seconds(int64_t t_ns);

#endif
