/* test_debrief_page.c - the page of an attempt, whatever is missing in it.
 *
 * With QUARTERTURN_PAGES set to a folder the pages are left there, for a
 * browser to show ("make check-page"). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

static struct debrief_attempt *attempt;
static char *text;

/* ---- an attempt --------------------------------------------------------- */

static struct debrief_point point_of(double t_s)
{
    double turn_rad = UNITS_PI * fmin(t_s / 36.0, 1.0);

    return (struct debrief_point){
        .t_s = t_s,
        .turn_rad = turn_rad,
        .heading_rad = 1.0 + turn_rad,
        .bank_rad = units_rad(t_s < 36.0 ? 30.0 - 0.8 * t_s : 0.0),
        .pitch_rad = units_rad(fmin(t_s, 17.0)),
        .cas_mps = 54.0 - 0.6 * t_s,
        .tas_mps = 57.0 - 0.6 * t_s,
        .altitude_m = 1000.0 + 7.0 * t_s,
        .height_m = 800.0 + 7.0 * t_s,
        .load_factor = 1.0,
        .stall_speed_mps = 28.0,
        .stall_margin_mps = 26.0 - 0.6 * t_s,
        .lateral_g = 0.02 * sin(t_s),
        .sideslip_rad = 0.01,
        .north_m = 500.0 * sin(turn_rad),
        .east_m = 500.0 * (1.0 - cos(turn_rad))};
}

static void add_call(double t_s, enum callout_rank rank, const char *words)
{
    struct debrief_call *call = &attempt->call[attempt->call_count++];

    *call = (struct debrief_call){.onset_s = t_s,
                                  .moment_s = t_s,
                                  .turn_rad = point_of(t_s).turn_rad,
                                  .rank = rank};
    (void)snprintf(call->text, sizeof call->text, "%s", words);
}

static int set_up(void **state)
{
    (void)state;
    attempt = calloc(1, sizeof *attempt);
    if (attempt == NULL)
        return 1;
    attempt->number = 3;
    attempt->direction = 1;
    attempt->standard =
        (struct maneuver_standard){.name = "training",
                                   .entry_bank_rad = 0.52,
                                   .bank_tolerance_rad = 0.09,
                                   .ball_tolerance_g = 0.03,
                                   .slip_tolerance_rad = 0.05,
                                   .pitch_tolerance_rad = 0.05,
                                   .pitch_rise_tolerance_rad = 0.06,
                                   .heading_tolerance_rad = 0.17,
                                   .hold_band_m = 15.0,
                                   .hold_time_s = 10.0};
    attempt->aircraft.pitch_limit_rad = 0.35;
    (void)snprintf(attempt->aircraft.name, sizeof attempt->aircraft.name,
                   "test");
    attempt->begun_unix_ns = INT64_C(1709208000000000000);
    attempt->ended_s = 50.0;
    attempt->ninety_s = 18.0;
    attempt->level_s = 36.0;
    attempt->summary.entry_heading_rad = 1.0;
    attempt->summary.entry_altitude_m = 1000.0;
    attempt->summary.pitch_held_rad = 0.3;
    attempt->summary.heading_error_rad = 0.02;
    attempt->summary.finish_margin_mps = 2.0;
    attempt->summary.altitude_gain_m = 250.0;
    for (int i = 0; i <= 1000; i++)
        attempt->point[attempt->point_count++] = point_of(0.05 * i);
    add_call(18.0, RANK_PHASE, "ninety");
    add_call(36.0, RANK_PHASE, "wings level");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    free(attempt);
    free(text);
    text = NULL;
    return 0;
}

/* ---- a page ------------------------------------------------------------- */

static void keep(const char *name)
{
    const char *folder = getenv("QUARTERTURN_PAGES");
    char path[512];
    FILE *file;

    if (folder == NULL || name == NULL)
        return;
    (void)snprintf(path, sizeof path, "%s/%s.html", folder, name);
    file = fopen(path, "w");
    assert_non_null(file);
    assert_int_equal(fputs(text, file) >= 0, 1);
    assert_int_equal(fclose(file), 0);
}

/* name: that the page is left under; NULL: not. */
static void write_page(const char *name)
{
    FILE *file = tmpfile();
    long length;

    assert_non_null(file);
    assert_int_equal(debrief_page_write(file, attempt), 0);
    length = ftell(file);
    assert_in_range(length, 1000, 400000);
    rewind(file);
    free(text);
    text = malloc((size_t)length + 1);
    assert_non_null(text);
    assert_int_equal(fread(text, 1, (size_t)length, file), length);
    text[length] = '\0';
    (void)fclose(file);
    keep(name);
}

static bool stands_alone(const char *name)
{
    static const char *const alone[] = {"!DOCTYPE", "meta"};

    for (size_t i = 0; i < sizeof alone / sizeof alone[0]; i++)
        if (strcmp(name, alone[i]) == 0)
            return true;
    return false;
}

