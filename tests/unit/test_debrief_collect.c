/* test_debrief_collect.c - an attempt put together: bounds, names, notes. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

static struct debrief_collector *collector;

static int set_up(void **state)
{
    (void)state;
    collector = malloc(sizeof *collector);
    return collector == NULL;
}

static int tear_down(void **state)
{
    (void)state;
    free(collector);
    return 0;
}

static const struct flight_aircraft aircraft = {.weight_kg = 1000.0,
                                                .max_weight_kg = 1000.0};
static const struct maneuver_standard standard = {.name = "test"};
static const struct maneuver_summary summary = {.entry_heading_rad = 1.0};

/* Level flight that turns by a hundredth of a radian each second. */
static void push(double t_s)
{
    const struct intake_sample sample = {.valid = 0};
    struct flight_state state = {.t_ns = (int64_t)(t_s * 1e9),
                                 .heading = {1.0 + 0.01 * t_s, 0.01, 0.0},
                                 .tas_mps = 50.0};

    debrief_collect_state(collector, &state, &sample, INT64_C(5000000000));
}

static void tell(enum maneuver_event_kind kind, double t_s)
{
    const struct maneuver_event event = {.kind = kind,
                                         .t_ns = (int64_t)(t_s * 1e9),
                                         .attempt = 1,
                                         .direction = 1};

    debrief_collect_event(collector, &event, &summary);
}

static void begin(const char *person)
{
    debrief_collect_init(collector, &standard, &aircraft, person);
    push(0.0);
    tell(EVENT_ENTRY, 0.0);
}

static void a_long_series_is_thinned_evenly(void **state)
{
    const struct debrief_attempt *attempt;
    double step_s;

    (void)state;
    begin(NULL);
    for (int i = 1; i <= 600 * 120; i++)
        push(i / 120.0);
    tell(EVENT_FINISHED, 600.0);
    attempt = debrief_collect_take(collector);
    assert_non_null(attempt);
    assert_null(debrief_collect_take(collector));
    assert_in_range(attempt->point_count, DEBRIEF_MAX_POINTS / 3,
                    DEBRIEF_MAX_POINTS);
    step_s = attempt->point[1].t_s - attempt->point[0].t_s;
    for (uint32_t i = 1; i < attempt->point_count; i++)
        assert_near(attempt->point[i].t_s - attempt->point[i - 1].t_s, step_s,
                    0.06);
    assert_near(attempt->point[attempt->point_count - 1].t_s, 600.0, 0.5);
    assert_near(attempt->conditions.rate_hz, 120.0, 0.1);
    assert_int_equal(attempt->begun_unix_ns, INT64_C(5000000000));
    /* Nothing of what was left out is missing in the track: a turn of 6 rad
     * at 0.01 rad/s and 50 m/s is a circle of 5 km radius. */
    assert_near(attempt->point[attempt->point_count - 1].north_m,
                5000.0 * (sin(7.0) - sin(1.0)), 15.0);
    assert_near(attempt->point[attempt->point_count - 1].east_m,
                5000.0 * (cos(1.0) - cos(7.0)), 15.0);
}

static void too_many_events_are_left_out_and_counted(void **state)
{
    const struct debrief_attempt *attempt;
    struct callout_call call = {.attempt = 1, .text = "ninety"};

    (void)state;
    begin(NULL);
    for (int i = 0; i < 2 * DEBRIEF_MAX_EVENTS; i++) {
        push(1.0 + i);
        tell(EVENT_NEAR_STALL, 1.0 + i);
        debrief_collect_call(collector, &call, i, i);
    }
    tell(EVENT_FINISHED, 2000.0);
    attempt = debrief_collect_take(collector);
    assert_int_equal(attempt->event_count, DEBRIEF_MAX_EVENTS);
    /* The entry and the end are events too. */
    assert_int_equal(attempt->events_left_out, DEBRIEF_MAX_EVENTS + 2);
    assert_int_equal(attempt->call_count, DEBRIEF_MAX_CALLS);
    assert_int_equal(attempt->calls_left_out,
                     2 * DEBRIEF_MAX_EVENTS - DEBRIEF_MAX_CALLS);
    assert_int_equal(attempt->ending, ENDING_FINISHED);
}

