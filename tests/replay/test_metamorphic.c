/* test_metamorphic.c - changes of a flight that must change the events only as
 * they say: mirrored, turned to another heading, thinned, doubled, mixed up,
 * flown twice, interrupted. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"

static const char layout[] = "plain-binary";

/* Events of the same kinds in the same order, each within within_s, and
 * degrees of turn within a half; direction turned round when mirrored. */
static void assert_same_events(const struct flown *a, const struct flown *b,
                               int direction, double within_s)
{
    if (a->event_count != b->event_count)
        fail_msg("%zu events became %zu:\n%s\n%s", a->event_count,
                 b->event_count, a->lines, b->lines);
    for (size_t i = 0; i < a->event_count; i++) {
        const struct maneuver_event *x = &a->event[i];
        const struct maneuver_event *y = &b->event[i];

        assert_int_equal(x->kind, y->kind);
        assert_int_equal(x->attempt, y->attempt);
        assert_int_equal(x->direction * direction, y->direction);
        assert_int_equal(x->band, y->band);
        assert_int_equal(x->kind == EVENT_BALL ? x->side * direction : x->side,
                         y->side);
        /* Ready hangs on several values that settle slowly. */
        assert_near(flown_seconds(x->t_ns), flown_seconds(y->t_ns),
                    x->kind == EVENT_READY ? fmax(within_s, 0.5) : within_s);
        if (x->attempt > 0)
            assert_near(units_deg(x->turn_rad), units_deg(y->turn_rad), 1.0);
    }
    assert_int_equal(a->call_count, b->call_count);
}

static void a_mirrored_flight_gives_mirrored_events(void **state)
{
    static const char *const flight[] = {"good_left", "good_left_unsteady",
                                         "overshoot", "stall",
                                         "no_rudder", "abandoned"};

    (void)state;
    for (size_t i = 0; i < sizeof flight / sizeof flight[0]; i++) {
        struct stream stream;
        struct flown left;
        struct flown right;

        stream_load(&stream, flight[i], layout);
        flown_fly(&left, &stream, layout, 0);
        stream_mirror(&stream);
        flown_fly(&right, &stream, layout, 0);
        assert_same_events(&left, &right, -1, 1e-3);
        flown_free(&left);
        flown_free(&right);
        stream_free(&stream);
    }
}

/* Every whole degree of entry heading, so that north is crossed everywhere in
 * the turn. */
static void the_entry_heading_does_not_matter(void **state)
{
    struct stream stream;
    struct flown first;

    (void)state;
    stream_load(&stream, "good_left", layout);
    stream_thin(&stream, 20.0);
    flown_fly(&first, &stream, layout, 0);
    for (int deg = 1; deg < 360; deg++) {
        struct flown turned;

        stream_rotate(&stream, units_rad(1.0));
        flown_fly(&turned, &stream, layout, 0);
        assert_same_events(&first, &turned, 1, 1e-3);
        assert_near_deg(units_deg(turned.event[1].heading_rad),
                        units_deg(first.event[1].heading_rad) + deg, 0.05);
        flown_free(&turned);
    }
    flown_free(&first);
    stream_free(&stream);
}

typedef void (*change)(struct stream *stream);

static void halve(struct stream *stream)
{
    stream_thin(stream, 30.0);
}

static void lose_some(struct stream *stream)
{
    stream_lose(stream, 0.05, 3);
}

static void lose_many(struct stream *stream)
{
    stream_lose(stream, 0.20, 5);
}

static void double_some(struct stream *stream)
{
    stream_double(stream, 0.2, 7);
}

static void mix_up_some(struct stream *stream)
{
    stream_reorder(stream, 0.1, 9);
}

/* The network's tricks. Band changes at a lingering margin and the end of the
 * recovery depend on single packets: 0.2 s. */
static void loss_doubles_and_disorder_change_nothing(void **state)
{
    static const change changes[] = {halve, lose_some, lose_many, double_some,
                                     mix_up_some};
    static const char *const flight[] = {"good_left", "overshoot", "stall",
                                         "abandoned"};

    (void)state;
    for (size_t f = 0; f < sizeof flight / sizeof flight[0]; f++) {
        struct stream plain;
        struct flown first;

        stream_load(&plain, flight[f], layout);
        flown_fly(&first, &plain, layout, 0);
        stream_free(&plain);
        for (size_t i = 0; i < sizeof changes / sizeof changes[0]; i++) {
            struct stream stream;
            struct flown changed;

            stream_load(&stream, flight[f], layout);
            changes[i](&stream);
            flown_fly(&changed, &stream, layout, 0);
            assert_same_events(&first, &changed, 1, 0.2);
            flown_free(&changed);
            stream_free(&stream);
        }
        flown_free(&first);
    }
}

