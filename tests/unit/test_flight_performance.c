/* test_flight_performance.c - the ideal line and what goes into it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"

#define KT UNITS_MPS_PER_KT

/* An airplane of which nothing but its speeds is told; an invented one. */
static const struct flight_aircraft bare = {.stall_speed_mps = 55.0 * KT,
                                            .stall_weight_kg = 1000.0,
                                            .weight_kg = 1000.0,
                                            .maneuvering_speed_mps = 105.0 * KT,
                                            .max_weight_kg = 1000.0,
                                            .entry_speed_mps = 100.0 * KT,
                                            .pitch_limit_rad = 0.3};
static const struct performance_conditions sea_level = {.weight_kg = NAN,
                                                        .temperature_k = NAN};

static void make(double entry_kt, struct performance_reference *out)
{
    assert_int_equal(
        performance_reference_make(&bare, &sea_level, entry_kt * KT, 1, out),
        0);
}

/* VA2 = VA1 sqrt(W2 / W1) (from memory; FAA-H-8083-25 has the relation for
 * stall speed): 105 kt at 2,550 lb is 99.72 at 2,300 and 90.64 at 1,900. */
static void maneuvering_speed_falls_with_weight(void **state)
{
    struct flight_aircraft heavy = bare;

    (void)state;
    heavy.max_weight_kg = 2550.0;
    assert_near(performance_maneuvering_speed_mps(&heavy, 2300.0) / KT, 99.72,
                0.01);
    assert_near(performance_maneuvering_speed_mps(&heavy, 1900.0) / KT, 90.64,
                0.01);
}

/* True over calibrated airspeed is one over the root of relative density; U.S.
 * Standard Atmosphere 1976: 0.92826 at 5,000 ft, 0.85935 at 10,000 ft. 5,000 ft
 * at 30 degrees is a density altitude of 7,800.7 ft (computed). */
static void true_airspeed_grows_with_altitude_and_heat(void **state)
{
    (void)state;
    assert_near(performance_speed_ratio(5000 * UNITS_M_PER_FT, NAN),
                1.0 / 0.92826, 1e-5);
    assert_near(performance_speed_ratio(10000 * UNITS_M_PER_FT, NAN),
                1.0 / 0.85935, 1e-5);
    assert_near(performance_speed_ratio(5000 * UNITS_M_PER_FT, 303.15),
                performance_speed_ratio(7800.7 * UNITS_M_PER_FT, NAN), 1e-5);
}

/* The second half of a kinematic line takes the time that integration of g
 * tan(bank) / V gives for an evenly falling speed; computed independently:
 * 85 to 60 kt 22.903 s, 100 to 70 kt 26.880 s. The line halves its speed loss
 * at 90, so an entry of 2 x 85 - 60 = 110 kt is at 85 there. */
static void rolls_out_in_the_time_of_the_falling_speed(void **state)
{
    struct flight_aircraft airplane = bare;
    struct performance_reference line;
    static const double row[][3] = {{85, 60, 22.903}, {100, 70, 26.880}};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        airplane.stall_speed_mps = (row[i][1] - 3.0) * KT;
        assert_int_equal(performance_reference_make(
                             &airplane, &sea_level,
                             (2 * row[i][0] - row[i][1]) * KT, 1, &line),
                         0);
        assert_near(line.ninety_cas_mps / KT, row[i][0], 1e-6);
        assert_near(line.finish_cas_mps / KT, row[i][1], 1e-6);
        assert_near(line.t_180_s - line.t_90_s, row[i][2], 0.005);
        assert_near(units_deg(line.roll_out_rate_radps), 30.0 / row[i][2],
                    0.0005);
    }
}

/* Bank against heading to go, rolling out at a constant rate while the speed
 * falls from 85 to 60 kt; computed independently by integration. Bank in
 * proportion to the heading (15 degrees at 45 to go) is not that. */
static void bank_at_a_heading_is_that_of_a_constant_roll_rate(void **state)
{
    struct flight_aircraft airplane = bare;
    struct performance_reference line;
    struct performance_reference_point point;
    static const double row[][2] = {{90, 30},    {45, 20.77}, {30, 16.77},
                                    {20, 13.55}, {15, 11.66}, {10, 9.44},
                                    {5, 6.61}};

    (void)state;
    airplane.stall_speed_mps = 57.0 * KT;
    assert_int_equal(performance_reference_make(&airplane, &sea_level,
                                                110.0 * KT, -1, &line),
                     0);
    assert_int_equal(line.direction, -1);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        performance_reference_at(&line, units_rad(180 - row[i][0]), &point);
        assert_near(units_deg(point.bank_rad), row[i][1], 0.03);
        /* At a constant rate the bank tells the time that is left. */
        assert_near(line.t_180_s - point.t_s,
                    point.bank_rad / line.roll_out_rate_radps, 1e-6);
    }
}

