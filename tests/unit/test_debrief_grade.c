/* test_debrief_grade.c - an attempt flown by the book, and with one fault each.
 *
 * The book: FAA-S-ACS-7B, task V.C (at or above 1,500 ft over the ground, 30
 * degrees of bank, constant to 90, a constant-rate roll-out with the pitch
 * kept, level at 180 within 10 degrees) and FAA-H-8083-3C, chapter 10. A bank
 * that comes off at a constant rate in level turning flight leaves
 * cos(bank) = cos(30 deg) ^ (degrees to go / 90). */
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

#define KT UNITS_MPS_PER_KT
#define DEG UNITS_RAD_PER_DEG
#define FT UNITS_M_PER_FT
#define UNKNOWN ((double)NAN)

static const struct maneuver_standard standard = {
    .name = "test",
    .entry_speed_band_mps = 10.0 * KT,
    .entry_excess_mps = 2.0 * KT,
    .least_height_m = 1500.0 * FT,
    .entry_bank_rad = 30.0 * DEG,
    .bank_tolerance_rad = 5.0 * DEG,
    .bank_time_s = 5.0,
    .ball_time_s = 2.0,
    .pitch_rise_tolerance_rad = 4.0 * DEG,
    .pitch_peak_tolerance_rad = 15.0 * DEG,
    .pitch_tolerance_rad = 3.0 * DEG,
    .roll_out_begin_rad = 12.0 * DEG,
    .roll_out_tolerance_rad = 4.0 * DEG,
    .heading_tolerance_rad = 10.0 * DEG,
    .finish_margin_mps = 7.0 * KT,
    .hold_band_m = 50.0 * FT,
    .hold_time_s = 10.0,
};

static const struct flight_aircraft aircraft = {.entry_speed_mps = 105.0 * KT,
                                                .pitch_limit_rad = 20.0 * DEG};

/* How it is flown; begins as the book has it. */
struct hand {
    double bank_deg;      /* set at first */
    double bank_late_deg; /* more of it at 90 */
    double roll_in_s;
    double pitch_deg;       /* held from 90 */
    double pitch_power;     /* 1: rises evenly with the turn */
    double roll_out_at_deg; /* begun here */
    double roll_out_s;
    double step_deg; /* the roll-out goes in steps this deep */
    double height_ft;
};

static const struct hand by_the_book = {.bank_deg = 30.0,
                                        .roll_in_s = 3.0,
                                        .pitch_deg = 17.0,
                                        .pitch_power = 1.0,
                                        .roll_out_at_deg = 90.0,
                                        .roll_out_s = 30.0,
                                        .height_ft = 2400.0};

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

static double bank_deg(const struct hand *hand, double t_s, double turn_deg,
                       double roll_out_from_s)
{
    double since_s = t_s - roll_out_from_s;
    double full_deg = hand->bank_deg + hand->bank_late_deg;

    if (t_s < hand->roll_in_s)
        return hand->bank_deg * t_s / hand->roll_in_s;
    if (since_s < 0.0)
        return hand->bank_deg + hand->bank_late_deg * turn_deg / 90.0;
    if (since_s > hand->roll_out_s)
        return 0.0;
    return full_deg * (1.0 - since_s / hand->roll_out_s) +
           hand->step_deg * sin(since_s / hand->roll_out_s * 4.0 * UNITS_PI);
}

static void add_event(enum maneuver_event_kind kind, double t_s,
                      double turn_rad, double bank_rad)
{
    attempt->event[attempt->event_count++] = (struct debrief_event){
        t_s,
        {.kind = kind, .turn_rad = turn_rad, .bank_rad = bank_rad, .side = 1}};
}

