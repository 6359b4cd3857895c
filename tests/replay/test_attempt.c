/* test_attempt.c - the whole of an attempt, as a debrief is given it, against
 * what was flown (truth.h). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "truth.h"

static const char layout[] = "plain-binary";

static const struct debrief_point *first_point(const struct flown *flown)
{
    return &flown->attempt->point[0];
}

static const struct debrief_point *last_point(const struct flown *flown)
{
    return &flown->attempt->point[flown->attempt->point_count - 1];
}

static void assert_in_order(const struct debrief_attempt *attempt)
{
    for (uint32_t i = 1; i < attempt->point_count; i++)
        assert_true(attempt->point[i].t_s > attempt->point[i - 1].t_s);
    for (uint32_t i = 1; i < attempt->event_count; i++)
        assert_true(attempt->event[i].t_s >= attempt->event[i - 1].t_s);
    for (uint32_t i = 1; i < attempt->call_count; i++)
        assert_true(attempt->call[i].onset_s >= attempt->call[i - 1].onset_s);
}

static void the_series_goes_from_the_entry_to_the_end(void **state)
{
    static const char *const flight[] = {"good_left", "good_left_unsteady",
                                         "overshoot", "no_rudder"};
    struct flown flown;
    struct debrief_point at;

    (void)state;
    for (size_t i = 0; i < sizeof flight / sizeof flight[0]; i++) {
        const struct debrief_attempt *attempt;

        flown_recording(&flown, flight[i], layout);
        assert_int_equal(flown.attempt_count, 1);
        attempt = flown.attempt;
        assert_int_equal(attempt->ending, ENDING_FINISHED);
        assert_int_equal(attempt->number, 1);
        assert_int_equal(attempt->direction, -1);
        assert_in_order(attempt);
        /* The last moment before the entry, then all up to the end. */
        assert_near(first_point(&flown)->t_s, -0.02, 0.03);
        assert_near(last_point(&flown)->t_s, attempt->ended_s, 0.05);
        assert_near(attempt->conditions.rate_hz, 60.0, 0.5);
        debrief_point_at(attempt, attempt->ninety_s, &at);
        assert_near(units_deg(at.turn_rad), 90.0, 0.1);
        assert_near(attempt->ninety_s,
                    truth(flight[i], "mark_90") - truth(flight[i], "roll_in"),
                    1.0);
        debrief_point_at(attempt, attempt->level_s, &at);
        assert_near(units_deg(at.turn_rad) - 180.0,
                    units_deg(attempt->summary.heading_error_rad), 0.1);
        assert_near(units_ft(at.altitude_m),
                    truth(flight[i], "entry_altitude") +
                        truth(flight[i], "altitude_gain"),
                    45.0);
        assert_near(units_ft(at.height_m), units_ft(at.altitude_m) - 600.0,
                    1.0);
        flown_free(&flown);
    }
}

/* The same flight, sent with positions by an encoder that is not ours, and
 * without: in calm air dead reckoning must come to the same places. */
static void a_dead_reckoned_track_follows_the_sent_positions(void **state)
{
    static const char *const form[] = {"dis", "mavlink"};
    struct flown sent;
    struct flown reckoned;

    (void)state;
    flown_recording(&reckoned, "good_left", layout);
    assert_false(reckoned.attempt->positions_sent);
    for (size_t k = 0; k < sizeof form / sizeof form[0]; k++) {
        double furthest_m = 0.0;
        char path[64];

        (void)snprintf(path, sizeof path, "tests/wire/%s.pcap", form[k]);
        flown_datagrams(&sent, path, form[k]);
        if (!sent.attempt->positions_sent)
            fail_msg("%s: no positions", form[k]);
        for (uint32_t i = 0; i < sent.attempt->point_count; i++) {
            const struct debrief_point *a = &sent.attempt->point[i];
            struct debrief_point b;

            debrief_point_at(reckoned.attempt, a->t_s, &b);
            furthest_m = fmax(furthest_m, hypot(a->north_m - b.north_m,
                                                a->east_m - b.east_m));
        }
        /* The half circle is more than 800 m across. */
        assert_true(fabs(last_point(&sent)->north_m) > 800.0);
        if (furthest_m > 25.0)
            fail_msg("%s: dead reckoning strays by %.1f m", form[k],
                     furthest_m);
        flown_free(&sent);
    }
    flown_free(&reckoned);
}

