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
#include "pencil.h"
#include "quarterturn/error.h"
#include "quarterturn/maneuver.h"

static void fly_chandelle(int direction)
{
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, direction * 30, 1, 105);
    pencil_fly(11.5, direction * 30, 17, 88);
    pencil_fly(22, 0, 17, 60);
    pencil_fly(2, 0, 8, 62);
}

static void is_ready_after_three_steady_seconds(void **state)
{
    (void)state;
    pencil_fly(2.9, 0, 1, 105);
    assert_int_equal(pencil_count(EVENT_READY), 0);
    pencil_fly(0.3, 0, 1, 105);
    assert_int_equal(pencil_count(EVENT_READY), 1);
    assert_near((double)pencil_last(EVENT_READY)->t_ns * 1e-9, 3.05, 0.06);
    pencil_fly(20, 0, 1, 105);
    assert_int_equal(pencil_count(EVENT_READY), 1);
}

static void is_not_ready_when_fast_banked_or_climbing(void **state)
{
    (void)state;
    pencil_fly(1, 0, 1, 118);
    pencil_fly(10, 0, 1, 118);
    assert_int_equal(pencil_count(EVENT_READY), 0);
    pencil_fly(1, 8, 1, 105);
    pencil_fly(10, 8, 1, 105);
    assert_int_equal(pencil_count(EVENT_READY), 0);
    pencil_fly(2, 0, 6, 105);
    pencil_fly(10, 0, 6, 105);
    assert_int_equal(pencil_count(EVENT_READY), 0);
}

static void follows_a_whole_chandelle_both_ways(void **state)
{
    for (int direction = -1; direction <= 1; direction += 2) {
        (void)pencil_begin(state);
        fly_chandelle(direction);
        assert_int_equal(pencil_count(EVENT_ENTRY), 1);
        assert_int_equal(pencil_last(EVENT_ENTRY)->direction, direction);
        /* Bank leaves level, 2 degrees of 30 in 3 s, at 5.2 s. */
        assert_near((double)pencil_last(EVENT_ENTRY)->t_ns * 1e-9, 5.2, 0.06);
        assert_int_equal(pencil_count(EVENT_BANK_SET), 1);
        assert_near(units_deg(pencil_last(EVENT_BANK_SET)->angle_rad), 0.0,
                    0.1);
        assert_int_equal(pencil_count(EVENT_WINGS_LEVEL), 1);
        assert_int_equal(pencil_count(EVENT_PITCH_LIMIT), 0);
        assert_int_equal(pencil_count(EVENT_BANK_DRIFT), 0);
        assert_int_equal(pencil_count(EVENT_ABANDONED), 0);
        assert_string_equal(maneuver_phase_name(pencil.event[1].phase),
                            "first half");
    }
}

static void ordinary_turns_are_no_chandelle(void **state)
{
    static const double bank_deg[] = {15, 20, 30, 45, 60};

    (void)state;
    for (size_t i = 0; i < 5; i++) {
        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        pencil_fly(3, bank_deg[i], 2.5, 104);
        pencil_fly(30, bank_deg[i], 3.5, 100);
        pencil_fly(3, 0, 1, 103);
        assert_int_equal(pencil_count(EVENT_ENTRY), 0);
    }
}

static void climbing_turns_are_no_chandelle(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 20, 8, 98);
    pencil_fly(40, 20, 9, 80);
    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
    (void)pencil_begin(state);
    pencil_fly(5, 0, 1, 105);
    pencil_fly(6, 0, 9, 90);
    pencil_fly(3, -20, 9, 85);
    pencil_fly(40, -20, 9, 80);
    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
}

static void an_attempt_needs_a_steady_entry(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    /* A shallow turn for a while, and the climb out of it. */
    pencil_fly(2, 9, 1, 105);
    pencil_fly(10, 9, 1, 105);
    pencil_fly(2, 30, 1, 105);
    pencil_fly(11.5, 30, 17, 88);
    pencil_fly(22, 0, 17, 60);
    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
}

static void tells_the_bank_that_leaves_its_tolerance(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(6, 30, 9, 100);
    pencil_fly(3, 40, 13, 97);
    assert_int_equal(pencil_count(EVENT_BANK_DRIFT), 1);
    assert_true(pencil_last(EVENT_BANK_DRIFT)->angle_rad > 5.0 * DEG);
    assert_int_equal(pencil_last(EVENT_BANK_DRIFT)->phase, PHASE_FIRST_HALF);
}

