/* test_standards.c - one flight in the packets of the open standards, put
 * together by encoders that are not ours: the same events; and no form takes
 * the packets of another.
 *
 * How the recordings were made: tests/oracle/make-flight. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/needs.h"
#include "flown.h"
#include "frames.h"
#include "near.h"
#include "sample.h"

/* Seconds between packets. */
#define RECORDED_S 0.05

static const char *const standard[] = {"nmea", "dis", "mavlink"};

enum { STANDARDS = sizeof standard / sizeof standard[0] };

static void load_standard(int which, struct settings *out)
{
    struct settings_choice choice = {.layout = standard[which]};
    char why[512] = "";

    if (settings_load(&choice, ".", out, why, sizeof why) != 0)
        fail_msg("%s", why);
}

/* The flight as text, with no other channels than the standard can tell. */
static void fly_as_text(int which, struct flown *flown)
{
    struct settings settings;
    struct stream stream;
    uint32_t channels;

    load_standard(which, &settings);
    channels = intake_layout_channels(&settings.layout);
    if ((channels & CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED)) != 0)
        channels |= CHANNEL_BIT(CHANNEL_AIRSPEED);
    stream_load(&stream, "../wire/plain-text", "plain-text");
    stream_keep_channels(&stream, channels | CHANNEL_BIT(CHANNEL_SIM_TIME));
    flown_fly(flown, &stream, "plain-binary", 0);
    stream_free(&stream);
}

static void expect_same_events(const struct flown *flown,
                               const struct flown *like)
{
    assert_int_equal(flown->event_count, like->event_count);
    for (size_t i = 0; i < like->event_count; i++) {
        const struct maneuver_event *event = &flown->event[i];
        const struct maneuver_event *other = &like->event[i];

        assert_int_equal(event->kind, other->kind);
        assert_near(flown_seconds(event->t_ns), flown_seconds(other->t_ns),
                    RECORDED_S + 1e-9);
    }
    assert_int_equal(flown->call_count, like->call_count);
    for (size_t i = 0; i < like->call_count; i++)
        assert_int_equal(flown->call[i].cue, like->call[i].cue);
}

/* The hour of DIS ends in the middle of the climb. */
static void every_standard_gives_the_events_of_the_text(void **state)
{
    (void)state;
    for (int i = 0; i < STANDARDS; i++) {
        struct flown like;
        struct flown flown;
        char path[64];

        fly_as_text(i, &like);
        assert_int_equal(flown_count(&like, EVENT_FINISHED), 1);
        (void)snprintf(path, sizeof path, "tests/wire/%s.pcap", standard[i]);
        flown_datagrams(&flown, path, standard[i]);
        expect_same_events(&flown, &like);
        flown_free(&flown);
        flown_free(&like);
    }
}

/* NMEA 0183 has no forces and DIS no angles of the wind; MAVLink has them all.
 * What they have is enough for this flight: the events are those of the text
 * in full. */
static void every_standard_gives_the_events_of_the_text_in_full(void **state)
{
    struct flown like;

    (void)state;
    flown_recording(&like, "../wire/plain-text", "plain-text");
    for (int i = 0; i < STANDARDS; i++) {
        struct flown flown;
        char path[64];

        (void)snprintf(path, sizeof path, "tests/wire/%s.pcap", standard[i]);
        flown_datagrams(&flown, path, standard[i]);
        expect_same_events(&flown, &like);
        flown_free(&flown);
    }
    flown_free(&like);
}

/* The truth of the flight is told in tests/replay/good_left.txt, by the
 * simulation that flew it; the recordings begin 4 s later. */
static void every_standard_agrees_with_the_truth(void **state)
{
    static const struct {
        double deg;
        double t_s;
    } mark[] = {{45.0, 17.04}, {90.0, 23.58}, {135.0, 31.12}, {180.0, 45.55}};

    (void)state;
    for (int i = 0; i < STANDARDS; i++) {
        struct flown flown;
        char path[64];

        (void)snprintf(path, sizeof path, "tests/wire/%s.pcap", standard[i]);
        flown_datagrams(&flown, path, standard[i]);
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

/* Airspeed from true airspeed will do. */
static void every_standard_has_what_a_chandelle_needs(void **state)
{
    static const double wrap_s[STANDARDS] = {0.0, 3600.0, 4294967.296};

    (void)state;
    for (int i = 0; i < STANDARDS; i++) {
        struct settings settings;

        load_standard(i, &settings);
        assert_int_equal(needs_explain_layout(&settings.layout), 0);
        assert_near(settings.layout.sim_time_wrap_s, wrap_s[i], 0.0);
        settings.layout.still_air = false;
        settings.layout.packet_count = 0;
        assert_true((needs_explain_layout(&settings.layout) == 0) ==
                    (settings.layout.form == INTAKE_FORM_MAVLINK));
    }
}

static void expect_no_other_form(const uint8_t *bytes, size_t length, int own)
{
    for (int i = 0; i < STANDARDS; i++) {
        struct intake_layout layout = {.system = -1};
        struct intake_sample sample;

        if (i == own)
            continue;
        assert_int_equal(intake_form_find(standard[i], &layout.form), 0);
        assert_int_equal(frames_decode(&layout, bytes, length, &sample),
                         INTAKE_NO_PACKET);
    }
}

static void no_standard_takes_the_packets_of_another(void **state)
{
    (void)state;
    for (int own = 0; own < STANDARDS; own++) {
        struct sample_recording recording;
        char path[64];

        (void)snprintf(path, sizeof path, "tests/wire/%s.pcap", standard[own]);
        sample_recording_load(path, &recording);
        for (size_t i = 0; i < recording.count; i++)
            expect_no_other_form(recording.bytes + recording.datagram[i].at,
                                 recording.datagram[i].length, own);
        sample_recording_free(&recording);
    }
}

static void no_standard_takes_the_oracles_of_another(void **state)
{
    (void)state;
    for (int own = 1; own < STANDARDS; own++) {
        struct frame *frame;
        char path[64];
        size_t count;

        (void)snprintf(path, sizeof path, "tests/oracle/%s.frames",
                       standard[own]);
        count = frames_load(path, &frame);
        for (size_t i = 0; i < count; i++)
            expect_no_other_form(frame[i].bytes, frame[i].length, own);
        free(frame);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_standard_gives_the_events_of_the_text),
        cmocka_unit_test(every_standard_gives_the_events_of_the_text_in_full),
        cmocka_unit_test(every_standard_agrees_with_the_truth),
        cmocka_unit_test(every_standard_has_what_a_chandelle_needs),
        cmocka_unit_test(no_standard_takes_the_packets_of_another),
        cmocka_unit_test(no_standard_takes_the_oracles_of_another),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
