/* test_not_begun.c - chandelles that a pilot in the performance model flies
 * from another speed than that of the airplane the program knows: whatever the
 * stream, what was wrong is told once, and nothing is called; and where the
 * speed will do, there is an attempt and not a word of that. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "quarterturn/rehearse.h"

static const char layout[] = "plain-binary";

/* Fly a chandelle from an entry speed, and send it at a rate. seed: of the
 * hand; it turns left and right by turns. */
static void rehearse_from(double entry_kt, double rate_hz, unsigned seed,
                          struct stream *stream, struct rehearse_truth *truth)
{
    static struct rehearse rehearse;
    static struct settings settings;
    const struct settings_choice choice = {.aircraft = "club-trainer"};
    struct rehearse_plan plan;
    char why[600] = "";

    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    settings.aircraft.entry_speed_mps = units_to_internal(UNIT_KT, entry_kt);
    rehearse_plan_init(&plan, &settings.aircraft);
    plan.direction = seed % 2 == 0 ? 1 : -1;
    plan.seed = seed;
    plan.hand = 0.25 * (seed % 5);
    if (rehearse_begin(&rehearse, &plan, why, sizeof why) != 0)
        fail_msg("from %g kt: %s", entry_kt, why);
    memset(stream, 0, sizeof *stream);
    for (int i = 0; rehearse.phase != REHEARSE_OVER; i++) {
        struct stream_packet packet;

        rehearse_fly(&rehearse, i / rate_hz);
        rehearse_sample(&rehearse, i / rate_hz, &packet.sample);
        packet.arrival_ns = packet.sample.t_ns;
        stream_append(stream, &packet);
    }
    *truth = rehearse.truth;
    stream_lose(stream, 0.02, seed);
    stream_jitter(stream, 0.01, seed + 1000);
}

static void expect_told(const struct flown *flown,
                        const struct rehearse_truth *truth, double entry_kt,
                        unsigned seed)
{
    const struct maneuver_event *event = flown_event(flown, EVENT_NOT_BEGUN, 0);

    if (flown_count(flown, EVENT_ENTRY) != 0 || event == NULL ||
        flown_count(flown, EVENT_NOT_BEGUN) != 1 || flown->call_count != 0)
        fail_msg("from %g kt, seed %u:\n%s", entry_kt, seed, flown->lines);
    assert_int_equal(event->lack.kind, LACK_SPEED);
    assert_near(units_kt(event->lack.flown), units_kt(truth->entry_cas_mps),
                1.5);
    assert_int_equal(event->direction, seed % 2 == 0 ? 1 : -1);
    /* In the first half or soon after it, while the pilot still knows. */
    assert_true(flown_seconds(event->t_ns) > truth->mark_s[0]);
    assert_true(flown_seconds(event->t_ns) < truth->mark_s[2]);
    assert_non_null(strstr(flown->lines, "\"event\":\"not-begun\""));
    assert_non_null(strstr(flown->lines, "\"reason\":\"entry speed\""));
    assert_non_null(
        strstr(flown->lines, "\"least\":95.0,\"most\":115.0,\"unit\":\"kt\""));
}

static void chandelles_off_the_entry_speed_are_told(void **state)
{
    static const double entry_kt[] = {88.0, 92.0, 118.0, 125.0};
    static const double rate_hz[] = {5.0, 20.0, 60.0};

    (void)state;
    for (unsigned i = 0; i < 4 * 3 * 5; i++) {
        double kt = entry_kt[i % 4];
        struct rehearse_truth truth;
        struct stream stream;
        struct flown flown;

        rehearse_from(kt, rate_hz[i / 4 % 3], i, &stream, &truth);
        flown_fly(&flown, &stream, layout, 0);
        expect_told(&flown, &truth, kt, i);
        flown_free(&flown);
        stream_free(&stream);
    }
}

static void those_within_its_band_are_attempts_and_nothing_else(void **state)
{
    static const double entry_kt[] = {98.0, 105.0, 112.0};

    (void)state;
    for (unsigned i = 0; i < 3 * 10; i++) {
        struct rehearse_truth truth;
        struct stream stream;
        struct flown flown;

        rehearse_from(entry_kt[i % 3], 20.0, i, &stream, &truth);
        flown_fly(&flown, &stream, layout, 0);
        assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
        assert_int_equal(flown_count(&flown, EVENT_NOT_BEGUN), 0);
        flown_free(&flown);
        stream_free(&stream);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chandelles_off_the_entry_speed_are_told),
        cmocka_unit_test(those_within_its_band_are_attempts_and_nothing_else),
    };

    return cmocka_run_group_tests_name("replay: not begun", tests, NULL,
                                       NULL) != 0;
}