/* Every element that is begun is ended, in order. */
static void expect_well_formed(void)
{
    char open[64][16];
    int depth = 0;

    for (const char *at = strchr(text, '<'); at != NULL;
         at = strchr(at + 1, '<')) {
        const char *end = strchr(at, '>');
        bool closes = at[1] == '/';
        char name[16] = "";

        assert_non_null(end);
        assert_int_equal(sscanf(at + 1 + closes, "%15[!a-zA-Z0-9]", name), 1);
        if (closes) {
            assert_true(depth > 0);
            assert_string_equal(open[--depth], name);
        } else if (end[-1] != '/' && !stands_alone(name)) {
            assert_true(depth < 64);
            memcpy(open[depth++], name, sizeof name);
        }
    }
    assert_int_equal(depth, 0);
}

static void expect_sound_page(const char *name)
{
    static const char *const never[] = {"nan",   "NaN",  "inf\"",  "-inf",
                                        "http:", "url(", "<script"};

    write_page(name);
    expect_well_formed();
    for (size_t i = 0; i < sizeof never / sizeof never[0]; i++)
        if (strstr(text, never[i]) != NULL)
            fail_msg("\"%s\" stands on the page", never[i]);
    assert_non_null(strstr(text, "For simulator practice only."));
}

static void add_item(const char *item, const char *unit, double flown,
                     const struct debrief_lesson *lesson)
{
    struct debrief_grade *grade = &attempt->grade;

    grade->item[grade->item_count++] = (struct debrief_item){
        .item = item,
        .unit = unit,
        .target = 10.0,
        .tolerance = 2.0,
        .flown = flown,
        .rule = RULE_WITHIN,
        .verdict = lesson != NULL ? VERDICT_MISSED : VERDICT_IN_STANDARD,
        .t_s = 20.0,
        .turn_rad = 1.6,
        .lesson = lesson};
    if (lesson != NULL)
        grade->verdict = VERDICT_MISSED;
}

/* ---- tests -------------------------------------------------------------- */

static void a_whole_attempt_makes_a_sound_page(void **state)
{
    (void)state;
    expect_sound_page("whole");
    assert_non_null(strstr(text, "<h1>Chandelle to the right</h1>"));
    assert_non_null(strstr(text, "\xE2\x9C\x93 In standard"));
    /* 1709208000 s: 2024-02-29 12:00 UTC, by "date -u -d @1709208000". */
    assert_non_null(strstr(text, "2024-02-29 12:00 UTC"));
    assert_non_null(strstr(text, "dead reckoned in calm air"));
    assert_non_null(strstr(text, ">ninety</text>"));
}

static void dates_are_those_of_the_calendar(void **state)
{
    /* By "date -u -d ...". */
    static const struct {
        int64_t s;
        const char *text;
    } date[] = {{951782399, "2000-02-28 23:59 UTC"},
                {951868800, "2000-03-01 00:00 UTC"},
                {1735689599, "2024-12-31 23:59 UTC"},
                {1735689600, "2025-01-01 00:00 UTC"},
                {4107542400, "2100-03-01 00:00 UTC"}};

    (void)state;
    for (size_t i = 0; i < sizeof date / sizeof date[0]; i++) {
        attempt->begun_unix_ns = date[i].s * UNITS_NS_PER_S;
        write_page(NULL);
        assert_non_null(strstr(text, date[i].text));
    }
    attempt->begun_unix_ns = 5;
    write_page(NULL);
    assert_null(strstr(text, "UTC"));
}

static void what_was_not_sent_is_said_to_be_missing(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        struct debrief_point *point = &attempt->point[i];

        point->lateral_g = point->sideslip_rad = (double)NAN;
        point->altitude_m = point->stall_speed_mps = (double)NAN;
        point->north_m = point->east_m = (double)NAN;
    }
    attempt->summary.entry_altitude_m = (double)NAN;
    attempt->summary.altitude_gain_m = (double)NAN;
    expect_sound_page("missing");
    assert_non_null(strstr(text, "The altitude was not sent."));
    assert_non_null(strstr(text, "Neither lateral acceleration nor sideslip"));
    assert_non_null(strstr(text, "Neither positions nor"));
    assert_null(strstr(text, "id=\"track-title\""));
}

static void sideslip_stands_in_for_the_ball(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < attempt->point_count; i++)
        attempt->point[i].lateral_g = (double)NAN;
    expect_sound_page(NULL);
    assert_non_null(strstr(text, "Ball, deg of sideslip"));
}

