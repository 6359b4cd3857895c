/* test_intake_stream_states.c - pauses and jumps of a stream. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

static void a_standing_clock_is_a_pause_told_once(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.9);
    int paused = 0;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    for (int64_t t_ns = 1000 * MS; t_ns < 4000 * MS; t_ns += 100 * MS) {
        push(&p, t_ns, &moment);
        assert_false(p.result.has_sample);
        if (p.result.notice_count > 0) {
            paused++;
            /* Known 0.5 s after the clock last moved, and dated there. */
            assert_int_equal(t_ns, 1500 * MS);
            push_expect_notice(&p, 0, INTAKE_PAUSED, 900 * MS);
        }
        assert_int_equal(p.result.reject,
                         t_ns < 1500 * MS ? INTAKE_DUPLICATE : INTAKE_TAKEN);
    }
    assert_int_equal(paused, 1);
    moment = push_moment_at(1.0);
    push(&p, 4000 * MS, &moment);
    assert_int_equal(p.result.notice_count, 1);
    /* The simulator's clock had run for a tenth of a second by then. */
    push_expect_notice(&p, 0, INTAKE_RESUMED, 3900 * MS);
    assert_true(p.result.has_sample);
    assert_int_equal(p.result.sample.t_ns, 4000 * MS);
}

static void a_few_doubles_are_no_pause(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i < 50; i++) {
        struct moment moment = push_moment_at(i * 0.6);

        push_expect_taken(&p, i * 600 * MS, &moment);
        push_expect_rejected(&p, (i * 600 + 599) * MS, &moment,
                             INTAKE_DUPLICATE);
    }
}

static void a_coarse_clock_is_no_pause(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i < 300; i++) {
        struct moment moment = push_moment_at(i * 0.1);

        moment.sim_time_s = floor(i * 0.1 + 1e-9);
        push(&p, i * 100 * MS, &moment);
        assert_int_equal(p.result.notice_count, 0);
        assert_int_equal(p.result.has_sample, i % 10 == 0);
    }
}

static void values_that_stand_still_are_a_pause_without_a_clock(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int64_t t_ns = 0; t_ns <= 2000 * MS; t_ns += 100 * MS)
        push_expect_taken(&p, t_ns, &moment);
    push(&p, 2100 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_PAUSED, 2100 * MS);
    assert_int_equal(p.result.reject, INTAKE_TAKEN);
    assert_false(p.result.has_sample);
    push(&p, 2200 * MS, &moment);
    assert_int_equal(p.result.notice_count, 0);
    moment.heading_deg += 0.01;
    push(&p, 2300 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_RESUMED, 2300 * MS);
    assert_true(p.result.has_sample);
}

static void a_rare_stream_that_stands_still_is_no_pause(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);

    (void)state;
    /* Nine after the first in 7.2 s: too few to tell. */
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int64_t t_ns = 0; t_ns <= 7200 * MS; t_ns += 800 * MS)
        push_expect_taken(&p, t_ns, &moment);
    push(&p, 8000 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_PAUSED, 8000 * MS);
}

/* Send a moment without a clock, again and again.
 * Returns: how long until it counted as a pause, s. */
static double still_for(enum push_kind kind, const struct moment *moment)
{
    struct pushed p;

    push_begin(&p, kind, 1000 * MS);
    for (int64_t t_ns = 0; t_ns < 60000 * MS; t_ns += 100 * MS) {
        push(&p, t_ns, moment);
        if (p.result.notice_count > 0) {
            push_expect_notice(&p, 0, INTAKE_PAUSED, t_ns);
            return (double)t_ns * 1e-9;
        }
    }
    return 60.0;
}

/* In calm air, straight and level, nothing may change for seconds in flight
 * too. */
static void
level_flight_stands_still_for_longer_before_it_is_a_pause(void **state)
{
    const struct moment level = {
        .heading_deg = 270.0, .altitude_ft = 3000.0, .pitch_deg = 1.1};
    struct moment other = level;

    (void)state;
    assert_near(still_for(PUSH_CRUISING, &level), 10.1, 1e-9);
    other.bank_deg = 0.9;
    other.climb_fpm = -90.0;
    other.pitch_deg = -9.0;
    assert_near(still_for(PUSH_CRUISING, &other), 10.1, 1e-9);
    /* None of these can stand still in flight. */
    other = level;
    other.bank_deg = -2.0;
    assert_near(still_for(PUSH_CRUISING, &other), 2.1, 1e-9);
    other = level;
    other.climb_fpm = 110.0;
    assert_near(still_for(PUSH_CRUISING, &other), 2.1, 1e-9);
    assert_near(still_for(PUSH_PLACED, &level), 2.1, 1e-9);
    /* Nor does what ends a chandelle last. */
    other = level;
    other.pitch_deg = 15.0;
    assert_near(still_for(PUSH_CRUISING, &other), 2.1, 1e-9);
}

