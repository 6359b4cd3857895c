/* test_paused.c - flights that are held for a while, in real time and in time
 * lapse. */
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
#include "quarterturn/rehearse.h"

static const char layout[] = "plain-binary";

/* Hold the flight at an instant for a while, packets still coming. */
static void pause_stream(struct stream *stream, double at_s, double for_s)
{
    struct stream paused = {0};
    int64_t for_ns = (int64_t)(for_s * 1e9);
    bool held = false;

    for (size_t i = 0; i < stream->count; i++) {
        struct stream_packet packet = stream->packet[i];

        if (!held && flown_seconds(packet.arrival_ns) >= at_s) {
            int64_t begin_ns = packet.arrival_ns;

            held = true;
            for (int64_t t_ns = 0; t_ns < for_ns; t_ns += 50000000) {
                packet.arrival_ns = begin_ns + t_ns;
                stream_append(&paused, &packet);
            }
            packet = stream->packet[i];
        }
        if (held)
            packet.arrival_ns += for_ns;
        stream_append(&paused, &packet);
    }
    stream_free(stream);
    *stream = paused;
}

static void an_attempt_survives_a_pause(void **state)
{
    struct stream stream;
    struct flown flown;
    const struct maneuver_event *ninety;

    (void)state;
    stream_load(&stream, "good_left", layout);
    pause_stream(&stream, 18.0, 60.0);
    flown_fly(&flown, &stream, layout, 0);
    assert_int_equal(flown_count(&flown, EVENT_PAUSED), 1);
    assert_int_equal(flown_count(&flown, EVENT_RESUMED), 1);
    assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
    assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
    ninety = flown_mark(&flown, 1, 90.0);
    assert_non_null(ninety);
    assert_near(flown_seconds(ninety->t_ns), 23.583 + 60.0, 0.05);
    for (size_t i = 0; i < flown.call_count; i++) {
        double t_s = flown_seconds(flown.call[i].onset_ns);

        assert_true(t_s < 18.6 || t_s > 78.0);
    }
    flown_free(&flown);
    stream_free(&stream);
}

/* Every item of two grades, as flown. */
static void assert_same_grade(const struct debrief_grade *a,
                              const struct debrief_grade *b, double speed)
{
    assert_int_equal(a->item_count, b->item_count);
    for (uint32_t i = 0; i < a->item_count; i++) {
        const struct debrief_item *x = &a->item[i];
        const struct debrief_item *y = &b->item[i];

        if (x->verdict != y->verdict || isnan(x->flown) != isnan(y->flown) ||
            fabs(x->flown - y->flown) > 0.02)
            fail_msg("at %g times its speed \"%s\" was %g and is %g", speed,
                     x->item, x->flown, y->flown);
    }
}

/* Held in the first half, at 90 degrees and in the roll-out, in real time and
 * in time lapse: what was flown is the same, and so is the grade. */
static void a_pause_changes_nothing_in_the_grade(void **state)
{
    static const double speed[] = {1.0, 4.0, 8.0};
    static const double at_s[] = {18.0, 23.583, 35.0};

    (void)state;
    for (size_t i = 0; i < sizeof speed / sizeof speed[0]; i++) {
        for (size_t k = 0; k < sizeof at_s / sizeof at_s[0]; k++) {
            struct stream through;
            struct stream held;
            struct stream lead_in;
            struct flown a;
            struct flown b;

            /* Time to find the pace out before the attempt. */
            stream_load(&lead_in, "cruise", layout);
            stream_load(&through, "cruise", layout);
            stream_load(&held, "good_left", layout);
            stream_join(&through, &held, 0.02);
            stream_free(&held);
            held = (struct stream){0};
            for (size_t n = 0; n < through.count; n++)
                through.packet[n].arrival_ns =
                    (int64_t)((double)through.packet[n].arrival_ns / speed[i]);
            stream_join(&held, &through, 0.0);
            pause_stream(
                &held,
                (flown_seconds(lead_in.packet[lead_in.count - 1].arrival_ns) +
                 0.02 + at_s[k]) /
                    speed[i],
                5.0);
            flown_fly(&a, &through, layout, 0);
            flown_fly(&b, &held, layout, 0);
            assert_int_equal(flown_count(&b, EVENT_PAUSED), 1);
            assert_int_equal(flown_count(&a, EVENT_FINISHED), 1);
            assert_int_equal(flown_count(&b, EVENT_FINISHED), 1);
            assert_same_grade(&a.grade, &b.grade, speed[i]);
            flown_free(&a);
            flown_free(&b);
            stream_free(&lead_in);
            stream_free(&through);
            stream_free(&held);
        }
    }
}

/* Hold the flight at an instant for a while, and send nothing.
 * Returns: when the last packet before it came. */
