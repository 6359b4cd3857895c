/* test_flight_model.c - the airplane as a point mass. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"
#include "quarterturn/settings.h"

#define KT UNITS_MPS_PER_KT
#define FT UNITS_M_PER_FT

static const struct performance_conditions three_thousand = {
    .weight_kg = NAN, .altitude_m = 3000 * FT, .temperature_k = NAN};

static void load(const char *name, struct flight_aircraft *out)
{
    const struct settings_choice choice = {.aircraft = name};
    static struct settings settings;
    char why[600];

    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    *out = settings.aircraft;
}

static void make(const char *name,
                 const struct performance_conditions *conditions,
                 struct performance_model *out)
{
    struct flight_aircraft aircraft;

    load(name, &aircraft);
    assert_int_equal(performance_model_make(&aircraft, conditions, out), 0);
}

/* ---- from the handbook -------------------------------------------------- */

/* What went in comes out: the cruise needs its power, the best climb climbs. */
static void gives_back_the_handbooks_cruise_and_climb(void **state)
{
    static const char *const name[] = {"club-trainer", "two-seater"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct flight_aircraft airplane;
        const struct performance_figures *figures = &airplane.performance;
        struct performance_conditions heavy = three_thousand;
        struct performance_model model;
        struct performance_state level;
        struct performance_controls full = {.power = 1.0};
        struct performance_view view;
        double power;
        double share;

        load(name[i], &airplane);
        heavy.weight_kg = airplane.max_weight_kg;
        heavy.altitude_m = 0.0;
        assert_int_equal(performance_model_make(&airplane, &heavy, &model), 0);
        assert_int_equal(performance_trim(&model, figures->cruise_altitude_m,
                                          figures->cruise_speed_mps, 0.0,
                                          &level, &power),
                         0);
        share =
            power *
            performance_power_share(
                performance_density_kgpm3(&model, figures->cruise_altitude_m) /
                flight_density_kgpm3(0.0));
        /* Thrust carries a little of the weight, which the fit leaves out. */
        assert_near(share, figures->cruise_power, 0.02 * share);
        assert_int_equal(performance_trim(&model, 0.0, figures->climb_speed_mps,
                                          0.0, &level, &power),
                         0);
        performance_look(&model, &level, &full, &view);
        /* Specific excess power, from level flight: V dV/dt / g. */
        assert_near(figures->climb_speed_mps * view.speed_rate_mps2 /
                        UNITS_G0_MPS2,
                    figures->climb_rate_mps, 0.06 * figures->climb_rate_mps);
        assert_in_range((int)(model.drag_least * 10000), 150, 450);
    }
}

/* Gagg and Farrar's drop-off (from memory): none at sea level, and a quarter
 * of the power gone by about 8,000 ft (sigma 0.786), as every handbook of an
 * engine without a supercharger shows: 75 percent is full throttle there. */
static void power_drops_with_altitude(void **state)
{
    (void)state;
    assert_near(performance_power_share(1.0), 1.0, 1e-12);
    assert_near(performance_power_share(0.78602), 0.7577, 0.0005);
    assert_near(performance_power_share(0.0), 0.0, 1e-12);
}

/* Momentum theory's own limits: at a standstill T = (2 rho A P^2)^(1/3); fast,
 * T goes to P / V. */
static void thrust_is_that_of_a_disc(void **state)
{
    struct performance_model model;
    double power_w;
    double standing_n;

    (void)state;
    make("club-trainer", &three_thousand, &model);
    power_w = model.propeller_share * model.rated_power_w;
    standing_n = cbrt(2.0 * flight_density_kgpm3(0.0) * model.disc_m2 *
                      power_w * power_w);
    assert_near(performance_thrust_n(&model, 0.0, 1e-9, 1.0), standing_n,
                1e-6 * standing_n);
    assert_near(performance_thrust_n(&model, 0.0, 300.0, 1.0) * 300.0, power_w,
                0.01 * power_w);
    assert_true(performance_thrust_n(&model, 0.0, 60.0, 1.0) * 60.0 < power_w);
}

static void figures_that_contradict_each_other_are_refused(void **state)
{
    struct flight_aircraft airplane;
    struct performance_model model;

    (void)state;
    load("club-trainer", &airplane);
    airplane.performance.climb_rate_mps *= 4.0;
    assert_int_equal(performance_model_make(&airplane, &three_thousand, &model),
                     ERR_RANGE);
    load("club-trainer", &airplane);
    airplane.performance.wing_area_m2 = NAN;
    assert_int_equal(performance_model_make(&airplane, &three_thousand, &model),
                     ERR_ABSENT);
}

