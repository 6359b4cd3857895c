/* test_maneuver.c - arming, recognising, giving up; with flights drawn by a
 * few lines of kinematics. Whole flights are in tests/replay. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/maneuver.h"

#define KT UNITS_MPS_PER_KT
#define DEG UNITS_RAD_PER_DEG

/* Numbers of the test's own; the shipped ones are in config/standards. */
static const struct maneuver_standard standard = {
    .name = "test",
    .ready_time_s = 3.0,
    .ready_bank_rad = 5.0 * DEG,
    .ready_climb_mps = 1.5,
    .ready_turn_radps = 1.5 * DEG,
    .entry_speed_band_mps = 10.0 * KT,
    .entry_bank_rad = 30.0 * DEG,
    .bank_tolerance_rad = 5.0 * DEG,
    .ball_tolerance_g = 0.05,
    .slip_tolerance_rad = 4.0 * DEG,
    .pitch_tolerance_rad = 3.0 * DEG,
    .advice_error_rad = 15.0 * DEG,
    .level_bank_rad = 3.0 * DEG,
    .level_time_s = 1.0,
    .heading_tolerance_rad = 10.0 * DEG,
    .finish_margin_mps = 7.0 * KT,
    .hold_band_m = 15.0,
    .hold_time_s = 10.0,
    .stall_band_mps = {10.0 * KT, 7.0 * KT, 4.0 * KT},
    .stall_hysteresis_mps = 1.0 * KT,
};

static const struct flight_aircraft aircraft = {
    .stall_speed_mps = 55.0 * KT,
    .stall_weight_kg = 1000.0,
    .weight_kg = 1000.0,
    .maneuvering_speed_mps = 105.0 * KT,
    .max_weight_kg = 1100.0,
    .entry_speed_mps = 105.0 * KT,
    .pitch_limit_rad = 20.0 * DEG,
    .stall_angle_of_attack_rad = 16.0 * DEG,
};

/* A pencilled airplane: what the pilot wants is what it does. */
struct pencil {
    struct maneuver maneuver;
    struct flight_state state;
    struct maneuver_event event[256];
    int count;
};

static struct pencil pencil;

static int begin(void **state)
{
    (void)state;
    memset(&pencil, 0, sizeof pencil);
    maneuver_init(&pencil.maneuver, MANEUVER_CHANDELLE, &standard, &aircraft);
    pencil.state.known = FLIGHT_HEADING | FLIGHT_PITCH | FLIGHT_BANK |
                         FLIGHT_AIRSPEED | FLIGHT_ALTITUDE | FLIGHT_MARGIN;
    pencil.state.heading.value = 350.0 * DEG;
    pencil.state.pitch.value = 1.0 * DEG;
    pencil.state.cas.value = 105.0 * KT;
    pencil.state.altitude.value = 1000.0;
    pencil.state.stall_margin_mps = 50.0 * KT;
    pencil.state.stall_excess_mps = 50.0 * KT;
    return 0;
}

/* Fly for a time, bank, pitch and speed moving evenly to what is given. The
 * climb follows the pitch; heading follows the bank. */
static void fly(double for_s, double bank_deg, double pitch_deg,
                double speed_kt)
{
    struct flight_state *now = &pencil.state;
    double step_s = 0.05;
    int steps = (int)lround(for_s / step_s);
    double bank_radps = (bank_deg * DEG - now->bank.value) / for_s;
    double pitch_radps = (pitch_deg * DEG - now->pitch.value) / for_s;
    double cas_mps2 = (speed_kt * KT - now->cas.value) / for_s;

    for (int i = 0; i < steps; i++) {
        now->t_ns += 50000000;
        now->bank.value += bank_radps * step_s;
        now->bank.rate = bank_radps;
        now->pitch.value += pitch_radps * step_s;
        now->pitch.rate = pitch_radps;
        now->cas.value += cas_mps2 * step_s;
        now->cas.rate = cas_mps2;
        now->tas_mps = now->cas.value;
        now->heading.rate =
            flight_turn_rate_radps(now->bank.value, now->tas_mps);
        now->heading.value += now->heading.rate * step_s;
        now->altitude.rate =
            now->tas_mps * sin((now->pitch.value - 1.0 * DEG) * 0.8);
        now->altitude.value += now->altitude.rate * step_s;
        pencil.count +=
            maneuver_step(&pencil.maneuver, now, pencil.event + pencil.count);
        assert_true(pencil.count < 256 - MANEUVER_MAX_EVENTS);
    }
}

