/* session.h - the four pure rooms, wired: datagrams in, events and calls out.
 *
 * Reads no clock and does no input or output of its own. Whoever drives it
 * pushes datagrams with their arrival times and lets time pass up to the
 * deadlines it names; live, replay and tests give the same results to the
 * digit because they all drive this. */
#ifndef COMMANDS_SESSION_H
#define COMMANDS_SESSION_H

#include "flight_time.h"
#include "quarterturn/callout.h"
#include "quarterturn/debrief.h"
#include "quarterturn/flight.h"
#include "quarterturn/intake.h"
#include "quarterturn/maneuver.h"
#include "quarterturn/settings.h"

/* Where results go; every member may be NULL. now_ns is the session's time. */
struct session_sink {
    void *context;
    /* grade: for EVENT_FINISHED, else NULL. */
    void (*event)(void *context, const struct maneuver_event *event,
                  const struct debrief_grade *grade);
    void (*call)(void *context, const struct callout_call *call);
    void (*tone)(void *context, const struct callout_tone *tone);
    /* With what help an attempt that has begun at t_ns is flown; not called
     * at HELP_FULL. silent: bits of the topics that are faded out. */
    void (*help)(void *context, int64_t t_ns, enum callout_help help,
                 uint32_t silent);
    /* An attempt is over: finished, given up or, by session_end, cut off.
     * Borrowed for the call. */
    void (*attempt)(void *context, const struct debrief_attempt *attempt);
    /* Time has got to now_ns; lines up to settled_ns are final. */
    void (*progress)(void *context, int64_t now_ns, int64_t settled_ns);
};

/* Allocated by its owner (about 1.2 MB). */
struct session {
    const struct settings *settings;
    struct session_sink sink;
    struct intake_stream stream;
    struct intake_senders senders;
    struct flight_estimator flight;
    struct maneuver maneuver;
    struct callout callout;
    struct debrief_collector collector;
    int64_t now_ns;
    /* What to add to the session's time for time since 1970 UTC. 0 after
     * session_init, right for a recording; a live session sets it. */
    int64_t unix_offset_ns;
    /* The machine lives in the flight's own time, in which an airplane turns
     * and climbs as physics wants it; calls and lines live in stream time,
     * which is what is seen and heard. */
    struct flight_time time;
    int64_t settled_ns; /* told to progress last; later events come after */
    bool resumed;       /* no sample since */
    bool begun;
};

/* settings: borrowed until the end of the session; callout.clip_s filled. */
void session_init(struct session *session, const struct settings *settings,
                  const struct session_sink *sink);

/* Take a datagram. A smaller t_ns than before counts as the same. */
void session_push(struct session *session,
                  const struct intake_datagram *datagram);

/* Do what is due up to now_ns, each thing at its own instant. */
void session_advance(struct session *session, int64_t now_ns);

/* The stream is over: hand over the attempt that was going on, if any. */
void session_end(struct session *session);

/* ---- what its user asks for; each first does what is due up to now_ns ---- */

void session_set_help(struct session *session, int64_t now_ns,
                      enum callout_help help);
/* Say the last call once more. Returns: 0; ERR_ABSENT, ERR_FULL. */
int session_repeat_call(struct session *session, int64_t now_ns);
/* Give up the running attempt and arm again. */
void session_give_up(struct session *session, int64_t now_ns);
/* A note of the user's, for the attempt that is running. */
void session_note(struct session *session, int64_t now_ns, const char *text);
/* The settings that session_init borrowed have been changed: airplane,
 * standard, maneuver and callout are taken from them. Not in an attempt. */
void session_change(struct session *session, int64_t now_ns);

/* When session_advance has something to do, or INT64_MAX. */
int64_t session_deadline_ns(const struct session *session);

/* Whether packets have come, and come still. */
bool session_has_signal(const struct session *session);

#endif