/* Fly it to the right and write down what the machine would. */
static void fly(const struct hand *hand)
{
    struct maneuver_summary *summary = &attempt->summary;
    double turn_deg = 0.0;
    double roll_out_from_s = INFINITY;

    memset(attempt, 0, sizeof *attempt);
    attempt->direction = 1;
    attempt->standard = standard;
    attempt->aircraft = aircraft;
    attempt->conditions.maneuvering_speed_mps = 106.0 * KT;
    attempt->ninety_s = attempt->level_s = UNKNOWN;
    *summary =
        (struct maneuver_summary){.entry_speed_mps = 104.0 * KT,
                                  .bank_least_rad = UNKNOWN,
                                  .bank_greatest_rad = UNKNOWN,
                                  .pitch_held_rad = hand->pitch_deg * DEG,
                                  .pitch_sag_rad = 1.0 * DEG,
                                  .pitch_rise_rad = 0.5 * DEG,
                                  .altitude_gain_m = 700.0 * FT,
                                  .finish_margin_mps = 4.0 * KT,
                                  .least_margin_mps = 3.0 * KT,
                                  .hold_low_m = -2.0,
                                  .hold_high_m = 10.0};
    for (int step = 0;
         isnan(attempt->level_s) ||
         0.05 * step < attempt->level_s + standard.hold_time_s + 1.0;
         step++) {
        double t_s = 0.05 * step;
        struct debrief_point *point = &attempt->point[attempt->point_count++];
        double bank = bank_deg(hand, t_s, turn_deg, roll_out_from_s);
        double part = fmin(turn_deg / 90.0, 1.0);

        *point = (struct debrief_point){
            .t_s = t_s,
            .turn_rad = turn_deg * DEG,
            .bank_rad = bank * DEG,
            .pitch_rad = hand->pitch_deg * pow(part, hand->pitch_power) * DEG,
            .height_m = hand->height_ft * FT,
            .stall_margin_mps = 3.0 * KT,
            .angle_of_attack_rad = UNKNOWN};
        /* 6.3 degrees a second: level turn, 30 degrees, 100 kt. */
        turn_deg += 0.05 * 6.3 * tan(bank * DEG) / tan(30.0 * DEG);
        if (isinf(roll_out_from_s) && turn_deg >= hand->roll_out_at_deg)
            roll_out_from_s = t_s;
        if (attempt->event_count == 0 && t_s >= hand->roll_in_s)
            add_event(EVENT_BANK_SET, t_s, turn_deg * DEG, bank * DEG);
        if (isnan(attempt->ninety_s) && turn_deg >= 90.0)
            attempt->ninety_s = t_s;
        if (isnan(attempt->level_s) && t_s > roll_out_from_s + 5.0 &&
            bank < 1.0)
            attempt->level_s = t_s;
        if (attempt->event_count > 0 && isnan(attempt->ninety_s)) {
            summary->bank_least_rad = fmin(summary->bank_least_rad, bank * DEG);
            summary->bank_greatest_rad =
                fmax(summary->bank_greatest_rad, bank * DEG);
        }
    }
    summary->heading_error_rad = turn_deg * DEG - UNITS_PI;
    attempt->ended_s = attempt->level_s + standard.hold_time_s + 1.0;
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

static void an_attempt_by_the_book_is_in_standard(void **state)
{
    struct debrief_grade grade;

    (void)state;
    fly(&by_the_book);
    debrief_grade(attempt, &grade);
    for (uint32_t i = 0; i < grade.item_count; i++)
        if (grade.item[i].verdict == VERDICT_MISSED)
            fail_msg("%s: %.1f", grade.item[i].item, grade.item[i].flown);
    assert_int_equal(grade.verdict, VERDICT_IN_STANDARD);
    assert_string_equal(grade.standard, "test");
    assert_near(find(&grade, "bank set")->flown, 30.0, 1e-6);
    assert_near(find(&grade, "time to set bank")->flown, 3.0, 0.06);
    assert_near(find(&grade, "highest pitch")->flown, 17.0, 1e-6);
    assert_near(find(&grade, "roll-out begun at")->flown, 90.0, 0.5);
    assert_near(find(&grade, "roll-out evenness")->flown, 0.0, 0.1);
    assert_near(find(&grade, "pitch rise to 90")->flown, 0.0, 0.1);
    assert_near(find(&grade, "heading error at level")->turn_rad,
                UNITS_PI + attempt->summary.heading_error_rad, 1e-9);
}

/* A fault, the item that it misses, and the side it is on. */
struct fault {
    const char *item;
    const char *error; /* that it belongs to */
    struct hand hand;  /* members that are not 0 replace the book's */
    void (*spoil)(void);
};

static void slow(void)
{
    attempt->summary.entry_speed_mps = 94.9 * KT;
}

static void over_the_limit(void)
{
    attempt->summary.entry_speed_mps = 108.1 * KT;
}

static void sag(void)
{
    attempt->summary.pitch_sag_rad = 3.1 * DEG;
}

static void rise(void)
{
    attempt->summary.pitch_rise_rad = 3.1 * DEG;
}

/* FAA-S-ACS-7B, task V.C: within 10 degrees of 180. */
static void turn_short(void)
{
    attempt->summary.heading_error_rad = -10.1 * DEG;
}

static void turn_long(void)
{
    attempt->summary.heading_error_rad = 10.1 * DEG;
}

static void fast_finish(void)
{
    attempt->summary.finish_margin_mps = 7.1 * KT;
}

static void stall(void)
{
    attempt->summary.stalled_s = 0.2;
}

static void sink(void)
{
    attempt->summary.hold_low_m = -51.0 * FT;
}

static void climb(void)
{
    attempt->summary.hold_high_m = 51.0 * FT;
}

static void ball(void)
{
    attempt->summary.ball_out_s = 2.1;
}

static void little_gain(void)
{
    attempt->has_reference = true;
    attempt->reference.gain_m = 1000.0 * FT;
    attempt->standard.least_gain = 0.75;
}

static const struct fault faults[] = {
    {"entry speed", "entered too slowly", {.bank_deg = 0}, slow},
    {"maneuvering speed",
     "entered above maneuvering speed",
     {.bank_deg = 0},
     over_the_limit},
    {"least height", "flown too near the ground", {.height_ft = 1400}, NULL},
    {"time to set bank", "bank set slowly", {.roll_in_s = 5.3}, NULL},
    {"bank to 90",
     "bank growing after it was set",
     {.bank_late_deg = 7, .roll_out_s = 24},
     NULL},
    {"pitch rise to 90", "pitch not raised evenly", {.pitch_power = 2.1}, NULL},
    {"highest pitch", "nose raised too high", {.pitch_deg = 21}, NULL},
    {"pitch kept from 90",
     "pitch lost in the second half",
     {.bank_deg = 0},
     sag},
    {"pitch kept from 90",
     "pitch rising in the second half",
     {.bank_deg = 0},
     rise},
    {"roll-out begun at",
     "roll-out not begun at 90",
     {.roll_out_at_deg = 105, .roll_out_s = 25},
     NULL},
    {"roll-out begun at",
     "roll-out begun before 90",
     {.roll_out_at_deg = 75, .roll_out_s = 35},
     NULL},
    {"roll-out evenness", "bank taken off unevenly", {.step_deg = 5.5}, NULL},
    {"heading error at level",
     "wings level before 180",
     {.bank_deg = 0},
     turn_short},
    {"heading error at level", "turned past 180", {.bank_deg = 0}, turn_long},
    {"heading error at level", "turned past 180", {.roll_out_s = 36}, NULL},
    {"heading error at level",
     "wings level before 180",
     {.roll_out_s = 25},
     NULL},
    {"speed above stall",
     "nose low at the finish, too much speed left",
     {.bank_deg = 0},
     fast_finish},
    {"time stalled", "stalled during the maneuver", {.bank_deg = 0}, stall},
    {"altitude after level", "sank after the finish", {.bank_deg = 0}, sink},
    {"altitude after level",
     "kept climbing after the finish",
     {.bank_deg = 0},
     climb},
    {"ball out",
     "poor coordination: ball out to the right",
     {.bank_deg = 0},
     ball},
    {"altitude gained",
     "a steep turn rather than a climb",
     {.bank_deg = 0},
     little_gain},
};

static void replace(double *to, double by)
{
    if (by != 0.0)
        *to = by;
}

static struct hand hand_of(const struct fault *fault)
{
    struct hand hand = by_the_book;

    replace(&hand.roll_in_s, fault->hand.roll_in_s);
    replace(&hand.bank_late_deg, fault->hand.bank_late_deg);
    replace(&hand.pitch_deg, fault->hand.pitch_deg);
    replace(&hand.pitch_power, fault->hand.pitch_power);
    replace(&hand.roll_out_at_deg, fault->hand.roll_out_at_deg);
    replace(&hand.roll_out_s, fault->hand.roll_out_s);
    replace(&hand.step_deg, fault->hand.step_deg);
    replace(&hand.height_ft, fault->hand.height_ft);
    return hand;
}

static void assert_only_miss(const struct fault *fault,
                             const struct debrief_grade *grade)
{
    const struct debrief_item *missed = find(grade, fault->item);

    if (missed->verdict != VERDICT_MISSED)
        fail_msg("%s was not missed: %.1f", fault->item, missed->flown);
    assert_non_null(missed->lesson);
    assert_string_equal(missed->lesson->error, fault->error);
    assert_int_equal(grade->verdict, VERDICT_MISSED);
    for (uint32_t i = 0; i < grade->item_count; i++) {
        if (&grade->item[i] == missed)
            continue;
        if (grade->item[i].verdict == VERDICT_MISSED)
            fail_msg("%s missed %s too: %.1f", fault->error,
                     grade->item[i].item, grade->item[i].flown);
        assert_null(grade->item[i].lesson);
    }
}

static void each_fault_misses_its_item_and_no_other(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct hand hand = hand_of(&faults[i]);
        struct debrief_grade grade;

        fly(&hand);
        if (faults[i].spoil != NULL)
            faults[i].spoil();
        debrief_grade(attempt, &grade);
        assert_only_miss(&faults[i], &grade);
    }
}

