/* test_not_begun.c - turns that were meant as an attempt and are not taken for
 * one, what an attempt lacks before it can begin, and the ordinary flight of
 * which nothing is said; drawn by a few lines of kinematics. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "pencil.h"
#include "quarterturn/debrief.h"
#include "quarterturn/maneuver.h"

/* A chandelle at a bank, from where the pencil is. */
static void go_up(double bank_deg, double speed_kt)
{
    pencil_fly(3, bank_deg, 1, speed_kt);
    pencil_fly(9, bank_deg, 17, speed_kt - 17);
    pencil_fly(18, 0, 17, speed_kt - 45);
    pencil_fly(4, 0, 2, speed_kt - 40);
}

static const struct maneuver_lack *
expect_not_begun(enum maneuver_lack_kind kind, double turned_deg)
{
    const struct maneuver_event *event;

    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 1);
    event = pencil_last(EVENT_NOT_BEGUN);
    if (event->lack.kind != kind)
        fail_msg("not begun for lack of: %s",
                 maneuver_lack_name(event->lack.kind));
    assert_int_equal(event->attempt, 0);
    assert_int_equal(event->phase, PHASE_SETUP);
    assert_true(event->turn_rad > turned_deg * DEG);
    assert_true(event->turn_rad < 180.0 * DEG);
    assert_true(event->lack.flown < event->lack.least ||
                event->lack.flown > event->lack.most);
    return &event->lack;
}

static void an_entry_off_the_speed_is_told_both_ways(void **state)
{
    static const double speed_kt[] = {80, 94, 116, 130};

    for (size_t i = 0; i < 8; i++) {
        int direction = i % 2 == 0 ? 1 : -1;
        const struct maneuver_lack *lack;

        (void)pencil_begin(state);
        pencil_fly(2, 0, 1, speed_kt[i / 2]);
        pencil_fly(10, 0, 1, speed_kt[i / 2]);
        go_up(direction * 30, speed_kt[i / 2]);
        lack = expect_not_begun(LACK_SPEED, 45.0);
        assert_int_equal(pencil_last(EVENT_NOT_BEGUN)->direction, direction);
        assert_near(units_kt(lack->flown), speed_kt[i / 2], 0.1);
        assert_near(units_kt(lack->least), 95.0, 1e-6);
        assert_near(units_kt(lack->most), 115.0, 1e-6);
    }
}

static void an_entry_out_of_a_shallow_turn_is_told(void **state)
{
    const struct maneuver_lack *lack;

    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(2, 9, 1, 105);
    pencil_fly(10, 9, 1, 105);
    go_up(30, 105);
    lack = expect_not_begun(LACK_LEVEL_WINGS, 45.0);
    assert_near(units_deg(lack->flown), 9.0, 0.1);
}

static void an_entry_out_of_a_climb_or_descent_is_told(void **state)
{
    for (int up = -1; up <= 1; up += 2) {
        const struct maneuver_lack *lack;

        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        pencil_fly(2, 0, 1 + 4 * up, 105);
        pencil_fly(10, 0, 1 + 4 * up, 105);
        go_up(30, 105);
        lack = expect_not_begun(LACK_LEVEL_FLIGHT, 45.0);
        /* 4 degrees at 105 kt, of which the path has 0.8. */
        assert_near(units_from_internal(UNIT_FT_PER_MIN, lack->flown),
                    up * 593.0, 60.0);
    }
}

static void an_entry_too_soon_after_something_else_is_told(void **state)
{
    const struct maneuver_lack *lack;

    (void)state;
    pencil_fly(4, 20, 1, 105);
    pencil_fly(2, 0, 1, 105);
    pencil_fly(1.5, 0, 1, 105);
    go_up(-30, 105);
    lack = expect_not_begun(LACK_TIME, 45.0);
    assert_true(lack->flown > 1.5 && lack->flown < 3.0);
}

static void a_bank_that_creeps_in_is_told(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(2, 4.8, 1, 105);
    /* Bank that turns so slowly passes for steady flight. */
    pencil_fly(8, 9.8, 1, 105);
    go_up(30, 105);
    (void)expect_not_begun(LACK_LEVEL_WINGS, 45.0);
    (void)pencil_begin(state);
    pencil_fly(5, 0, 1, 105);
    pencil_fly(4.4, 8.8, 1, 105);
    pencil_fly(1.6, 10.4, 1, 105);
    go_up(30, 105);
    assert_int_equal(pencil_count(EVENT_ENTRY), 1);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
}

