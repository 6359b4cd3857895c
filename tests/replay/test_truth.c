/* test_truth.c - what a replay tells against what was flown.
 *
 * The flights come from a six-degree-of-freedom flight-dynamics simulation
 * that knows nothing of this project; truth.tsv holds what it did, and the
 * .txt beside each recording says where it comes from. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "truth.h"

/* ---- a flight that is finished
 * ----------------------------------------------- */

static void assert_finished_as(const struct flown *flown, const char *flight)
{
    const struct maneuver_event *level =
        flown_event(flown, EVENT_WINGS_LEVEL, 0);

    assert_int_equal(flown_count(flown, EVENT_ENTRY), 1);
    assert_int_equal(flown_count(flown, EVENT_WINGS_LEVEL), 1);
    assert_int_equal(flown_count(flown, EVENT_FINISHED), 1);
    assert_int_equal(flown_count(flown, EVENT_ABANDONED), 0);
    assert_int_equal(flown_count(flown, EVENT_STALL), 0);
    assert_int_equal(level->direction, lround(truth(flight, "direction")));
    assert_near(units_deg(level->angle_rad), truth(flight, "heading_error"),
                1.0);
    assert_near(units_ft(level->length_m), truth(flight, "altitude_gain"),
                20.0);
    assert_near(units_kt(flown->summary.least_margin_mps),
                truth(flight, "least_margin"), 1.5);
}

static void assert_ninety_as(const struct flown *flown, const char *flight,
                             double within_s)
{
    const struct maneuver_event *ninety = flown_mark(flown, 1, 90.0);
    double turned_deg;

    assert_non_null(ninety);
    assert_near(flown_seconds(ninety->t_ns), truth(flight, "mark_90"),
                within_s);
    /* The heading at that instant, against the true one a quarter on. */
    turned_deg = ninety->direction * (units_deg(ninety->heading_rad) -
                                      truth(flight, "entry_heading"));
    assert_near_deg(turned_deg, 90.0, 0.5);
}

static void assert_marks_as(const struct flown *flown, const char *flight)
{
    static const int mark_deg[] = {45, 90, 135, 170};

    for (size_t i = 0; i < sizeof mark_deg / sizeof mark_deg[0]; i++) {
        const struct maneuver_event *mark = flown_mark(flown, 1, mark_deg[i]);
        char name[16];

        (void)snprintf(name, sizeof name, "mark_%d", mark_deg[i]);
        assert_non_null(mark);
        assert_near(flown_seconds(mark->t_ns), truth(flight, name), 0.05);
    }
}

static void good_left_agrees_as_it_was_recorded(void **state)
{
    static const char *const form[][2] = {{"good_left", "plain-binary"},
                                          {"good_left_text", "plain-text"}};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct flown flown;

        flown_recording(&flown, form[i][0], form[i][1]);
        assert_finished_as(&flown, "good_left");
        assert_ninety_as(&flown, "good_left", 0.05);
        assert_marks_as(&flown, "good_left");
        flown_free(&flown);
    }
}

/* Six columns of text: time, heading, pitch, bank and two airspeeds. Nothing
 * tells the altitude, so nothing is said of it; the rest is the same. */
static void good_left_is_followed_without_any_altitude(void **state)
{
    struct flown flown;
    const struct maneuver_event *level;

    (void)state;
    flown_recording(&flown, "good_left_basic", "plain-text");
    assert_ninety_as(&flown, "good_left", 0.05);
    assert_marks_as(&flown, "good_left");
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
    level = flown_event(&flown, EVENT_WINGS_LEVEL, 0);
    assert_non_null(level);
    assert_near(units_deg(level->angle_rad),
                truth("good_left", "heading_error"), 1.0);
    assert_true(isnan(level->length_m));
    assert_near(units_kt(flown.summary.least_margin_mps),
                truth("good_left", "least_margin"), 1.5);
    assert_null(strstr(flown_call(&flown, CUE_RESULT, 0)->text, "feet"));
    flown_free(&flown);
}

/* Rates, jitter and loss. At 5 Hz a crossing lies between two packets that are
 * 0.2 s apart; it is found all the same. */
static void good_left_agrees_at_every_rate_with_jitter_and_loss(void **state)
{
    static const double rate_hz[] = {5.0, 20.0, 30.0, 60.0};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        for (unsigned seed = 0; seed < 8; seed++) {
            struct stream stream;
            struct flown flown;

            stream_load(&stream, "good_left", "plain-binary");
            stream_thin(&stream, rate_hz[i]);
            if (seed > 0) {
                stream_lose(&stream, 0.05, seed);
                stream_jitter(&stream, 0.02, seed + 100);
            }
            flown_fly(&flown, &stream, "plain-binary", 0);
            assert_finished_as(&flown, "good_left");
            assert_ninety_as(&flown, "good_left", 0.05);
            flown_free(&flown);
            stream_free(&stream);
        }
    }
}