/* The first half at 30 degrees takes (pi/2) V / (g tan 30): 14.27 s at 100 kt,
 * 12.13 s at 85; while the speed falls evenly V is (V0 - V1) / ln(V0 / V1). The
 * roll-in costs the time in which the bank is still small. */
static void turns_a_quarter_in_the_time_of_its_bank(void **state)
{
    struct performance_reference line;
    double v_mps;
    double steady_s;

    (void)state;
    make(100.0, &line);
    v_mps = (line.entry_cas_mps - line.ninety_cas_mps) /
            log(line.entry_cas_mps / line.ninety_cas_mps);
    steady_s = UNITS_PI / 2.0 * v_mps / (UNITS_G0_MPS2 * tan(units_rad(30)));
    assert_true(line.t_90_s > steady_s);
    assert_true(line.t_90_s <
                steady_s + units_rad(30) / line.roll_in_rate_radps);
}

static void the_line_goes_from_entry_to_level_without_a_step(void **state)
{
    struct performance_reference line;
    struct performance_reference_point before;
    struct performance_reference_point now;

    (void)state;
    make(100.0, &line);
    assert_false(line.modelled);
    assert_true(isnan(line.gain_m));
    performance_reference_at(&line, -1.0, &before);
    assert_near(before.turn_rad, 0.0, 1e-12);
    assert_near(before.bank_rad, 0.0, 1e-12);
    assert_near(before.cas_mps / KT, 100.0, 1e-9);
    for (int i = 1; i <= 1800; i++) {
        performance_reference_at(&line, units_rad(i * 0.1), &now);
        assert_near(units_deg(now.turn_rad), i * 0.1, 1e-6);
        assert_true(now.t_s > before.t_s);
        assert_true(now.cas_mps < before.cas_mps);
        assert_true(now.pitch_rad >= before.pitch_rad - 1e-12);
        assert_true(fabs(now.bank_rad - before.bank_rad) < units_rad(4.0));
        before = now;
    }
    performance_reference_at(&line, 4.0, &now);
    assert_near(now.turn_rad, UNITS_PI, 1e-9);
    assert_near(now.bank_rad, 0.0, 1e-12);
    assert_near(now.cas_mps / KT, 58.0, 1e-9);
    assert_near(now.t_s, line.t_180_s, 1e-9);
}

static void refuses_what_is_no_chandelle(void **state)
{
    struct performance_reference line;
    struct performance_conditions high = sea_level;

    (void)state;
    assert_int_equal(
        performance_reference_make(&bare, &sea_level, 56.0 * KT, 1, &line),
        ERR_RANGE);
    assert_int_equal(
        performance_reference_make(&bare, &sea_level, NAN, 1, &line),
        ERR_RANGE);
    high.altitude_m = 9000.0;
    assert_int_equal(
        performance_reference_make(&bare, &high, 100.0 * KT, 1, &line),
        ERR_RANGE);
    high = sea_level;
    high.weight_kg = -1.0;
    assert_int_equal(
        performance_reference_make(&bare, &high, 100.0 * KT, 1, &line),
        ERR_RANGE);
}

/* Higher and hotter, the same calibrated speeds are truer: every turn takes
 * longer in proportion. */
static void altitude_and_heat_make_it_longer(void **state)
{
    struct performance_reference low;
    struct performance_reference high;
    struct performance_conditions hot = {
        .weight_kg = NAN,
        .altitude_m = 5000 * UNITS_M_PER_FT,
        .temperature_k = 303.15,
    };
    double ratio = performance_speed_ratio(hot.altitude_m, hot.temperature_k);

    (void)state;
    make(100.0, &low);
    assert_int_equal(
        performance_reference_make(&bare, &hot, 100.0 * KT, 1, &high), 0);
    assert_near((high.t_180_s - high.t_90_s) / (low.t_180_s - low.t_90_s),
                ratio, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(maneuvering_speed_falls_with_weight),
        cmocka_unit_test(true_airspeed_grows_with_altitude_and_heat),
        cmocka_unit_test(rolls_out_in_the_time_of_the_falling_speed),
        cmocka_unit_test(bank_at_a_heading_is_that_of_a_constant_roll_rate),
        cmocka_unit_test(turns_a_quarter_in_the_time_of_its_bank),
        cmocka_unit_test(the_line_goes_from_entry_to_level_without_a_step),
        cmocka_unit_test(refuses_what_is_no_chandelle),
        cmocka_unit_test(altitude_and_heat_make_it_longer),
    };

    return cmocka_run_group_tests_name("flight: performance", tests, NULL,
                                       NULL) != 0;
}