static void too_steep_a_bank_is_told(void **state)
{
    static const double bank_deg[] = {43, 50, 60};

    for (size_t i = 0; i < 3; i++) {
        const struct maneuver_lack *lack;

        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        go_up(bank_deg[i], 105);
        lack = expect_not_begun(LACK_MEDIUM_BANK, 45.0);
        assert_near(units_deg(lack->flown), bank_deg[i], 0.1);
        assert_near(units_deg(lack->most), 42.0, 1e-6);
    }
    /* What comes back soon enough is an attempt, and nothing else is told. */
    (void)pencil_begin(state);
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 46, 4, 105);
    pencil_fly(2, 46, 8, 104);
    pencil_fly(1, 36, 10, 103);
    pencil_fly(8, 36, 17, 90);
    pencil_fly(20, 0, 17, 60);
    assert_int_equal(pencil_count(EVENT_ENTRY), 1);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
}

static void a_climb_that_comes_late_is_told(void **state)
{
    const struct maneuver_lack *lack;

    (void)state;
    pencil_fly(5, 0, 1, 105);
    pencil_fly(3, 30, 1, 105);
    pencil_fly(15, 30, 1, 105);
    pencil_fly(6, 30, 17, 88);
    pencil_fly(10, 30, 17, 70);
    lack = expect_not_begun(LACK_EARLY_CLIMB, 85.0);
    assert_near(units_deg(lack->flown), 115.0, 10.0);
    (void)pencil_begin(state);
    pencil_fly(5, 0, 1, 105);
    pencil_fly(2, 12, 1, 105);
    pencil_fly(19, 12, 1, 105);
    pencil_fly(3, 30, 12, 100);
    pencil_fly(8, 30, 17, 85);
    lack = expect_not_begun(LACK_PROMPT_CLIMB, 45.0);
    assert_true(lack->flown > 20.0 && lack->flown < 26.0);
}

static void is_told_once_in_a_turn_and_again_in_the_next(void **state)
{
    (void)state;
    pencil_fly(2, 0, 1, 120);
    pencil_fly(5, 0, 1, 120);
    go_up(30, 120);
    pencil_fly(10, 30, 17, 60);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 1);
    pencil_fly(5, 0, -5, 120);
    pencil_fly(5, 0, 1, 120);
    go_up(-30, 120);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 2);
    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
}

/* ---- what nobody meant --------------------------------------------------- */

static void an_attempt_is_not_told_as_none(void **state)
{
    for (int bank_deg = 16; bank_deg < 42; bank_deg += 5) {
        (void)pencil_begin(state);
        pencil_fly(5, 0, 1, 105);
        go_up(bank_deg, 105);
        /* On into the next turn, and up. */
        pencil_fly(2, 30, 8, 75);
        pencil_fly(10, 30, 17, 60);
        assert_int_equal(pencil_count(EVENT_ENTRY), 1);
        assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
    }
}

/* Level, gliding and climbing turns, steep ones with their ups and downs, at
 * speeds in and out of the band. A light single climbs at 8 to 10 degrees of
 * pitch (common practice, no source). */
static void ordinary_turns_are_not_told(void **state)
{
    static const double speed_kt[] = {70, 90, 105, 125};
    static const double bank_deg[] = {15, 20, 30, 45, 60};
    static const double pitch_deg[] = {-4, 1, 6, 9};

    for (size_t i = 0; i < 4 * 5 * 4; i++) {
        double speed = speed_kt[i % 4];
        double bank = bank_deg[i / 4 % 5];
        double pitch = pitch_deg[i / 20];

        (void)pencil_begin(state);
        pencil_fly(3, 0, 1, speed);
        pencil_fly(6, 0, pitch, speed);
        pencil_fly(3, bank, pitch + 1, speed - 2);
        pencil_fly(8, bank, pitch + 3, speed - 8);
        pencil_fly(2, bank, pitch, speed - 10);
        pencil_fly(20, bank, pitch + 2, speed - 15);
        pencil_fly(3, 0, pitch, speed);
        assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
    }
}