static int64_t silence_stream(struct stream *stream, double at_s, double for_s)
{
    int64_t before_ns = 0;

    for (size_t i = 0; i < stream->count; i++) {
        struct stream_packet *packet = &stream->packet[i];

        if (flown_seconds(packet->arrival_ns) < at_s)
            before_ns = packet->arrival_ns;
        else
            packet->arrival_ns += (int64_t)(for_s * 1e9);
    }
    return before_ns;
}

static const struct maneuver_event *next_of_flight(const struct flown *flown,
                                                   size_t *i)
{
    while (*i < flown->event_count &&
           !maneuver_event_is_flight(flown->event[*i].kind))
        (*i)++;
    return *i < flown->event_count ? &flown->event[(*i)++] : NULL;
}

static void assert_same_angle(double a_rad, double b_rad)
{
    assert_int_equal(isnan(a_rad), isnan(b_rad));
    if (!isnan(a_rad))
        assert_near(angle_wrap_half(a_rad - b_rad), 0.0, 1e-3);
}

/* The events of a flight and of the same flight held behind before_ns. */
static void assert_same_events(const struct flown *through,
                               const struct flown *held, int64_t before_ns,
                               double for_s)
{
    size_t i = 0;
    size_t k = 0;
    const struct maneuver_event *a;

    while ((a = next_of_flight(through, &i)) != NULL) {
        const struct maneuver_event *b = next_of_flight(held, &k);
        double later_s = a->t_ns > before_ns ? for_s : 0.0;

        assert_non_null(b);
        assert_int_equal(a->kind, b->kind);
        assert_near(flown_seconds(b->t_ns), flown_seconds(a->t_ns) + later_s,
                    0.002);
        assert_int_equal(a->attempt, b->attempt);
        assert_int_equal(a->band, b->band);
        assert_int_equal(a->side, b->side);
        assert_same_angle(a->angle_rad, b->angle_rad);
        assert_same_angle(a->heading_rad, b->heading_rad);
        assert_same_angle(a->bank_rad, b->bank_rad);
    }
    assert_null(next_of_flight(held, &k));
}

/* As told to who flies: in the order of time, the same whenever time is let
 * pass, and no call in the pause. */
static void assert_told_in_order(const struct flown *held,
                                 const struct stream *stream, double at_s,
                                 double for_s)
{
    struct flown again;
    double last_s = 0.0;

    for (const char *line = strstr(held->lines, "{\"t\":"); line != NULL;
         line = strstr(line + 1, "{\"t\":")) {
        double t_s = strtod(line + strlen("{\"t\":"), NULL);

        assert_true(t_s >= last_s);
        last_s = t_s;
    }
    assert_true(last_s > at_s + for_s);
    for (size_t i = 0; i < held->call_count; i++) {
        double t_s = flown_seconds(held->call[i].onset_ns);

        assert_true(t_s < at_s + 1.1 || t_s > at_s + for_s - 0.2);
    }
    flown_fly(&again, stream, layout, 70000000);
    assert_string_equal(again.lines, held->lines);
    flown_free(&again);
}

static void fly_silenced(double rate_hz, double at_s, double for_s)
{
    struct stream stream;
    struct flown through;
    struct flown held;
    int64_t before_ns;

    stream_load(&stream, "good_left", layout);
    stream_thin(&stream, rate_hz);
    flown_fly(&through, &stream, layout, 0);
    before_ns = silence_stream(&stream, at_s, for_s);
    flown_fly(&held, &stream, layout, 0);
    assert_int_equal(flown_count(&through, EVENT_FINISHED), 1);
    assert_int_equal(flown_count(&held, EVENT_SIGNAL_LOST), 1);
    assert_int_equal(flown_count(&held, EVENT_SIGNAL_BACK), 1);
    assert_int_equal(flown_count(&held, EVENT_RESUMED), 1);
    assert_int_equal(flown_count(&held, EVENT_ABANDONED), 0);
    assert_same_events(&through, &held, before_ns, for_s);
    assert_int_equal(through.grade.verdict, held.grade.verdict);
    assert_same_grade(&through.grade, &held.grade, 1.0);
    for (uint32_t i = 1; i < held.attempt->event_count; i++) {
        if (held.attempt->event[i].event.kind == EVENT_SIGNAL_BACK)
            assert_int_equal(held.attempt->event[i - 1].event.kind,
                             EVENT_SIGNAL_LOST);
    }
    assert_told_in_order(&held, &stream, at_s, for_s);
    flown_free(&through);
    flown_free(&held);
    stream_free(&stream);
}

/* Before the entry is certain, in the first half, at 90 degrees, in the second
 * half, while the level is not certain yet, and after it. */
