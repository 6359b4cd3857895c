/* attempt.h - one attempt as it was flown, whole: what a debrief is made of.
 *
 * Plain data, filled by the debrief room (debrief.h) and read by whoever
 * shows, writes or plots it. Internal units; NaN is "not known". Right bank,
 * nose up, right turn and ball to the right are positive, but turn_rad, which
 * is positive in the direction of the attempt. Times are seconds of flight
 * since the entry: a pause of the simulator takes none. */
#ifndef QUARTERTURN_ATTEMPT_H
#define QUARTERTURN_ATTEMPT_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/callout.h"
#include "quarterturn/maneuver.h"
#include "quarterturn/performance.h"

/* ---- the grade ---------------------------------------------------------- */

enum debrief_verdict {
    VERDICT_IN_STANDARD,
    VERDICT_MISSED,
    VERDICT_NOT_JUDGED
};

/* How an item is judged. */
enum debrief_rule {
    RULE_WITHIN,     /* |flown - target| <= tolerance; a target of NaN is 0 */
    RULE_AT_MOST,    /* flown <= target + tolerance */
    RULE_AT_LEAST,   /* flown >= target - tolerance */
    RULE_INFORMATION /* never judged; target, if any, to compare with */
};

/* What a miss teaches. Texts are constant, in one line, without a full stop
 * at the end. */
struct debrief_lesson {
    const char *error; /* the common error it belongs to */
    const char *cause; /* its likely cause */
    const char *next;  /* one thing to do next time */
};

enum { DEBRIEF_MAX_ITEMS = 24 };

struct debrief_item {
    const char *item; /* "heading error at level": stable, lower case */
    const char *unit; /* "deg", "kt", "ft", "s", "" */
    double target;    /* in that unit; NaN none */
    double tolerance; /* NaN none */
    double flown;     /* NaN not known */
    enum debrief_rule rule;
    enum debrief_verdict verdict;
    double t_s;      /* when it was so; NaN: no single instant */
    double turn_rad; /* and how far turned */
    const struct debrief_lesson *lesson; /* of a miss, else NULL */
};

struct debrief_grade {
    char standard[INTAKE_NAME_SIZE];
    enum debrief_verdict verdict; /* missed if any item was */
    uint32_t item_count;
    struct debrief_item item[DEBRIEF_MAX_ITEMS];
};

/* ---- the series --------------------------------------------------------- */

struct debrief_point {
    double t_s;
    double turn_rad;
    double heading_rad; /* unwrapped: no step at north */
    double bank_rad;
    double pitch_rad;
    double roll_rate_radps;
    double cas_mps;
    double tas_mps;
    double altitude_m;
    double height_m; /* above ground */
    double vertical_speed_mps;
    double load_factor;      /* g */
    double stall_speed_mps;  /* CAS, accelerated: at this load factor */
    double stall_margin_mps; /* see flight_state */
    double lateral_g;        /* positive: ball to the left */
    double sideslip_rad;     /* positive: ball to the right */
    double angle_of_attack_rad;
    double north_m; /* over the ground from the entry */
    double east_m;
};

/* ---- what happened ------------------------------------------------------ */

enum {
    DEBRIEF_MAX_POINTS = 4096, /* of a longer series every second is left out,
                                  as often as it takes: always evenly */
    DEBRIEF_MAX_EVENTS = 128,  /* later ones are left out and counted */
    DEBRIEF_MAX_CALLS = 96,
    DEBRIEF_MAX_NOTES = 32,
    DEBRIEF_NOTE_SIZE = 128,
    DEBRIEF_PERSON_SIZE = 64
};

struct debrief_event {
    double t_s;
    struct maneuver_event event; /* its t_ns is the flight's own time */
};

struct debrief_call {
    double onset_s;
    double moment_s;
    double turn_rad; /* at the onset */
    enum callout_cue cue;
    enum callout_rank rank;
    char text[CALLOUT_TEXT_SIZE];
};

/* What a person at the controls or beside them wrote down. UTF-8. */
struct debrief_note {
    double t_s;
    double turn_rad;
    char text[DEBRIEF_NOTE_SIZE];
};

enum debrief_ending {
    ENDING_FINISHED,
    ENDING_ABANDONED, /* see reason */
    ENDING_CUT_OFF    /* the stream ended first */
};

/* "finished", "given up", "cut off". */
const char *debrief_ending_name(enum debrief_ending ending);

struct debrief_conditions {
    double altitude_m;            /* at the entry */
    double height_m;              /* at the entry */
    double weight_kg;             /* as sent, else the airplane's */
    double maneuvering_speed_mps; /* CAS, at that weight */
    double rate_hz;               /* states a second that came in */
};

/* About 750 kB: allocate it. */
struct debrief_attempt {
    uint32_t number; /* from 1 in the stream */
    int direction;   /* +1 right, -1 left */
    enum maneuver_kind maneuver;
    struct flight_aircraft aircraft;
    struct maneuver_standard standard;
    char person[DEBRIEF_PERSON_SIZE]; /* UTF-8; "" when nobody said */
    int64_t begun_unix_ns;            /* of the entry, since 1970-01-01 UTC */
    enum debrief_ending ending;
    enum maneuver_reason reason; /* of ENDING_ABANDONED */
    double ended_s;
    double ninety_s; /* 90 degrees turned; NaN never */
    double level_s;  /* wings level; NaN never */
    struct debrief_conditions conditions;
    struct maneuver_summary summary;
    struct debrief_grade grade;
    /* The line to compare with, from the conditions and the speed of this
     * attempt; not to be read unless has_reference. */
    bool has_reference;
    struct performance_reference reference;
    /* Where north_m and east_m come from: the positions that were sent, or
     * dead reckoning by true airspeed and heading in calm air. */
    bool positions_sent;
    uint32_t point_count;
    struct debrief_point point[DEBRIEF_MAX_POINTS]; /* in time order */
    uint32_t event_count;
    uint32_t events_left_out;
    struct debrief_event event[DEBRIEF_MAX_EVENTS]; /* in time order */
    uint32_t call_count;
    uint32_t calls_left_out;
    struct debrief_call call[DEBRIEF_MAX_CALLS]; /* by onset */
    uint32_t note_count;
    struct debrief_note note[DEBRIEF_MAX_NOTES];
};

#endif