static void an_attempt_without_anything_makes_a_page_too(void **state)
{
    (void)state;
    memset(attempt, 0, sizeof *attempt);
    expect_sound_page("empty");
    attempt->ended_s = attempt->ninety_s = attempt->level_s = (double)NAN;
    expect_sound_page(NULL);
    /* One point, and nothing known of it. */
    attempt->point_count = 1;
    for (size_t i = 0; i < sizeof attempt->point[0] / sizeof(double); i++)
        ((double *)(void *)&attempt->point[0])[i] = (double)NAN;
    expect_sound_page(NULL);
    add_call((double)NAN, RANK_WARNING, "stall");
    expect_sound_page(NULL);
}

static void wild_values_stay_inside_their_pictures(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < attempt->point_count; i += 7) {
        attempt->point[i].bank_rad = i % 2 == 0 ? 1e300 : -1e300;
        attempt->point[i].pitch_rad = (double)INFINITY;
        attempt->point[i].turn_rad = 1e9;
        attempt->point[i].north_m = -1e12;
    }
    attempt->summary.entry_heading_rad = (double)NAN;
    expect_sound_page(NULL);
}

static void text_of_people_stays_text(void **state)
{
    static const char evil[] = "<script>alert('1')</script>&\"";

    (void)state;
    memcpy(attempt->person, evil, sizeof evil);
    memcpy(attempt->aircraft.name, "<b>", 4);
    memcpy(attempt->grade.standard, "<i>\"", 5);
    attempt->note_count = 1;
    attempt->note[0] = (struct debrief_note){.t_s = 12.0, .turn_rad = 1.0};
    memcpy(attempt->note[0].text, "</p><img src=x>", 16);
    expect_sound_page("escaped");
    assert_non_null(strstr(text, "&lt;script&gt;alert(&#39;1&#39;)"
                                 "&lt;/script&gt;&amp;&quot;"));
    assert_non_null(strstr(text, "&lt;/p&gt;&lt;img src=x&gt;"));
    assert_null(strstr(text, "<b></"));
}

/* More of everything than an attempt usually has. */
static void a_full_page_is_sound(void **state)
{
    static const struct debrief_lesson lesson[4] = {
        {"an error that takes some words to be told",
         "a cause of many words: hands, feet and eyes were not together",
         "think of all three before the entry, then do one after the other"},
        {"danger", "the cause of it", "do better"},
        {"third", "cause", "next"},
        {"fourth", "cause", "next"}};
    static const char *const names[] = {
        "entry speed",        "maneuvering speed",        "least height",
        "bank set",           "time to set bank",         "bank to 90",
        "pitch rise to 90",   "highest pitch reached at", "highest pitch",
        "pitch kept from 90", "roll-out begun at",        "roll-out evenness",
        "speed above stall",  "altitude after level",     "ball out",
        "least stall margin", "altitude gained"};
    const char *first;
    const char *second;

    (void)state;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        add_item(names[i], "deg", 10.5, NULL);
    add_item("pitch kept from 90", "deg", 13.0, &lesson[2]);
    add_item("heading error at level", "deg", 35.0, &lesson[0]);
    add_item("bank to 90", "deg", 12.5, &lesson[3]);
    add_item("time stalled", "s", 12.1, &lesson[1]);
    for (int i = 0; i < 40; i++)
        add_call(5.0 + i, (enum callout_rank)(i % 4),
                 i % 3 == 0 ? "right rudder" : "pitch limit");
    attempt->calls_left_out = 2;
    attempt->ending = ENDING_ABANDONED;
    attempt->reason = REASON_STALLED;
    expect_sound_page("full");
    /* A danger first, then what was furthest out; the fourth in the table. */
    first = strstr(text, "danger");
    second = strstr(text, "an error that takes");
    assert_non_null(first);
    assert_non_null(second);
    assert_true(first < second);
    assert_true(second < strstr(text, "third"));
    assert_null(strstr(text, "fourth"));
    assert_non_null(strstr(text, "1 more stands in the table below."));
    assert_non_null(strstr(text, "more are not drawn here."));
    assert_non_null(strstr(text, "Missed: 4 of 21 items"));
}

static void a_page_that_cannot_be_written_is_told(void **state)
{
    FILE *file = fopen("/dev/full", "w");

    (void)state;
    assert_non_null(file);
    assert_int_equal(debrief_page_write(file, attempt), ERR_IO);
    (void)fclose(file);
}

#define PAGE_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PAGE_TEST(a_whole_attempt_makes_a_sound_page),
        PAGE_TEST(dates_are_those_of_the_calendar),
        PAGE_TEST(what_was_not_sent_is_said_to_be_missing),
        PAGE_TEST(sideslip_stands_in_for_the_ball),
        PAGE_TEST(an_attempt_without_anything_makes_a_page_too),
        PAGE_TEST(wild_values_stay_inside_their_pictures),
        PAGE_TEST(text_of_people_stays_text),
        PAGE_TEST(a_full_page_is_sound),
        PAGE_TEST(a_page_that_cannot_be_written_is_told),
    };

    return cmocka_run_group_tests_name("debrief page", tests, NULL, NULL) != 0;
}