/* A pull at once both rises unevenly and is highest too early. */
static void some_faults_are_seen_twice(void **state)
{
    struct hand hand = by_the_book;
    struct debrief_grade grade;

    (void)state;
    hand.pitch_power = 0.3;
    fly(&hand);
    debrief_grade(attempt, &grade);
    assert_string_equal(find(&grade, "highest pitch reached at")->lesson->error,
                        "highest pitch long before 90");
    assert_int_equal(find(&grade, "pitch rise to 90")->verdict, VERDICT_MISSED);
}

static void what_is_not_known_is_not_judged(void **state)
{
    static const char *const item[] = {"least height", "ball out",
                                       "altitude after level", "time stalled",
                                       "pitch kept from 90"};
    struct debrief_grade grade;

    (void)state;
    fly(&by_the_book);
    attempt->summary.hold_low_m = attempt->summary.hold_high_m = UNKNOWN;
    attempt->summary.ball_out_s = UNKNOWN;
    attempt->summary.pitch_held_rad = UNKNOWN;
    attempt->summary.least_margin_mps = UNKNOWN;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        attempt->point[i].height_m = UNKNOWN;
        attempt->point[i].stall_margin_mps = UNKNOWN;
    }
    debrief_grade(attempt, &grade);
    assert_int_equal(grade.verdict, VERDICT_IN_STANDARD);
    for (size_t i = 0; i < sizeof item / sizeof item[0]; i++)
        assert_int_equal(find(&grade, item[i])->verdict, VERDICT_NOT_JUDGED);
    assert_int_equal(find(&grade, "altitude gained")->verdict,
                     VERDICT_NOT_JUDGED);
}