static void a_silent_pause_changes_nothing_in_the_flight(void **state)
{
    static const double rate_hz[] = {10.0, 30.0};
    static const double at_s[] = {9.5, 18.0, 23.583, 35.0, 45.6, 47.0};
    static const double for_s[] = {6.0, 60.0};

    (void)state;
    for (size_t i = 0; i < sizeof rate_hz / sizeof rate_hz[0]; i++) {
        for (size_t k = 0; k < sizeof at_s / sizeof at_s[0]; k++) {
            for (size_t n = 0; n < sizeof for_s / sizeof for_s[0]; n++)
                fly_silenced(rate_hz[i], at_s[k], for_s[n]);
        }
    }
}

/* ---- without a clock ---------------------------------------------------- */

/* A flight of the model in a layout that tells attitude and airspeed alone; the
 * lead-in is the same to the last bit, as an autopilot's in calm air. */
static void rehearse_clockless(double lead_in_s, double rate_hz,
                               struct stream *stream)
{
    static struct settings settings;
    static struct rehearse rehearse;
    const struct settings_choice choice = {.aircraft = "club-trainer"};
    struct rehearse_plan plan;
    char why[600];

    memset(stream, 0, sizeof *stream);
    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    rehearse_plan_init(&plan, &settings.aircraft);
    plan.lead_in_s = lead_in_s;
    if (rehearse_begin(&rehearse, &plan, why, sizeof why) != 0)
        fail_msg("%s", why);
    for (int i = 0; rehearse.phase != REHEARSE_OVER; i++) {
        struct stream_packet packet;

        rehearse_fly(&rehearse, i / rate_hz);
        rehearse_sample(&rehearse, i / rate_hz, &packet.sample);
        packet.arrival_ns = packet.sample.t_ns;
        stream_append(stream, &packet);
    }
    stream_keep_channels(stream, CHANNELS_REQUIRED);
}

static void a_steady_lead_in_costs_no_attempt(void **state)
{
    static const double rate_hz[] = {5.0, 30.0, 60.0};
    static const double lead_in_s[] = {3.5, 8.0, 15.0, 60.0};

    (void)state;
    for (size_t i = 0; i < sizeof rate_hz / sizeof rate_hz[0]; i++) {
        for (size_t k = 0; k < sizeof lead_in_s / sizeof lead_in_s[0]; k++) {
            struct stream stream;
            struct flown flown;
            const struct maneuver_event *event;

            rehearse_clockless(lead_in_s[k], rate_hz[i], &stream);
            flown_fly(&flown, &stream, layout, 0);
            event = flown_event(&flown, EVENT_READY, 0);
            assert_non_null(event);
            assert_near(flown_seconds(event->t_ns), 3.0, 0.5);
            /* Ten seconds of it tell nothing yet. */
            assert_int_equal(flown_count(&flown, EVENT_PAUSED),
                             lead_in_s[k] > 10.0);
            event = flown_event(&flown, EVENT_ENTRY, 0);
            assert_non_null(event);
            assert_near(flown_seconds(event->t_ns), lead_in_s[k], 0.5);
            assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
            flown_free(&flown);
            stream_free(&stream);
        }
    }
}

/* What turns or holds its nose high cannot stand still in flight. */
static void a_pause_in_a_maneuver_is_seen_without_a_clock(void **state)
{
    static const double at_s[] = {11.0, 18.0, 30.0, 45.5};

    (void)state;
    for (size_t k = 0; k < sizeof at_s / sizeof at_s[0]; k++) {
        struct stream stream;
        struct flown flown;
        const struct maneuver_event *paused;

        rehearse_clockless(8.0, 30.0, &stream);
        pause_stream(&stream, at_s[k], 60.0);
        flown_fly(&flown, &stream, layout, 0);
        paused = flown_event(&flown, EVENT_PAUSED, 0);
        assert_non_null(paused);
        assert_near(flown_seconds(paused->t_ns), at_s[k] + 2.0, 0.15);
        assert_int_equal(flown_count(&flown, EVENT_PAUSED), 1);
        assert_int_equal(flown_count(&flown, EVENT_RESUMED), 1);
        assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
        flown_free(&flown);
        stream_free(&stream);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_attempt_survives_a_pause),
        cmocka_unit_test(a_pause_changes_nothing_in_the_grade),
        cmocka_unit_test(a_silent_pause_changes_nothing_in_the_flight),
        cmocka_unit_test(a_steady_lead_in_costs_no_attempt),
        cmocka_unit_test(a_pause_in_a_maneuver_is_seen_without_a_clock),
    };

    return cmocka_run_group_tests_name("replay: paused", tests, NULL, NULL) !=
           0;
}