/* Without the simulator's own time, arrivals are all there is. */
static void good_left_agrees_on_arrival_times_alone(void **state)
{
    static const double rate_hz[] = {20.0, 30.0, 60.0};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        for (unsigned seed = 1; seed < 8; seed++) {
            struct stream stream;
            struct flown flown;

            stream_load(&stream, "good_left", "plain-binary");
            stream_keep_channels(&stream, ~CHANNEL_BIT(CHANNEL_SIM_TIME));
            stream_thin(&stream, rate_hz[i]);
            stream_lose(&stream, 0.05, seed);
            stream_jitter(&stream, 0.02, seed + 100);
            flown_fly(&flown, &stream, "plain-binary", 0);
            assert_finished_as(&flown, "good_left");
            assert_ninety_as(&flown, "good_left", 0.05);
            flown_free(&flown);
            stream_free(&stream);
        }
    }
}

/* With nothing but the six channels every simulator has, load factor and
 * margin come from the flight path. */
static void least_channels_give_the_same_margin(void **state)
{
    struct stream stream;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", "plain-binary");
    stream_keep_channels(&stream, CHANNELS_REQUIRED |
                                      CHANNEL_BIT(CHANNEL_SIM_TIME) |
                                      CHANNEL_BIT(CHANNEL_ALTITUDE));
    stream_thin(&stream, 20.0);
    flown_fly(&flown, &stream, "plain-binary", 0);
    assert_finished_as(&flown, "good_left");
    flown_free(&flown);
    stream_free(&stream);
}

static void overshoot_is_told_to_the_degree(void **state)
{
    struct flown flown;

    (void)state;
    flown_recording(&flown, "overshoot", "plain-binary");
    assert_finished_as(&flown, "overshoot");
    assert_non_null(flown_call(&flown, CUE_ROLL_FASTER, 0));
    assert_null(flown_call(&flown, CUE_ROLL_SLOWER, 0));
    flown_free(&flown);
}

static void rudder_flight_is_followed_and_its_ball_is_out(void **state)
{
    struct flown flown;
    const struct maneuver_event *ball;

    (void)state;
    flown_recording(&flown, "no_rudder", "plain-binary");
    assert_finished_as(&flown, "no_rudder");
    assert_marks_as(&flown, "no_rudder");
    ball = flown_event(&flown, EVENT_BALL, 0);
    assert_non_null(ball);
    /* Force toward the right wing: the ball goes to the left. */
    assert_int_equal(ball->side, -1);
    /* In the climb it is the other way round, and there it is spoken. */
    assert_non_null(flown_call(&flown, CUE_RIGHT_RUDDER, 0));
    assert_null(flown_call(&flown, CUE_LEFT_RUDDER, 0));
    flown_free(&flown);
}

/* The hand wobbles: |bank| first gets below 2 degrees at 45.46 s, comes up to
 * 4 again, and the nose is let down from 47.2 s on. Level and staying level is
 * what follows that. */
static void unsteady_flight_is_level_once_and_at_its_end(void **state)
{
    struct flown flown;
    const struct maneuver_event *level;

    (void)state;
    flown_recording(&flown, "good_left_unsteady", "plain-binary");
    assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
    assert_int_equal(flown_count(&flown, EVENT_WINGS_LEVEL), 1);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
    level = flown_event(&flown, EVENT_WINGS_LEVEL, 0);
    assert_in_range(lround(flown_seconds(level->t_ns) * 1000), 47240, 49500);
    assert_int_equal(flown.grade.verdict, VERDICT_IN_STANDARD);
    assert_null(flown_call(&flown, CUE_ROLL_FASTER, 0));
    assert_null(flown_call(&flown, CUE_ROLL_SLOWER, 0));
    flown_free(&flown);
}

static void assert_stall_told(const struct flown *flown)
{
    const struct maneuver_event *stall = flown_event(flown, EVENT_STALL, 0);
    const struct callout_call *call = flown_call(flown, CUE_STALL, 0);

    assert_int_equal(flown_count(flown, EVENT_STALL), 1);
    assert_near(flown_seconds(stall->t_ns), truth("stall", "stall"), 1.0);
    assert_non_null(call);
    assert_near(flown_seconds(call->onset_ns), flown_seconds(stall->t_ns),
                0.25);
    assert_int_equal(flown_count(flown, EVENT_WINGS_LEVEL), 0);
    assert_int_equal(flown_count(flown, EVENT_ABANDONED), 1);
    assert_int_equal(flown_event(flown, EVENT_ABANDONED, 0)->reason,
                     REASON_STALLED);
}