static void tells_the_pitch_limit_once_and_again_after_a_drop(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(6, 30, 22, 95);
    assert_int_equal(pencil_count(EVENT_PITCH_LIMIT), 1);
    assert_near(units_deg(pencil_last(EVENT_PITCH_LIMIT)->pitch_rad), 20.0,
                0.01);
    pencil_fly(1, 30, 19, 94);
    pencil_fly(1, 30, 21, 93);
    assert_int_equal(pencil_count(EVENT_PITCH_LIMIT), 1);
    pencil_fly(1, 30, 17, 92);
    pencil_fly(1, 30, 21, 91);
    assert_int_equal(pencil_count(EVENT_PITCH_LIMIT), 2);
}

static void tells_held_pitch_that_sags(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(12, 30, 17, 88);
    pencil_fly(5, 23, 17, 80);
    pencil_fly(4, 18, 12, 76);
    assert_int_equal(pencil_count(EVENT_PITCH_SAG), 1);
    assert_near(units_deg(pencil_last(EVENT_PITCH_SAG)->angle_rad), 17.0, 0.3);
    assert_int_equal(pencil_count(EVENT_PITCH_RISE), 0);
}

static void tells_held_pitch_that_rises(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(12, 30, 15, 88);
    pencil_fly(5, 23, 15, 80);
    pencil_fly(4, 18, 19.5, 76);
    assert_int_equal(pencil_count(EVENT_PITCH_RISE), 1);
    assert_near(units_deg(pencil_last(EVENT_PITCH_RISE)->angle_rad), 15.0, 0.3);
    assert_int_equal(pencil_count(EVENT_PITCH_SAG), 0);
}

