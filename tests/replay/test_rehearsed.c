/* test_rehearsed.c - hundreds of rehearsed flights, each against the truth
 * that was written beside it.
 *
 * Each is flown in the performance model with a seed of its own: direction,
 * heading, altitude, temperature, hand, an error of every kind in turn and its
 * size, then sent at a rate of its own with jitter and loss. What is told must
 * agree with what was flown as closely as for the recorded flights. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "quarterturn/rehearse.h"

static const char layout[] = "plain-binary";

/* ---- flying ------------------------------------------------------------- */

static const struct flight_aircraft *airplane(void)
{
    static struct settings settings;
    const struct settings_choice choice = {.aircraft = "club-trainer"};
    char why[600];

    if (settings.aircraft.name[0] == '\0' &&
        settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    return &settings.aircraft;
}

struct drawn {
    struct rehearse_plan plan;
    enum rehearse_error error; /* REHEARSE_ERRORS: none */
    double rate_hz;
    double jitter_s;
    double loss;
    unsigned seed;
};

/* On a hot day, high up, the largest errors cannot be flown: then smaller ones,
 * down to the usual size. */
static void begin(struct rehearse *rehearse, struct drawn *drawn)
{
    char why[300] = "";

    for (int i = 0; i < 6; i++) {
        double usual = 0.0;

        if (rehearse_begin(rehearse, &drawn->plan, why, sizeof why) == 0)
            return;
        if (drawn->error == REHEARSE_ERRORS)
            break;
        usual = units_to_internal(rehearse_error_about(drawn->error)->unit,
                                  rehearse_error_about(drawn->error)->usual);
        drawn->plan.size[drawn->error] =
            i < 4 ? (drawn->plan.size[drawn->error] + usual) / 2.0 : usual;
    }
    fail_msg("%s", why);
}

/* Fly a plan to its end and send it at a rate. */
static void rehearse_all(struct drawn *drawn, struct stream *stream,
                         struct rehearse_truth *truth)
{
    static struct rehearse rehearse;

    memset(stream, 0, sizeof *stream);
    begin(&rehearse, drawn);
    for (int i = 0; rehearse.phase != REHEARSE_OVER; i++) {
        struct stream_packet packet;
        double t_s = i / drawn->rate_hz;

        rehearse_fly(&rehearse, t_s);
        rehearse_sample(&rehearse, t_s, &packet.sample);
        packet.arrival_ns = packet.sample.t_ns;
        stream_append(stream, &packet);
    }
    *truth = rehearse.truth;
}

static double draw(uint64_t *chance, double least, double most)
{
    return least + (most - least) * performance_random(chance);
}

/* Everything about a flight follows from its number. */
static void draw_flight(unsigned number, struct drawn *out)
{
    uint64_t chance = number + 1;

    out->seed = number + 1;
    rehearse_plan_init(&out->plan, airplane());
    out->plan.seed = out->seed;
    out->plan.direction = performance_random(&chance) < 0.5 ? -1 : 1;
    out->plan.entry_heading_rad = draw(&chance, 0.0, 2.0 * UNITS_PI);
    out->plan.conditions.altitude_m =
        draw(&chance, 2500.0, 5500.0) * UNITS_M_PER_FT;
    out->plan.conditions.temperature_k =
        flight_temperature_k(out->plan.conditions.altitude_m) +
        draw(&chance, -10.0, 15.0);
    out->plan.hand = draw(&chance, 0.0, 0.3);
    out->rate_hz = draw(&chance, 5.0, 60.0);
    out->jitter_s = draw(&chance, 0.0, 0.02);
    out->loss = draw(&chance, 0.0, 0.05);
    out->error = (enum rehearse_error)(number % (REHEARSE_ERRORS + 1));
    if (out->error < REHEARSE_ERRORS) {
        const struct rehearse_error_about *about =
            rehearse_error_about(out->error);

        out->plan.size[out->error] = units_to_internal(
            about->unit, draw(&chance, about->usual, about->most));
    }
}

static void fly_drawn(struct drawn *drawn, struct flown *flown,
                      struct rehearse_truth *truth)
{
    struct stream stream;

    rehearse_all(drawn, &stream, truth);
    stream_lose(&stream, drawn->loss, drawn->seed);
    stream_jitter(&stream, drawn->jitter_s, drawn->seed + 1000);
    flown_fly(flown, &stream, layout, 0);
    stream_free(&stream);
}

/* ---- judging ------------------------------------------------------------ */

static const char *name_of(enum rehearse_error error)
{
    return error < REHEARSE_ERRORS ? rehearse_error_about(error)->name : "none";
}

/* Whether a value is within; says which flight it is when not. */
static void expect_near(const struct drawn *drawn, const char *what,
                        double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("flight %u (%s, %g a second): %s is %g, flown %g",
                 drawn->seed - 1, name_of(drawn->error), drawn->rate_hz, what,
                 value, expected);
}

static void expect_count(const struct drawn *drawn, const struct flown *flown,
                         enum maneuver_event_kind kind, size_t count)
{
    if (flown_count(flown, kind) != count)
        fail_msg("flight %u (%s): %zu times %s, not %zu:\n%s", drawn->seed - 1,
                 name_of(drawn->error), flown_count(flown, kind),
                 maneuver_event_name(kind), count, flown->lines);
}

static void expect_marks(const struct drawn *drawn, const struct flown *flown,
                         const struct rehearse_truth *truth)
{
    for (int i = 0; i < REHEARSE_MARKS; i++) {
        double mark_deg = units_deg(rehearse_mark_rad[i]);
        const struct maneuver_event *mark = flown_mark(flown, 1, mark_deg);
        char what[32];

        /* What stops at 180 or only grazes it may go either way. */
        if (i == REHEARSE_MARKS - 1 &&
            !(fabs(truth->heading_error_rad) > units_rad(2.0)))
            continue;
        if (isnan(truth->mark_s[i])) {
            if (mark != NULL)
                fail_msg("flight %u (%s): mark %g", drawn->seed - 1,
                         name_of(drawn->error), mark_deg);
            continue;
        }
        /* Near the end the turn is slow: a degree may take seconds. */
        (void)snprintf(what, sizeof what, "mark %g", mark_deg);
        if (mark == NULL)
            fail_msg("flight %u (%s): no %s", drawn->seed - 1,
                     name_of(drawn->error), what);
        else
            expect_near(drawn, what, flown_seconds(mark->t_ns),
                        truth->mark_s[i], i < 3 ? 0.05 : 0.1);
        if (mark != NULL && i == 1)
            expect_near(drawn, "heading at 90",
                        units_deg(angle_wrap_half(
                            drawn->plan.direction *
                                (mark->heading_rad - truth->entry_heading_rad) -
                            UNITS_PI / 2.0)),
                        0.0, 0.5);
    }
}

static void expect_finish(const struct drawn *drawn, const struct flown *flown,
                          const struct rehearse_truth *truth)
{
    const struct maneuver_event *level =
        flown_event(flown, EVENT_WINGS_LEVEL, 0);

    expect_count(drawn, flown, EVENT_WINGS_LEVEL, 1);
    expect_count(drawn, flown, EVENT_FINISHED, 1);
    expect_count(drawn, flown, EVENT_ABANDONED, 0);
    expect_near(drawn, "direction", level->direction, drawn->plan.direction,
                0.0);
    expect_near(drawn, "heading error", units_deg(level->angle_rad),
                units_deg(truth->heading_error_rad), 1.0);
    expect_near(drawn, "gain", units_ft(level->length_m),
                units_ft(truth->gain_m), 20.0);
    expect_near(drawn, "least margin",
                units_kt(flown->summary.least_margin_mps),
                units_kt(truth->least_margin_mps), 1.5);
}

static const struct debrief_item *item_of(const struct debrief_grade *grade,
                                          const char *name)
{
    for (uint32_t i = 0; i < grade->item_count; i++)
        if (strcmp(grade->item[i].item, name) == 0)
            return &grade->item[i];
    return NULL;
}

/* One fault of the bank is one miss, by the cause that was planted. */
static void expect_bank(const struct drawn *drawn,
                        const struct debrief_grade *grade)
{
    static const struct {
        enum rehearse_error error;
        const char *missed;
        const char *held;
        const char *said;
    } faults[] = {
        {REHEARSE_BANK_SHALLOW, "bank set", "bank to 90",
         "bank too shallow at the start"},
        {REHEARSE_BANK_STEEP, "bank set", "bank to 90",
         "bank too steep at the start"},
        {REHEARSE_BANK_GROWING, "bank to 90", "bank set",
         "bank growing after it was set"},
    };

    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        const struct debrief_item *held = item_of(grade, faults[i].held);

        if (drawn->error != faults[i].error)
            continue;
        assert_string_equal(item_of(grade, faults[i].missed)->lesson->error,
                            faults[i].said);
        if (held->verdict != VERDICT_IN_STANDARD)
            fail_msg("flight %u (%s): \"%s\" is %g, %s", drawn->seed - 1,
                     name_of(drawn->error), held->item, held->flown,
                     debrief_verdict_name(held->verdict));
    }
}