static void stall_is_told_within_a_second(void **state)
{
    static const double rate_hz[] = {60.0, 20.0, 5.0};
    const uint32_t basic = CHANNELS_REQUIRED | CHANNEL_BIT(CHANNEL_SIM_TIME) |
                           CHANNEL_BIT(CHANNEL_ALTITUDE);

    (void)state;
    for (size_t i = 0; i < 6; i++) {
        struct stream stream;
        struct flown flown;

        stream_load(&stream, "stall", "plain-binary");
        stream_thin(&stream, rate_hz[i % 3]);
        /* The second time from the flight path alone. */
        if (i >= 3)
            stream_keep_channels(&stream, basic);
        flown_fly(&flown, &stream, "plain-binary", 0);
        assert_stall_told(&flown);
        assert_non_null(flown_call(&flown, CUE_PITCH_LIMIT, 0));
        flown_free(&flown);
        stream_free(&stream);
    }
}

static void abandoned_flight_is_given_up_once(void **state)
{
    struct flown flown;

    (void)state;
    flown_recording(&flown, "abandoned", "plain-binary");
    assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
    assert_int_equal(flown_count(&flown, EVENT_ABANDONED), 1);
    assert_int_equal(flown_count(&flown, EVENT_WINGS_LEVEL), 0);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 0);
    flown_free(&flown);
}

/* Nine minutes of ordinary flight, a full-power climbing 180 at 20 degrees of
 * bank and a level 180 at 30 degrees among it. */
static void ordinary_flight_stays_silent(void **state)
{
    static const double rate_hz[] = {20.0, 10.0, 5.0};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        for (int mirrored = 0; mirrored < 2; mirrored++) {
            struct stream stream;
            struct flown flown;

            stream_load(&stream, "cruise", "plain-binary");
            stream_thin(&stream, rate_hz[i]);
            if (mirrored)
                stream_mirror(&stream);
            flown_fly(&flown, &stream, "plain-binary", 0);
            assert_int_equal(flown_count(&flown, EVENT_ENTRY), 0);
            assert_int_equal(flown_count(&flown, EVENT_NOT_BEGUN), 0);
            assert_int_equal(flown.call_count, 0);
            assert_int_equal(flown.tone_count, 0);
            assert_true(flown_count(&flown, EVENT_READY) > 0);
            flown_free(&flown);
            stream_free(&stream);
        }
    }
}

/* The first sample of "ninety" against the true crossing. */
static void ninety_is_planned_onto_the_true_crossing(void **state)
{
    (void)state;
    for (unsigned seed = 1; seed <= 20; seed++) {
        struct stream stream;
        struct flown flown;
        const struct callout_call *call;
        double rate_hz = seed % 2 ? 20.0 : 60.0;

        stream_load(&stream, "good_left", "plain-binary");
        stream_thin(&stream, rate_hz);
        stream_lose(&stream, 0.02, seed);
        stream_jitter(&stream, 0.02, seed + 50);
        flown_fly(&flown, &stream, "plain-binary", 0);
        call = flown_call(&flown, CUE_NINETY, 0);
        assert_non_null(call);
        assert_near(flown_seconds(call->onset_ns),
                    truth("good_left", "mark_90"), 0.015);
        assert_null(flown_call(&flown, CUE_NINETY, 1));
        flown_free(&flown);
        stream_free(&stream);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_left_agrees_as_it_was_recorded),
        cmocka_unit_test(good_left_is_followed_without_any_altitude),
        cmocka_unit_test(good_left_agrees_at_every_rate_with_jitter_and_loss),
        cmocka_unit_test(good_left_agrees_on_arrival_times_alone),
        cmocka_unit_test(least_channels_give_the_same_margin),
        cmocka_unit_test(overshoot_is_told_to_the_degree),
        cmocka_unit_test(rudder_flight_is_followed_and_its_ball_is_out),
        cmocka_unit_test(unsteady_flight_is_level_once_and_at_its_end),
        cmocka_unit_test(stall_is_told_within_a_second),
        cmocka_unit_test(abandoned_flight_is_given_up_once),
        cmocka_unit_test(ordinary_flight_stays_silent),
        cmocka_unit_test(ninety_is_planned_onto_the_true_crossing),
    };

    return cmocka_run_group_tests_name("replay: truth", tests, truth_load,
                                       truth_free) != 0;
}