static void the_same_stream_gives_the_same_bytes_at_every_speed(void **state)
{
    static const int64_t step_ns[] = {0, 1000000, 7000000, 333000000};
    struct stream stream;
    struct flown first;

    (void)state;
    stream_load(&stream, "stall", layout);
    stream_jitter(&stream, 0.02, 11);
    flown_fly(&first, &stream, layout, 0);
    assert_true(first.lines_length > 1000);
    for (size_t i = 0; i < sizeof step_ns / sizeof step_ns[0]; i++) {
        struct flown again;

        flown_fly(&again, &stream, layout, step_ns[i]);
        assert_int_equal(again.lines_length, first.lines_length);
        assert_string_equal(again.lines, first.lines);
        flown_free(&again);
    }
    flown_free(&first);
    stream_free(&stream);
}

/* ---- several attempts, and what can happen to a stream
 * ------------------------ */

/* Put a flight behind another, continuing its time, heading and altitude. */
static void follow_with(struct stream *stream, struct stream *next)
{
    const struct stream_packet last = stream->packet[stream->count - 1];
    const struct stream_packet first = next->packet[0];
    int64_t later_ns = last.arrival_ns + 16666667 - first.arrival_ns;

    stream_rotate(next, last.sample.value[CHANNEL_HEADING] -
                            first.sample.value[CHANNEL_HEADING]);
    for (size_t i = 0; i < next->count; i++) {
        struct stream_packet packet = next->packet[i];

        packet.arrival_ns += later_ns;
        packet.sample.value[CHANNEL_SIM_TIME] +=
            last.sample.value[CHANNEL_SIM_TIME] -
            first.sample.value[CHANNEL_SIM_TIME] + 1.0 / 60.0;
        packet.sample.value[CHANNEL_ALTITUDE] +=
            last.sample.value[CHANNEL_ALTITUDE] -
            first.sample.value[CHANNEL_ALTITUDE];
        stream_append(stream, &packet);
    }
}

static void several_attempts_are_counted_in_one_stream(void **state)
{
    struct stream stream;
    struct stream next;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", layout);
    stream_load(&next, "overshoot", layout);
    stream_mirror(&next);
    follow_with(&stream, &next);
    stream_free(&next);
    stream_load(&next, "abandoned", layout);
    follow_with(&stream, &next);
    stream_free(&next);
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown_count(&flown, EVENT_ENTRY), 3);
    assert_int_equal(flown_count(&flown, EVENT_WINGS_LEVEL), 2);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 2);
    assert_int_equal(flown_count(&flown, EVENT_ABANDONED), 1);
    assert_int_equal(flown_event(&flown, EVENT_ENTRY, 0)->direction, -1);
    assert_int_equal(flown_event(&flown, EVENT_ENTRY, 1)->direction, 1);
    assert_int_equal(flown_event(&flown, EVENT_ENTRY, 2)->attempt, 3);
    assert_near(units_deg(flown_event(&flown, EVENT_WINGS_LEVEL, 1)->angle_rad),
                21.9, 1.0);
    flown_free(&flown);
    stream_free(&stream);
}

/* A simulator at half and at twice its speed: its clock and the arrivals
 * stretch alike. Moments are those that are seen, and heard. */
static void slow_motion_and_time_lapse_keep_the_moments(void **state)
{
    static const double stretch[] = {2.0, 0.5};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct stream stream;
        struct flown flown;
        const struct maneuver_event *ninety;
        const struct callout_call *call;

        stream_load(&stream, "good_left", layout);
        for (size_t k = 0; k < stream.count; k++)
            stream.packet[k].arrival_ns =
                (int64_t)((double)stream.packet[k].arrival_ns * stretch[i]);
        flown_fly(&flown, &stream, layout, 0);
        assert_int_equal(flown_count(&flown, EVENT_PAUSED), 0);
        assert_int_equal(flown_count(&flown, EVENT_JUMPED), 0);
        assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
        assert_int_equal(flown_count(&flown, EVENT_WINGS_LEVEL), 1);
        ninety = flown_mark(&flown, 1, 90.0);
        assert_non_null(ninety);
        assert_near(flown_seconds(ninety->t_ns), 23.5834 * stretch[i], 0.05);
        call = flown_call(&flown, CUE_NINETY, 0);
        assert_non_null(call);
        assert_near(flown_seconds(call->onset_ns), 23.5834 * stretch[i], 0.05);
        flown_free(&flown);
        stream_free(&stream);
    }
}

static void cut_out(struct stream *stream, double from_s, double to_s)
{
    size_t kept = 0;

    for (size_t i = 0; i < stream->count; i++) {
        double t_s = flown_seconds(stream->packet[i].arrival_ns);

        if (t_s < from_s || t_s > to_s)
            stream->packet[kept++] = stream->packet[i];
    }
    stream->count = kept;
}

