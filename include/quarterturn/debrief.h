/* debrief.h - what is written down: attempts, grades, event lines, results.
 *
 * Collecting and grading are pure; JSON is written with jansson. */
#ifndef QUARTERTURN_DEBRIEF_H
#define QUARTERTURN_DEBRIEF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "quarterturn/attempt.h"

/* ---- collecting an attempt ---------------------------------------------- */

/* Of a moment before it was known that an attempt had begun. Private. */
struct debrief_raw {
    int64_t t_ns;
    double latitude_rad; /* NaN when not sent just now */
    double longitude_rad;
    double path_rad;
    double weight_kg;
    struct debrief_point point; /* t_s, turn and place not set */
};

enum { DEBRIEF_HISTORY = 1024 };

/* A note that was made outside an attempt, or before one was known. */
struct debrief_waiting {
    int64_t t_ns;
    char text[DEBRIEF_NOTE_SIZE];
};

/* Puts an attempt together from what a session gives. Pure; embedded by its
 * owner (about 1 MB); fields are private. */
struct debrief_collector {
    struct debrief_attempt attempt;
    bool collecting;
    bool complete; /* ended and not yet taken */
    int64_t entry_ns;
    int64_t last_ns; /* of the last state */
    int64_t unix_offset_ns;
    int64_t step_ns;  /* least time between two points */
    int64_t next_ns;  /* the next point not before */
    int64_t begun_ns; /* when the attempt became known */
    uint64_t states;  /* since then */
    /* where the airplane is over the ground */
    double origin_latitude_rad;
    double origin_longitude_rad;
    double north_m;
    double east_m;
    struct debrief_raw previous;
    /* before an attempt is known */
    struct debrief_raw history[DEBRIEF_HISTORY];
    uint32_t history_count;
    uint32_t history_next;
    struct debrief_waiting waiting[DEBRIEF_MAX_NOTES];
    uint32_t waiting_count;
    uint32_t waiting_next;
};

/* Begin.
 * standard, aircraft: copied. person: UTF-8, cut to DEBRIEF_PERSON_SIZE at
 *    a whole character; NULL or "": nobody named. */
void debrief_collect_init(struct debrief_collector *collector,
                          const struct maneuver_standard *standard,
                          const struct flight_aircraft *aircraft,
                          const char *person);
/* Take a state, before the events that maneuver_step makes of it.
 * sample: what the state was made of, for the positions.
 * unix_offset_ns: what to add to state->t_ns for time since 1970 UTC. */
void debrief_collect_state(struct debrief_collector *collector,
                           const struct flight_state *state,
                           const struct intake_sample *sample,
                           int64_t unix_offset_ns);
/* Take an event, in the flight's own time. EVENT_ENTRY begins an attempt, at
 * its date; EVENT_FINISHED and EVENT_ABANDONED end and grade it.
 * summary: maneuver_summary at this event. */
void debrief_collect_event(struct debrief_collector *collector,
                           const struct maneuver_event *event,
                           const struct maneuver_summary *summary);
/* Take a call. onset_ns, moment_ns: in the flight's own time. */
void debrief_collect_call(struct debrief_collector *collector,
                          const struct callout_call *call, int64_t onset_ns,
                          int64_t moment_ns);
/* Take a note, in the flight's own time. One made before an attempt is known,
 * and not before its entry, stands in it all the same; one that is made outside
 * of any is left out.
 * Returns: 0, ERR_ABSENT (no attempt is known yet), ERR_FULL. */
int debrief_collect_note(struct debrief_collector *collector, int64_t t_ns,
                         const char *text);
/* The stream is over: an attempt that is still going on is cut off.
 * summary: maneuver_summary at this time. */
void debrief_collect_end(struct debrief_collector *collector,
                         const struct maneuver_summary *summary);
/* The attempt that ended, once. After an event that ends one, the calls that
 * belong to it may still be given before it is taken.
 * Returns: NULL when there is none; valid until the next state. */
const struct debrief_attempt *
debrief_collect_take(struct debrief_collector *collector);

/* Copy what a person typed: UTF-8, cut at a whole character; what is no
 * UTF-8 and controls become question marks. text: NULL counts as "". */
void debrief_copy_text(const char *text, char *out, size_t size);

/* The point of the series at t_s, interpolated; before the first and after
 * the last one it is that one. With no points all is NaN. */
void debrief_point_at(const struct debrief_attempt *attempt, double t_s,
                      struct debrief_point *out);

/* ---- grade -------------------------------------------------------------- */

/* "in standard", "missed", "not judged". */
const char *debrief_verdict_name(enum debrief_verdict verdict);
/* "within", "at most", "at least", "information". */
const char *debrief_rule_name(enum debrief_rule rule);

/* Grade an attempt by its standard, from its summary and series. What was
 * not sent or not flown makes an item "not judged". */
void debrief_grade(const struct debrief_attempt *attempt,
                   struct debrief_grade *out);

/* How a grade judges what the calls of a topic help with: missed if any of its
 * items was, not judged if none was judged. */
enum debrief_verdict debrief_topic_verdict(const struct debrief_grade *grade,
                                           enum callout_topic topic);

