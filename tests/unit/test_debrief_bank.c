/* test_debrief_bank.c - what is said of a bank that was set and then kept, or
 * not. FAA-S-ACS-7B, task V.C: about 30 degrees, constant to the 90-degree
 * point. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/debrief.h"

#define DEG UNITS_RAD_PER_DEG
#define UNKNOWN ((double)NAN)

enum { POINTS = 21 };

static const char shallow[] = "bank too shallow at the start";
static const char steep[] = "bank too steep at the start";
static const char fell[] = "bank not kept up to 90";
static const char grew[] = "bank growing after it was set";

/* What was flown, and what each item is to say of it: NULL, in standard. */
struct flight {
    double set_deg;
    double middle_deg;
    double ninety_deg;
    const char *set;
    const char *kept;
};

static const struct flight flights[] = {
    {30.0, 30.0, 30.0, NULL, NULL},
    {34.5, 34.5, 34.5, NULL, NULL},
    /* set wrongly and kept: one fault */
    {38.3, 38.3, 38.3, steep, NULL},
    {22.3, 21.9, 22.1, shallow, NULL},
    {38.0, 36.0, 42.0, steep, NULL},
    /* set wrongly and put right */
    {38.3, 34.0, 31.0, steep, NULL},
    {22.0, 28.0, 33.0, shallow, NULL},
    /* set wrongly, and worse from there */
    {36.0, 38.0, 42.0, steep, grew},
    {24.0, 20.0, 18.0, shallow, fell},
    /* put right, and past it */
    {38.0, 30.0, 22.0, steep, fell},
    {22.0, 30.0, 38.0, shallow, grew},
    /* set well, and left */
    {30.0, 33.0, 36.0, NULL, grew},
    {30.0, 27.0, 24.0, NULL, fell},
    {32.0, 34.0, 36.0, NULL, grew},
    /* set at the edge and kept there, just outside */
    {34.0, 35.5, 34.0, NULL, steep},
    {26.0, 24.5, 26.0, NULL, shallow},
};

static struct debrief_attempt *attempt;

static int set_up(void **state)
{
    (void)state;
    attempt = calloc(1, sizeof *attempt);
    return attempt == NULL;
}

static int tear_down(void **state)
{
    (void)state;
    free(attempt);
    return 0;
}

static double bank_at(const struct flight *flight, double part)
{
    return part < 0.5 ? flight->set_deg +
                            (flight->middle_deg - flight->set_deg) * part * 2.0
                      : flight->middle_deg +
                            (flight->ninety_deg - flight->middle_deg) *
                                (part - 0.5) * 2.0;
}

/* From the bank set, 3 seconds after the entry, to 90. */
static void fly(const struct flight *flight, int direction)
{
    struct maneuver_summary *summary = &attempt->summary;

    memset(attempt, 0, sizeof *attempt);
    attempt->direction = direction;
    attempt->standard.entry_bank_rad = 30.0 * DEG;
    attempt->standard.bank_tolerance_rad = 5.0 * DEG;
    attempt->standard.bank_time_s = 5.0;
    attempt->ninety_s = 13.0;
    attempt->level_s = attempt->ended_s = UNKNOWN;
    summary->bank_least_rad = summary->bank_greatest_rad = UNKNOWN;
    for (int i = 0; i < POINTS; i++) {
        double part = (double)i / (POINTS - 1);
        double bank_rad = bank_at(flight, part) * DEG;

        attempt->point[attempt->point_count++] =
            (struct debrief_point){.t_s = 3.0 + 10.0 * part,
                                   .turn_rad = (10.0 + 80.0 * part) * DEG,
                                   .bank_rad = direction * bank_rad};
        summary->bank_least_rad = fmin(summary->bank_least_rad, bank_rad);
        summary->bank_greatest_rad = fmax(summary->bank_greatest_rad, bank_rad);
    }
    attempt->event[attempt->event_count++] =
        (struct debrief_event){3.0,
                               {.kind = EVENT_BANK_SET,
                                .turn_rad = 10.0 * DEG,
                                .bank_rad = direction * flight->set_deg * DEG}};
}

static const struct debrief_item *find(const struct debrief_grade *grade,
                                       const char *name)
{
    for (uint32_t i = 0; i < grade->item_count; i++)
        if (strcmp(grade->item[i].item, name) == 0)
            return &grade->item[i];
    fail_msg("no item %s", name);
    return NULL;
}

static void expect_said(const struct flight *flight,
                        const struct debrief_item *item, const char *error)
{
    const char *said = item->lesson == NULL ? NULL : item->lesson->error;

    if ((said == NULL) != (error == NULL) ||
        (error != NULL && strcmp(said, error) != 0) ||
        (item->verdict == VERDICT_MISSED) != (error != NULL))
        fail_msg("set %.1f, then %.1f, %.1f: of \"%s\" is said \"%s\", not "
                 "\"%s\"",
                 flight->set_deg, flight->middle_deg, flight->ninety_deg,
                 item->item, said == NULL ? "in standard" : said,
                 error == NULL ? "in standard" : error);
}

static void a_bank_grew_or_fell_only_from_where_it_was_set(void **state)
{
    (void)state;
    for (size_t i = 0; i < 2 * sizeof flights / sizeof flights[0]; i++) {
        const struct flight *flight = &flights[i / 2];
        struct debrief_grade grade;

        fly(flight, i % 2 == 0 ? 1 : -1);
        debrief_grade(attempt, &grade);
        expect_said(flight, find(&grade, "bank set"), flight->set);
        expect_said(flight, find(&grade, "bank to 90"), flight->kept);
    }
}

/* Whoever reads the table sees what it was held against. */
static void what_was_set_wrongly_is_what_was_to_be_kept(void **state)
{
    static const struct flight kept = {38.3, 38.5, 38.3, NULL, NULL};
    static const struct flight past = {38.0, 30.0, 22.0, NULL, NULL};
    struct debrief_grade grade;

    (void)state;
    fly(&kept, 1);
    debrief_grade(attempt, &grade);
    assert_near(find(&grade, "bank to 90")->flown, 38.5, 1e-9);
    assert_near(find(&grade, "bank to 90")->target, 38.3, 1e-9);
    assert_near(find(&grade, "bank to 90")->t_s, 8.0, 1e-9);
    assert_near(find(&grade, "bank set")->target, 30.0, 1e-9);
    fly(&past, 1);
    debrief_grade(attempt, &grade);
    assert_near(find(&grade, "bank to 90")->flown, 22.0, 1e-9);
    assert_near(find(&grade, "bank to 90")->target, 30.0, 1e-9);
    assert_near(find(&grade, "bank to 90")->t_s, 13.0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_bank_grew_or_fell_only_from_where_it_was_set),
        cmocka_unit_test(what_was_set_wrongly_is_what_was_to_be_kept),
    };

    return cmocka_run_group_tests_name("debrief_bank", tests, set_up,
                                       tear_down) != 0;
}