static void a_short_silence_is_survived_and_a_long_one_is_not(void **state)
{
    struct stream stream;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", layout);
    cut_out(&stream, 27.0, 29.0);
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown_count(&flown, EVENT_SIGNAL_LOST), 1);
    assert_int_equal(flown_count(&flown, EVENT_SIGNAL_BACK), 1);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
    flown_free(&flown);
    stream_free(&stream);

    stream_load(&stream, "good_left", layout);
    cut_out(&stream, 27.0, 35.0);
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 0);
    assert_int_equal(flown_count(&flown, EVENT_ABANDONED), 1);
    assert_int_equal(flown_event(&flown, EVENT_ABANDONED, 0)->reason,
                     REASON_SIGNAL_LOST);
    flown_free(&flown);
    stream_free(&stream);
}

static void a_jump_gives_the_attempt_up_and_says_nothing(void **state)
{
    struct stream stream;
    struct flown flown;

    (void)state;
    stream_load(&stream, "good_left", layout);
    for (size_t i = 0; i < stream.count; i++)
        if (flown_seconds(stream.packet[i].arrival_ns) > 30.0)
            stream.packet[i].sample.value[CHANNEL_ALTITUDE] += 1000.0;
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown_count(&flown, EVENT_JUMPED), 1);
    assert_int_equal(flown_count(&flown, EVENT_ABANDONED), 1);
    assert_int_equal(flown_event(&flown, EVENT_ABANDONED, 0)->reason,
                     REASON_JUMPED);
    for (size_t i = 0; i < flown.call_count; i++)
        assert_true(flown_seconds(flown.call[i].onset_ns) < 30.1);
    /* The tone is silent after it too. */
    assert_true(flown.tone_count == 0 ||
                flown.tone[flown.tone_count - 1].band == 0);
    flown_free(&flown);
    stream_free(&stream);
}

/* ---- what must hold in every flight
 * -------------------------------------------- */

static void assert_calls_keep_the_rules(const struct flown *flown)
{
    for (size_t i = 0; i < flown->call_count; i++) {
        const struct callout_call *call = &flown->call[i];
        const struct callout_call *before = i > 0 ? call - 1 : NULL;

        assert_true(call->attempt > 0);
        assert_true(call->onset_ns <= call->expiry_ns);
        /* Handed over before it sounds, and not earlier than the lead. */
        assert_true(call->onset_ns >= flown->call_now_ns[i]);
        assert_true(call->onset_ns - flown->call_now_ns[i] <=
                    flown->settings.callout.commit_lead_ns);
        if (before == NULL)
            continue;
        if (call->cuts_in)
            assert_true(call->rank > before->rank);
        else
            assert_true(call->onset_ns >=
                        before->clip_onset_ns[before->clip_count - 1] +
                            flown->settings.callout.spacing_ns);
        if (call->cue == before->cue)
            assert_true(call->moment_ns - before->moment_ns >=
                        flown->settings.callout.repeat_ns);
    }
}

static void assert_lines_are_in_order(const struct flown *flown)
{
    double last_s = -1.0;
    const char *line = flown->lines;

    while (line != NULL && *line != '\0') {
        double t_s;

        assert_int_equal(strncmp(line, "{\"t\":", 5), 0);
        t_s = strtod(line + 5, NULL);
        assert_true(t_s >= last_s);
        last_s = t_s;
        line = strchr(line, '\n');
        if (line != NULL)
            line++;
    }
}

static void every_flight_keeps_the_rules_of_calls(void **state)
{
    static const char *const flight[] = {
        "good_left", "good_left_unsteady", "overshoot", "stall",
        "no_rudder", "abandoned",          "cruise"};

    (void)state;
    for (size_t i = 0; i < sizeof flight / sizeof flight[0]; i++) {
        struct flown flown;

        flown_recording(&flown, flight[i], layout);
        assert_calls_keep_the_rules(&flown);
        assert_lines_are_in_order(&flown);
        flown_free(&flown);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_mirrored_flight_gives_mirrored_events),
        cmocka_unit_test(the_entry_heading_does_not_matter),
        cmocka_unit_test(loss_doubles_and_disorder_change_nothing),
        cmocka_unit_test(the_same_stream_gives_the_same_bytes_at_every_speed),
        cmocka_unit_test(several_attempts_are_counted_in_one_stream),
        cmocka_unit_test(slow_motion_and_time_lapse_keep_the_moments),
        cmocka_unit_test(a_short_silence_is_survived_and_a_long_one_is_not),
        cmocka_unit_test(a_jump_gives_the_attempt_up_and_says_nothing),
        cmocka_unit_test(every_flight_keeps_the_rules_of_calls),
    };

    return cmocka_run_group_tests_name("replay: metamorphic", tests, NULL,
                                       NULL) != 0;
}
