/* performance.h - what an airplane can do, from its handbook.
 *
 * Pure, and part of the flight room: the figures a handbook tells, the
 * conditions of the day, and the line that an ideal chandelle follows in them.
 * Internal units (units.h). */
#ifndef QUARTERTURN_PERFORMANCE_H
#define QUARTERTURN_PERFORMANCE_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/units.h"

struct flight_aircraft; /* flight.h */

/* ---- what the handbook tells -------------------------------------------- */

enum performance_propeller {
    PROPELLER_UNKNOWN,
    PROPELLER_FIXED,         /* turns slower when the airplane flies slower */
    PROPELLER_CONSTANT_SPEED /* gives its rated power at any speed */
};

/* "fixed", "constant-speed"; "unknown". */
const char *performance_propeller_name(enum performance_propeller propeller);
/* Returns: 0, or ERR_ABSENT for another name (out unchanged). */
int performance_propeller_find(const char *name,
                               enum performance_propeller *out);

/* Figures of a handbook. NaN, and 0 or less where a figure must be positive,
 * mean "not told". */
struct performance_figures {
    double wing_area_m2;
    double wing_span_m;
    double engine_power_w; /* rated, at sea level in the standard atmosphere */
    enum performance_propeller propeller;
    double propeller_diameter_m;
    double cruise_speed_mps;  /* true airspeed, level, at max_weight */
    double cruise_power;      /* of the rated power, 0..1 */
    double cruise_altitude_m; /* pressure altitude, standard temperature */
    double climb_rate_mps;    /* best, full power, sea level, max_weight */
    double climb_speed_mps;   /* CAS at which it is reached */
};

/* Whether the figures are enough for the performance model: wing area,
 * engine power, propeller, cruise and climb. Span and propeller diameter are
 * estimated when they are not told. */
bool performance_is_known(const struct performance_figures *figures);

/* ---- the day ------------------------------------------------------------ */

/* Whether an airplane of this kind can weigh so much. Ours: from three
 * tenths of its largest weight on.
 * least_kg: receives the least; the most is max_weight_kg. */
bool performance_takes_weight(const struct flight_aircraft *aircraft,
                              double weight_kg, double *least_kg);

struct performance_conditions {
    double weight_kg;     /* NaN: the airplane's weight of today */
    double altitude_m;    /* pressure altitude at entry, -500..6000 */
    double temperature_k; /* outside, at that altitude; NaN: standard */
    double wind_from_rad; /* direction it blows from; no effect on the line
                             through the air */
    double wind_mps;      /* 0 calm */
};

/* The ratio of true to calibrated airspeed, at low speed, for a pressure
 * altitude and a temperature (NaN: standard): 1 / sqrt(relative density). */
double performance_speed_ratio(double altitude_m, double temperature_k);

/* Maneuvering speed at a weight: VA sqrt(W / Wmax), CAS.
 * Source: the relation of FAA-H-8083-25 that stall speed and with it
 * maneuvering speed go with the root of the weight. */
double performance_maneuvering_speed_mps(const struct flight_aircraft *aircraft,
                                         double weight_kg);

/* ---- the airplane as a point mass --------------------------------------- */

/* Worked out from the handbook; see flight/model.c for what it is made of
 * and what a point mass cannot show. */
struct performance_model {
    double mass_kg;
    double wing_area_m2;
    double drag_least;    /* drag coefficient without lift */
    double drag_of_lift;  /* for each square of the lift coefficient */
    double lift_slope;    /* per rad */
    double zero_lift_rad; /* angle of attack without lift */
    double lift_most;     /* lift coefficient at the stall */
    double stall_rad;     /* angle of attack there */
    double rated_power_w;
    double propeller_share; /* of the shaft power, behind the propeller */
    double disc_m2;         /* that the propeller sweeps */
    double cruise_tas_mps;
    bool fixed_propeller;
    double sea_level_kgpm3; /* density of the standard atmosphere there */
    double warmer_k;        /* than the standard atmosphere */
    double wind_north_mps;  /* that the air moves toward */
    double wind_east_mps;
};

struct performance_state {
    double t_s;
    double tas_mps;    /* through the air at large, without gusts */
    double path_rad;   /* climb angle */
    double course_rad; /* through the air, from north, unwrapped */
    double altitude_m;
    double north_m; /* over the ground */
    double east_m;
    double pitch_rad;
    double bank_rad; /* right positive */
};

/* What the pilot holds during a step, and what the air does meanwhile. */
struct performance_controls {
    double power; /* of what the engine can give there, 0..1 */
    double pitch_rate_radps;
    double bank_rate_radps;
    double sideslip_rad;   /* wind from the right positive */
    double gust_along_mps; /* from ahead positive */
    double gust_up_mps;
};

/* What instruments would show. */
struct performance_view {
    double heading_rad; /* of the nose, unwrapped */
    double tas_mps;
    double cas_mps;
    double alpha_rad;
    double load_factor;
    double lateral_g; /* toward the right wing */
    double climb_mps;
    double speed_rate_mps2;
    double turn_rate_radps; /* of the path */
    double ground_mps;
    double track_rad; /* [0, 2 pi) */
    bool stalled;     /* beyond the angle of attack of the most lift */
};

/* Returns: 0; ERR_ABSENT when figures are missing, ERR_RANGE when they
 *    contradict each other (no drag and no propeller fit both the cruise and
 *    the climb) or the weight is none. */
int performance_model_make(const struct flight_aircraft *aircraft,
                           const struct performance_conditions *conditions,
                           struct performance_model *out);
