/* atmosphere.c - standard atmosphere and airspeeds. */
#include <math.h>

#include "quarterturn/flight.h"

/* Source: ISO 2533:1975, Standard Atmosphere, tables 1 and 4; the U.S.
 * Standard Atmosphere 1976 gives the same below 32 km. */
static const double sea_level_k = 288.15;
static const double sea_level_pa = 101325.0;
static const double lapse_kpm = 0.0065;
static const double tropopause_m = 11000.0;
static const double tropopause_k = 216.65;
static const double gas_constant = 287.05287;
static const double heat_ratio = 1.4;

static double clamp_altitude_m(double altitude_m)
{
    if (!(altitude_m > -2000.0)) /* NaN too */
        return -2000.0;
    return altitude_m < 20000.0 ? altitude_m : 20000.0;
}

double flight_temperature_k(double altitude_m)
{
    double h_m = clamp_altitude_m(altitude_m);

    return h_m < tropopause_m ? sea_level_k - lapse_kpm * h_m : tropopause_k;
}

double flight_pressure_pa(double altitude_m)
{
    const double exponent = UNITS_G0_MPS2 / (gas_constant * lapse_kpm);
    double h_m = clamp_altitude_m(altitude_m);
    double at_tropopause_pa;

    if (h_m < tropopause_m)
        return sea_level_pa *
               pow(1.0 - lapse_kpm * h_m / sea_level_k, exponent);
    at_tropopause_pa = sea_level_pa * pow(tropopause_k / sea_level_k, exponent);
    return at_tropopause_pa * exp(-UNITS_G0_MPS2 * (h_m - tropopause_m) /
                                  (gas_constant * tropopause_k));
}

double flight_density_kgpm3(double altitude_m)
{
    return flight_pressure_pa(altitude_m) /
           (gas_constant * flight_temperature_k(altitude_m));
}

double flight_speed_of_sound_mps(double altitude_m)
{
    return sqrt(heat_ratio * gas_constant * flight_temperature_k(altitude_m));
}

/* Impact pressure over static pressure at a Mach number, and back. */
static double impact_ratio(double mach)
{
    double q = 1.0 + 0.2 * mach * mach;

    return q * q * q * sqrt(q) - 1.0;
}

static double mach_of_impact(double ratio)
{
    return sqrt(5.0 * (pow(ratio + 1.0, 2.0 / 7.0) - 1.0));
}

static double sea_level_sound_mps(void)
{
    return sqrt(heat_ratio * gas_constant * sea_level_k);
}

double flight_true_airspeed_mps(double cas_mps, double altitude_m)
{
    double impact_pa =
        sea_level_pa * impact_ratio(cas_mps / sea_level_sound_mps());

    return mach_of_impact(impact_pa / flight_pressure_pa(altitude_m)) *
           flight_speed_of_sound_mps(altitude_m);
}

double flight_calibrated_airspeed_mps(double tas_mps, double altitude_m)
{
    double mach = tas_mps / flight_speed_of_sound_mps(altitude_m);
    double impact_pa = flight_pressure_pa(altitude_m) * impact_ratio(mach);

    return mach_of_impact(impact_pa / sea_level_pa) * sea_level_sound_mps();
}

double flight_equivalent_airspeed_mps(double tas_mps, double altitude_m)
{
    return tas_mps *
           sqrt(flight_density_kgpm3(altitude_m) / flight_density_kgpm3(0.0));
}

double flight_density_altitude_m(double altitude_m, double temperature_k)
{
    const double exponent =
        1.0 / (UNITS_G0_MPS2 / (gas_constant * lapse_kpm) - 1.0);
    double density =
        flight_pressure_pa(altitude_m) / (gas_constant * temperature_k);

    return sea_level_k / lapse_kpm *
           (1.0 - pow(density / flight_density_kgpm3(0.0), exponent));
}
