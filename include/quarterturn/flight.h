/* flight.h - from samples to the state of flight.
 *
 * Pure: atmosphere, airspeeds, turning flight, the airplane's figures, and
 * the estimator that turns time-stamped samples into smoothed values with
 * rates. Internal units (units.h); heading keeps its reference (true or
 * magnetic) from the simulator. */
#ifndef QUARTERTURN_FLIGHT_H
#define QUARTERTURN_FLIGHT_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/intake.h"
#include "quarterturn/performance.h"

/* ---- standard atmosphere and airspeeds ---------------------------------- */

/* Static pressure, temperature and density of the standard atmosphere.
 * altitude_m: geopotential pressure altitude, -2000..20000 (clamped).
 * Source: ISO 2533:1975, Standard Atmosphere (same as U.S. Standard
 * Atmosphere 1976 in this range). */
double flight_pressure_pa(double altitude_m);
double flight_temperature_k(double altitude_m);
double flight_density_kgpm3(double altitude_m);
double flight_speed_of_sound_mps(double altitude_m);

/* True airspeed from calibrated airspeed at a pressure altitude in the
 * standard atmosphere, with compressibility (subsonic). cas_mps: 0..300.
 * Source: the compressible-flow relations of FAA-H-8083-25 and any
 * aerodynamics text; checked against published tables in the tests. */
double flight_true_airspeed_mps(double cas_mps, double altitude_m);
/* The inverse: calibrated from true airspeed. tas_mps: 0..450, subsonic. */
double flight_calibrated_airspeed_mps(double tas_mps, double altitude_m);
/* Equivalent airspeed: true airspeed times the root of relative density. */
double flight_equivalent_airspeed_mps(double tas_mps, double altitude_m);
/* Density altitude, m, of a pressure altitude at an outside temperature. */
double flight_density_altitude_m(double altitude_m, double temperature_k);

/* ---- turning flight ----------------------------------------------------- */

/* Rate of a level coordinated turn, rad/s: g tan(bank) / V. V > 0. */
double flight_turn_rate_radps(double bank_rad, double tas_mps);
/* Radius of a level coordinated turn, m: V^2 / (g tan(bank)). */
double flight_turn_radius_m(double bank_rad, double tas_mps);
/* Load factor of a level coordinated turn: 1 / cos(bank). |bank| < 90 deg. */
double flight_level_load_factor(double bank_rad);
/* Stall speed at a load factor and weight: Vs sqrt(n W / Wref).
 * load_factor below 0 counts as 0. Same kind of airspeed as stall_mps. */
double flight_stall_speed_mps(double stall_mps, double load_factor,
                              double weight_kg, double stall_weight_kg);
/* Roll rate, rad/s, that brings a bank to zero at a constant rate exactly
 * when heading_to_go has been turned, at constant true airspeed:
 * p = g ln(sec bank) / (V heading_to_go). Returns +infinity when nothing is
 * left to turn. bank_rad and heading_to_go_rad: 0 up, magnitudes. */
double flight_rollout_rate_radps(double bank_rad, double tas_mps,
                                 double heading_to_go_rad);
/* Heading, rad, still turned through while a bank is taken off at a constant
 * roll rate (> 0) and the speed changes at tas_rate_mps2, never below
 * least_tas_mps; scaled by turn_factor (measured turn rate over the level
 * formula, 1 in a level turn). */
double flight_rollout_heading_rad(double bank_rad, double roll_rate_radps,
                                  double tas_mps, double tas_rate_mps2,
                                  double least_tas_mps, double turn_factor);

/* ---- the airplane ------------------------------------------------------- */

struct flight_aircraft {
    char name[INTAKE_NAME_SIZE];
    double stall_speed_mps;       /* CAS, 1 g, clean, power off */
    double stall_weight_kg;       /* weight that stall speed is for */
    double weight_kg;             /* today, when the stream sends none */
    double maneuvering_speed_mps; /* CAS at max_weight */
    double max_weight_kg;
    double entry_speed_mps; /* CAS */
    double pitch_limit_rad;
    double stall_angle_of_attack_rad; /* NaN when not known */
    struct performance_figures performance;
};

/* ---- estimator ---------------------------------------------------------- */

