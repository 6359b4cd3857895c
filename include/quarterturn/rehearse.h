/* rehearse.h - a chandelle flown in the performance model.
 *
 * Pure: a pilot who can fly it well, or with errors that were asked for, sits
 * in the airplane's model; samples come out as a simulator would tell them,
 * and the truth about the flight beside them. The same plan gives the same
 * flight. Internal units (units.h). */
#ifndef QUARTERTURN_REHEARSE_H
#define QUARTERTURN_REHEARSE_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/flight.h"

/* ---- errors ------------------------------------------------------------- */

/* After the common errors of FAA-H-8083-3C, chapter 10, chandelle. */
enum rehearse_error {
    REHEARSE_BANK_SHALLOW,
    REHEARSE_BANK_STEEP,
    REHEARSE_BANK_GROWING,
    REHEARSE_PITCH_EARLY,
    REHEARSE_PITCH_LATE,
    REHEARSE_PITCH_HIGH,
    REHEARSE_PITCH_LOW,
    REHEARSE_PITCH_SAG,
    REHEARSE_ROLL_OUT_EARLY,
    REHEARSE_ROLL_OUT_LATE,
    REHEARSE_ROLL_OUT_UNEVEN,
    REHEARSE_LEVEL_SHORT,
    REHEARSE_LEVEL_PAST,
    REHEARSE_BALL,
    REHEARSE_STALL,
    REHEARSE_SINK,
    REHEARSE_ABANDON,
    REHEARSE_ERRORS
};

struct rehearse_error_about {
    const char *name; /* "bank-shallow" */
    enum unit unit;   /* of the sizes below, and of a bare number */
    double usual;     /* size when none is said */
    double least;
    double most;
    const char *text; /* one line */
    const char *item; /* of the grade, that it must miss; NULL: the attempt is
                         given up */
};

const struct rehearse_error_about *
rehearse_error_about(enum rehearse_error error);
/* Returns: 0, or ERR_ABSENT (out unchanged). */
int rehearse_error_find(const char *name, enum rehearse_error *out);

/* ---- the plan ----------------------------------------------------------- */

struct rehearse_plan {
    struct flight_aircraft aircraft;          /* with performance figures */
    struct performance_conditions conditions; /* altitude of the entry */
    double ground_m;                          /* above sea level */
    int direction;                            /* +1 right, -1 left */
    double entry_heading_rad;
    double lead_in_s;             /* straight and level before it */
    double level_bank_rad;        /* below this the wings count as level */
    double hand;                  /* 0 steady, 1 unsteady */
    double gusts_mps;             /* strength, 0 calm */
    uint64_t seed;                /* of hand and gusts */
    double size[REHEARSE_ERRORS]; /* internal unit; 0: not made */
};

/* A perfect flight to the left from 3,000 ft over a plain at 600 ft, heading
 * west, on a standard day. aircraft: copied. */
void rehearse_plan_init(struct rehearse_plan *plan,
                        const struct flight_aircraft *aircraft);

/* ---- the truth ---------------------------------------------------------- */

enum { REHEARSE_MARKS = 5 };
/* 45, 90, 135, 170 and 180 degrees of turn. */
extern const double rehearse_mark_rad[REHEARSE_MARKS];

/* Times in s of the flight's own clock, from 0; NaN: did not happen. */
struct rehearse_truth {
    double entry_s; /* the roll-in begins */
    double mark_s[REHEARSE_MARKS];
    double level_s; /* bank below level_bank_rad, to stay so */
    double stall_s; /* beyond the angle of attack of the most lift */
    double given_up_s;
    double entry_heading_rad; /* mean of the two seconds before entry */
    double entry_cas_mps;
    double entry_altitude_m;
    double ninety_cas_mps;
    double pitch_highest_rad;
    double heading_error_rad; /* at level, in the direction of the turn */
    double gain_m;            /* at level */
    double finish_cas_mps;    /* at level */
    double finish_margin_mps; /* CAS above the stall at weight and load
                                 factor, which counts at least as a steady
                                 climb needs */
    double least_margin_mps;  /* from the entry to level */
    double hold_low_m;        /* in the ten seconds after level */
    double hold_high_m;
};

/* ---- flying it ---------------------------------------------------------- */

enum rehearse_phase {
    REHEARSE_LEAD_IN,
    REHEARSE_FIRST_HALF,
    REHEARSE_SECOND_HALF,
    REHEARSE_FINISH,
    REHEARSE_RECOVERY,
    REHEARSE_GIVEN_UP,
    REHEARSE_OVER
};

/* "lead-in", "first half", ... */
const char *rehearse_phase_name(enum rehearse_phase phase);

/* Embedded by its owner; fields are private but for phase, view and truth. */
struct rehearse {
    enum rehearse_phase phase;
    struct performance_view view; /* now */
    struct rehearse_truth truth;  /* so far */
    struct rehearse_plan plan;
    struct performance_model model;
    struct performance_state state;
    struct performance_controls controls;
    struct performance_gusts gusts;
    double cruise_power;
    double cruise_pitch_rad;
    double highest_rad; /* pitch to reach, found by trying */
    double roll_radps;  /* of the roll-out, found by trying */
    bool trying;        /* while they are looked for */
    uint64_t chance;    /* of the hand */
    double hand_bank_rad;
    double hand_pitch_rad;
    double bank_aim_rad; /* in the direction of the turn */
    double roll_from_s;
    double roll_from_rad;
    double eased_rad; /* pitch given away before a stall */
    double turn_rad;
    double turn_before_rad;
    double path_before_rad;
    double phase_s; /* since the phase began */
    double settled_s;
    double stalled_s;
    double level_altitude_m;
    double heading_sum_rad; /* over the two seconds before the entry */
    uint32_t heading_count;
};

/* Work out how to fly the plan (some tens of milliseconds) and begin.
 * why: one line on failure.
 * Returns: 0; ERR_ABSENT (the airplane tells no performance figures),
 *    ERR_RANGE (this cannot be flown). */
int rehearse_begin(struct rehearse *rehearse, const struct rehearse_plan *plan,
                   char *why, size_t why_size);
/* Fly on until t_s of the flight's clock, or until it is over.
 * t_s: does not decrease. */
void rehearse_fly(struct rehearse *rehearse, double t_s);
/* What a simulator would tell at t_s: all channels. t_s: within one sixtieth
 * of a second after the last rehearse_fly. Sets t_ns to t_s. */
void rehearse_sample(const struct rehearse *rehearse, double t_s,
                     struct intake_sample *out);

#endif