static void calls_and_events_of_an_attempt_belong_to_it(void **state)
{
    struct flown flown;
    uint32_t events = 0;
    uint32_t calls = 0;

    (void)state;
    flown_recording(&flown, "no_rudder", layout);
    for (size_t i = 0; i < flown.event_count; i++)
        events += flown.event[i].attempt == 1;
    for (size_t i = 0; i < flown.call_count; i++)
        calls += flown.call[i].attempt == 1;
    assert_true(events > 8 && calls > 3);
    assert_int_equal(flown.attempt->event_count, events);
    assert_int_equal(flown.attempt->call_count, calls);
    for (uint32_t i = 0; i < calls; i++)
        if (flown.attempt->call[i].cue == CUE_NINETY)
            assert_near(units_deg(flown.attempt->call[i].turn_rad), 90.0, 0.5);
    flown_free(&flown);
}

static void an_attempt_that_is_given_up_says_why(void **state)
{
    struct flown flown;

    (void)state;
    flown_recording(&flown, "abandoned", layout);
    assert_int_equal(flown.attempt_count, 1);
    assert_int_equal(flown.attempt->ending, ENDING_ABANDONED);
    assert_int_equal(flown.attempt->reason, REASON_LEVEL_EARLY);
    assert_true(isnan(flown.attempt->ninety_s));
    flown_free(&flown);
    flown_recording(&flown, "stall", layout);
    assert_int_equal(flown.attempt->ending, ENDING_ABANDONED);
    assert_int_equal(flown.attempt->reason, REASON_STALLED);
    flown_free(&flown);
}

static void a_stream_that_ends_in_an_attempt_cuts_it_off(void **state)
{
    struct stream stream;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", layout);
    while (flown_seconds(stream.packet[stream.count - 1].arrival_ns) > 30.0)
        stream.count--;
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown.attempt_count, 1);
    assert_int_equal(flown.attempt->ending, ENDING_CUT_OFF);
    assert_near(flown.attempt->ended_s, 22.0, 1.0);
    flown_free(&flown);
    stream_free(&stream);
}

/* The line to compare with is there without an altitude too; what could be
 * gained is then not known. */
static void an_attempt_comes_with_a_line_to_compare_with(void **state)
{
    struct flown flown;

    (void)state;
    flown_recording(&flown, "good_left", layout);
    assert_true(flown.attempt->has_reference);
    assert_true(flown.attempt->reference.gain_m > 0.0);
    flown_free(&flown);
    flown_recording(&flown, "good_left_basic", "plain-text");
    assert_true(flown.attempt->has_reference);
    assert_true(isnan(flown.attempt->reference.gain_m));
    flown_free(&flown);
}

static void ordinary_flight_holds_no_attempt(void **state)
{
    struct flown flown;

    (void)state;
    flown_recording(&flown, "cruise", layout);
    assert_int_equal(flown.attempt_count, 0);
    flown_free(&flown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_series_goes_from_the_entry_to_the_end),
        cmocka_unit_test(a_dead_reckoned_track_follows_the_sent_positions),
        cmocka_unit_test(calls_and_events_of_an_attempt_belong_to_it),
        cmocka_unit_test(an_attempt_that_is_given_up_says_why),
        cmocka_unit_test(a_stream_that_ends_in_an_attempt_cuts_it_off),
        cmocka_unit_test(an_attempt_comes_with_a_line_to_compare_with),
        cmocka_unit_test(ordinary_flight_holds_no_attempt),
    };

    return cmocka_run_group_tests_name("attempt", tests, truth_load,
                                       truth_free) != 0;
}
