/* test_flight_estimator.c - from samples to the state of flight. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"
#include "sample.h"

static const struct flight_aircraft aircraft = {
    .name = "test",
    .stall_speed_mps = 55.0 * UNITS_MPS_PER_KT,
    .stall_weight_kg = 1000.0,
    .weight_kg = 1000.0,
    .maneuvering_speed_mps = 105.0 * UNITS_MPS_PER_KT,
    .max_weight_kg = 1100.0,
    .entry_speed_mps = 100.0 * UNITS_MPS_PER_KT,
    .pitch_limit_rad = 20.0 * UNITS_RAD_PER_DEG,
};

static void begin(struct flight_estimator *estimator)
{
    struct flight_aircraft known = aircraft;

    known.stall_angle_of_attack_rad = (double)NAN;
    flight_init(estimator, &known);
}

/* A steady left turn of 6 deg/s through north. */
static void unwraps_heading_through_north(void **state)
{
    struct flight_estimator estimator;
    struct flight_state now;

    (void)state;
    begin(&estimator);
    for (int i = 0; i <= 200; i++) {
        double t_s = i * 0.05;
        struct sample_figures figures = {
            t_s, fmod(370.0 - 6.0 * t_s, 360.0), 0, -30, 100, 3000};
        struct intake_sample sample;

        sample_build(&figures, &sample);
        sample.t_ns = llround(t_s * 1e9);
        assert_int_equal(flight_update(&estimator, &sample, &now), 0);
        assert_near(units_deg(now.heading.value), 10.0 - 6.0 * t_s, 1e-6);
        if (i > 2)
            assert_near(units_deg(now.heading.rate), -6.0, 1e-6);
    }
}

/* A quadratic is followed without lag, at any rate and with uneven steps. */
static void follows_a_curve_without_lag(void **state)
{
    static const double step_s[] = {1.0 / 120, 1.0 / 60, 0.05, 0.2};

    (void)state;
    for (size_t k = 0; k < 4; k++) {
        struct flight_estimator estimator;
        struct flight_state now;
        double t_s = 0.0;

        begin(&estimator);
        for (int i = 0; i < 100; i++) {
            struct sample_figures figures = {
                t_s, 90, 2.0 + 1.0 * t_s + 0.1 * t_s * t_s, 0, 100, 3000};
            struct intake_sample sample;

            sample_build(&figures, &sample);
            sample.t_ns = llround(t_s * 1e9);
            assert_int_equal(flight_update(&estimator, &sample, &now), 0);
            if (i > 5) {
                assert_near(units_deg(now.pitch.value), figures.pitch_deg,
                            1e-4);
                assert_near(units_deg(now.pitch.rate), 1.0 + 0.2 * t_s, 1e-3);
            }
            /* Every third packet was lost, every second a little late. */
            t_s += step_s[k] * (i % 3 == 0 ? 2.0 : 1.0 + 0.3 * (i % 2));
        }
    }
}

static void refuses_time_that_goes_backwards(void **state)
{
    struct flight_estimator estimator;
    struct flight_state now;
    struct sample_figures figures = {1, 90, 2, 0, 100, 3000};
    struct intake_sample sample;

    (void)state;
    begin(&estimator);
    sample_build(&figures, &sample);
    sample.t_ns = 1000;
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    sample.t_ns = 999;
    assert_int_equal(flight_update(&estimator, &sample, &now), ERR_TIME);
}

/* Coordinated flight on a straight or curving path (any flight mechanics
 * text): n = (V dgamma/dt / g + cos gamma) / cos bank across the path. Fed
 * with altitudes that fly such a path and a pitch that lies along it, the
 * derived load factor must be n. Rows: TAS kt, bank deg, path deg, path rate
 * deg/s, n; computed independently. */
static void derives_the_load_factor_of_a_path(void **state)
{
    static const double row[][5] = {{100, 30, 0, 0, 1.1547},
                                    {100, 30, 10, 0, 1.1372},
                                    {90, 30, 8, 0.8, 1.2196},
                                    {80, 30, 12, 1.0, 1.2140},
                                    {60, 0, 15, 0, 0.9659}};

    (void)state;
    for (size_t k = 0; k < 5; k++) {
        struct flight_estimator estimator;
        struct flight_state now;
        double tas_mps = row[k][0] * UNITS_MPS_PER_KT;
        double altitude_m = 1000.0;

        begin(&estimator);
        for (int i = -480; i <= 0; i++) {
            double path_rad =
                units_rad(row[k][2] + row[k][3] * (double)i / 60.0);
            struct sample_figures figures = {
                i / 60.0,  90,        units_deg(path_rad),
                row[k][1], row[k][0], units_ft(altitude_m)};
            struct intake_sample sample;

            sample_build(&figures, &sample);
            sample_set(&sample, CHANNEL_TRUE_AIRSPEED, UNIT_KT, row[k][0]);
            sample_set(&sample, CHANNEL_VERTICAL_SPEED, UNIT_M_PER_S,
                       tas_mps * sin(path_rad));
            sample.t_ns = llround(i / 60.0 * 1e9);
            assert_int_equal(flight_update(&estimator, &sample, &now), 0);
            altitude_m += tas_mps * sin(path_rad) / 60.0;
        }
        assert_near(units_deg(now.path_rad), row[k][2], 0.01);
        assert_near(now.load_factor, row[k][4], 0.002);
        assert_false(now.known & FLIGHT_LOAD_MEASURED);
    }
}

