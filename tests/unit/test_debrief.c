/* test_debrief.c - event lines and their text. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "near.h"
#include "quarterturn/debrief.h"

/* ---- lines -------------------------------------------------------------- */

struct lines {
    char *text;
    size_t length;
    FILE *file;
    struct debrief_log *log;
};

static void open_lines(struct lines *lines)
{
    lines->file = open_memstream(&lines->text, &lines->length);
    assert_non_null(lines->file);
    assert_int_equal(debrief_log_open(lines->file, 1000, &lines->log), 0);
}

static void close_lines(struct lines *lines)
{
    assert_int_equal(debrief_log_close(lines->log), 0);
    assert_int_equal(fclose(lines->file), 0);
}

static struct maneuver_event event_at(enum maneuver_event_kind kind, double t_s)
{
    return (struct maneuver_event){.kind = kind,
                                   .t_ns = 1000 + (int64_t)(t_s * 1e9),
                                   .attempt = 1,
                                   .direction = -1,
                                   .turn_rad = 1.0,
                                   .altitude_m = (double)NAN,
                                   .stall_margin_mps = (double)NAN,
                                   .angle_rad = 0.1,
                                   .side = 1,
                                   .band = 2,
                                   .length_m = 100.0,
                                   .reason = REASON_STALLED};
}

static void lines_come_out_in_time_order_when_settled(void **state)
{
    struct lines lines;
    struct maneuver_event late = event_at(EVENT_MARK, 3.0);
    struct maneuver_event early = event_at(EVENT_ENTRY, 1.0);
    (void)state;
    open_lines(&lines);
    assert_int_equal(debrief_log_event(lines.log, &late, NULL), 0);
    assert_int_equal(debrief_log_settle(lines.log, 1000 + 2000000000), 0);
    assert_int_equal(debrief_log_event(lines.log, &early, NULL), 0);
    (void)fflush(lines.file);
    assert_int_equal(lines.length, 0);
    assert_int_equal(debrief_log_settle(lines.log, 1000 + 2000000000), 0);
    assert_non_null(strstr(lines.text, "\"entry\""));
    assert_null(strstr(lines.text, "\"mark\""));
    close_lines(&lines);
    assert_true(strstr(lines.text, "\"mark\"") >
                strstr(lines.text, "\"entry\""));
    free(lines.text);
}

/* The members that every line and every flight event has, and one of its
 * own for each kind that has one. */
static void every_event_has_its_members(void **state)
{
    static const char *const own[EVENT_KIND_COUNT] = {
        [EVENT_BANK_SET] = "bank_error_deg",
        [EVENT_MARK] = "mark_deg",
        [EVENT_PITCH_LIMIT] = "limit_deg",
        [EVENT_PITCH_SAG] = "held_deg",
        [EVENT_PITCH_RISE] = "held_deg",
        [EVENT_BANK_DRIFT] = "bank_error_deg",
        [EVENT_BALL] = "side",
        [EVENT_ROLL_OUT_ADVICE] = "predicted_error_deg",
        [EVENT_NEAR_STALL] = "band",
        [EVENT_WINGS_LEVEL] = "altitude_gain_ft",
        [EVENT_HOLD_BROKEN] = "deviation_ft",
        [EVENT_FINISHED] = "grade",
        [EVENT_ABANDONED] = "reason",
    };
    static const char *const flight[] = {
        "maneuver",    "attempt",     "phase",          "direction",
        "turn_deg",    "heading_deg", "pitch_deg",      "bank_deg",
        "airspeed_kt", "altitude_ft", "stall_margin_kt"};

    (void)state;
    for (int kind = 0; kind < EVENT_KIND_COUNT; kind++) {
        struct lines lines;
        struct maneuver_event event =
            event_at((enum maneuver_event_kind)kind, 2.5);
        struct debrief_grade grade = {.standard = "test",
                                      .verdict = VERDICT_IN_STANDARD};
        json_t *object;

        open_lines(&lines);
        assert_int_equal(debrief_log_event(lines.log, &event, &grade), 0);
        close_lines(&lines);
        object = json_loads(lines.text, 0, NULL);
        assert_non_null(object);
        assert_near(json_real_value(json_object_get(object, "t")), 2.5, 1e-9);
        assert_string_equal(json_string_value(json_object_get(object, "event")),
                            maneuver_event_name(event.kind));
        for (size_t i = 0; i < sizeof flight / sizeof flight[0]; i++)
            assert_int_equal(json_object_get(object, flight[i]) != NULL,
                             maneuver_event_is_flight(event.kind));
        if (own[kind] != NULL)
            assert_non_null(json_object_get(object, own[kind]));
        if (maneuver_event_is_flight(event.kind))
            assert_true(json_is_null(json_object_get(object, "altitude_ft")));
        json_decref(object);
        free(lines.text);
    }
}