static void notes_belong_to_an_attempt(void **state)
{
    (void)state;
    debrief_collect_init(collector, &standard, &aircraft, NULL);
    push(0.0);
    assert_int_equal(debrief_collect_note(collector, -1, "early"), ERR_ABSENT);
    tell(EVENT_ENTRY, 0.0);
    push(10.0);
    assert_int_equal(
        debrief_collect_note(collector, 5 * UNITS_NS_PER_S, "look out"), 0);
    assert_string_equal(collector->attempt.note[0].text, "look out");
    for (int i = 1; i < DEBRIEF_MAX_NOTES; i++)
        assert_int_equal(debrief_collect_note(collector, 0, "more"), 0);
    assert_int_equal(debrief_collect_note(collector, 0, "more"), ERR_FULL);
    tell(EVENT_FINISHED, 10.0);
    assert_near(debrief_collect_take(collector)->note[0].turn_rad, 0.05, 1e-9);
}

/* An attempt is known only some seconds after its entry. */
static void a_note_made_since_the_entry_is_in_the_attempt(void **state)
{
    const struct debrief_attempt *attempt;

    (void)state;
    debrief_collect_init(collector, &standard, &aircraft, NULL);
    for (int i = 0; i <= 20; i++)
        push(i);
    for (int i = 0; i < DEBRIEF_MAX_NOTES; i++)
        (void)debrief_collect_note(collector, i, "before");
    assert_int_equal(
        debrief_collect_note(collector, 12 * UNITS_NS_PER_S, "at the entry"),
        ERR_ABSENT);
    assert_int_equal(
        debrief_collect_note(collector, 15 * UNITS_NS_PER_S, "rolling in"),
        ERR_ABSENT);
    tell(EVENT_ENTRY, 12.0);
    assert_int_equal(
        debrief_collect_note(collector, 20 * UNITS_NS_PER_S, "known"), 0);
    tell(EVENT_FINISHED, 20.0);
    attempt = debrief_collect_take(collector);
    assert_int_equal(attempt->note_count, 3);
    assert_string_equal(attempt->note[0].text, "at the entry");
    assert_near(attempt->note[0].t_s, 0.0, 1e-9);
    assert_string_equal(attempt->note[1].text, "rolling in");
    assert_near(attempt->note[1].t_s, 3.0, 1e-9);
    assert_near(attempt->note[1].turn_rad, 0.15, 1e-9);
    assert_string_equal(attempt->note[2].text, "known");
    /* And in no other. */
    push(30.0);
    tell(EVENT_ENTRY, 30.0);
    tell(EVENT_FINISHED, 30.0);
    assert_int_equal(debrief_collect_take(collector)->note_count, 0);
}

static void copy(const char *text, size_t size, const char *expected)
{
    char out[64];

    memset(out, 'x', sizeof out);
    debrief_copy_text(text, out, size);
    assert_string_equal(out, expected);
}

/* The invalid sequences are those that RFC 3629 names in sections 3, 4 and
 * 10. */
static void names_stay_text(void **state)
{
    (void)state;
    copy(NULL, 64, "");
    copy("<script>", 64, "<script>");
    copy("Zo\xc3\xab \xe2\x9c\x88 \xf0\x9f\x9b\xa9", 64,
         "Zo\xc3\xab \xe2\x9c\x88 \xf0\x9f\x9b\xa9");
    copy("a\tb\x1b[1m\x7f\xc2\x85", 64, "a?b?[1m??");
    copy("\xc0\x80|\xed\xa0\x80|\xf4\x90\x80\x80|\xe2\x9c", 64,
         "??|???|????|??");
    /* Cut at a whole character. */
    copy("ab\xe2\x9c\x88", 5, "ab");
    copy("ab\xe2\x9c\x88", 6, "ab\xe2\x9c\x88");
    begin("\xe2\x9c\x88");
    assert_string_equal(collector->attempt.person, "\xe2\x9c\x88");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_long_series_is_thinned_evenly, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(
            too_many_events_are_left_out_and_counted, set_up, tear_down),
        cmocka_unit_test_setup_teardown(notes_belong_to_an_attempt, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(
            a_note_made_since_the_entry_is_in_the_attempt, set_up, tear_down),
        cmocka_unit_test_setup_teardown(names_stay_text, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("debrief_collect", tests, NULL, NULL) !=
           0;
}
