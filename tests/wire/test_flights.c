/* test_flights.c - one flight in every form of packet: the same events. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"

static const char *const layout[] = {
    "plain-text", "plain-binary", "keyed-records", "name-value", "json-object"};

enum { LAYOUTS = sizeof layout / sizeof layout[0] };

/* Seconds between packets. */
#define RECORDED_S 0.05
#define FLOWN_S (1.0 / 60.0)

static void expect_same_events(const struct flown *flown,
                               const struct flown *like, double within_s)
{
    assert_int_equal(flown->event_count, like->event_count);
    for (size_t i = 0; i < like->event_count; i++) {
        const struct maneuver_event *event = &flown->event[i];
        const struct maneuver_event *other = &like->event[i];

        assert_int_equal(event->kind, other->kind);
        assert_near(flown_seconds(event->t_ns), flown_seconds(other->t_ns),
                    within_s);
    }
    assert_int_equal(flown->call_count, like->call_count);
    for (size_t i = 0; i < like->call_count; i++)
        assert_int_equal(flown->call[i].cue, like->call[i].cue);
}

static void every_recording_gives_the_events_of_the_text(void **state)
{
    struct flown like;
    struct flown flown;
    char path[64];

    (void)state;
    flown_recording(&like, "../wire/plain-text", "plain-text");
    assert_int_equal(flown_count(&like, EVENT_FINISHED), 1);
    for (int i = 1; i < LAYOUTS; i++) {
        (void)snprintf(path, sizeof path, "../wire/%s", layout[i]);
        flown_recording(&flown, path, layout[i]);
        expect_same_events(&flown, &like, RECORDED_S);
        flown_free(&flown);
    }
    flown_free(&like);
}

/* The truth of the flight is told in tests/replay/good_left.txt, by the
 * simulation that flew it; the recordings begin 4 s later. */
static void every_recording_agrees_with_the_truth(void **state)
{
    static const struct {
        double deg;
        double t_s;
    } mark[] = {{45.0, 17.04}, {90.0, 23.58}, {135.0, 31.12}, {180.0, 45.55}};
    struct flown flown;
    char path[64];

    (void)state;
    for (int i = 0; i < LAYOUTS; i++) {
        (void)snprintf(path, sizeof path, "../wire/%s", layout[i]);
        flown_recording(&flown, path, layout[i]);
        for (size_t m = 0; m < sizeof mark / sizeof mark[0]; m++) {
            const struct maneuver_event *event =
                flown_mark(&flown, 1, mark[m].deg);

            assert_non_null(event);
            assert_near(flown_seconds(event->t_ns), mark[m].t_s - 4.0,
                        RECORDED_S);
        }
        flown_free(&flown);
    }
}

static void a_whole_flight_is_the_same_in_every_form(void **state)
{
    struct stream stream;
    struct flown like;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", "plain-binary");
    flown_fly(&like, &stream, "plain-binary", 0);
    for (int i = 0; i < LAYOUTS; i++) {
        flown_fly(&flown, &stream, layout[i], 0);
        expect_same_events(&flown, &like, FLOWN_S);
        flown_free(&flown);
    }
    flown_free(&like);
    stream_free(&stream);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_recording_gives_the_events_of_the_text),
        cmocka_unit_test(every_recording_agrees_with_the_truth),
        cmocka_unit_test(a_whole_flight_is_the_same_in_every_form),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
