/* maneuver.h - from the state of flight to phases and events.
 *
 * Pure. Each state goes in; events come out, dated to the instant they were
 * true, together with an outlook: when the next moments are expected, so
 * that a call can be planned for them. */
#ifndef QUARTERTURN_MANEUVER_H
#define QUARTERTURN_MANEUVER_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/flight.h"

enum maneuver_kind { MANEUVER_CHANDELLE, MANEUVER_KIND_COUNT };

const char *maneuver_kind_name(enum maneuver_kind kind);
int maneuver_kind_find(const char *name, enum maneuver_kind *out);

enum maneuver_phase {
    PHASE_SETUP,
    PHASE_FIRST_HALF,
    PHASE_SECOND_HALF,
    PHASE_FINISH,
    PHASE_RECOVERY
};

const char *maneuver_phase_name(enum maneuver_phase phase);

/* Numbers that judge and arm; config/standards/ holds them with their origin.
 * Angles rad, speeds m/s CAS, lengths m, times s; all finite, >= 0. */
struct maneuver_standard {
    char name[INTAKE_NAME_SIZE];
    /* arming */
    double ready_time_s;         /* steady this long */
    double ready_bank_rad;       /* |bank| at most */
    double ready_climb_mps;      /* |vertical speed| at most */
    double ready_turn_radps;     /* |turn rate| at most */
    double entry_speed_band_mps; /* |CAS - entry speed| at most */
    double entry_excess_mps;     /* above maneuvering speed at most */
    double least_height_m;       /* above ground, all the way */
    /* first half */
    double entry_bank_rad; /* 30 deg */
    double bank_tolerance_rad;
    double bank_time_s; /* from the entry to the bank set, at most */
    double ball_tolerance_g;
    double slip_tolerance_rad;       /* used when no lateral g is sent */
    double ball_time_s;              /* beyond that for this long at most */
    double pitch_rise_tolerance_rad; /* from an even rise to 90 degrees */
    double pitch_peak_tolerance_rad; /* of turn, from 90 to highest pitch */
    /* second half */
    double pitch_tolerance_rad;
    double advice_error_rad;       /* predicted heading error worth a word */
    double roll_out_begin_rad;     /* of turn, from 90 to the roll-out */
    double roll_out_tolerance_rad; /* of bank, from coming off evenly */
    /* finish */
    double level_bank_rad; /* |bank| below: wings are level */
    double level_time_s;   /* and stay so at least this long */
    double heading_tolerance_rad;
    double finish_margin_mps; /* finish at most this above the stall */
    double hold_band_m;       /* altitude held within after the finish */
    double hold_time_s;       /* for this long */
    double least_gain;        /* of what the airplane could gain, 0..1; 0:
                                 the gain is not judged */
    /* near-stall bands, margin below: 1, 2, 3; and back out with hysteresis */
    double stall_band_mps[3];
    double stall_hysteresis_mps;
};

enum maneuver_event_kind {
    EVENT_READY,
    EVENT_ENTRY,
    EVENT_BANK_SET,
    EVENT_MARK,
    EVENT_PITCH_LIMIT,
    EVENT_PITCH_SAG,
    EVENT_PITCH_RISE,
    EVENT_BANK_DRIFT,
    EVENT_BALL,
    EVENT_ROLL_OUT_ADVICE,
    EVENT_NEAR_STALL,
    EVENT_STALL,
    EVENT_WINGS_LEVEL,
    EVENT_HOLD_BROKEN,
    EVENT_FINISHED,
    EVENT_ABANDONED,
    EVENT_NOT_BEGUN, /* a turn much like one was not taken for an attempt */
    EVENT_SIGNAL_LOST,
    EVENT_SIGNAL_BACK,
    EVENT_PAUSED,
    EVENT_RESUMED,
    EVENT_JUMPED,
    EVENT_KIND_COUNT
};

/* "ready", "entry", ...: the names of the event lines. */
const char *maneuver_event_name(enum maneuver_event_kind kind);
/* Flight events carry the members of the flight; stream events do not. */
bool maneuver_event_is_flight(enum maneuver_event_kind kind);

enum maneuver_reason {
    REASON_NONE,
    REASON_LEVEL_EARLY, /* wings level long before the end of the turn */
    REASON_STALLED,
    REASON_TURNED_BACK,
    REASON_DESCENDED,
    REASON_TURNED_ON, /* far beyond the end of the turn */
    REASON_TOO_LONG,
    REASON_SIGNAL_LOST,
    REASON_JUMPED,
    REASON_ON_GROUND,
    REASON_ASKED, /* its pilot wants to begin anew */
    REASON_COUNT
};

const char *maneuver_reason_text(enum maneuver_reason reason);

