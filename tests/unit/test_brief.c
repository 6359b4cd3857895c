/* test_brief.c - the plan card. */
#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/brief.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static struct settings settings;
static struct brief_plan plan;
static char text[65536];

static struct brief_wish wish_of_today(void)
{
    return (struct brief_wish){
        .conditions = {(double)NAN, (double)NAN, (double)NAN, 0.0, 0.0},
        .direction = -1};
}

static void make(const struct brief_wish *wish)
{
    char why[256] = "";

    if (brief_make(&settings.aircraft, &settings.standard, wish, &plan, why,
                   sizeof why) != 0)
        fail_msg("%s", why);
}

static int set_up(void **state)
{
    static const struct settings_choice choice;
    char why[512];

    (void)state;
    return settings_load(&choice, ".", &settings, why, sizeof why);
}

/* What a writer writes, in text. */
static void write_with(int (*writer)(FILE *, const struct brief_plan *))
{
    FILE *file = tmpfile();
    size_t length;

    assert_non_null(file);
    assert_int_equal(writer(file, &plan), 0);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    assert_true(length > 0 && length < sizeof text - 1);
    text[length] = '\0';
    (void)fclose(file);
}

/* Pilot's Handbook of Aeronautical Knowledge, FAA-H-8083-25, chapter 5: load
 * factor 1.1547 at 30 degrees of bank; the stall speed rises with its root,
 * 1.0746. Maneuvering speed goes with the root of the weight (from memory). */
static void speeds_follow_weight_and_bank(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.conditions.weight_kg = 2300 * 0.45359237;
    make(&wish);
    assert_near(plan.load_factor, 1.1547, 1e-4);
    assert_near(units_kt(plan.stall_mps), 55.3 * sqrt(2300.0 / 2459.0), 1e-6);
    assert_near(plan.turn_stall_mps / plan.stall_mps, 1.0746, 1e-4);
    assert_near(units_kt(plan.maneuvering_mps), 107.9 * sqrt(2300.0 / 2550.0),
                1e-6);
    assert_near(plan.finish_most_mps - plan.stall_mps,
                settings.standard.finish_margin_mps, 1e-9);
}

/* Common practice, no source: maneuvering or cruising speed, whichever is
 * slower. */
static void enters_at_the_slowest_of_its_speeds(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    make(&wish);
    assert_int_equal(plan.entry_by, ENTRY_CONFIGURED);
    assert_near(units_kt(plan.entry_mps), 105.0, 1e-9);
    wish.conditions.weight_kg = 2300 * 0.45359237;
    make(&wish);
    assert_int_equal(plan.entry_by, ENTRY_MANEUVERING);
    assert_near(plan.entry_mps, plan.maneuvering_mps, 1e-12);
    wish = wish_of_today();
    settings.aircraft.performance.cruise_speed_mps = 100 * 1852.0 / 3600;
    settings.aircraft.performance.cruise_altitude_m = 0.0;
    /* The model fits no such cruise: without it the plan still stands. */
    settings.aircraft.performance.engine_power_w = (double)NAN;
    make(&wish);
    assert_int_equal(plan.entry_by, ENTRY_CRUISE);
    assert_near(units_kt(plan.entry_mps), 100.0, 1e-6);
    assert_false(plan.line.modelled);
    assert_int_equal(plan.other_count, 0);
}

/* FAA-S-ACS-7B, CA.V.C.S2: no lower than 1,500 ft above the ground. */
static void stays_above_the_height_that_the_standard_asks(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.ground_m = 1234 * 0.3048;
    make(&wish);
    assert_near(units_ft(plan.wish.conditions.altitude_m), 2800.0, 1e-6);
    assert_false(plan.below_height);
    wish.conditions.altitude_m = 2700 * 0.3048;
    make(&wish);
    assert_true(plan.below_height);
    wish.conditions.altitude_m = 2734 * 0.3048;
    make(&wish);
    assert_false(plan.below_height);
}

static void headings_lie_a_quarter_and_a_half_circle_on(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.heading_rad = units_rad(40.0);
    make(&wish);
    assert_near(units_deg(plan.ninety_rad), 310.0, 1e-9);
    assert_near(units_deg(plan.finish_rad), 220.0, 1e-9);
    wish.direction = 1;
    make(&wish);
    assert_near(units_deg(plan.ninety_rad), 130.0, 1e-9);
    assert_near(units_deg(plan.finish_rad), 220.0, 1e-9);
}

