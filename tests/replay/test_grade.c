/* test_grade.c - grades of the independent flights: what was planted is found,
 * what was flown well is not blamed. Each .txt beside a recording tells what
 * is wrong with its flight. */
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
static const double rates_hz[] = {60.0, 20.0, 10.0};

static const struct debrief_item *find(const struct debrief_grade *grade,
                                       const char *name)
{
    for (uint32_t i = 0; i < grade->item_count; i++)
        if (strcmp(grade->item[i].item, name) == 0)
            return &grade->item[i];
    fail_msg("no item %s", name);
    return NULL;
}

static void fly(struct flown *flown, const char *flight, double rate_hz,
                bool mirrored)
{
    struct stream stream;

    stream_load(&stream, flight, layout);
    stream_thin(&stream, rate_hz);
    if (mirrored)
        stream_mirror(&stream);
    flown_fly(flown, &stream, layout, 0);
    assert_int_equal(flown->attempt_count, 1);
    stream_free(&stream);
}

static bool listed(const char *item, const char *const *list)
{
    for (; *list != NULL; list++)
        if (strcmp(item, *list) == 0)
            return true;
    return false;
}

/* These items, and no others, are missed: at each rate, to both sides. */
static void assert_missed(const char *flight, const char *const *items)
{
    for (int i = 0; i < 6; i++) {
        double rate_hz = rates_hz[i % 3];
        const struct debrief_grade *grade;
        struct flown flown;

        fly(&flown, flight, rate_hz, i >= 3);
        grade = &flown.attempt->grade;
        for (uint32_t k = 0; k < grade->item_count; k++) {
            const struct debrief_item *item = &grade->item[k];

            if (listed(item->item, items) != (item->verdict == VERDICT_MISSED))
                fail_msg("%s at %.0f Hz%s: %s is %s: %.2f %s", flight, rate_hz,
                         i >= 3 ? ", mirrored" : "", item->item,
                         debrief_verdict_name(item->verdict), item->flown,
                         item->unit);
            assert_int_equal(item->lesson != NULL,
                             item->verdict == VERDICT_MISSED);
        }
        flown_free(&flown);
    }
}

static void good_flights_are_in_standard(void **state)
{
    static const char *const none[] = {NULL};
    static const char *const information[] = {"least stall margin",
                                              "altitude gained", NULL};
    static const char *const flight[] = {"good_left", "good_left_unsteady"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct flown flown;

        assert_missed(flight[i], none);
        fly(&flown, flight[i], 60.0, false);
        assert_int_equal(flown.attempt->grade.verdict, VERDICT_IN_STANDARD);
        /* All channels are there, so that all is judged that can be. */
        for (uint32_t k = 0; k < flown.attempt->grade.item_count; k++) {
            const struct debrief_item *item = &flown.attempt->grade.item[k];

            if (item->verdict != VERDICT_IN_STANDARD &&
                !listed(item->item, information))
                fail_msg("%s is %s", item->item,
                         debrief_verdict_name(item->verdict));
        }
        flown_free(&flown);
    }
}

static void each_planted_fault_is_found(void **state)
{
    static const char *const overshoot[] = {"heading error at level", NULL};
    static const char *const no_rudder[] = {"ball out", NULL};
    static const char *const abandoned[] = {NULL};
    /* Pulled up to 28 degrees at 65 degrees of turn, and stalled. */
    static const char *const stall[] = {"pitch rise to 90",
                                        "highest pitch reached at",
                                        "highest pitch", "time stalled", NULL};

    (void)state;
    assert_missed("overshoot", overshoot);
    assert_missed("no_rudder", no_rudder);
    assert_missed("abandoned", abandoned);
    assert_missed("stall", stall);
}