/* What an attempt that could not begin lacked: before a turn, ... */
enum maneuver_lack_kind {
    LACK_NONE,
    LACK_DATA, /* nothing is known of the flight */
    LACK_AIR,  /* on the ground */
    LACK_SPEED,
    LACK_LEVEL_WINGS,
    LACK_STRAIGHT,
    LACK_LEVEL_FLIGHT,
    LACK_TIME, /* steady, not yet for long enough */
    /* ... and in one. */
    LACK_BRISK_ROLL,   /* it began too long after steady flight */
    LACK_MEDIUM_BANK,  /* too steep */
    LACK_EARLY_CLIMB,  /* the climb came when too far turned, ... */
    LACK_PROMPT_CLIMB, /* ... or too late */
    LACK_COUNT
};

/* The figure was not within least and most; NaN: no such bound, and no figure
 * where there is nothing to measure. Right and up positive.
 * m/s CAS; bank and turn rad; rad/s; climb m/s; times s. */
struct maneuver_lack {
    enum maneuver_lack_kind kind;
    double flown;
    double least;
    double most;
};

/* "entry speed", ...; "" for LACK_NONE. */
const char *maneuver_lack_name(enum maneuver_lack_kind kind);

/* What is known of an attempt when it is over, for the grade. NaN: not
 * known. Angles in the direction of the turn. */
struct maneuver_summary {
    double entry_heading_rad;
    double entry_speed_mps;
    double entry_altitude_m;
    double bank_least_rad; /* from bank set to the 90-degree point */
    double bank_greatest_rad;
    double pitch_highest_rad;
    double pitch_highest_turn_rad; /* how far turned at that instant */
    double pitch_held_rad;
    double pitch_sag_rad;        /* greatest loss below the held pitch, >= 0 */
    double pitch_rise_rad;       /* greatest rise above it, >= 0 */
    double roll_rate_mean_radps; /* of the roll-out, positive */
    double heading_error_rad;    /* at wings level */
    double altitude_gain_m;      /* at wings level */
    double finish_speed_mps;
    double finish_margin_mps;
    double least_margin_mps;
    double ball_out_s; /* time with slip or skid beyond tolerance */
    double hold_low_m; /* after the finish, against its altitude */
    double hold_high_m;
    double first_half_s;
    double second_half_s;
    double stalled_s;
    bool stalled;
};

struct maneuver_event {
    enum maneuver_event_kind kind;
    enum maneuver_kind maneuver;
    enum maneuver_phase phase;
    int64_t t_ns;
    uint32_t attempt; /* from 1; 0 outside one */
    int direction;    /* +1 right, -1 left, 0 none yet */
    /* the flight at t_ns; NaN when not known */
    double turn_rad;    /* positive in the direction of the turn */
    double heading_rad; /* [0, 2 pi) */
    double pitch_rad;
    double bank_rad;
    double cas_mps;
    double altitude_m;
    double stall_margin_mps;
    /* extra members by kind */
    double angle_rad; /* bank-set, bank-drift: bank error; mark: the mark;
                         pitch-limit: limit; pitch-sag/-rise: held pitch;
                         advice: predicted error; wings-level: heading
                         error */
    double length_m;  /* wings-level: gain; hold-broken: deviation */
    int band;         /* near-stall: 0..3 */
    int side;         /* ball: -1 left, +1 right; advice: +1 faster,
                         -1 slower */
    enum maneuver_reason reason; /* abandoned */
    struct maneuver_lack lack;   /* not-begun */
    bool stalled;                /* the wing is stalled, whatever the event */
};

/* When moments to come are expected. NaN-free: a moment that is not in
 * sight is INT64_MAX. Revised with every state. */
struct maneuver_outlook {
    int64_t now_ns;
    uint32_t attempt;       /* 0: no attempt, nothing in sight */
    int64_t ninety_ns;      /* 90 degrees turned */
    int64_t ten_to_go_ns;   /* 170 degrees turned */
    int64_t pitch_limit_ns; /* pitch at its limit */
    /* What is wrong now, and has been for long enough to be an event: of that
     * nothing needs to be foreseen. */
    int bank_out; /* first half: -1 too shallow, +1 too steep */
    int ball_out; /* side, as in an event */
    bool stalled;
};

enum {
    MANEUVER_MAX_EVENTS = 64,
    MANEUVER_HISTORY = 960 /* states kept to date an entry back */
};

/* A detector that fires once a condition has lasted. Private. */
struct maneuver_lasting {
    int64_t since_ns;
    bool active;
    bool fired;
};

/* A straight line through values, the newest weighing most. Private. */
struct maneuver_line {
    double s[3]; /* weighted sums of powers of age, s */
    double p[2]; /* the same times the value */
    double squares;
    double base; /* value the sums are taken against */
};

/* How the bank is held and taken off. Private. */
struct maneuver_rollout {
    double settled_s; /* since the bank was set */
    struct maneuver_line hand;
    double hand_s; /* that it goes back */
    double wobble_sum;
    double wobble_s;
    double held_rad; /* bank before the roll-out */
    int64_t from_ns; /* it began to come off */
    struct maneuver_line roll;
};

