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

/* Work the line out (a few milliseconds; not for every packet).
 * aircraft: its performance figures may be missing.
 * entry_cas_mps: above the stall speed at this weight by a tenth or more.
 * direction: +1 right, -1 left.
 * Returns: 0; ERR_RANGE when speed, weight or altitude allow no chandelle, or
 *    when the airplane cannot finish one above its stall (out unspecified).
 * Owns: nothing. Thread: any. */
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