/* Half of it or twice as much is allowed: what was flown stays what it was. */
static void what_was_flown_does_not_depend_on_the_tolerances(void **state)
{
    static const char *const flight[] = {"good_left", "overshoot", "stall"};
    static const double part[] = {0.5, 2.0};

    (void)state;
    for (size_t i = 0; i < sizeof flight / sizeof flight[0]; i++) {
        struct flown flown;

        fly(&flown, flight[i], 60.0, false);
        for (size_t k = 0; k < sizeof part / sizeof part[0]; k++) {
            struct debrief_grade other;
            struct maneuver_standard *by = &flown.attempt->standard;

            by->bank_tolerance_rad *= part[k];
            by->pitch_tolerance_rad *= part[k];
            by->pitch_rise_tolerance_rad *= part[k];
            by->pitch_peak_tolerance_rad *= part[k];
            by->roll_out_tolerance_rad *= part[k];
            by->heading_tolerance_rad *= part[k];
            debrief_grade(flown.attempt, &other);
            assert_int_equal(other.item_count, flown.attempt->grade.item_count);
            for (uint32_t n = 0; n < other.item_count; n++)
                assert_memory_equal(&other.item[n].flown,
                                    &flown.attempt->grade.item[n].flown,
                                    sizeof(double));
        }
        flown_free(&flown);
    }
}

static void an_abandoned_flight_is_not_in_standard(void **state)
{
    struct flown flown;

    (void)state;
    fly(&flown, "abandoned", 60.0, false);
    assert_int_equal(flown.attempt->grade.verdict, VERDICT_NOT_JUDGED);
    assert_int_equal(
        find(&flown.attempt->grade, "heading error at level")->verdict,
        VERDICT_NOT_JUDGED);
    flown_free(&flown);
}

/* The truth was taken from the simulation at 120 Hz, unfiltered. */
static void figures_are_those_that_were_flown(void **state)
{
    static const char *const flight[] = {"good_left", "overshoot", "no_rudder"};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        const char *name = flight[i];
        const struct debrief_grade *grade;
        struct flown flown;

        fly(&flown, name, 60.0, false);
        grade = &flown.attempt->grade;
        assert_near(find(grade, "entry speed")->flown,
                    truth(name, "entry_speed"), 0.2);
        assert_near(find(grade, "bank to 90")->flown,
                    truth(name, "bank_greatest"), 0.3);
        assert_near(find(grade, "highest pitch")->flown,
                    truth(name, "highest_pitch"), 0.2);
        assert_near(find(grade, "heading error at level")->flown,
                    truth(name, "heading_error"), 1.0);
        assert_near(find(grade, "altitude gained")->flown,
                    truth(name, "altitude_gain"), 15.0);
        /* The autopilot begins its roll-out at the 90-degree point. */
        assert_near(find(grade, "roll-out begun at")->flown, 90.0, 1.0);
        assert_near(find(grade, "least height")->flown,
                    truth(name, "entry_altitude") - 600.0, 10.0);
        flown_free(&flown);
    }
}

static void what_is_not_sent_is_not_judged(void **state)
{
    static const char *const item[] = {"least height", "ball out",
                                       "altitude after level"};
    struct flown flown;

    (void)state;
    flown_recording(&flown, "good_left_basic", "plain-text");
    assert_int_equal(flown.attempt->grade.verdict, VERDICT_IN_STANDARD);
    for (size_t i = 0; i < sizeof item / sizeof item[0]; i++)
        assert_int_equal(find(&flown.attempt->grade, item[i])->verdict,
                         VERDICT_NOT_JUDGED);
    flown_free(&flown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_flights_are_in_standard),
        cmocka_unit_test(each_planted_fault_is_found),
        cmocka_unit_test(what_was_flown_does_not_depend_on_the_tolerances),
        cmocka_unit_test(an_abandoned_flight_is_not_in_standard),
        cmocka_unit_test(figures_are_those_that_were_flown),
        cmocka_unit_test(what_is_not_sent_is_not_judged),
    };

    return cmocka_run_group_tests_name("grade", tests, truth_load,
                                       truth_free) != 0;
}