/* Calibrated against true airspeed as in test_flight_atmosphere.c. */
static void takes_true_airspeed_where_there_is_no_other(void **state)
{
    struct flight_estimator estimator;
    struct flight_state now;
    struct sample_figures figures = {0, 90, 2, 0, NAN, 5000};
    struct intake_sample sample;

    (void)state;
    begin(&estimator);
    sample_build(&figures, &sample);
    sample_set(&sample, CHANNEL_TRUE_AIRSPEED, UNIT_KT, 107.667);
    sample.t_ns = 0;
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    assert_true(now.known & FLIGHT_AIRSPEED);
    assert_true(now.known & FLIGHT_MARGIN);
    assert_near(units_kt(now.cas.value), 100.0, 0.002);
    assert_near(units_kt(now.tas_mps), 107.667, 1e-9);

    /* A sample without an altitude lies at the last one that was told. */
    sample.valid &= ~CHANNEL_BIT(CHANNEL_ALTITUDE);
    sample.t_ns = 50000000;
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    assert_near(units_kt(now.cas.value), 100.0, 0.01);

    sample_set(&sample, CHANNEL_TRUE_AIRSPEED, UNIT_KT, -3.0);
    begin(&estimator);
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    assert_near(now.cas.value, 0.0, 1e-9);

    /* What is sent as calibrated counts. */
    sample_set(&sample, CHANNEL_AIRSPEED, UNIT_KT, 90.0);
    begin(&estimator);
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    assert_near(units_kt(now.cas.value), 90.0, 1e-9);
}

static void fly_once(struct flight_state *now, double airspeed_kt,
                     double load_factor, double weight_kg)
{
    struct flight_estimator estimator;
    struct sample_figures figures = {0, 90, 2, 0, airspeed_kt, 3000};
    struct intake_sample sample;

    begin(&estimator);
    sample_build(&figures, &sample);
    sample_set(&sample, CHANNEL_LOAD_FACTOR, UNIT_G, load_factor);
    sample_set(&sample, CHANNEL_WEIGHT, UNIT_KG, weight_kg);
    sample.t_ns = 0;
    assert_int_equal(flight_update(&estimator, &sample, now), 0);
}

static void margin_counts_weight_and_load(void **state)
{
    struct flight_state now;

    (void)state;
    fly_once(&now, 80, 1.0, 1000);
    assert_near(units_kt(now.stall_margin_mps), 80.0 - 55.0, 1e-6);
    fly_once(&now, 80, 2.0, 1000);
    assert_near(units_kt(now.stall_margin_mps), 80.0 - 55.0 * sqrt(2.0), 1e-6);
    fly_once(&now, 80, 1.0, 810);
    assert_near(units_kt(now.stall_margin_mps), 80.0 - 55.0 * 0.9, 1e-6);
}

/* Easing off lowers the stall speed for as long as it lasts, no longer. */
static void a_push_over_fakes_no_margin(void **state)
{
    struct flight_state now;

    (void)state;
    fly_once(&now, 58, 0.25, 1000);
    assert_near(units_kt(now.stall_margin_mps), 3.0, 1e-6);
    assert_near(units_kt(now.stall_excess_mps), 58.0 - 27.5, 1e-6);
}

static void leaves_out_what_was_not_sent(void **state)
{
    struct flight_estimator estimator;
    struct flight_state now;
    struct sample_figures figures = {0, 90, 2, 0, 100, (double)NAN};
    struct intake_sample sample;

    (void)state;
    begin(&estimator);
    sample_build(&figures, &sample);
    sample.t_ns = 0;
    assert_int_equal(flight_update(&estimator, &sample, &now), 0);
    assert_false(now.known & FLIGHT_ALTITUDE);
    assert_true(isnan(now.altitude.value));
    assert_true(isnan(now.lateral_g));
    assert_true(now.known & FLIGHT_MARGIN);
    /* Sea level, when no altitude is known. */
    assert_near(units_kt(now.tas_mps), 100.0, 1e-6);
}

static void tells_when_a_value_will_be_reached(void **state)
{
    struct flight_trend trend = {10.0, 2.0, 0.0};

    (void)state;
    assert_near(flight_time_to_reach_s(&trend, 20.0, 10.0), 5.0, 1e-12);
    assert_true(isnan(flight_time_to_reach_s(&trend, 20.0, 4.0)));
    assert_true(isnan(flight_time_to_reach_s(&trend, 0.0, 10.0)));
    /* 10 + 2 t - 0.1 t^2 = 15: t = 10 - sqrt(50). */
    trend.accel = -0.2;
    assert_near(flight_time_to_reach_s(&trend, 15.0, 10.0), 10.0 - sqrt(50.0),
                1e-9);
    /* It turns round before 21. */
    assert_true(isnan(flight_time_to_reach_s(&trend, 21.0, 100.0)));
    trend.rate = 0.0;
    trend.accel = 0.0;
    assert_true(isnan(flight_time_to_reach_s(&trend, 21.0, 100.0)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(unwraps_heading_through_north),
        cmocka_unit_test(follows_a_curve_without_lag),
        cmocka_unit_test(refuses_time_that_goes_backwards),
        cmocka_unit_test(derives_the_load_factor_of_a_path),
        cmocka_unit_test(takes_true_airspeed_where_there_is_no_other),
        cmocka_unit_test(margin_counts_weight_and_load),
        cmocka_unit_test(a_push_over_fakes_no_margin),
        cmocka_unit_test(leaves_out_what_was_not_sent),
        cmocka_unit_test(tells_when_a_value_will_be_reached),
    };

    return cmocka_run_group_tests_name("flight: estimator", tests, NULL,
                                       NULL) != 0;
}
