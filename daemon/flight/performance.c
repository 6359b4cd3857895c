/* performance.c - what the handbook tells, and the day. */
#include "quarterturn/performance.h"

#include <math.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/flight.h"

static const char *const name_of_propeller[] = {
    [PROPELLER_UNKNOWN] = "unknown",
    [PROPELLER_FIXED] = "fixed",
    [PROPELLER_CONSTANT_SPEED] = "constant-speed",
};

const char *performance_propeller_name(enum performance_propeller propeller)
{
    return name_of_propeller[propeller];
}

int performance_propeller_find(const char *name,
                               enum performance_propeller *out)
{
    for (int i = PROPELLER_FIXED; i <= PROPELLER_CONSTANT_SPEED; i++) {
        if (strcmp(name, name_of_propeller[i]) == 0) {
            *out = (enum performance_propeller)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

bool performance_is_known(const struct performance_figures *figures)
{
    /* A comparison with NaN is false: not told. */
    return figures->wing_area_m2 > 0.0 && figures->engine_power_w > 0.0 &&
           figures->propeller != PROPELLER_UNKNOWN &&
           figures->cruise_speed_mps > 0.0 && figures->cruise_power > 0.0 &&
           !isnan(figures->cruise_altitude_m) &&
           figures->climb_rate_mps > 0.0 && figures->climb_speed_mps > 0.0;
}

bool performance_takes_weight(const struct flight_aircraft *aircraft,
                              double weight_kg, double *least_kg)
{
    *least_kg = 0.3 * aircraft->max_weight_kg;
    /* What came through pounds is not exact. */
    return weight_kg >= *least_kg * (1.0 - 1e-9) &&
           weight_kg <= aircraft->max_weight_kg * (1.0 + 1e-9);
}

double performance_speed_ratio(double altitude_m, double temperature_k)
{
    double density_altitude_m =
        isnan(temperature_k)
            ? altitude_m
            : flight_density_altitude_m(altitude_m, temperature_k);

    return sqrt(flight_density_kgpm3(0.0) /
                flight_density_kgpm3(density_altitude_m));
}

double performance_maneuvering_speed_mps(const struct flight_aircraft *aircraft,
                                         double weight_kg)
{
    return aircraft->maneuvering_speed_mps *
           sqrt(weight_kg / aircraft->max_weight_kg);
}