/* What was planted is found; a flight without an error is in standard. */
static void expect_grade(const struct drawn *drawn, const struct flown *flown)
{
    const struct debrief_grade *grade = &flown->attempt->grade;
    const struct debrief_item *item;

    if (drawn->error == REHEARSE_ERRORS) {
        assert_int_equal(grade->verdict, VERDICT_IN_STANDARD);
        for (uint32_t i = 0; i < grade->item_count; i++) {
            item = &grade->item[i];
            if (item->verdict == VERDICT_MISSED)
                fail_msg("flight %u is perfect and misses \"%s\": %g, not %g "
                         "within %g",
                         drawn->seed - 1, item->item, item->flown, item->target,
                         item->tolerance);
        }
        return;
    }
    item = item_of(grade, rehearse_error_about(drawn->error)->item);
    if (item == NULL)
        fail_msg("the grade has no item \"%s\"",
                 rehearse_error_about(drawn->error)->item);
    else if (item->verdict != VERDICT_MISSED)
        fail_msg("flight %u (%s of %g %s): \"%s\" is %g, %s", drawn->seed - 1,
                 name_of(drawn->error),
                 units_from_internal(rehearse_error_about(drawn->error)->unit,
                                     drawn->plan.size[drawn->error]),
                 units_name(rehearse_error_about(drawn->error)->unit),
                 item->item, item->flown, debrief_verdict_name(item->verdict));
    expect_bank(drawn, grade);
}