/* Off the ground at 14 degrees of pitch, four left turns, down and up again. */
static void a_circuit_is_not_told(void **state)
{
    (void)state;
    pencil.state.known |= FLIGHT_ON_GROUND;
    for (int round = 0; round < 2; round++) {
        pencil.state.on_ground = true;
        pencil_fly(10, 0, 1, 65);
        pencil.state.on_ground = false;
        pencil_fly(4, 0, 14, 72);
        pencil_fly(15, 0, 10, 78);
        pencil_fly(3, -20, 10, 78);
        pencil_fly(12, -20, 10, 78);
        pencil_fly(3, 0, 4, 85);
        pencil_fly(3, -30, 3, 100);
        pencil_fly(15, -30, 3, 100);
        pencil_fly(30, 0, 1, 100);
        pencil_fly(20, 0, -3, 85);
        pencil_fly(3, -30, -4, 80);
        pencil_fly(12, -30, -4, 75);
        pencil_fly(10, 0, -4, 70);
        pencil_fly(3, -30, -4, 70);
        pencil_fly(10, -30, -4, 70);
        /* Around, out of the last turn. */
        if (round == 0)
            pencil_fly(6, -15, 8, 75);
        pencil_fly(20, 0, -3, 60);
    }
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
    assert_int_equal(pencil_count(EVENT_ENTRY), 0);
}

static void a_balloon_in_a_steep_turn_is_not_told(void **state)
{
    (void)state;
    pencil_fly(5, 0, 1, 118);
    pencil_fly(10, 0, 1, 118);
    pencil_fly(3, 45, 4, 115);
    pencil_fly(5, 45, 4, 110);
    pencil_fly(1.5, 44, 13, 106);
    pencil_fly(0.5, 44, 13, 105);
    pencil_fly(1.5, 45, 2, 106);
    pencil_fly(20, 45, 4, 106);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
}

/* What began before the flight was seen is no turn out of level wings. */
static void a_turn_whose_beginning_was_not_seen_is_not_told(void **state)
{
    const struct intake_notice jumped = {.kind = INTAKE_JUMPED};
    struct maneuver_event event[MANEUVER_MAX_EVENTS];
    struct intake_notice notice = jumped;

    (void)state;
    pencil_fly(2, 0, 1, 120);
    pencil_fly(5, 0, 1, 120);
    pencil_fly(3, 30, 1, 120);
    notice.t_ns = pencil.state.t_ns;
    assert_int_equal(maneuver_notice(&pencil.maneuver, &notice, event), 1);
    pencil_fly(9, 30, 17, 103);
    pencil_fly(9, 30, 17, 80);
    assert_int_equal(pencil_count(EVENT_NOT_BEGUN), 0);
}

/* ---- readiness ----------------------------------------------------------- */

static void expect_lack(enum maneuver_lack_kind kind, const char *text)
{
    struct maneuver_lack lack;
    char told[DEBRIEF_LACK_SIZE];

    maneuver_readiness(&pencil.maneuver, &lack);
    if (lack.kind != kind)
        fail_msg("lacks: %s", maneuver_lack_name(lack.kind));
    debrief_lack_text(&lack, false, told);
    assert_string_equal(told, text);
}

static void tells_what_an_attempt_waits_for(void **state)
{
    (void)state;
    expect_lack(LACK_DATA, "nothing is known of the flight");
    pencil_fly(2, 0, 1, 118);
    expect_lack(LACK_SPEED, "airspeed 118.0 kt, 95 to 115 kt wanted");
    pencil_fly(2, -12, 1, 105);
    expect_lack(LACK_LEVEL_WINGS, "bank 12.0 deg, at most 5 deg wanted");
    pencil.state.altitude.rate = 0.0;
    pencil_fly(3, 0, -4, 105);
    pencil_fly(5, 0, -4, 105);
    expect_lack(LACK_LEVEL_FLIGHT,
                "sinking 742 ft/min, at most 295.3 ft/min wanted");
    pencil_fly(2, 0, 1, 105);
    pencil_fly(1.5, 0, 1, 105);
    expect_lack(LACK_TIME, "steady for 2.2 s, at least 3 s wanted");
    pencil.state.known |= FLIGHT_ON_GROUND;
    pencil.state.on_ground = true;
    pencil_fly(1, 0, 1, 105);
    expect_lack(LACK_AIR, "on the ground");
    pencil.state.on_ground = false;
    pencil_fly(3.2, 0, 1, 105);
    expect_lack(LACK_NONE, "");
    pencil_fly(3, 30, 1, 105);
    pencil_fly(6, 30, 12, 98);
    assert_int_equal(pencil_count(EVENT_ENTRY), 1);
    expect_lack(LACK_NONE, "");
}