/* Thin air, weight and warmth each cost altitude. */
static void gain_falls_with_weight_altitude_and_warmth(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    make(&wish);
    assert_true(plan.line.modelled);
    assert_int_equal(plan.other_count, 4);
    assert_true(plan.other[0].gain_m < plan.line.gain_m); /* heavier */
    assert_true(plan.other[1].gain_m > plan.line.gain_m); /* lighter */
    assert_true(plan.other[2].gain_m < plan.line.gain_m); /* higher */
    assert_true(plan.other[3].gain_m < plan.line.gain_m); /* warmer */
    assert_true(plan.line.gain_from_speed_m > 0.3 * plan.line.gain_m);
    assert_true(plan.line.gain_from_speed_m < plan.line.gain_m);
}

/* Density altitude of 5,000 ft at 30 degrees: 7,801 ft, from the formula of
 * the standard atmosphere (ISO 2533), worked out by hand. */
static void the_day_is_told_as_density_altitude(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.conditions.altitude_m = 5000 * 0.3048;
    wish.conditions.temperature_k = 303.15;
    make(&wish);
    assert_near(units_ft(plan.density_altitude_m), 7800.7, 1.0);
}

static void wind_drifts_for_as_long_as_the_turn_takes(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.conditions.wind_mps = 5.0;
    wish.conditions.wind_from_rad = units_rad(270.0);
    make(&wish); /* heading north: the wind is from the left */
    assert_near(plan.drift_m, 5.0 * plan.line.t_180_s, 1e-9);
    assert_near(units_deg(plan.drift_to_rad), 90.0, 1e-9);
    assert_near(plan.wind_from_left_mps, 5.0, 1e-9);
}

static void text_fits_a_terminal_and_tells_its_sources(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.conditions.wind_mps = 8.0;
    wish.conditions.wind_from_rad = units_rad(200.0);
    wish.ground_m = 1400.0;
    wish.conditions.altitude_m = 1500.0;
    make(&wish);
    write_with(brief_print);
    for (char *line = strtok(text, "\n"); line != NULL;
         line = strtok(NULL, "\n")) {
        if (strlen(line) > 80)
            fail_msg("%zu columns: %s", strlen(line), line);
        assert_true(line[strlen(line) - 1] != ' ');
    }
    write_with(brief_print);
    assert_non_null(strstr(text, "TOO LOW"));
    assert_non_null(strstr(text, "FAA-S-ACS-7B"));
    assert_non_null(strstr(text, "For simulator practice only"));
    assert_null(strstr(text, "nan"));
}

/* Whoever flies the card well is to be in standard; where that cannot be, the
 * card says it. */
static void a_line_that_misses_the_standard_is_told_of(void **state)
{
    struct brief_wish wish = wish_of_today();
    json_t *root;

    (void)state;
    make(&wish);
    assert_false(plan.misses_finish);
    write_with(brief_print);
    assert_null(strstr(text, "disagree"));
    /* Too little pitch for its power: it cannot become slow enough. */
    settings.aircraft.pitch_limit_rad = units_rad(15.0);
    make(&wish);
    assert_true(plan.line.finish_cas_mps > plan.finish_most_mps);
    assert_true(plan.misses_finish);
    write_with(brief_print);
    assert_non_null(strstr(text, "they disagree"));
    write_with(brief_write_page);
    assert_non_null(strstr(text, "they disagree"));
    write_with(brief_write_json);
    root = json_loads(text, 0, NULL);
    assert_true(json_is_false(
        json_object_get(json_object_get(root, "speeds"), "aim_in_standard")));
    json_decref(root);
}