/* Which members of a state can be used. */
enum flight_known {
    FLIGHT_HEADING = 1 << 0,
    FLIGHT_PITCH = 1 << 1,
    FLIGHT_BANK = 1 << 2,
    FLIGHT_AIRSPEED = 1 << 3, /* cas, tas */
    FLIGHT_ALTITUDE = 1 << 4,
    FLIGHT_LATERAL_G = 1 << 5,
    FLIGHT_SIDESLIP = 1 << 6,
    FLIGHT_ANGLE_OF_ATTACK = 1 << 7,
    FLIGHT_STALL_WARNING = 1 << 8,
    FLIGHT_ON_GROUND = 1 << 9,
    FLIGHT_HEIGHT = 1 << 10,
    FLIGHT_MARGIN = 1 << 11,       /* stall_* members */
    FLIGHT_LOAD_MEASURED = 1 << 12 /* load factor was sent, not derived */
};

/* A smoothed quantity with its first and second rate at t_ns. */
struct flight_trend {
    double value;
    double rate;  /* per s */
    double accel; /* per s2 */
};

struct flight_state {
    int64_t t_ns;
    uint32_t known;               /* flight_known bits */
    struct flight_trend heading;  /* rad, unwrapped: no step at north */
    struct flight_trend pitch;    /* rad */
    struct flight_trend bank;     /* rad */
    struct flight_trend cas;      /* m/s */
    struct flight_trend altitude; /* m; rate is the vertical speed */
    double tas_mps;
    double path_rad;    /* flight-path angle */
    double load_factor; /* g */
    double weight_kg;
    double stall_speed_mps;  /* CAS, at load_factor as it is */
    double stall_margin_mps; /* CAS less stall speed; the load factor
                                counts at least as much as a steady
                                climb at this angle needs, so that a
                                push-over fakes no margin */
    double stall_excess_mps; /* the same with the load factor as it
                                is: below zero means stalled */
    double lateral_g;        /* g, toward the right wing */
    double sideslip_rad;
    double angle_of_attack_rad;
    double height_m;
    bool stall_warning;
    bool on_ground;
};

enum { FLIGHT_TRENDS = 6 };

/* A fading-memory quadratic fit; private to flight. */
struct flight_fit {
    double s[5]; /* weighted sums of powers of age, s */
    double p[3]; /* the same times the value */
    double base; /* value the sums are taken against */
    int count;
};

/* A reading that may be coarse: its fit remembers the longer the rougher it
 * is; private to flight. */
struct flight_reading {
    struct flight_fit fit;
    double value[2]; /* the newest first */
    int64_t t_ns[2];
    int count;
    double roughness; /* how far a value lies off its neighbours */
    double memory_s;
};

enum { FLIGHT_PATH_READINGS = 3 };

/* The flight path where no load factor is sent; private to flight. */
struct flight_path {
    struct flight_reading reading[FLIGHT_PATH_READINGS];
    double lag_s;
    double followed_rad; /* the pitch as the path follows it */
    double sin_followed;
    double behind_rad; /* and what the pitch is ahead of that */
    double summed_m;   /* climbed along it */
    double climb_mps;
    int64_t summed_ns;
    bool summed;
};

/* Embedded by its owner; fields are private to flight. */
struct flight_estimator {
    struct flight_aircraft aircraft;
    struct flight_path path;
    struct flight_fit fit[FLIGHT_TRENDS];
    int64_t last_ns[FLIGHT_TRENDS];
    double interval_s; /* smoothed time between samples */
    double heading_unwrapped_rad;
    int64_t last_t_ns;
    bool started;
};

/* Begin. aircraft: copied. */
void flight_init(struct flight_estimator *estimator,
                 const struct flight_aircraft *aircraft);
/* Forget the past (after a jump or a long gap); keeps the airplane. */
void flight_reset(struct flight_estimator *estimator);
/* Begin every trend anew, the heading where it was. */
void flight_rest(struct flight_estimator *estimator);
/* Take one sample.
 * sample: t_ns must not decrease. 5 to 120 a second are expected.
 * out: the state at sample->t_ns; members not in out->known are NaN.
 * Returns: 0, or ERR_TIME (nothing changed). Thread: any, one at a time. */
int flight_update(struct flight_estimator *estimator,
                  const struct intake_sample *sample, struct flight_state *out);

/* Time until a trend reaches a value, from its value and rates.
 * Returns: seconds from now, 0 up; NaN when it is not on its way there
 *    within horizon_s. */
double flight_time_to_reach_s(const struct flight_trend *trend, double value,
                              double horizon_s);

#endif