static void expect_flight(struct drawn *drawn)
{
    struct flown flown;
    struct rehearse_truth truth;

    fly_drawn(drawn, &flown, &truth);
    expect_count(drawn, &flown, EVENT_ENTRY, 1);
    expect_count(drawn, &flown, EVENT_NOT_BEGUN, 0);
    assert_int_equal(flown.attempt_count, 1);
    expect_marks(drawn, &flown, &truth);
    if (drawn->error == REHEARSE_STALL) {
        const struct maneuver_event *stall =
            flown_event(&flown, EVENT_STALL, 0);

        /* Who pulls out quickly may stall again. */
        assert_true(flown_count(&flown, EVENT_STALL) >= 1);
        expect_count(drawn, &flown, EVENT_ABANDONED, 1);
        expect_near(drawn, "stall", flown_seconds(stall->t_ns), truth.stall_s,
                    1.0);
        expect_grade(drawn, &flown);
    } else if (drawn->error == REHEARSE_ABANDON) {
        expect_count(drawn, &flown, EVENT_ABANDONED, 1);
        expect_count(drawn, &flown, EVENT_FINISHED, 0);
        assert_int_equal(flown.attempt->ending, ENDING_ABANDONED);
    } else {
        expect_finish(drawn, &flown, &truth);
        expect_grade(drawn, &flown);
    }
    flown_free(&flown);
}

static void five_hundred_flights_are_told_as_they_were_flown(void **state)
{
    const char *only = getenv("QUARTERTURN_FLIGHT");

    (void)state;
    for (unsigned i = 0; i < 500; i++) {
        struct drawn drawn;

        /* One flight alone, to look at what a failure named. */
        if (only != NULL && strtoul(only, NULL, 10) != i)
            continue;
        draw_flight(i, &drawn);
        expect_flight(&drawn);
    }
}

/* ---- every airplane ----------------------------------------------------- */

enum { MOST_AIRPLANES = 16 };

