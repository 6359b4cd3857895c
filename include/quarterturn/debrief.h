/* debrief.h - what is written down: event lines, grades, results.
 *
 * The grade is pure; the event log writes JSON Lines (jansson). */
#ifndef QUARTERTURN_DEBRIEF_H
#define QUARTERTURN_DEBRIEF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "quarterturn/callout.h"

/* ---- grade -------------------------------------------------------------- */

enum debrief_verdict {
    VERDICT_IN_STANDARD,
    VERDICT_MISSED,
    VERDICT_NOT_JUDGED
};

/* "in standard", "missed", "not judged". */
const char *debrief_verdict_name(enum debrief_verdict verdict);

enum { DEBRIEF_MAX_ITEMS = 12 };

struct debrief_item {
    const char *item; /* "heading at 180" */
    const char *unit; /* "deg", "kt", "ft", "s", "" */
    double target;    /* in that unit; NaN none */
    double tolerance; /* NaN none */
    double flown;     /* NaN not known */
    enum debrief_verdict verdict;
};

struct debrief_grade {
    char standard[INTAKE_NAME_SIZE];
    enum debrief_verdict verdict; /* missed if any item was */
    uint32_t item_count;
    struct debrief_item item[DEBRIEF_MAX_ITEMS];
};

/* Grade an attempt. Missing values make an item "not judged". */
void debrief_grade(const struct maneuver_standard *standard,
                   const struct flight_aircraft *aircraft,
                   const struct maneuver_summary *summary,
                   struct debrief_grade *out);

/* How a grade judges what the calls of a topic help with: missed if any of its
 * items was, not judged if none was judged. */
enum debrief_verdict debrief_topic_verdict(const struct debrief_grade *grade,
                                           enum callout_topic topic);

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
/* Write every waiting line dated up to settled_ns.
 * Returns: 0 or ERR_IO (a full disk; said once, later lines are lost). */
int debrief_log_settle(struct debrief_log *log, int64_t settled_ns);
/* Write the rest and free. */
int debrief_log_close(struct debrief_log *log);

/* ---- text --------------------------------------------------------------- */

/* One line for the terminal about an event, without time: "wings level:
 * heading +6.0 deg, gained 780 ft". Empty for events that need no line. */
void debrief_event_text(const struct maneuver_event *event, char *out,
                        size_t size);
/* Print a grade as a table of at most 80 columns. */
void debrief_grade_print(FILE *file, const struct debrief_grade *grade,
                         const struct maneuver_event *event);

#endif