/* State of an attempt; private to maneuver. */
struct maneuver_attempt {
    int direction;
    enum maneuver_phase phase;
    int64_t entry_ns;
    int64_t recognized_ns;
    double turn_rad;
    double turn_greatest_rad;
    double turn_previous_rad;
    uint32_t marks_passed;
    bool rolled_in; /* the bank has been well away from level */
    bool bank_set;
    bool limit_called;
    bool hold_out;
    int64_t ninety_ns;
    double ninety_bank_rad;
    double held_sum;
    double held_weight_s;
    struct maneuver_rollout rollout;
    int band;
    struct maneuver_lasting drift, ball, sag, rise, advice, stall;
    int ball_side; /* as in an event */
    /* It is over, finished (REASON_NONE) or given up, but for the stall that is
     * still near. */
    bool ending;
    enum maneuver_reason end_reason;
    int advice_sign;
    int64_t advice_due_ns;
    double advice_error_rad;
    /* wings level, until it is certain that they stay so */
    bool level_pending;
    struct flight_state level_state;
    double level_turn_rad;
    double level_low_m;
    double level_high_m;
    struct maneuver_summary summary;
};

/* A turn out of level wings, while there is no attempt. Private. */
struct maneuver_turn {
    bool level;    /* the wings have been, since the last one */
    int direction; /* 0: none */
    struct flight_state from;
    struct maneuver_lack lack; /* why it could not become an attempt */
    struct maneuver_lasting climbs, resembles;
    double climb_turn_rad; /* when it began to climb; NaN: not yet */
    double climb_bank_rad;
    int64_t climb_ns;
    double bank_greatest_rad;
    bool like; /* it has resembled an attempt for long enough */
    bool over; /* told, or too far turned */
};

/* Embedded by its owner (about 200 kB); fields are private to maneuver. */
struct maneuver {
    enum maneuver_kind kind;
    struct maneuver_standard standard;
    struct flight_aircraft aircraft;
    uint32_t attempts;
    bool in_attempt;
    struct maneuver_attempt attempt;
    struct maneuver_outlook outlook;
    struct flight_state last;
    bool has_last;
    /* setup */
    bool steady;
    bool ready;
    int64_t steady_since_ns;
    int64_t steady_last_ns;  /* steady at all */
    int64_t steady_until_ns; /* and long enough */
    int candidate; /* direction of a roll-in that may become an attempt */
    struct flight_state roll_in;
    struct maneuver_lasting begins;
    struct maneuver_turn turn;
    struct flight_state history[MANEUVER_HISTORY];
    uint32_t history_count;
    uint32_t history_next;
};

/* Begin. standard and aircraft: copied. */
void maneuver_init(struct maneuver *maneuver, enum maneuver_kind kind,
                   const struct maneuver_standard *standard,
                   const struct flight_aircraft *aircraft);

/* Advance by one state.
 * state: t_ns must not decrease.
 * out: receives at most MANEUVER_MAX_EVENTS, in time order among themselves;
 *    an event may be dated back, but never before maneuver_settled_ns of the
 *    call before.
 * Returns: number of events, or ERR_TIME (machine unchanged). */
int maneuver_step(struct maneuver *maneuver, const struct flight_state *state,
                  struct maneuver_event out[MANEUVER_MAX_EVENTS]);

/* Tell of the stream: lost, back, paused, resumed, jumped. An attempt
 * survives a pause and a short loss and is given up on a jump and on a loss
 * of more than a few seconds.
 * Returns: number of events in out. */
int maneuver_notice(struct maneuver *maneuver,
                    const struct intake_notice *notice,
                    struct maneuver_event out[MANEUVER_MAX_EVENTS]);

/* Give up the attempt that is running, and arm again as after a jump.
 * t_ns: when; not before the last state. Returns: number of events in out, 0
 * when there was no attempt. */
int maneuver_give_up(struct maneuver *maneuver, int64_t t_ns,
                     struct maneuver_event out[MANEUVER_MAX_EVENTS]);

/* What an attempt still lacks that should begin now: LACK_NONE in an attempt,
 * and when a roll-in would be taken for the beginning of one. */
void maneuver_readiness(const struct maneuver *maneuver,
                        struct maneuver_lack *out);

const struct maneuver_outlook *
maneuver_outlook(const struct maneuver *maneuver);

/* The earliest time that a later event can still be dated to. Lines up to
 * this instant can be written in time order for good. */
int64_t maneuver_settled_ns(const struct maneuver *maneuver);

/* The facts of the attempt that the last EVENT_FINISHED or EVENT_ABANDONED
 * ended. Valid until the next maneuver_step. */
const struct maneuver_summary *
maneuver_summary(const struct maneuver *maneuver);

#endif