/* The shipped airplanes, as whoever asks for another one is told of them. */
static size_t shipped_airplanes(char name[MOST_AIRPLANES][INTAKE_NAME_SIZE])
{
    static struct settings settings;
    const struct settings_choice choice = {.aircraft = "none-of-them"};
    char why[600] = "";
    const char *at;
    size_t count = 0;

    assert_int_not_equal(
        settings_load(&choice, ".", &settings, why, sizeof why), 0);
    at = strstr(why, "there is: ");
    if (at == NULL)
        fail_msg("%s", why);
    for (at += strlen("there is: "); at != NULL && *at != '\0';
         at += strspn(at, ", ")) {
        size_t length = strcspn(at, ", ");

        assert_true(count < MOST_AIRPLANES && length < INTAKE_NAME_SIZE);
        (void)snprintf(name[count++], INTAKE_NAME_SIZE, "%.*s", (int)length,
                       at);
        at += length;
    }
    return count;
}

static void expect_in_standard(struct drawn *drawn, const char *name)
{
    const struct performance_conditions *day = &drawn->plan.conditions;
    struct rehearse_truth truth;
    struct stream stream;
    struct flown flown;

    rehearse_all(drawn, &stream, &truth);
    flown_fly_in(&flown, &stream, layout, name, 0);
    assert_int_equal(flown.attempt_count, 1);
    for (uint32_t i = 0; i < flown.attempt->grade.item_count; i++) {
        const struct debrief_item *item = &flown.attempt->grade.item[i];

        if (item->verdict == VERDICT_MISSED)
            fail_msg("%s at %.0f ft, %.0f degC: \"%s\" is %g %s", name,
                     units_ft(day->altitude_m),
                     units_from_internal(UNIT_DEG_C, day->temperature_k),
                     item->item, item->flown, item->unit);
    }
    assert_int_equal(flown.attempt->grade.verdict, VERDICT_IN_STANDARD);
    stream_free(&stream);
    flown_free(&flown);
}

static void every_airplane_flies_in_standard_on_every_day(void **state)
{
    /* Nearer the sea and colder there is so much power that the club trainer,
     * held below its limit of pitch, ends too fast or climbs on. */
    static const struct {
        double altitude_ft;
        double temperature_degc;
    } day[] = {{1500.0, 12.0}, {1000.0, 35.0}, {2500.0, 0.0},
               {3000.0, 35.0}, {5500.0, -6.0}, {6000.0, 35.0}};
    enum { FLIGHTS = 2 * sizeof day / sizeof day[0] }; /* of each */
    static struct settings settings;
    char name[MOST_AIRPLANES][INTAKE_NAME_SIZE];
    size_t count = shipped_airplanes(name);

    (void)state;
    assert_true(count >= 2);
    for (size_t i = 0; i < count * FLIGHTS; i++) {
        const struct settings_choice choice = {.aircraft = name[i / FLIGHTS]};
        struct drawn drawn = {.error = REHEARSE_ERRORS, .rate_hz = 30.0};
        char why[600] = "";

        if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
            fail_msg("%s", why);
        rehearse_plan_init(&drawn.plan, &settings.aircraft);
        drawn.plan.direction = i % 2 == 0 ? 1 : -1;
        drawn.plan.ground_m = -units_to_internal(UNIT_FT, 1000.0);
        drawn.plan.conditions.altitude_m =
            units_to_internal(UNIT_FT, day[i % FLIGHTS / 2].altitude_ft);
        drawn.plan.conditions.temperature_k = units_to_internal(
            UNIT_DEG_C, day[i % FLIGHTS / 2].temperature_degc);
        expect_in_standard(&drawn, name[i / FLIGHTS]);
    }
}

/* As in a stream in time lapse, where who listens needs so long. */
static void a_long_lead_in_takes_nothing_from_the_flight(void **state)
{
    static struct rehearse rehearse;
    struct rehearse_plan plan;
    char why[300];

    (void)state;
    rehearse_plan_init(&plan, airplane());
    plan.lead_in_s = 400.0;
    assert_int_equal(rehearse_begin(&rehearse, &plan, why, sizeof why), 0);
    rehearse_fly(&rehearse, 900.0);
    assert_int_equal(rehearse.phase, REHEARSE_OVER);
    assert_near(rehearse.truth.entry_s, 400.0, 0.1);
    assert_near(units_deg(rehearse.truth.heading_error_rad), 0.0, 1.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_hundred_flights_are_told_as_they_were_flown),
        cmocka_unit_test(every_airplane_flies_in_standard_on_every_day),
        cmocka_unit_test(a_long_lead_in_takes_nothing_from_the_flight),
    };

    return cmocka_run_group_tests_name("replay: rehearsed", tests, NULL,
                                       NULL) != 0;
}
