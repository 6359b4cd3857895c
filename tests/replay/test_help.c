/* test_help.c - flights flown with each amount of help. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"

static const char layout[] = "plain-binary";

/* Recordings one after the other, as an evening of practice. */
static void fly(struct flown *flown, const char *const *flights,
                enum callout_help help)
{
    struct stream all = {0};

    for (; *flights != NULL; flights++) {
        struct stream one;

        stream_load(&one, *flights, layout);
        stream_join(&all, &one, 2.0);
        stream_free(&one);
    }
    flown_fly_helped(flown, &all, layout, help);
    stream_free(&all);
}

static size_t calls_in(const struct flown *flown, uint32_t attempt,
                       enum callout_cue cue)
{
    size_t count = 0;

    for (size_t i = 0; i < flown->call_count; i++)
        count += flown->call[i].attempt == attempt && flown->call[i].cue == cue;
    return count;
}

static void help_fades_over_good_attempts(void **state)
{
    static const char *const flights[] = {"good_left", "good_left", "good_left",
                                          "good_left", "good_left", "good_left",
                                          "good_left", "good_left", NULL};
    static const size_t said[] = {1, 1, 0, 1, 0, 1, 0, 0};
    struct flown flown;

    (void)state;
    fly(&flown, flights, HELP_FADING);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 8);
    for (uint32_t i = 0; i < 8; i++) {
        assert_int_equal(calls_in(&flown, i + 1, CUE_NINETY), said[i]);
        assert_int_equal(calls_in(&flown, i + 1, CUE_TEN_TO_GO), said[i]);
        assert_int_equal(calls_in(&flown, i + 1, CUE_WINGS_LEVEL), said[i]);
        assert_int_equal(calls_in(&flown, i + 1, CUE_RESULT), 1);
    }
    /* Every topic is judged by some item of the grade, and so fades. */
    assert_non_null(strstr(flown.lines,
                           "\"event\":\"help\",\"level\":\"fading\",\"silent\":"
                           "[\"bank\",\"pitch\",\"turn\",\"altitude\","
                           "\"ball\"]}"));
    /* The tone stays. */
    assert_true(flown.tone_count >= 8);
    flown_free(&flown);
}

/* Overshoot ends 22 degrees off its heading (overshoot.txt). */
static void a_missed_item_brings_back_its_own_help(void **state)
{
    static const char *const flights[] = {"good_left", "good_left", "overshoot",
                                          "good_left", NULL};
    struct flown flown;

    (void)state;
    fly(&flown, flights, HELP_FADING);
    assert_int_equal(calls_in(&flown, 3, CUE_NINETY), 0);
    assert_int_equal(calls_in(&flown, 4, CUE_NINETY), 1);
    flown_free(&flown);
}

static void summary_says_result_and_verdict_and_nothing_else(void **state)
{
    static const char *const flights[] = {"good_left", "stall", NULL};
    struct flown flown;

    (void)state;
    fly(&flown, flights, HELP_SUMMARY);
    assert_int_equal(flown.tone_count, 0);
    assert_int_equal(flown.call_count, 3);
    assert_int_equal(flown.call[0].cue, CUE_RESULT);
    assert_int_equal(flown.call[1].cue, CUE_VERDICT);
    assert_string_equal(flown.call[1].text, "in standard");
    /* That of one who stalled and gave up, when it is over. */
    assert_int_equal(flown.call[2].cue, CUE_VERDICT);
    assert_string_equal(flown.call[2].text, "not in standard");
    assert_string_equal(flown.call[0].text,
                        "heading zero; gained seven five zero feet; four "
                        "above the stall");
    assert_true(flown.call[0].onset_ns >=
                flown_event(&flown, EVENT_WINGS_LEVEL, 0)->t_ns);
    flown_free(&flown);
}

static void warnings_leave_the_stall_and_its_tone(void **state)
{
    static const char *const flights[] = {"no_rudder", "stall", NULL};
    struct flown flown;

    (void)state;
    fly(&flown, flights, HELP_WARNINGS);
    assert_non_null(flown_call(&flown, CUE_STALL, 0));
    assert_true(flown.tone_count > 0);
    for (size_t i = 0; i < flown.call_count; i++)
        assert_true(flown.call[i].cue == CUE_STALL ||
                    flown.call[i].cue == CUE_PITCH_LIMIT);
    flown_free(&flown);
}

/* What is said changes with the help; what was flown does not. */
static void the_same_flight_is_seen_with_every_amount_of_help(void **state)
{
    static const char *const flights[] = {"overshoot", "good_left", NULL};
    struct flown full;

    (void)state;
    fly(&full, flights, HELP_FULL);
    assert_null(strstr(full.lines, "\"event\":\"help\""));
    for (int i = HELP_FULL + 1; i < HELP_COUNT; i++) {
        struct flown flown;

        fly(&flown, flights, (enum callout_help)i);
        assert_int_equal(flown.event_count, full.event_count);
        for (size_t k = 0; k < full.event_count; k++) {
            assert_int_equal(flown.event[k].kind, full.event[k].kind);
            assert_int_equal(flown.event[k].t_ns, full.event[k].t_ns);
        }
        assert_true(flown.call_count <= full.call_count);
        flown_free(&flown);
    }
    flown_free(&full);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(help_fades_over_good_attempts),
        cmocka_unit_test(a_missed_item_brings_back_its_own_help),
        cmocka_unit_test(summary_says_result_and_verdict_and_nothing_else),
        cmocka_unit_test(warnings_leave_the_stall_and_its_tone),
        cmocka_unit_test(the_same_flight_is_seen_with_every_amount_of_help),
    };

    return cmocka_run_group_tests_name("replay: help", tests, NULL, NULL) != 0;
}