/* Power on, the thrust carries part of the weight: the lift needed at the
 * handbook's stall speed is below the most the wing can give; power off it is
 * just that. */
static void stalls_at_its_stall_speed_without_power(void **state)
{
    struct flight_aircraft airplane;
    struct performance_model model;
    struct performance_conditions low = three_thousand;
    struct performance_state slow = {0};
    struct performance_controls idle = {0};
    struct performance_view view;

    (void)state;
    low.altitude_m = 0.0;
    make("club-trainer", &low, &model);
    load("club-trainer", &airplane);
    slow.tas_mps = airplane.stall_speed_mps;
    slow.pitch_rad = model.stall_rad - 1e-6;
    performance_look(&model, &slow, &idle, &view);
    assert_false(view.stalled);
    assert_near(view.load_factor * cos(view.alpha_rad), 1.0, 0.06);
    slow.pitch_rad = model.stall_rad + 0.02;
    performance_look(&model, &slow, &idle, &view);
    assert_true(view.stalled);
}

/* ---- motion ------------------------------------------------------------- */

/* Pilot's Handbook of Aeronautical Knowledge (FAA-H-8083-25), chapter 5: rate
 * of turn = 1,091 tan(bank) / TAS, load factor 1 / cos(bank). In the model the
 * nose is held so that the path stays level; 0.4 % is the handbook's rounding
 * and the rest what thrust adds off the path. */
static void a_level_turn_is_the_handbooks(void **state)
{
    static const double bank_deg[] = {15, 30, 45};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        struct performance_model model;
        struct performance_state turn;
        struct performance_controls controls = {0};
        struct performance_view view;
        double low = 0.0;
        double high = 0.3;
        double rate_dps = 1091.0 * tan(units_rad(bank_deg[i])) / 110.0;

        make("club-trainer", &three_thousand, &model);
        assert_int_equal(performance_trim(&model, 3000 * FT, 110 * KT, 0.0,
                                          &turn, &controls.power),
                         0);
        turn.bank_rad = units_rad(bank_deg[i]);
        /* The pitch at which one step leaves the path level. */
        for (int k = 0; k < 50; k++) {
            struct performance_state next = turn;

            next.pitch_rad = (low + high) / 2.0;
            turn.pitch_rad = next.pitch_rad;
            performance_step(&model, &controls, 0.001, &next);
            if (next.path_rad < 0.0)
                low = turn.pitch_rad;
            else
                high = turn.pitch_rad;
        }
        performance_look(&model, &turn, &controls, &view);
        assert_near(units_deg(view.turn_rate_radps), rate_dps, 0.01 * rate_dps);
        assert_near(view.load_factor,
                    flight_level_load_factor(units_rad(bank_deg[i])), 0.02);
    }
}

/* A flight with everything in it: turns, pulls, slows. */
static void weave(const struct performance_model *model, double power,
                  double step_s, struct performance_state *state)
{
    long steps = lround(40.0 / step_s);

    for (long i = 0; i < steps; i++) {
        double t_s = ((double)i + 0.5) * step_s;
        struct performance_controls controls = {
            .power = power,
            .pitch_rate_radps = units_rad(2.0) * cos(t_s * 0.5),
            .bank_rate_radps = units_rad(8.0) * cos(t_s * 0.4)};

        performance_step(model, &controls, step_s, state);
    }
}

/* V^2 / 2 + g h: a pull-up into a climbing turn that trades a third of the
 * speed for height. */
static void energy_is_kept_without_thrust_and_drag(void **state)
{
    struct performance_model model;
    struct performance_state flight;
    double power;
    double before;

    (void)state;
    make("club-trainer", &three_thousand, &model);
    assert_int_equal(
        performance_trim(&model, 0.0, 100 * KT, 0.0, &flight, &power), 0);
    model.drag_least = model.drag_of_lift = 0.0;
    before = flight.tas_mps * flight.tas_mps / 2.0;
    while (flight.tas_mps > 70.0 * KT) {
        struct performance_controls controls = {
            .pitch_rate_radps = flight.t_s < 7.0 ? units_rad(2.0) : 0.0,
            .bank_rate_radps = flight.t_s < 4.0 ? units_rad(8.0) : 0.0};

        performance_step(&model, &controls, 0.1, &flight);
        assert_true(flight.t_s < 60.0);
        assert_near(flight.tas_mps * flight.tas_mps / 2.0 +
                        UNITS_G0_MPS2 * flight.altitude_m,
                    before, 0.001 * before);
    }
    assert_true(flight.course_rad > units_rad(20.0));
}

