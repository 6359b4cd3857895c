/* test_flight_atmosphere.c - standard atmosphere and airspeeds against
 * published tables. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/flight.h"

/* U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), table I, identical to
 * ISO 2533:1975 there: pressure at 1, 2, 3 and 11 km geopotential, density at
 * 1 and 2 km and at 11 km, temperature at 11 km. */
static void gives_the_published_standard_atmosphere(void **state)
{
    (void)state;
    assert_near(flight_pressure_pa(0.0), 101325.0, 0.01);
    assert_near(flight_pressure_pa(1000.0), 89874.6, 0.1);
    assert_near(flight_pressure_pa(2000.0), 79495.2, 0.1);
    assert_near(flight_pressure_pa(3000.0), 70108.5, 0.1);
    assert_near(flight_pressure_pa(11000.0), 22632.1, 0.2);
    assert_near(flight_density_kgpm3(0.0), 1.2250, 1e-4);
    assert_near(flight_density_kgpm3(1000.0), 1.11164, 1e-5);
    assert_near(flight_density_kgpm3(2000.0), 1.00649, 1e-5);
    assert_near(flight_density_kgpm3(11000.0), 0.36392, 1e-5);
    assert_near(flight_temperature_k(11000.0), 216.65, 1e-9);
    assert_near(flight_temperature_k(15000.0), 216.65, 1e-9);
    /* Speed of sound at sea level, same table: 340.294 m/s. */
    assert_near(flight_speed_of_sound_mps(0.0), 340.294, 0.001);
}

/* Computed from the relations of the standard atmosphere in feet; 29.92 inHg
 * and 1,013.2 hPa at sea level are in FAA-H-8083-25, chapter 4. */
static void gives_the_atmosphere_of_pilots(void **state)
{
    static const double row[][3] = {/* ft, degC, inHg */
                                    {0, 15.000, 29.9213},
                                    {1000, 13.019, 28.8557},
                                    {3000, 9.056, 26.8167},
                                    {5000, 5.094, 24.8959},
                                    {10000, -4.812, 20.5770}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double altitude_m = row[i][0] * UNITS_M_PER_FT;

        assert_near(flight_temperature_k(altitude_m) - 273.15, row[i][1],
                    0.001);
        assert_near(
            units_from_internal(UNIT_INHG, flight_pressure_pa(altitude_m)),
            row[i][2], 0.0002);
    }
}

/* Calibrated to true and equivalent airspeed in the standard atmosphere, with
 * compressibility; computed independently from the relations of ISO 2533 and
 * of compressible flow (any aerodynamics text). */
static void converts_airspeeds_with_compressibility(void **state)
{
    static const double row[][4] = {
        /* CAS kt, ft, TAS kt, EAS kt */
        {100, 0, 100.000, 100.000},     {85, 3000, 88.834, 84.980},
        {100, 5000, 107.667, 99.943},   {120, 8000, 135.162, 119.831},
        {250, 10000, 288.702, 248.096}, {300, 30000, 465.941, 284.999}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double altitude_m = row[i][1] * UNITS_M_PER_FT;
        double tas_mps =
            flight_true_airspeed_mps(row[i][0] * UNITS_MPS_PER_KT, altitude_m);

        assert_near(units_kt(tas_mps), row[i][2], 0.002);
        assert_near(
            units_kt(flight_equivalent_airspeed_mps(tas_mps, altitude_m)),
            row[i][3], 0.002);
        assert_near(units_kt(flight_calibrated_airspeed_mps(
                        row[i][2] * UNITS_MPS_PER_KT, altitude_m)),
                    row[i][0], 0.002);
    }
}

/* Computed from the density relation of the standard atmosphere. The rule of
 * thumb of 120 ft a degree gives 7,989, 4,913 and 11,777 ft: within 200. */
static void gives_density_altitude(void **state)
{
    static const double row[][3] = {/* ft, degC, ft */
                                    {5000, 30, 7800.7},
                                    {3000, 25, 4827.6},
                                    {10000, 10, 11699.2}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        assert_near(units_ft(flight_density_altitude_m(
                        row[i][0] * UNITS_M_PER_FT, row[i][1] + 273.15)),
                    row[i][2], 0.1);
}

static void clamps_an_altitude_that_is_none(void **state)
{
    (void)state;
    assert_near(flight_pressure_pa((double)NAN), flight_pressure_pa(-2000.0),
                1e-9);
    assert_near(flight_pressure_pa(1e9), flight_pressure_pa(20000.0), 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_the_published_standard_atmosphere),
        cmocka_unit_test(gives_the_atmosphere_of_pilots),
        cmocka_unit_test(converts_airspeeds_with_compressibility),
        cmocka_unit_test(gives_density_altitude),
        cmocka_unit_test(clamps_an_altitude_that_is_none),
    };

    return cmocka_run_group_tests_name("flight: atmosphere", tests, NULL,
                                       NULL) != 0;
}
