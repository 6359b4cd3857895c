/* test_flight_turning.c - turning flight against handbook figures. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/flight.h"

static double kt(double value)
{
    return value * UNITS_MPS_PER_KT;
}

/* Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), chapter 5:
 * rate of turn = 1,091 tan(bank) / TAS, radius = TAS^2 / (11.26 tan(bank)),
 * kt, deg/s, ft. The exact constants are 1,092.2 and 11.294, so the handbook
 * agrees within 0.4 %. */
static void agrees_with_the_handbooks_rate_and_radius(void **state)
{
    static const double speed_kt[] = {60, 80, 85, 100, 120, 240};
    static const double bank_deg[] = {15, 30, 45, 60};

    (void)state;
    for (size_t i = 0; i < 6; i++) {
        for (size_t k = 0; k < 4; k++) {
            double tangent = tan(units_rad(bank_deg[k]));
            double rate_dps = 1091.0 * tangent / speed_kt[i];
            double radius_ft = speed_kt[i] * speed_kt[i] / (11.26 * tangent);

            assert_near(units_deg(flight_turn_rate_radps(units_rad(bank_deg[k]),
                                                         kt(speed_kt[i]))),
                        rate_dps, 0.004 * rate_dps);
            assert_near(units_ft(flight_turn_radius_m(units_rad(bank_deg[k]),
                                                      kt(speed_kt[i]))),
                        radius_ft, 0.004 * radius_ft);
        }
    }
    /* Computed with exact constants: 100 kt at 30 degrees. */
    assert_near(units_deg(flight_turn_rate_radps(units_rad(30), kt(100))),
                6.306, 0.001);
    assert_near(units_ft(flight_turn_radius_m(units_rad(30), kt(100))), 1534.0,
                0.6);
}

/* Load factor and stall-speed factor against bank: FAA-H-8083-25, chapter 5,
 * load factor chart (1.4 at 45, 2.0 at 60 degrees in FAA-H-8083-3C, chapter
 * 10); the further digits are 1/cos and its root. */
static void agrees_with_the_load_factor_chart(void **state)
{
    static const double row[][3] = {{0, 1, 1},
                                    {15, 1.0353, 1.0175},
                                    {20, 1.0642, 1.0316},
                                    {30, 1.1547, 1.0746},
                                    {40, 1.3054, 1.1425},
                                    {45, 1.4142, 1.1892},
                                    {50, 1.5557, 1.2473},
                                    {60, 2.0000, 1.4142},
                                    {70, 2.9238, 1.7099},
                                    {75, 3.8637, 1.9656},
                                    {80, 5.7588, 2.3997}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double n = flight_level_load_factor(units_rad(row[i][0]));

        assert_near(n, row[i][1], 1e-4);
        assert_near(flight_stall_speed_mps(1.0, n, 1000.0, 1000.0), row[i][2],
                    1e-4);
    }
}

/* Stall speed goes with the root of the weight, as maneuvering speed does
 * (from memory; the same relation in any flight mechanics text): 105 kt at
 * 2,550 lb is 99.72 at 2,300 and 90.64 at 1,900. */
static void stall_speed_follows_the_root_of_the_weight(void **state)
{
    (void)state;
    assert_near(flight_stall_speed_mps(105.0, 1.0, 2300.0, 2550.0), 99.72,
                0.01);
    assert_near(flight_stall_speed_mps(105.0, 1.0, 1900.0, 2550.0), 90.64,
                0.01);
    assert_near(flight_stall_speed_mps(55.0, -1.0, 1.0, 1.0), 0.0, 1e-12);
}

/* A roll-out at a constant rate, at constant speed, from 30 degrees of bank
 * over 90 degrees of turn. Closed form: with turn rate g tan(bank) / V and
 * bank = p (T - t), T = (pi/2) V bank / (g ln sec bank): about 0.3 s a knot.
 * Computed independently. */
static void gives_the_constant_rate_roll_out(void **state)
{
    static const double row[][3] = {/* TAS kt, s, deg/s */
                                    {60, 18.00, 1.667},
                                    {80, 24.00, 1.250},
                                    {85, 25.50, 1.177},
                                    {100, 30.00, 1.000},
                                    {120, 35.99, 0.833}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double rate_radps = flight_rollout_rate_radps(
            units_rad(30), kt(row[i][0]), units_rad(90));

        assert_near(units_deg(rate_radps), row[i][2], 0.0015);
        assert_near(units_rad(30) / rate_radps, row[i][1], 0.01);
    }
    assert_true(isinf(flight_rollout_rate_radps(0.5, 50.0, 0.0)));
}

/* With the speed falling evenly over the second half. Computed independently
 * by integration: 85 to 60 kt takes 22.903 s at 1.3099 deg/s, 100 to 70 kt
 * 26.880 s, 80 to 55 kt 21.393 s, 95 to 60 kt 24.804 s. */
static void the_falling_speed_turns_ninety_degrees(void **state)
{
    static const double row[][3] = {/* kt, kt, s */
                                    {85, 60, 22.903},
                                    {100, 70, 26.880},
                                    {80, 55, 21.393},
                                    {95, 60, 24.804}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double rate_radps = units_rad(30) / row[i][2];
        double slowing_mps2 = kt(row[i][1] - row[i][0]) / row[i][2];

        assert_near(units_deg(flight_rollout_heading_rad(
                        units_rad(30), rate_radps, kt(row[i][0]), slowing_mps2,
                        0.0, 1.0)),
                    90.0, 0.02);
    }
}

/* Bank against heading to go in a constant-rate roll-out: cos bank =
 * (cos 30)^(s/90), whatever the speed. Computed independently. */
static void the_reference_bank_fits_the_needed_rate(void **state)
{
    static const double row[][2] = {{60, 24.69}, {45, 21.47}, {30, 17.60},
                                    {20, 14.41}, {10, 10.22}, {5, 7.23}};
    double rate_radps =
        flight_rollout_rate_radps(units_rad(30), kt(90), units_rad(90));

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        assert_near(flight_rollout_rate_radps(units_rad(row[i][1]), kt(90),
                                              units_rad(row[i][0])),
                    rate_radps, 0.002 * rate_radps);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_the_handbooks_rate_and_radius),
        cmocka_unit_test(agrees_with_the_load_factor_chart),
        cmocka_unit_test(stall_speed_follows_the_root_of_the_weight),
        cmocka_unit_test(gives_the_constant_rate_roll_out),
        cmocka_unit_test(the_falling_speed_turns_ninety_degrees),
        cmocka_unit_test(the_reference_bank_fits_the_needed_rate),
    };

    return cmocka_run_group_tests_name("flight: turning", tests, NULL, NULL) !=
           0;
}