static void half_the_step_is_the_same_flight(void **state)
{
    struct performance_model model;
    struct performance_state coarse;
    struct performance_state fine;
    double power;

    (void)state;
    make("club-trainer", &three_thousand, &model);
    assert_int_equal(
        performance_trim(&model, 3000 * FT, 100 * KT, 0.0, &coarse, &power), 0);
    fine = coarse;
    weave(&model, 0.8, 0.1, &coarse);
    weave(&model, 0.8, 0.05, &fine);
    assert_near(coarse.t_s, fine.t_s, 1e-9);
    assert_near(coarse.tas_mps, fine.tas_mps, 0.002 * fine.tas_mps);
    assert_near(coarse.altitude_m, fine.altitude_m, 0.002 * fine.altitude_m);
    assert_near(coarse.course_rad, fine.course_rad,
                0.002 * fabs(fine.course_rad) + 0.002);
    assert_near(coarse.north_m, fine.north_m, 0.002 * fabs(fine.north_m) + 2.0);
}

static void wind_moves_it_over_the_ground_and_nowhere_else(void **state)
{
    struct performance_conditions windy = three_thousand;
    struct performance_model calm_model;
    struct performance_model windy_model;
    struct performance_state calm;
    struct performance_state moved;
    double power;

    (void)state;
    windy.wind_from_rad = units_rad(270.0);
    windy.wind_mps = 20.0 * KT;
    make("club-trainer", &three_thousand, &calm_model);
    make("club-trainer", &windy, &windy_model);
    assert_int_equal(
        performance_trim(&calm_model, 3000 * FT, 100 * KT, 0.0, &calm, &power),
        0);
    moved = calm;
    weave(&calm_model, 0.8, 0.1, &calm);
    weave(&windy_model, 0.8, 0.1, &moved);
    assert_near(moved.tas_mps, calm.tas_mps, 1e-9);
    assert_near(moved.altitude_m, calm.altitude_m, 1e-9);
    assert_near(moved.east_m - calm.east_m, 20.0 * KT * 40.0, 1e-6);
    assert_near(moved.north_m - calm.north_m, 0.0, 1e-6);
}

/* A slip: wind on the left side of the nose, and the force goes to the right
 * wing, the ball to the left. */
static void a_slip_pushes_sideways(void **state)
{
    struct performance_model model;
    struct performance_state level;
    struct performance_controls controls = {.sideslip_rad = units_rad(-3.0)};
    struct performance_view view;

    (void)state;
    make("club-trainer", &three_thousand, &model);
    assert_int_equal(performance_trim(&model, 3000 * FT, 105 * KT, 0.0, &level,
                                      &controls.power),
                     0);
    performance_look(&model, &level, &controls, &view);
    assert_true(view.lateral_g > 0.03 && view.lateral_g < 0.15);
    assert_near(units_deg(view.heading_rad), 3.0, 0.01);
}

/* ---- gusts -------------------------------------------------------------- */

/* The filter keeps the strength that is asked for, and the correlation falls
 * to 1/e over one scale, 1,750 ft (MIL-F-8785C, 3.7.2, from memory). */
static void gusts_have_their_strength_and_scale(void **state)
{
    enum { COUNT = 400000, LAG = 107 }; /* 1,750 ft at 50 m/s and 10 Hz */
    static double along[COUNT];
    struct performance_gusts gusts;
    struct performance_gusts again;
    double square = 0.0;
    double lagged = 0.0;

    (void)state;
    performance_gusts_init(&gusts, 1.5, 7);
    performance_gusts_init(&again, 1.5, 7);
    for (int i = 0; i < COUNT; i++) {
        performance_gusts_step(&gusts, 50.0, 0.1);
        along[i] = gusts.along_mps;
        square += along[i] * along[i];
        if (i >= LAG)
            lagged += along[i] * along[i - LAG];
    }
    for (int i = 0; i < COUNT; i++)
        performance_gusts_step(&again, 50.0, 0.1);
    assert_true(again.up_mps == gusts.up_mps);
    assert_near(sqrt(square / COUNT), 1.5, 0.08);
    assert_near(lagged / square, exp(-1.0), 0.06);
}

/* ---- the line flown in the model ---------------------------------------- */

static void line_of(double weight_lb, double altitude_ft, double temperature_k,
                    struct performance_reference *out)
{
    const struct performance_conditions day = {.weight_kg =
                                                   weight_lb * 0.45359237,
                                               .altitude_m = altitude_ft * FT,
                                               .temperature_k = temperature_k};
    struct flight_aircraft airplane;