/* Given up before 90: nothing is passed that was not flown to its end, and
 * the whole is not in standard. */
static void half_an_attempt_passes_nothing_it_did_not_finish(void **state)
{
    static const char *const item[] = {
        "bank to 90",        "pitch rise to 90",
        "highest pitch",     "highest pitch reached at",
        "ball out",          "time stalled",
        "least height",      "pitch kept from 90",
        "roll-out begun at", "heading error at level"};
    struct debrief_grade grade;

    (void)state;
    fly(&by_the_book);
    attempt->ending = ENDING_ABANDONED;
    attempt->ninety_s = attempt->level_s = UNKNOWN;
    attempt->ended_s = 12.0;
    while (attempt->point[attempt->point_count - 1].t_s > attempt->ended_s)
        attempt->point_count--;
    attempt->summary.pitch_held_rad = UNKNOWN;
    attempt->summary.heading_error_rad = UNKNOWN;
    debrief_grade(attempt, &grade);
    for (size_t i = 0; i < sizeof item / sizeof item[0]; i++)
        if (find(&grade, item[i])->verdict != VERDICT_NOT_JUDGED)
            fail_msg("%s was judged", item[i]);
    assert_int_equal(find(&grade, "entry speed")->verdict, VERDICT_IN_STANDARD);
    assert_int_equal(grade.verdict, VERDICT_NOT_JUDGED);
    /* A miss is one however little was flown. */
    attempt->summary.stalled_s = 0.5;
    debrief_grade(attempt, &grade);
    assert_int_equal(grade.verdict, VERDICT_MISSED);
}

/* The next turn was begun before the time to hold the altitude was over. */
static void a_hold_that_was_cut_short_is_not_passed(void **state)
{
    struct debrief_grade grade;

    (void)state;
    fly(&by_the_book);
    attempt->ended_s = attempt->level_s + 4.0;
    debrief_grade(attempt, &grade);
    assert_int_equal(find(&grade, "altitude after level")->verdict,
                     VERDICT_NOT_JUDGED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_attempt_by_the_book_is_in_standard),
        cmocka_unit_test(each_fault_misses_its_item_and_no_other),
        cmocka_unit_test(some_faults_are_seen_twice),
        cmocka_unit_test(what_is_not_known_is_not_judged),
        cmocka_unit_test(half_an_attempt_passes_nothing_it_did_not_finish),
        cmocka_unit_test(a_hold_that_was_cut_short_is_not_passed),
    };

    return cmocka_run_group_tests_name("debrief_grade", tests, set_up,
                                       tear_down) != 0;
}
