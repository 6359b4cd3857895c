/* test_rehearsed_forms.c - one rehearsed flight sent in every form, at several
 * rates: the same events. */
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
#include "quarterturn/rehearse.h"

/* Of one flight in two forms, events may be this or an interval apart, as for
 * the recorded flight in the open standards. */
#define APART_S 0.05
/* Advice about the roll-out is thought of ten times a second, and given after
 * twenty times: a microsecond more or less may put each off, and so behind an
 * event of another kind that lies near. */
#define ADVICE_APART_S 0.35

static const char *const form[] = {"plain-text",  "keyed-records", "name-value",
                                   "json-object", "nmea",          "dis",
                                   "mavlink"};

enum { FORMS = sizeof form / sizeof form[0] };

static void rehearse(enum rehearse_error error, double rate_hz,
                     struct stream *stream)
{
    static struct rehearse rehearse;
    static struct settings settings;
    const struct settings_choice choice = {.aircraft = "club-trainer"};
    struct rehearse_plan plan;
    char why[600] = "";

    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    rehearse_plan_init(&plan, &settings.aircraft);
    if (error < REHEARSE_ERRORS)
        plan.size[error] =
            units_to_internal(rehearse_error_about(error)->unit,
                              rehearse_error_about(error)->usual);
    memset(stream, 0, sizeof *stream);
    if (rehearse_begin(&rehearse, &plan, why, sizeof why) != 0)
        fail_msg("%s", why);
    for (int i = 0; rehearse.phase != REHEARSE_OVER; i++) {
        struct stream_packet packet;

        rehearse_fly(&rehearse, i / rate_hz);
        rehearse_sample(&rehearse, i / rate_hz, &packet.sample);
        packet.arrival_ns = packet.sample.t_ns;
        stream_append(stream, &packet);
    }
}

/* How many of its kind come before event i. */
static size_t nth_of_kind(const struct flown *flown, size_t i)
{
    size_t count = 0;

    for (size_t k = 0; k < i; k++)
        count += flown->event[k].kind == flown->event[i].kind;
    return count;
}

/* Two that fall together may change places. */
static int times_said(const struct flown *flown, enum callout_cue cue)
{
    int times = 0;

    for (size_t i = 0; i < flown->call_count; i++)
        times += flown->call[i].cue == cue;
    return times;
}

static void expect_same_events(const struct flown *flown,
                               const struct flown *like, const char *name,
                               double rate_hz)
{
    double apart_s = fmax(APART_S, 1.0 / rate_hz) + 1e-9;

    if (flown->event_count != like->event_count)
        fail_msg("%s, %g a second: %zu events, not %zu:\n%s\n%s", name, rate_hz,
                 flown->event_count, like->event_count, flown->lines,
                 like->lines);
    for (size_t i = 0; i < like->event_count; i++) {
        const struct maneuver_event *other = &like->event[i];
        const struct maneuver_event *event =
            flown_event(flown, other->kind, nth_of_kind(like, i));
        double within_s =
            other->kind == EVENT_ROLL_OUT_ADVICE ? ADVICE_APART_S : apart_s;

        if (event == NULL)
            fail_msg("%s, %g a second: no %s at %.3f", name, rate_hz,
                     maneuver_event_name(other->kind),
                     flown_seconds(other->t_ns));
        else if (!(fabs(flown_seconds(event->t_ns) -
                        flown_seconds(other->t_ns)) <= within_s))
            fail_msg("%s, %g a second: %s at %.3f, not at %.3f", name, rate_hz,
                     maneuver_event_name(other->kind),
                     flown_seconds(event->t_ns), flown_seconds(other->t_ns));
    }
    for (int cue = 0; cue < CUE_COUNT; cue++)
        assert_int_equal(times_said(flown, (enum callout_cue)cue),
                         times_said(like, (enum callout_cue)cue));
}

/* The same flight as binary, with no other channels than a form tells. */
static void fly_alike(const struct stream *stream, const struct flown *flown,
                      struct flown *like)
{
    uint32_t channels = intake_layout_channels(&flown->settings.layout) |
                        CHANNEL_BIT(CHANNEL_SIM_TIME);
    struct stream less = {.packet = NULL};

    for (size_t i = 0; i < stream->count; i++)
        stream_append(&less, &stream->packet[i]);
    stream_keep_channels(&less, channels);
    flown_fly(like, &less, "plain-binary", 0);
    stream_free(&less);
}

static void send_in_every_form(const struct stream *stream, double rate_hz)
{
    for (int i = 0; i < FORMS; i++) {
        struct flown flown;
        struct flown like;

        flown_fly(&flown, stream, form[i], 0);
        fly_alike(stream, &flown, &like);
        assert_int_equal(flown_count(&flown, EVENT_FINISHED) +
                             flown_count(&flown, EVENT_ABANDONED),
                         1);
        expect_same_events(&flown, &like, form[i], rate_hz);
        flown_free(&flown);
        flown_free(&like);
    }
}

static void fly_in_every_form(enum rehearse_error error, double rate_hz)
{
    struct stream stream;

    rehearse(error, rate_hz, &stream);
    send_in_every_form(&stream, rate_hz);
    stream_free(&stream);
}

static void every_form_gives_the_same_events_at_any_rate(void **state)
{
    static const double rate_hz[] = {1.0, 10.0, 30.0, 60.0, 200.0};

    (void)state;
    for (size_t i = 0; i < sizeof rate_hz / sizeof rate_hz[0]; i++)
        fly_in_every_form(REHEARSE_ERRORS, rate_hz[i]);
}

static void every_form_gives_the_same_events_whatever_is_flown(void **state)
{
    (void)state;
    for (int i = 0; i < REHEARSE_ERRORS; i++)
        fly_in_every_form((enum rehearse_error)i, 30.0);
}

/* Held to be talked over: the same moment is sent again and again. */
static void a_hold_is_a_pause_in_every_form(void **state)
{
    static const double rate_hz = 30.0;
    static const double hold_s = 10.0;
    static const size_t held = 720;
    struct stream flight;
    struct stream stream = {.packet = NULL};

    (void)state;
    rehearse(REHEARSE_ERRORS, rate_hz, &flight);
    for (size_t i = 0; i < flight.count + (size_t)(hold_s * rate_hz); i++) {
        size_t from = i < held ? i : held;
        struct stream_packet packet;

        if (i > held + (size_t)(hold_s * rate_hz))
            from = i - (size_t)(hold_s * rate_hz);
        packet = flight.packet[from];
        packet.arrival_ns = (int64_t)((double)i / rate_hz * 1e9);
        stream_append(&stream, &packet);
    }
    for (int i = 0; i < FORMS; i++) {
        struct flown flown;

        flown_fly(&flown, &stream, form[i], 0);
        assert_int_equal(flown_count(&flown, EVENT_PAUSED), 1);
        assert_int_equal(flown_count(&flown, EVENT_RESUMED), 1);
        assert_int_equal(flown_count(&flown, EVENT_WINGS_LEVEL), 1);
        assert_int_equal(flown_count(&flown, EVENT_STALL), 0);
        assert_int_equal(flown_count(&flown, EVENT_NEAR_STALL), 6);
        flown_free(&flown);
    }
    stream_free(&stream);
    stream_free(&flight);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_form_gives_the_same_events_at_any_rate),
        cmocka_unit_test(every_form_gives_the_same_events_whatever_is_flown),
        cmocka_unit_test(a_hold_is_a_pause_in_every_form),
    };

    return cmocka_run_group_tests_name("wire: rehearsed forms", tests, NULL,
                                       NULL) != 0;
}