static void the_simulator_may_say_that_it_is_paused(void **state)
{
    struct pushed p;
    struct moment moment;

    (void)state;
    push_begin(&p, PUSH_SAYING, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    /* The clock may run on or stand: what is said counts. */
    for (int i = 0; i < 30; i++) {
        moment = push_moment_at(i < 15 ? 1.0 + i * 0.1 : 2.4);
        moment.paused = true;
        push(&p, (1000 + i * 100) * MS, &moment);
        assert_int_equal(p.result.reject, INTAKE_TAKEN);
        assert_false(p.result.has_sample);
        assert_int_equal(p.result.notice_count, i == 0 ? 1 : 0);
        if (i == 0)
            push_expect_notice(&p, 0, INTAKE_PAUSED, 900 * MS);
    }
    moment = push_moment_at(2.5);
    push(&p, 4000 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_RESUMED, 3900 * MS);
    assert_int_equal(p.result.sample.t_ns, 4000 * MS);
}

static void a_pause_without_packets_is_a_lost_signal(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(1.0);

    (void)state;
    push_begin(&p, PUSH_SAYING, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    moment.paused = true;
    push(&p, 1000 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_PAUSED, 900 * MS);
    moment = push_moment_at(1.1);
    push(&p, 60000 * MS, &moment);
    assert_int_equal(p.result.notice_count, 3);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 2000 * MS);
    /* The clock had run for a tenth of a second by then. */
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, 59900 * MS);
    push_expect_notice(&p, 2, INTAKE_RESUMED, 59900 * MS);
    assert_int_equal(p.result.notice[1].flown_ns, 900 * MS);
    assert_int_equal(p.result.notice[2].flown_ns, 900 * MS);
}

/* After a second of flight, one moment; expect a leap or none. */
static void expect_leap(const struct moment *next, enum push_kind kind,
                        bool leap)
{
    struct pushed p;

    push_begin(&p, kind, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    push(&p, 1000 * MS, next);
    assert_int_equal(p.result.reject, INTAKE_TAKEN);
    assert_true(p.result.has_sample);
    assert_int_equal(p.result.notice_count, leap ? 1 : 0);
    if (leap)
        push_expect_notice(&p, 0, INTAKE_JUMPED, p.result.sample.t_ns);
}

static void a_clock_set_back_or_far_ahead_is_a_jump(void **state)
{
    struct moment moment = push_moment_at(1.0);

    (void)state;
    moment.sim_time_s = -1.2; /* 2.1 s back */
    expect_leap(&moment, PUSH_CLOCKED, true);
    moment.sim_time_s = 2.1; /* 1.2 s on in 0.1 s */
    expect_leap(&moment, PUSH_CLOCKED, true);
    moment.sim_time_s = 1.9; /* 1.0 s on in 0.1 s */
    expect_leap(&moment, PUSH_CLOCKED, false);
}

static void a_step_no_airplane_can_fly_is_a_jump(void **state)
{
    static const enum push_kind kind[] = {PUSH_CLOCKED, PUSH_UNCLOCKED};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct moment moment = push_moment_at(1.0);

        /* 60 m and 300 m/s in 0.1 s: 60 m decides. */
        moment.altitude_ft = 3000.0 + 61.0 / 0.3048;
        expect_leap(&moment, kind[i], true);
        moment.altitude_ft = 3000.0 - 59.0 / 0.3048;
        expect_leap(&moment, kind[i], false);
        moment = push_moment_at(1.0);
        moment.heading_deg += 31.0;
        expect_leap(&moment, kind[i], true);
        moment.heading_deg -= 3.0;
        expect_leap(&moment, kind[i], false);
        moment = push_moment_at(1.0);
        moment.bank_deg = -75.0; /* 76 degrees in 0.1 s */
        expect_leap(&moment, kind[i], true);
        moment.bank_deg = -70.0; /* 710 degrees a second: a fast roll */
        expect_leap(&moment, kind[i], false);
    }
}

static void north_is_no_jump(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int i = 0; i < 200; i++) {
        struct moment moment = push_moment_at(0.0);

        /* Right through north, and back left through it. */
        moment.heading_deg = (355 + (i < 100 ? i : 200 - i)) % 360;
        push_expect_taken(&p, i * 100 * MS, &moment);
    }
}

static void a_long_way_in_a_long_gap_is_no_jump(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(20.9);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 30000 * MS);
    push_flight(&p, 0, 1000 * MS);
    moment.altitude_ft = 9000.0;
    moment.heading_deg = 270.0;
    moment.bank_deg = -60.0;
    push_expect_taken(&p, 20900 * MS, &moment);
}

static void a_flight_put_elsewhere_during_a_pause_is_a_jump(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(1.0);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1100 * MS);
    for (int i = 1; i <= 600; i++)
        push(&p, (1000 + i * 100) * MS, &moment);
    moment = push_moment_at(1.1);
    moment.altitude_ft = 5000.0;
    push(&p, 61100 * MS, &moment);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 0, INTAKE_RESUMED, 61000 * MS);
    push_expect_notice(&p, 1, INTAKE_JUMPED, 61100 * MS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_standing_clock_is_a_pause_told_once),
        cmocka_unit_test(a_few_doubles_are_no_pause),
        cmocka_unit_test(a_coarse_clock_is_no_pause),
        cmocka_unit_test(values_that_stand_still_are_a_pause_without_a_clock),
        cmocka_unit_test(a_rare_stream_that_stands_still_is_no_pause),
        cmocka_unit_test(
            level_flight_stands_still_for_longer_before_it_is_a_pause),
        cmocka_unit_test(the_simulator_may_say_that_it_is_paused),
        cmocka_unit_test(a_pause_without_packets_is_a_lost_signal),
        cmocka_unit_test(a_clock_set_back_or_far_ahead_is_a_jump),
        cmocka_unit_test(a_step_no_airplane_can_fly_is_a_jump),
        cmocka_unit_test(north_is_no_jump),
        cmocka_unit_test(a_long_way_in_a_long_gap_is_no_jump),
        cmocka_unit_test(a_flight_put_elsewhere_during_a_pause_is_a_jump),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