static int count(enum maneuver_event_kind kind)
{
    int found = 0;

    for (int i = 0; i < pencil.count; i++)
        found += pencil.event[i].kind == kind;
    return found;
}

static const struct maneuver_event *last(enum maneuver_event_kind kind)
{
    for (int i = pencil.count; i-- > 0;)
        if (pencil.event[i].kind == kind)
            return &pencil.event[i];
    fail_msg("no %s", maneuver_event_name(kind));
    return NULL;
}

/* The good one: 3 s roll-in, 12 s pitch up, 22 s roll-out. */
static void fly_chandelle(int direction)
{
    fly(5, 0, 1, 105);
    fly(3, direction * 30, 1, 105);
    fly(11.5, direction * 30, 17, 88);
    fly(22, 0, 17, 60);
    fly(2, 0, 8, 62);
}

static void is_ready_after_three_steady_seconds(void **state)
{
    (void)state;
    fly(2.9, 0, 1, 105);
    assert_int_equal(count(EVENT_READY), 0);
    fly(0.3, 0, 1, 105);
    assert_int_equal(count(EVENT_READY), 1);
    assert_near((double)last(EVENT_READY)->t_ns * 1e-9, 3.05, 0.06);
    fly(20, 0, 1, 105);
    assert_int_equal(count(EVENT_READY), 1);
}

static void is_not_ready_when_fast_banked_or_climbing(void **state)
{
    (void)state;
    fly(1, 0, 1, 118);
    fly(10, 0, 1, 118);
    assert_int_equal(count(EVENT_READY), 0);
    fly(1, 8, 1, 105);
    fly(10, 8, 1, 105);
    assert_int_equal(count(EVENT_READY), 0);
    fly(2, 0, 6, 105);
    fly(10, 0, 6, 105);
    assert_int_equal(count(EVENT_READY), 0);
}

static void follows_a_whole_chandelle_both_ways(void **state)
{
    for (int direction = -1; direction <= 1; direction += 2) {
        (void)begin(state);
        fly_chandelle(direction);
        assert_int_equal(count(EVENT_ENTRY), 1);
        assert_int_equal(last(EVENT_ENTRY)->direction, direction);
        /* Bank leaves level, 2 degrees of 30 in 3 s, at 5.2 s. */
        assert_near((double)last(EVENT_ENTRY)->t_ns * 1e-9, 5.2, 0.06);
        assert_int_equal(count(EVENT_BANK_SET), 1);
        assert_near(units_deg(last(EVENT_BANK_SET)->angle_rad), 0.0, 0.1);
        assert_int_equal(count(EVENT_WINGS_LEVEL), 1);
        assert_int_equal(count(EVENT_PITCH_LIMIT), 0);
        assert_int_equal(count(EVENT_BANK_DRIFT), 0);
        assert_int_equal(count(EVENT_ABANDONED), 0);
        assert_string_equal(maneuver_phase_name(pencil.event[1].phase),
                            "first half");
    }
}

static void ordinary_turns_are_no_chandelle(void **state)
{
    static const double bank_deg[] = {15, 20, 30, 45, 60};

    (void)state;
    for (size_t i = 0; i < 5; i++) {
        (void)begin(state);
        fly(5, 0, 1, 105);
        fly(3, bank_deg[i], 2.5, 104);
        fly(30, bank_deg[i], 3.5, 100);
        fly(3, 0, 1, 103);
        assert_int_equal(count(EVENT_ENTRY), 0);
    }
}

static void climbing_turns_are_no_chandelle(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 20, 8, 98);
    fly(40, 20, 9, 80);
    assert_int_equal(count(EVENT_ENTRY), 0);
    (void)begin(state);
    fly(5, 0, 1, 105);
    fly(6, 0, 9, 90);
    fly(3, -20, 9, 85);
    fly(40, -20, 9, 80);
    assert_int_equal(count(EVENT_ENTRY), 0);
}

static void an_attempt_needs_a_steady_entry(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    /* A shallow turn for a while, and the climb out of it. */
    fly(2, 9, 1, 105);
    fly(10, 9, 1, 105);
    fly(2, 30, 1, 105);
    fly(11.5, 30, 17, 88);
    fly(22, 0, 17, 60);
    assert_int_equal(count(EVENT_ENTRY), 0);
}