/* Both sides, from 1,000 to 6,000 ft, from -10 to +35 degC. */
static void shipped_airplanes_can_end_where_the_standard_asks(void **state)
{
    static const char *const name[] = {"club-trainer", "two-seater"};

    (void)state;
    for (int i = 0; i < 2 * 6 * 4 * 2; i++) {
        const struct settings_choice choice = {.aircraft = name[i / 48]};
        struct brief_wish wish = wish_of_today();
        char why[512];

        assert_int_equal(
            settings_load(&choice, ".", &settings, why, sizeof why), 0);
        wish.direction = i % 2 == 0 ? 1 : -1;
        wish.ground_m = -units_to_internal(UNIT_FT, 1000.0);
        wish.conditions.altitude_m =
            units_to_internal(UNIT_FT, 1000.0 * (1 + i / 2 % 6));
        wish.conditions.temperature_k =
            units_to_internal(UNIT_DEG_C, -10.0 + 15.0 * (i / 12 % 4));
        make(&wish);
        if (plan.misses_finish)
            fail_msg("%s at %d ft, %d degC: aims at %.1f of at most %.1f kt",
                     name[i / 48], 1000 * (1 + i / 2 % 6),
                     -10 + 15 * (i / 12 % 4),
                     units_kt(plan.line.finish_cas_mps),
                     units_kt(plan.finish_most_mps));
    }
}

static void json_holds_the_plan(void **state)
{
    struct brief_wish wish = wish_of_today();
    json_t *root;
    json_t *line;

    (void)state;
    make(&wish);
    write_with(brief_write_json);
    root = json_loads(text, 0, NULL);
    assert_non_null(root);
    assert_string_equal(json_string_value(json_object_get(root, "direction")),
                        "left");
    line = json_object_get(root, "line");
    assert_near(json_number_value(json_object_get(line, "gain_ft")),
                units_ft(plan.line.gain_m), 0.006);
    assert_int_equal(json_array_size(json_object_get(line, "points")),
                     plan.line.count);
    json_decref(root);
}

static void a_page_escapes_the_airplane(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    (void)snprintf(settings.aircraft.name, sizeof settings.aircraft.name,
                   "<b>&x");
    make(&wish);
    write_with(brief_write_page);
    assert_non_null(strstr(text, "&lt;b&gt;&amp;x"));
    assert_null(strstr(text, "<b>"));
    assert_null(strstr(text, "nan"));
}

static void expect_refusal(const struct brief_wish *wish, const char *word)
{
    char why[256] = "";

    assert_int_equal(brief_make(&settings.aircraft, &settings.standard, wish,
                                &plan, why, sizeof why),
                     ERR_RANGE);
    assert_non_null(strstr(why, word));
}

static void what_cannot_be_flown_is_refused(void **state)
{
    struct brief_wish wish = wish_of_today();

    (void)state;
    wish.conditions.weight_kg = 1500.0;
    expect_refusal(&wish, "2550 lb");
    wish = wish_of_today();
    wish.conditions.altitude_m = 9000.0;
    expect_refusal(&wish, "altitude");
    wish = wish_of_today();
    wish.conditions.temperature_k = 400.0;
    expect_refusal(&wish, "temperature");
    wish = wish_of_today();
    wish.ground_m = 9000.0;
    expect_refusal(&wish, "ground");
    wish = wish_of_today();
    wish.conditions.wind_mps = (double)NAN;
    expect_refusal(&wish, "wind");
    wish = wish_of_today();
    settings.aircraft.entry_speed_mps = settings.aircraft.stall_speed_mps;
    expect_refusal(&wish, "cannot fly a chandelle");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(speeds_follow_weight_and_bank, set_up),
        cmocka_unit_test_setup(enters_at_the_slowest_of_its_speeds, set_up),
        cmocka_unit_test_setup(stays_above_the_height_that_the_standard_asks,
                               set_up),
        cmocka_unit_test_setup(headings_lie_a_quarter_and_a_half_circle_on,
                               set_up),
        cmocka_unit_test_setup(gain_falls_with_weight_altitude_and_warmth,
                               set_up),
        cmocka_unit_test_setup(the_day_is_told_as_density_altitude, set_up),
        cmocka_unit_test_setup(wind_drifts_for_as_long_as_the_turn_takes,
                               set_up),
        cmocka_unit_test_setup(text_fits_a_terminal_and_tells_its_sources,
                               set_up),
        cmocka_unit_test_setup(a_line_that_misses_the_standard_is_told_of,
                               set_up),
        cmocka_unit_test_setup(
            shipped_airplanes_can_end_where_the_standard_asks, set_up),
        cmocka_unit_test_setup(json_holds_the_plan, set_up),
        cmocka_unit_test_setup(a_page_escapes_the_airplane, set_up),
        cmocka_unit_test_setup(what_cannot_be_flown_is_refused, set_up),
    };

    return cmocka_run_group_tests_name("brief", tests, NULL, NULL) != 0;
}