/* Half and twice the right rate: a word each, and none for the right one. */
static void advises_on_the_rate_of_the_roll_out(void **state)
{
    static const double roll_out_s[] = {10.0, 22.0, 44.0};
    static const int advice[] = {-1, 0, 1};

    for (int i = 0; i < 3; i++) {
        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        pencil_fly(3, 30, 1, 105);
        pencil_fly(11.5, 30, 17, 88);
        pencil_fly(roll_out_s[i], 0, 17, 60);
        assert_int_equal(pencil_count(EVENT_ROLL_OUT_ADVICE) > 0,
                         advice[i] != 0);
        if (advice[i] != 0) {
            const struct maneuver_event *event =
                pencil_last(EVENT_ROLL_OUT_ADVICE);

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
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    assert_int_equal(pencil_count(EVENT_ENTRY), 1);
    for (size_t i = 0; i < sizeof band / sizeof band[0]; i++) {
        int before = pencil_count(EVENT_NEAR_STALL);

        pencil.state.stall_margin_mps = margin_kt[i] * KT;
        pencil_fly(0.05, 30, 12, 97);
        if (band[i] == now) {
            assert_int_equal(pencil_count(EVENT_NEAR_STALL), before);
        } else {
            assert_int_equal(pencil_count(EVENT_NEAR_STALL), before + 1);
            assert_int_equal(pencil_last(EVENT_NEAR_STALL)->band, band[i]);
        }
        now = band[i];
    }
}

/* The simulator's own warning is never less than the first band. */
static void the_simulators_stall_warning_counts(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    pencil.state.stall_warning = true;
    pencil.state.known |= FLIGHT_STALL_WARNING;
    pencil_fly(0.05, 30, 12, 97);
    assert_int_equal(pencil_last(EVENT_NEAR_STALL)->band, 1);
}

/* An attempt that is over goes on while the stall is near: the tone would
 * fall silent with it. */
static void no_attempt_ends_near_the_stall(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    pencil.state.stall_margin_mps = 3.0 * KT;
    /* Level early, which ends it. */
    pencil_fly(2, 0, 12, 90);
    pencil_fly(4, 0, 5, 80);
    assert_int_equal(pencil_last(EVENT_NEAR_STALL)->band, 3);
    assert_int_equal(pencil_count(EVENT_ABANDONED), 0);
    pencil.state.stall_excess_mps = -1.0;
    pencil_fly(1, 0, 0, 75);
    assert_int_equal(pencil_count(EVENT_STALL), 1);
    assert_true(pencil_last(EVENT_STALL)->stalled);
    pencil.state.stall_excess_mps = 20.0 * KT;
    pencil.state.stall_margin_mps = 20.0 * KT;
    pencil_fly(1, 0, -5, 85);
    assert_int_equal(pencil_last(EVENT_NEAR_STALL)->band, 0);
    assert_int_equal(pencil_count(EVENT_ABANDONED), 1);
    assert_int_equal(pencil_last(EVENT_ABANDONED)->reason, REASON_STALLED);
    assert_true(pencil_last(EVENT_ABANDONED)->t_ns >=
                pencil_last(EVENT_NEAR_STALL)->t_ns);
}

/* On the ground, and when the margin is not told any more. */
static void nothing_holds_an_attempt_open_for_ever(void **state)
{
    for (int i = 0; i < 2; i++) {
        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        pencil_fly(3, 30, 1, 105);
        pencil_fly(8, 30, 12, 97);
        pencil.state.stall_margin_mps = 3.0 * KT;
        pencil_fly(2, 0, 12, 90);
        pencil_fly(4, 0, 5, 80);
        assert_int_equal(pencil_count(EVENT_ABANDONED), 0);
        if (i == 0) {
            pencil.state.known |= FLIGHT_ON_GROUND;
            pencil.state.on_ground = true;
        } else {
            pencil.state.known &= ~(uint32_t)FLIGHT_MARGIN;
        }
        pencil_fly(0.1, 0, 5, 80);
        assert_int_equal(pencil_last(EVENT_ABANDONED)->reason,
                         REASON_LEVEL_EARLY);
    }
}

static void an_angle_of_attack_tells_the_stall(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    pencil.state.known |= FLIGHT_ANGLE_OF_ATTACK;
    pencil.state.angle_of_attack_rad = 15.9 * DEG;
    pencil.state.stall_excess_mps = -1.0;
    pencil_fly(1, 30, 12, 97);
    assert_int_equal(pencil_count(EVENT_STALL), 0);
    pencil.state.angle_of_attack_rad = 16.1 * DEG;
    pencil.state.stall_margin_mps = 0.0;
    pencil_fly(1, 30, 12, 97);
    assert_int_equal(pencil_count(EVENT_STALL), 1);
}

static void a_descent_and_the_ground_end_an_attempt(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    pencil.state.known |= FLIGHT_ON_GROUND;
    pencil.state.on_ground = true;
    pencil_fly(0.1, 30, 12, 97);
    assert_int_equal(pencil_last(EVENT_ABANDONED)->reason, REASON_ON_GROUND);
    (void)pencil_begin(state);
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(8, 30, 12, 97);
    pencil_fly(2, 30, -20, 105);
    pencil_fly(10, 30, -20, 120);
    assert_int_equal(pencil_last(EVENT_ABANDONED)->reason, REASON_DESCENDED);
}

static void altitude_that_leaves_its_band_is_told(void **state)
{
    (void)state;
    fly_chandelle(1);
    pencil_fly(6, 0, 8, 66);
    assert_int_equal(pencil_count(EVENT_HOLD_BROKEN), 1);
    assert_true(pencil_last(EVENT_HOLD_BROKEN)->length_m > 15.0);
    assert_int_equal(pencil_count(EVENT_ABANDONED), 0);
}

static void refuses_time_that_goes_backwards(void **state)
{
    struct maneuver_event event[MANEUVER_MAX_EVENTS];

    (void)state;
    pencil_fly(1, 0, 1, 105);
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
            pencil_fly(0.05, 0, 1, 105);
        else if (t_s < 8)
            pencil_fly(0.05, 30.0 * (t_s - 5) / 3, 1, 105);
        else if (t_s < 19.5)
            pencil_fly(0.05, 30, 1 + 16 * (t_s - 8) / 11.5, 100);
        else if (t_s < 41.5)
            pencil_fly(0.05, 30.0 * (41.5 - t_s) / 22, 17, 80);
        else
            pencil_fly(0.05, 0, fmax(8, 17 - 9 * (t_s - 41.5)), 62);
        for (int i = before; i < pencil.count; i++)
            assert_true(pencil.event[i].t_ns >= settled_ns);
        if (maneuver_settled_ns(&pencil.maneuver) > settled_ns)
            settled_ns = maneuver_settled_ns(&pencil.maneuver);
    }
    assert_int_equal(pencil_count(EVENT_WINGS_LEVEL), 1);
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
#define TEST(name) cmocka_unit_test_setup(name, pencil_begin)
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
        TEST(no_attempt_ends_near_the_stall),
        TEST(nothing_holds_an_attempt_open_for_ever),
        TEST(an_angle_of_attack_tells_the_stall),
        TEST(a_descent_and_the_ground_end_an_attempt),
        TEST(altitude_that_leaves_its_band_is_told),
        TEST(refuses_time_that_goes_backwards),
        TEST(nothing_is_dated_before_what_was_settled),
        TEST(finds_manoeuvres_by_name),
    };

    return cmocka_run_group_tests_name("maneuver", tests, NULL, NULL) != 0;
}