static void tells_the_bank_that_leaves_its_tolerance(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(6, 30, 9, 100);
    fly(3, 40, 13, 97);
    assert_int_equal(count(EVENT_BANK_DRIFT), 1);
    assert_true(last(EVENT_BANK_DRIFT)->angle_rad > 5.0 * DEG);
    assert_int_equal(last(EVENT_BANK_DRIFT)->phase, PHASE_FIRST_HALF);
}

static void tells_the_pitch_limit_once_and_again_after_a_drop(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(6, 30, 22, 95);
    assert_int_equal(count(EVENT_PITCH_LIMIT), 1);
    assert_near(units_deg(last(EVENT_PITCH_LIMIT)->pitch_rad), 20.0, 0.01);
    fly(1, 30, 19, 94);
    fly(1, 30, 21, 93);
    assert_int_equal(count(EVENT_PITCH_LIMIT), 1);
    fly(1, 30, 17, 92);
    fly(1, 30, 21, 91);
    assert_int_equal(count(EVENT_PITCH_LIMIT), 2);
}

static void tells_held_pitch_that_sags(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(12, 30, 17, 88);
    fly(5, 23, 17, 80);
    fly(4, 18, 12, 76);
    assert_int_equal(count(EVENT_PITCH_SAG), 1);
    assert_near(units_deg(last(EVENT_PITCH_SAG)->angle_rad), 17.0, 0.3);
    assert_int_equal(count(EVENT_PITCH_RISE), 0);
}

static void tells_held_pitch_that_rises(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(12, 30, 15, 88);
    fly(5, 23, 15, 80);
    fly(4, 18, 19.5, 76);
    assert_int_equal(count(EVENT_PITCH_RISE), 1);
    assert_near(units_deg(last(EVENT_PITCH_RISE)->angle_rad), 15.0, 0.3);
    assert_int_equal(count(EVENT_PITCH_SAG), 0);
}

/* Half and twice the right rate: a word each, and none for the right one. */
static void advises_on_the_rate_of_the_roll_out(void **state)
{
    static const double roll_out_s[] = {10.0, 22.0, 44.0};
    static const int advice[] = {-1, 0, 1};

    for (int i = 0; i < 3; i++) {
        (void)begin(state);
        fly(5, 0, 1, 105);
        fly(3, 30, 1, 105);
        fly(11.5, 30, 17, 88);
        fly(roll_out_s[i], 0, 17, 60);
        assert_int_equal(count(EVENT_ROLL_OUT_ADVICE) > 0, advice[i] != 0);
        if (advice[i] != 0) {
            const struct maneuver_event *event = last(EVENT_ROLL_OUT_ADVICE);

            assert_int_equal(event->side, advice[i]);
            assert_true(event->side * event->angle_rad > 15.0 * DEG);
        }
    }
}

static void bands_of_the_margin_have_hysteresis(void **state)
{
    static const double margin_kt[] = {12,  9.9, 10.5, 11.1, 6.9, 7.5,
                                       8.1, 3.9, 4.9,  5.1,  20};
    static const int band[] = {0, 1, 1, 0, 2, 2, 1, 3, 3, 2, 0};
    int now = 0;

    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(8, 30, 12, 97);
    assert_int_equal(count(EVENT_ENTRY), 1);
    for (size_t i = 0; i < sizeof band / sizeof band[0]; i++) {
        int before = count(EVENT_NEAR_STALL);

        pencil.state.stall_margin_mps = margin_kt[i] * KT;
        fly(0.05, 30, 12, 97);
        if (band[i] == now) {
            assert_int_equal(count(EVENT_NEAR_STALL), before);
        } else {
            assert_int_equal(count(EVENT_NEAR_STALL), before + 1);
            assert_int_equal(last(EVENT_NEAR_STALL)->band, band[i]);
        }
        now = band[i];
    }
}

/* The simulator's own warning is never less than the first band. */
static void the_simulators_stall_warning_counts(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(8, 30, 12, 97);
    pencil.state.stall_warning = true;
    pencil.state.known |= FLIGHT_STALL_WARNING;
    fly(0.05, 30, 12, 97);
    assert_int_equal(last(EVENT_NEAR_STALL)->band, 1);
}

static void an_angle_of_attack_tells_the_stall(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(8, 30, 12, 97);
    pencil.state.known |= FLIGHT_ANGLE_OF_ATTACK;
    pencil.state.angle_of_attack_rad = 15.9 * DEG;
    pencil.state.stall_excess_mps = -1.0;
    fly(1, 30, 12, 97);
    assert_int_equal(count(EVENT_STALL), 0);
    pencil.state.angle_of_attack_rad = 16.1 * DEG;
    pencil.state.stall_margin_mps = 0.0;
    fly(1, 30, 12, 97);
    assert_int_equal(count(EVENT_STALL), 1);
}