/* Air density, kg/m3, on the model's day. */
double performance_density_kgpm3(const struct performance_model *model,
                                 double altitude_m);
/* Power that an unsupercharged engine gives at a relative density, over its
 * rated power. Source: Gagg and Farrar, SAE Journal, 1934 (from memory). */
double performance_power_share(double sigma);
/* Thrust, N. power: of what the engine can give there, 0..1. */
double performance_thrust_n(const struct performance_model *model,
                            double altitude_m, double tas_mps, double power);
/* Advance by a step with the controls held; 0.1 s or less is fine enough. */
void performance_step(const struct performance_model *model,
                      const struct performance_controls *controls, double dt_s,
                      struct performance_state *state);
void performance_look(const struct performance_model *model,
                      const struct performance_state *state,
                      const struct performance_controls *controls,
                      struct performance_view *out);
/* The sideslip at which the side force is lateral_g (toward the right wing)
 * times the weight. */
double performance_sideslip_rad(const struct performance_model *model,
                                const struct performance_state *state,
                                double lateral_g);
/* Steady level flight, wings level, calm.
 * out, power: what it takes.
 * Returns: 0, or ERR_RANGE when full power is too little. */
int performance_trim(const struct performance_model *model, double altitude_m,
                     double tas_mps, double heading_rad,
                     struct performance_state *out, double *power);

/* ---- gusts -------------------------------------------------------------- */

/* Random air: three gust speeds, each white noise through a first-order
 * filter, after the longitudinal Dryden form of MIL-F-8785C (1980), section
 * 3.7 (from memory); simplified: the same filter and strength for all three,
 * and the lengths of medium altitude everywhere. The same seed gives the same
 * gusts. */
struct performance_gusts {
    double strength_mps; /* root mean square */
    double along_mps;
    double side_mps; /* from the right positive */
    double up_mps;
    uint64_t random; /* private */
};

/* Strengths for the words "light" and "moderate": a tenth of a wind of 15 and
 * 30 kt at 20 ft, as MIL-F-8785C gives at low altitude (from memory). */
#define PERFORMANCE_GUSTS_LIGHT_MPS (1.5 * UNITS_MPS_PER_KT)
#define PERFORMANCE_GUSTS_MODERATE_MPS (3.0 * UNITS_MPS_PER_KT)

void performance_gusts_init(struct performance_gusts *gusts,
                            double strength_mps, uint64_t seed);
void performance_gusts_step(struct performance_gusts *gusts, double tas_mps,
                            double dt_s);
/* Chance that repeats itself: evenly in [0, 1), and normal with deviation 1.
 * state: any seed to begin with. */
double performance_random(uint64_t *state);
double performance_random_normal(uint64_t *state);

/* ---- the ideal line ----------------------------------------------------- */

enum { PERFORMANCE_POINTS = 97 };

/* One point of the line. Magnitudes in the direction of the turn. */
struct performance_reference_point {
    double turn_rad;  /* 0 .. pi */
    double t_s;       /* since the roll-in began */
    double bank_rad;  /* 0 up, whichever the direction */
    double pitch_rad; /* nose above the horizon */
    double cas_mps;
    double tas_mps;
    double gain_m; /* altitude above the entry's; NaN when not modelled */
};

/* The line an ideal chandelle follows: rolled in at an even rate to 30
 * degrees of bank, kept to 90 degrees of turn while the pitch rises evenly
 * with the turn to its highest there; then that pitch is kept and the bank
 * comes off at a rate constant in time, level at 180 degrees, a few knots
 * above the stall.
 * Source: FAA-S-ACS-7B task V.C and FAA-H-8083-3C chapter 10 for the shape;
 * what they do not say (rate of the roll-in, margin at the finish) is ours. */
struct performance_reference {
    bool modelled; /* false: figures are missing; times follow from turning
                      flight at an evenly falling speed, pitch is common
                      practice (the airplane's pitch limit) and gain NaN */
    int direction; /* +1 right, -1 left */
    uint32_t count;
    struct performance_reference_point point[PERFORMANCE_POINTS];
    double t_90_s; /* from the beginning of the roll-in */
    double t_180_s;
    double roll_in_rate_radps; /* positive */
    double roll_out_rate_radps;
    double entry_cas_mps;
    double ninety_cas_mps;
    double finish_cas_mps;
    double stall_cas_mps;     /* 1 g at this weight, power off */
    double finish_pitch_rad;  /* pitch from 90 on, the highest */
    double gain_m;            /* at 180; NaN when not modelled */
    double gain_from_speed_m; /* share of it that the speed paid for,
                                 (V0^2 - V1^2) / 2g, true airspeeds */
};

/* Work the line out: once for an attempt, not for every packet, for with a
 * model it is found by flying it a dozen times (about a millisecond). The pitch
 * never exceeds the airplane's limit; the finish is then faster than 3 kt above
 * the stall. aircraft: its performance figures may be missing. entry_cas_mps:
 * above the stall speed at this weight by a tenth or more. direction: +1 right,
 * -1 left. Returns: 0; ERR_RANGE when speed, weight or altitude allow no
 * chandelle, or when the airplane cannot finish one above its stall (out
 * unspecified). Owns: nothing. Thread: any. */
int performance_reference_make(const struct flight_aircraft *aircraft,
                               const struct performance_conditions *conditions,
                               double entry_cas_mps, int direction,
                               struct performance_reference *out);

/* The line at an angle of turn.
 * turn_rad: in the direction of the turn; below 0 and above pi count as
 *    those. */
void performance_reference_at(const struct performance_reference *reference,
                              double turn_rad,
                              struct performance_reference_point *out);

#endif