static void tells_a_turn_without_bank(void **state)
{
    struct maneuver_event event[MANEUVER_MAX_EVENTS];

    (void)state;
    /* A skid: the heading runs and the wings are level. */
    pencil_fly(1, 0, 1, 105);
    for (int i = 0; i < 100; i++) {
        pencil.state.t_ns += 50000000;
        pencil.state.heading.rate = -2.0 * DEG;
        pencil.state.heading.value -= 0.1 * DEG;
        (void)maneuver_step(&pencil.maneuver, &pencil.state, event);
    }
    expect_lack(LACK_STRAIGHT,
                "turning left 2.0 deg/s, at most 1.5 deg/s wanted");
}

/* Of each reason a turn may have; a caption has 14 columns before it. */
static void every_reason_has_words_that_fit(void **state)
{
    static const struct {
        enum maneuver_lack_kind kind;
        enum unit unit;
        double flown, least, most;
        const char *text;
    } row[] = {
        {LACK_SPEED, UNIT_KT, 118, 95, 115,
         "entered at 118.0 kt, 95 to 115 kt wanted"},
        {LACK_LEVEL_WINGS, UNIT_DEG, -9, -5, 5,
         "entered banked 9.0 deg, at most 5 deg wanted"},
        {LACK_STRAIGHT, UNIT_DEG_PER_S, -12.3, -1.5, 1.5,
         "entered turning 12.3 deg/s, at most 1.5 deg/s wanted"},
        {LACK_LEVEL_FLIGHT, UNIT_FT_PER_MIN, 1234, -300, 300,
         "entered climbing 1234 ft/min, at most 300 ft/min wanted"},
        {LACK_LEVEL_FLIGHT, UNIT_FT_PER_MIN, -1234, -300, 300,
         "entered sinking 1234 ft/min, at most 300 ft/min wanted"},
        {LACK_TIME, UNIT_S, 1.4, 3, NAN,
         "entered after 1.4 s steady, at least 3 s wanted"},
        {LACK_BRISK_ROLL, UNIT_S, 5.2, NAN, 4,
         "entered 5.2 s after steady flight, at most 4 s wanted"},
        {LACK_MEDIUM_BANK, UNIT_DEG, 47, NAN, 42,
         "banked 47.0 deg, at most 42 deg wanted"},
        {LACK_EARLY_CLIMB, UNIT_DEG, 116, NAN, 85,
         "climbed after 116 deg of turn, at most 85 deg wanted"},
        {LACK_PROMPT_CLIMB, UNIT_S, 22.1, NAN, 20,
         "climbed after 22.1 s of turn, at most 20 s wanted"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const struct maneuver_event event = {
            .kind = EVENT_NOT_BEGUN,
            .lack = {row[i].kind, units_to_internal(row[i].unit, row[i].flown),
                     units_to_internal(row[i].unit, row[i].least),
                     units_to_internal(row[i].unit, row[i].most)}};
        char text[128];

        debrief_event_text(&event, text, sizeof text);
        assert_string_equal(text + strlen("not begun: "), row[i].text);
        assert_true(strlen(text) <= 80 - 14);
        assert_true(maneuver_lack_name(row[i].kind)[0] != '\0');
    }
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup(name, pencil_begin)
    const struct CMUnitTest tests[] = {
        TEST(an_entry_off_the_speed_is_told_both_ways),
        TEST(an_entry_out_of_a_shallow_turn_is_told),
        TEST(an_entry_out_of_a_climb_or_descent_is_told),
        TEST(an_entry_too_soon_after_something_else_is_told),
        TEST(a_bank_that_creeps_in_is_told),
        TEST(too_steep_a_bank_is_told),
        TEST(a_climb_that_comes_late_is_told),
        TEST(is_told_once_in_a_turn_and_again_in_the_next),
        TEST(an_attempt_is_not_told_as_none),
        TEST(ordinary_turns_are_not_told),
        TEST(a_circuit_is_not_told),
        TEST(a_balloon_in_a_steep_turn_is_not_told),
        TEST(a_turn_whose_beginning_was_not_seen_is_not_told),
        TEST(tells_what_an_attempt_waits_for),
        TEST(tells_a_turn_without_bank),
        TEST(every_reason_has_words_that_fit),
    };

    return cmocka_run_group_tests_name("not begun", tests, NULL, NULL) != 0;
}