/* The cue whose words tell what to work on after a miss: of the first missed
 * item that has one, in the order of the grade. CUE_COUNT: none has. */
enum callout_cue debrief_next_cue(const struct debrief_grade *grade);

/* ---- event log ---------------------------------------------------------- */

struct debrief_log;

/* Write event lines to a stream.
 * file: borrowed; flushed after each line that is written for good.
 * origin_ns: stream time of the first packet; t counts from it.
 * Lines wait, in time order, until debrief_log_settle lets them out: events
 * may be dated back. At most 256 wait; then the oldest goes out.
 * Returns: 0 or ERR_NO_MEMORY. Owns: *out until debrief_log_close. */
int debrief_log_open(FILE *file, int64_t origin_ns, struct debrief_log **out);
/* grade: for EVENT_FINISHED, else NULL. */
int debrief_log_event(struct debrief_log *log,
                      const struct maneuver_event *event,
                      const struct debrief_grade *grade);
int debrief_log_call(struct debrief_log *log, const struct callout_call *call);
/* The amount of help that an attempt begun at t_ns is flown with. silent: bits
 * of enum callout_topic. */
int debrief_log_help(struct debrief_log *log, int64_t t_ns,
                     enum callout_help help, uint32_t silent);
/* A note of the user's: any UTF-8 text. */
int debrief_log_note(struct debrief_log *log, int64_t t_ns, const char *text);
/* What the user asked of the running program, from t_ns on. value: NULL when
 * there is none. */
int debrief_log_command(struct debrief_log *log, int64_t t_ns, const char *ask,
                        const char *value);
/* Write every waiting line dated up to settled_ns.
 * Returns: 0 or ERR_IO (a full disk; said once, later lines are lost). */
int debrief_log_settle(struct debrief_log *log, int64_t settled_ns);
/* Write the rest and free. */
int debrief_log_close(struct debrief_log *log);

/* ---- notes beside a recording -------------------------------------------- */

enum { DEBRIEF_MAX_NOTED = 256, DEBRIEF_NOTED_SIZE = 128 };

/* A note, and when it was made. */
struct debrief_noted {
    int64_t since_ns; /* since the recording's first datagram, >= 0 */
    char text[DEBRIEF_NOTED_SIZE];
};

/* FILE.notes.jsonl: where the notes of a recording FILE stand.
 * Returns: 0, or ERR_FULL when the path does not fit. */
int debrief_notes_path(const char *recording, char *out, size_t size);
/* Append one line and flush. Returns: 0 or ERR_IO. */
int debrief_notes_write(FILE *file, const struct debrief_noted *note);
/* Read the notes of a recording.
 * out: at most DEBRIEF_MAX_NOTED, in time order; count: set.
 * Returns: 0, also when there is no such file; ERR_FORMAT with the line in
 *    *line when it does not hold notes. */
int debrief_notes_read(const char *path, struct debrief_noted *out,
                       uint32_t *count, uint32_t *line);

/* ---- why an attempt could not begin ---------------------------------------
 */

/* The same in the units in which it is told: kt, deg, deg/s, ft/min, s. */
struct debrief_lack {
    const char *reason; /* static; as maneuver_lack_name */
    double flown;       /* NaN: nothing to measure */
    double least;       /* NaN: no such bound */
    double most;
    const char *unit; /* static; "" without a figure */
};

enum { DEBRIEF_LACK_SIZE = 96 };

void debrief_lack_of(const struct maneuver_lack *lack,
                     struct debrief_lack *out);
/* In words: "airspeed 118.0 kt, 95 to 115 kt wanted"; of a turn that was flown
 * "entered at 118.0 kt, 95 to 115 kt wanted". "" for LACK_NONE. */
void debrief_lack_text(const struct maneuver_lack *lack, bool flown,
                       char out[DEBRIEF_LACK_SIZE]);

/* ---- text --------------------------------------------------------------- */

/* One line for the terminal about an event, without time: "wings level:
 * heading +6.0 deg, gained 780 ft". Empty for events that need no line. */
void debrief_event_text(const struct maneuver_event *event, char *out,
                        size_t size);
/* The result in one sentence; "" when the wings were never level. */
void debrief_result_text(const struct debrief_attempt *attempt, char *out,
                         size_t size);
/* Print an attempt for a person, at most 80 columns: the verdict, what to do
 * better, then every item, then the line of caution. */
void debrief_attempt_print(FILE *file, const struct debrief_attempt *attempt);

/* ---- a page for a browser and a printer -------------------------------- */

/* Write an attempt as one HTML file that needs nothing else, with pictures of
 * what was flown beside what was wanted; see paper.h.
 * Returns: 0, or ERR_IO when it could not be written whole. Thread: any. */
int debrief_page_write(FILE *file, const struct debrief_attempt *attempt);

/* ---- for other programs ------------------------------------------------- */

/* Write the series as CSV (RFC 4180), units in the headers; what is not known
 * is left empty. Returns: 0 or ERR_IO. */
int debrief_series_write(FILE *file, const struct debrief_attempt *attempt);
/* Write an attempt as one JSON object in one line, with its grade, calls and
 * series. Returns: 0 or ERR_IO. */
int debrief_attempt_write_json(FILE *file,
                               const struct debrief_attempt *attempt);

#endif