    load("club-trainer", &airplane);
    assert_int_equal(
        performance_reference_make(&airplane, &day, 105.0 * KT, 1, out), 0);
    assert_true(out->modelled);
}

/* A heavier airplane, a higher field, a hotter day: less is gained. At 5,000 ft
 * 30 degrees are 25 above the standard temperature. */
static void weight_altitude_and_heat_cost_height(void **state)
{
    struct performance_reference light;
    struct performance_reference heavy;
    struct performance_reference high;
    struct performance_reference hot;

    (void)state;
    line_of(2100, 3000, NAN, &light);
    line_of(2550, 3000, NAN, &heavy);
    line_of(2550, 5000, NAN, &high);
    line_of(2550, 5000, 303.15, &hot);
    assert_true(light.gain_m > heavy.gain_m + 20.0);
    assert_true(heavy.gain_m > high.gain_m + 2.0);
    assert_true(high.gain_m > hot.gain_m + 2.0);
    assert_true(light.stall_cas_mps < heavy.stall_cas_mps);
}

/* V0^2 - V1^2 over 2g: 105 to 55 kt is 354 ft, 100 to 55 is 309, 120 to 60 is
 * 478 (computed from the exact constants); and the engine adds to it. */
static void speed_pays_for_its_share_of_the_gain(void **state)
{
    static const double row[][3] = {
        {105, 55, 354}, {100, 55, 309}, {120, 60, 478}};
    struct flight_aircraft airplane = {
        .stall_weight_kg = 1000.0, .weight_kg = 1000.0, .pitch_limit_rad = 0.3};
    struct performance_conditions day = {.weight_kg = NAN,
                                         .temperature_k = NAN};
    struct performance_reference line;

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        /* The line ends 3 kt above the stall. */
        airplane.stall_speed_mps = (row[i][1] - 3.0) * KT;
        assert_int_equal(performance_reference_make(&airplane, &day,
                                                    row[i][0] * KT, 1, &line),
                         0);
        assert_near(units_ft(line.gain_from_speed_m), row[i][2], 0.6);
    }
    line_of(2459, 3000, NAN, &line);
    assert_true(line.gain_m > line.gain_from_speed_m + 100.0);
}

/* In the second half the bank comes off evenly in time whatever the speed and
 * the path do; pitch is highest at 90 and held. */
static void the_flown_line_has_the_shape_of_the_standard(void **state)
{
    struct performance_reference line;

    (void)state;
    line_of(2459, 3000, NAN, &line);
    for (uint32_t i = 0; i < line.count; i++) {
        const struct performance_reference_point *point = &line.point[i];

        if (i > 0)
            assert_true(point->turn_rad > point[-1].turn_rad ||
                        point->bank_rad < units_rad(1.0));
        if (point->t_s > line.t_90_s + 0.15) {
            assert_near(point->bank_rad,
                        line.roll_out_rate_radps * (line.t_180_s - point->t_s),
                        units_rad(0.2));
            assert_near(point->pitch_rad, line.finish_pitch_rad, 1e-9);
        }
        assert_true(point->pitch_rad <= line.finish_pitch_rad + 1e-9);
    }
    assert_near(line.point[0].turn_rad, 0.0, units_rad(0.01));
    assert_near(line.point[line.count - 1].turn_rad, UNITS_PI, 1e-9);
    assert_near(line.point[line.count - 1].bank_rad, 0.0, 1e-9);
    assert_near(line.finish_cas_mps, line.stall_cas_mps + 3.0 * KT, 0.5 * KT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_back_the_handbooks_cruise_and_climb),
        cmocka_unit_test(power_drops_with_altitude),
        cmocka_unit_test(thrust_is_that_of_a_disc),
        cmocka_unit_test(figures_that_contradict_each_other_are_refused),
        cmocka_unit_test(stalls_at_its_stall_speed_without_power),
        cmocka_unit_test(a_level_turn_is_the_handbooks),
        cmocka_unit_test(energy_is_kept_without_thrust_and_drag),
        cmocka_unit_test(half_the_step_is_the_same_flight),
        cmocka_unit_test(wind_moves_it_over_the_ground_and_nowhere_else),
        cmocka_unit_test(a_slip_pushes_sideways),
        cmocka_unit_test(gusts_have_their_strength_and_scale),
        cmocka_unit_test(weight_altitude_and_heat_cost_height),
        cmocka_unit_test(speed_pays_for_its_share_of_the_gain),
        cmocka_unit_test(the_flown_line_has_the_shape_of_the_standard),
    };

    return cmocka_run_group_tests_name("flight: model", tests, NULL, NULL) != 0;
}