static void a_descent_and_the_ground_end_an_attempt(void **state)
{
    (void)state;
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(8, 30, 12, 97);
    pencil.state.known |= FLIGHT_ON_GROUND;
    pencil.state.on_ground = true;
    fly(0.1, 30, 12, 97);
    assert_int_equal(last(EVENT_ABANDONED)->reason, REASON_ON_GROUND);
    (void)begin(state);
    fly(5, 0, 1, 105);
    fly(3, 30, 1, 105);
    fly(8, 30, 12, 97);
    fly(2, 30, -20, 105);
    fly(10, 30, -20, 120);
    assert_int_equal(last(EVENT_ABANDONED)->reason, REASON_DESCENDED);
}

static void altitude_that_leaves_its_band_is_told(void **state)
{
    (void)state;
    fly_chandelle(1);
    fly(6, 0, 8, 66);
    assert_int_equal(count(EVENT_HOLD_BROKEN), 1);
    assert_true(last(EVENT_HOLD_BROKEN)->length_m > 15.0);
    assert_int_equal(count(EVENT_ABANDONED), 0);
}

static void refuses_time_that_goes_backwards(void **state)
{
    struct maneuver_event event[MANEUVER_MAX_EVENTS];

    (void)state;
    fly(1, 0, 1, 105);
    pencil.state.t_ns -= 1;
    assert_int_equal(maneuver_step(&pencil.maneuver, &pencil.state, event),
                     ERR_TIME);
}

/* No event may be dated before what was called settled. */
static void nothing_is_dated_before_what_was_settled(void **state)
{
    int64_t settled_ns = INT64_MIN;

    (void)state;
    for (int part = 0; part < 900; part++) {
        double t_s = part * 0.05;
        int before = pencil.count;

        if (t_s < 5)
            fly(0.05, 0, 1, 105);
        else if (t_s < 8)
            fly(0.05, 30.0 * (t_s - 5) / 3, 1, 105);
        else if (t_s < 19.5)
            fly(0.05, 30, 1 + 16 * (t_s - 8) / 11.5, 100);
        else if (t_s < 41.5)
            fly(0.05, 30.0 * (41.5 - t_s) / 22, 17, 80);
        else
            fly(0.05, 0, fmax(8, 17 - 9 * (t_s - 41.5)), 62);
        for (int i = before; i < pencil.count; i++)
            assert_true(pencil.event[i].t_ns >= settled_ns);
        if (maneuver_settled_ns(&pencil.maneuver) > settled_ns)
            settled_ns = maneuver_settled_ns(&pencil.maneuver);
    }
    assert_int_equal(count(EVENT_WINGS_LEVEL), 1);
}

static void finds_manoeuvres_by_name(void **state)
{
    enum maneuver_kind kind;

    (void)state;
    assert_int_equal(maneuver_kind_find("chandelle", &kind), 0);
    assert_int_equal(kind, MANEUVER_CHANDELLE);
    assert_int_equal(maneuver_kind_find("loop", &kind), ERR_ABSENT);
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup(name, begin)
    const struct CMUnitTest tests[] = {
        TEST(is_ready_after_three_steady_seconds),
        TEST(is_not_ready_when_fast_banked_or_climbing),
        TEST(follows_a_whole_chandelle_both_ways),
        TEST(ordinary_turns_are_no_chandelle),
        TEST(climbing_turns_are_no_chandelle),
        TEST(an_attempt_needs_a_steady_entry),
        TEST(tells_the_bank_that_leaves_its_tolerance),
        TEST(tells_the_pitch_limit_once_and_again_after_a_drop),
        TEST(tells_held_pitch_that_sags),
        TEST(tells_held_pitch_that_rises),
        TEST(advises_on_the_rate_of_the_roll_out),
        TEST(bands_of_the_margin_have_hysteresis),
        TEST(the_simulators_stall_warning_counts),
        TEST(an_angle_of_attack_tells_the_stall),
        TEST(a_descent_and_the_ground_end_an_attempt),
        TEST(altitude_that_leaves_its_band_is_told),
        TEST(refuses_time_that_goes_backwards),
        TEST(nothing_is_dated_before_what_was_settled),
        TEST(finds_manoeuvres_by_name),
    };

    return cmocka_run_group_tests_name("maneuver", tests, NULL, NULL) != 0;
}