static void a_call_is_a_line_too(void **state)
{
    struct lines lines;
    struct callout_call call = {.cue = CUE_NINETY,
                                .rank = RANK_PHASE,
                                .onset_ns = 1000 + 1500000000,
                                .moment_ns = 1000 + 1501000000,
                                .text = "ninety"};

    (void)state;
    open_lines(&lines);
    assert_int_equal(debrief_log_call(lines.log, &call), 0);
    close_lines(&lines);
    assert_string_equal(lines.text,
                        "{\"t\":1.5,\"event\":\"callout\",\"cue\":\"ninety\","
                        "\"rank\":\"phase\",\"onset_t\":1.5,\"moment_t\":1.501,"
                        "\"text\":\"ninety\"}\n");
    free(lines.text);
}

/* More than can wait: the oldest goes out, none is lost. */
static void a_flood_of_lines_stays_bounded_and_whole(void **state)
{
    struct lines lines;
    size_t count = 0;

    (void)state;
    open_lines(&lines);
    for (int i = 0; i < 2000; i++) {
        struct maneuver_event event = event_at(EVENT_STALL, i * 0.01);

        assert_int_equal(debrief_log_event(lines.log, &event, NULL), 0);
    }
    close_lines(&lines);
    for (const char *at = lines.text; *at != '\0'; at++)
        count += *at == '\n';
    assert_int_equal(count, 2000);
    free(lines.text);
}

static void a_full_disk_is_said_and_survived(void **state)
{
    struct debrief_log *log;
    struct maneuver_event event = event_at(EVENT_STALL, 1.0);
    FILE *file = fopen("/dev/full", "w");

    (void)state;
    if (file == NULL)
        skip();
    assert_int_equal(debrief_log_open(file, 0, &log), 0);
    assert_int_equal(debrief_log_event(log, &event, NULL), 0);
    assert_true(debrief_log_settle(log, INT64_MAX) < 0);
    assert_int_equal(debrief_log_event(log, &event, NULL), 0);
    assert_true(debrief_log_close(log) < 0);
    (void)fclose(file);
}

static void every_event_text_fits_a_terminal(void **state)
{
    (void)state;
    for (int kind = 0; kind < EVENT_KIND_COUNT; kind++) {
        struct maneuver_event event =
            event_at((enum maneuver_event_kind)kind, 1.0);
        char text[128];

        event.stall_margin_mps = 10.0;
        debrief_event_text(&event, text, sizeof text);
        /* Behind "nnnnn.nn s    " there are 66 columns of 80. */
        if (strlen(text) > 66)
            fail_msg("%zu columns: %s", strlen(text), text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_come_out_in_time_order_when_settled),
        cmocka_unit_test(every_event_has_its_members),
        cmocka_unit_test(a_call_is_a_line_too),
        cmocka_unit_test(a_flood_of_lines_stays_bounded_and_whole),
        cmocka_unit_test(a_full_disk_is_said_and_survived),
        cmocka_unit_test(every_event_text_fits_a_terminal),
    };

    return cmocka_run_group_tests_name("debrief", tests, NULL, NULL) != 0;
}
