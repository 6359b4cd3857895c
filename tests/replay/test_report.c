/* test_report.c - an attempt as text, CSV and JSON. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "flown.h"
#include "near.h"

static char *text;
static size_t length;

static FILE *begin(void)
{
    FILE *file = open_memstream(&text, &length);

    assert_non_null(file);
    return file;
}

static void assert_holds(const char *what)
{
    if (strstr(text, what) == NULL)
        fail_msg("\"%s\" is not in:\n%s", what, text);
}

static void print(const struct debrief_attempt *attempt)
{
    FILE *file = begin();

    debrief_attempt_print(file, attempt);
    assert_int_equal(fclose(file), 0);
}

static void assert_narrow(void)
{
    for (const char *line = text; *line != '\0';) {
        size_t columns = strcspn(line, "\n");

        if (columns > 80)
            fail_msg("%zu columns: %.*s", columns, (int)columns, line);
        line += columns + (line[columns] == '\n');
    }
}

static void text_fits_a_terminal_and_says_what_to_do(void **state)
{
    static const char *const flight[] = {"good_left", "overshoot", "stall",
                                         "no_rudder", "abandoned"};
    static const char *const says[] = {"IN STANDARD", "turned past 180",
                                       "given up: stalled",
                                       "ball out to the right", "NOT JUDGED"};

    (void)state;
    for (size_t i = 0; i < 5; i++) {
        struct flown flown;

        flown_recording(&flown, flight[i], "plain-binary");
        print(flown.attempt);
        assert_narrow();
        assert_holds(says[i]);
        assert_holds("Simulator practice only");
        /* A miss comes with its cause and one thing to do. */
        assert_int_equal(strstr(text, "next time:") != NULL,
                         flown.attempt->grade.verdict == VERDICT_MISSED);
        free(text);
        flown_free(&flown);
    }
}

/* Where each stands in the text, or the test ends. */
static size_t place_of(const char *what)
{
    const char *at = strstr(text, what);

    if (at == NULL)
        fail_msg("\"%s\" is not in:\n%s", what, text);
    return at == NULL ? 0 : (size_t)(at - text);
}

static void a_stall_is_spoken_of_before_what_led_to_it(void **state)
{
    static const char *const later[] = {"* highest pitch long before 90",
                                        "* pitch not raised evenly",
                                        "* nose raised too high"};
    struct flown flown;

    (void)state;
    flown_recording(&flown, "stall", "plain-binary");
    print(flown.attempt);
    for (size_t i = 0; i < sizeof later / sizeof later[0]; i++)
        if (place_of("* stalled during the maneuver") > place_of(later[i]))
            fail_msg("\"%s\" stands before the stall:\n%s", later[i], text);
    free(text);
    flown_free(&flown);
}

static void what_is_one_is_told_of_as_one(void **state)
{
    static const struct {
        double deg;
        double kt;
        double ft;
        const char *says;
    } cases[] = {
        {1.2, 0.8, 1.3,
         "Wings level +1 degree from 180, 1 knot above the stall, 1 foot "
         "gained."},
        {-0.6, -1.1, 2.0,
         "Wings level -1 degree from 180, 1 knot below the stall, 2 feet "
         "gained."},
        {-0.3, -0.2, 0.2,
         "Wings level at 180 degrees, 0 knots above the stall, 0 feet "
         "gained."},
        {-4.0, 1.6, 700.0,
         "Wings level -4 degrees from 180, 2 knots above the stall, 700 feet "
         "gained."},
    };
    static struct debrief_attempt attempt;
    char told[200];

    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        attempt.level_s = 40.0;
        attempt.summary.heading_error_rad = units_rad(cases[i].deg);
        attempt.summary.finish_margin_mps = cases[i].kt * UNITS_MPS_PER_KT;
        attempt.summary.altitude_gain_m = cases[i].ft * UNITS_M_PER_FT;
        debrief_result_text(&attempt, told, sizeof told);
        assert_string_equal(told, cases[i].says);
    }
}

/* RFC 4180, section 2: CR LF behind each line, as many fields in each. */
static void series_is_a_table(void **state)
{
    struct flown flown;
    FILE *file = begin();
    size_t lines = 0;

    (void)state;
    flown_recording(&flown, "good_left_basic", "plain-text");
    assert_int_equal(debrief_series_write(file, flown.attempt), 0);
    assert_int_equal(fclose(file), 0);
    for (const char *line = text; *line != '\0'; lines++) {
        size_t columns = strcspn(line, "\r");
        size_t commas = 0;

        for (size_t i = 0; i < columns; i++)
            commas += line[i] == ',';
        assert_int_equal(commas, 18);
        assert_int_equal(strncmp(line + columns, "\r\n", 2), 0);
        line += columns + 2;
    }
    assert_int_equal(lines, flown.attempt->point_count + 1);
    assert_holds("time (s),turn (deg),");
    assert_null(strstr(text, "nan"));
    free(text);
    flown_free(&flown);
}

static void json_holds_the_whole_attempt(void **state)
{
    struct flown flown;
    FILE *file = begin();
    json_t *object;

    (void)state;
    flown_recording(&flown, "overshoot", "plain-binary");
    (void)strcpy(flown.attempt->person, "<b>\"Zo\xc3\xab\"");
    assert_int_equal(debrief_attempt_write_json(file, flown.attempt), 0);
    assert_int_equal(fclose(file), 0);
    object = json_loads(text, 0, NULL);
    assert_non_null(object);
    assert_string_equal(json_string_value(json_object_get(object, "person")),
                        "<b>\"Zo\xc3\xab\"");
    assert_string_equal(json_string_value(json_object_get(
                            json_object_get(object, "grade"), "verdict")),
                        "missed");
    assert_int_equal(json_array_size(json_object_get(
                         json_object_get(object, "series"), "bank (deg)")),
                     flown.attempt->point_count);
    assert_int_equal(json_array_size(json_object_get(object, "events")),
                     flown.attempt->event_count);
    assert_int_equal(json_array_size(json_object_get(object, "calls")),
                     flown.attempt->call_count);
    assert_string_equal(
        json_string_value(json_object_get(
            json_array_get(json_object_get(object, "events"), 0), "event")),
        "entry");
    assert_int_equal(json_array_size(json_object_get(
                         json_object_get(object, "reference"), "pitch (deg)")),
                     flown.attempt->reference.count);
    json_decref(object);
    free(text);
    flown_free(&flown);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_fits_a_terminal_and_says_what_to_do),
        cmocka_unit_test(a_stall_is_spoken_of_before_what_led_to_it),
        cmocka_unit_test(what_is_one_is_told_of_as_one),
        cmocka_unit_test(series_is_a_table),
        cmocka_unit_test(json_holds_the_whole_attempt),
    };

    return cmocka_run_group_tests_name("report", tests, NULL, NULL) != 0;
}
