/* reference.h - private to the flight room: the ideal line's two makers. */
#ifndef FLIGHT_REFERENCE_H
#define FLIGHT_REFERENCE_H

#include "quarterturn/flight.h"

/* Points of each half; the one at 90 degrees belongs to both. */
enum { REFERENCE_HALF = (PERFORMANCE_POINTS - 1) / 2 };

/* Common to both makers, set before either is called: bank of the first half,
 * rate of the roll-in. */
extern const double reference_bank_rad;
extern const double reference_roll_in_radps;

/* The line by turning flight alone, the speed falling evenly in each half.
 * out: entry, finish and stall speeds are set. speed_ratio: true over
 * calibrated airspeed. */
void reference_from_turning(const struct flight_aircraft *aircraft,
                            double speed_ratio,
                            struct performance_reference *out);

/* The line flown in the model. out: entry, stall and the finish speed that is
 * wanted are set.
 * Returns: 0, or ERR_RANGE when it cannot be flown (out unspecified). */
int reference_from_model(const struct performance_model *model,
                         const struct performance_conditions *conditions,
                         double pitch_limit_rad,
                         struct performance_reference *out);

#endif
