/* test_discover.c - layouts found out from the flying alone. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "discover_case.h"

#define COUNT(...) (sizeof((struct sent[]){__VA_ARGS__}) / sizeof(struct sent))
#define SENT(...) .sent = {__VA_ARGS__}, .count = COUNT(__VA_ARGS__)

#define F32(what, unit, big)                    \
    {                                           \
        what, unit, 0, INTAKE_F32, big, NULL, 0 \
    }
#define F64(what, unit, big)                    \
    {                                           \
        what, unit, 0, INTAKE_F64, big, NULL, 0 \
    }
#define INT(what, unit, scale, type, big)     \
    {                                         \
        what, unit, scale, type, big, NULL, 0 \
    }
#define WORD(what, unit, scale)                       \
    {                                                 \
        what, unit, scale, INTAKE_F64, false, NULL, 0 \
    }
#define NAMED(name, what, unit, scale)                \
    {                                                 \
        what, unit, scale, INTAKE_F64, false, name, 0 \
    }

/* Layouts in which everything needed is there and was flown. */
static const struct discover_case good_cases[] = {
    {.title = "text, commas",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(SENT_COUNTER, UNIT_NONE, 0), WORD(CHANNEL_ALTITUDE, UNIT_FT, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, 0), WORD(SENT_NOISE, UNIT_NONE, 0),
          WORD(CHANNEL_AIRSPEED, UNIT_KT, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(CHANNEL_HEADING, UNIT_DEG, 0),
          WORD(SENT_CONSTANT, UNIT_NONE, 0))},
    {.title = "text, semicolons, decimal commas, left bank positive",
     .flight = "overshoot",
     .rate_hz = 10,
     .form = INTAKE_FORM_TEXT,
     .separator = ';',
     .decimal_comma = true,
     SENT(WORD(CHANNEL_AIRSPEED, UNIT_KM_PER_H, 0),
          WORD(CHANNEL_TRUE_AIRSPEED, UNIT_KM_PER_H, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, -1), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(SENT_TURN_RATE, UNIT_DEG_PER_S, 0),
          WORD(CHANNEL_HEADING, UNIT_DEG, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_M, 0))},
    {.title = "text, tabs, a word in front, radians, wind",
     .flight = "good_left",
     .rate_hz = 30,
     .mirrored = true,
     .form = INTAKE_FORM_TEXT,
     .head = "FLT\t",
     .head_length = 4,
     .separator = '\t',
     SENT(WORD(SENT_CLOCK_TEXT, UNIT_NONE, 0),
          WORD(SENT_WIND_TRACK, UNIT_RAD, 0), WORD(CHANNEL_PITCH, UNIT_RAD, -1),
          WORD(SENT_WIND_SPEED, UNIT_M_PER_S, 0),
          WORD(CHANNEL_BANK, UNIT_RAD, 0),
          WORD(CHANNEL_AIRSPEED, UNIT_M_PER_S, 0),
          WORD(CHANNEL_HEADING, UNIT_RAD, 0), WORD(CHANNEL_ALTITUDE, UNIT_M, 0),
          WORD(CHANNEL_ANGLE_OF_ATTACK, UNIT_RAD, 0))},
    {.title = "binary, little, unaligned",
     .flight = "good_left",
     .form = INTAKE_FORM_BINARY,
     .head = "SIM\1\2",
     .head_length = 5,
     SENT(INT(SENT_COUNTER, UNIT_NONE, 0, INTAKE_U32, false),
          F32(CHANNEL_HEADING, UNIT_DEG, false),
          F32(CHANNEL_BANK, UNIT_DEG, false),
          F32(CHANNEL_PITCH, UNIT_DEG, false),
          F32(CHANNEL_AIRSPEED, UNIT_MPH, false),
          F32(CHANNEL_ALTITUDE, UNIT_FT, false),
          F32(SENT_NOISE, UNIT_NONE, false))},
    {.title = "binary, big, radians, all signs turned",
     .flight = "overshoot",
     .form = INTAKE_FORM_BINARY,
     SENT(F32(CHANNEL_ALTITUDE, UNIT_M, true),
          INT(CHANNEL_BANK, UNIT_RAD, -1, INTAKE_F32, true),
          INT(CHANNEL_PITCH, UNIT_RAD, -1, INTAKE_F32, true),
          F32(CHANNEL_HEADING, UNIT_RAD, true),
          F32(CHANNEL_AIRSPEED, UNIT_M_PER_S, true),
          F32(SENT_PITCH_RATE, UNIT_NONE, true),
          F32(SENT_TURN_RATE, UNIT_NONE, true))},
    {.title = "binary, big, doubles, cruise",
     .flight = "cruise",
     .form = INTAKE_FORM_BINARY,
     SENT(F64(CHANNEL_SIM_TIME, UNIT_S, true),
          F64(CHANNEL_ALTITUDE, UNIT_FT, true),
          F64(CHANNEL_AIRSPEED, UNIT_KT, true),
          F64(CHANNEL_TRUE_AIRSPEED, UNIT_KT, true),
          F64(CHANNEL_PITCH, UNIT_DEG, true), F64(CHANNEL_BANK, UNIT_DEG, true),
          F64(CHANNEL_HEADING, UNIT_DEG, true), F64(SENT_FUEL, UNIT_NONE, true),
          F64(CHANNEL_VERTICAL_SPEED, UNIT_FT_PER_MIN, true))},
    {.title = "binary, scaled whole numbers",
     .flight = "good_left",
     .form = INTAKE_FORM_BINARY,
     SENT(INT(CHANNEL_HEADING, UNIT_TURN, 1.0 / 65536, INTAKE_U16, false),
          INT(CHANNEL_PITCH, UNIT_DEG, 0.01, INTAKE_I16, false),
          INT(CHANNEL_BANK, UNIT_DEG, 0.01, INTAKE_I16, false),
          INT(CHANNEL_AIRSPEED, UNIT_KT, 0.1, INTAKE_U16, false),
          INT(CHANNEL_ALTITUDE, UNIT_M, 0.01, INTAKE_I32, false))},
    {.title = "binary, wind beside",
     .flight = "cruise",
     .rate_hz = 10,
     .mirrored = true,
     .form = INTAKE_FORM_BINARY,
     SENT(F32(SENT_WIND_SPEED, UNIT_KT, false),
          F32(SENT_WIND_TRACK, UNIT_DEG, false),
          F32(CHANNEL_HEADING, UNIT_DEG, false),
          F32(CHANNEL_AIRSPEED, UNIT_KT, false),
          F32(CHANNEL_PITCH, UNIT_DEG, false),
          F32(SENT_PATH_ANGLE, UNIT_DEG, false),
          F32(CHANNEL_BANK, UNIT_DEG, false),
          F32(SENT_BANK_WANTED, UNIT_DEG, false),
          F32(CHANNEL_ALTITUDE, UNIT_FT, false))},
    {.title = "binary, two kinds of datagram",
     .flight = "overshoot",
     .rate_hz = 30,
     .form = INTAKE_FORM_BINARY,
     .split = 3,
     SENT(F32(CHANNEL_HEADING, UNIT_DEG, true),
          F32(CHANNEL_PITCH, UNIT_DEG, true), F32(CHANNEL_BANK, UNIT_DEG, true),
          F32(CHANNEL_AIRSPEED, UNIT_KT, true),
          F32(CHANNEL_ALTITUDE, UNIT_FT, true),
          F32(SENT_CONSTANT, UNIT_NONE, true),
          F32(SENT_NOISE, UNIT_NONE, true))},
    {.title = "records, little",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_RECORDS,
     .head = "VALS",
     .head_length = 5,
     .key_bytes = 4,
     .per_record = 4,
     SENT(F32(CHANNEL_AIRSPEED, UNIT_KT, false),
          F32(CHANNEL_TRUE_AIRSPEED, UNIT_KT, false),
          F32(SENT_CONSTANT, UNIT_NONE, false),
          F32(SENT_NOISE, UNIT_NONE, false),
          F32(CHANNEL_PITCH, UNIT_DEG, false),
          F32(CHANNEL_BANK, UNIT_DEG, false),
          F32(CHANNEL_HEADING, UNIT_DEG, false),
          F32(SENT_MAGNETIC, UNIT_DEG, false),
          F32(CHANNEL_ALTITUDE, UNIT_FT, false),
          F32(CHANNEL_HEIGHT, UNIT_FT, false),
          F32(CHANNEL_LOAD_FACTOR, UNIT_NONE, false),
          F32(SENT_CONSTANT, UNIT_NONE, false))},
    {.title = "records, big, short keys",
     .flight = "overshoot",
     .rate_hz = 20,
     .form = INTAKE_FORM_RECORDS,
     .key_bytes = 2,
     .per_record = 1,
     SENT(F64(CHANNEL_HEADING, UNIT_RAD, true),
          F64(CHANNEL_AIRSPEED, UNIT_FT_PER_S, true),
          F64(CHANNEL_BANK, UNIT_RAD, true),
          F64(CHANNEL_ALTITUDE, UNIT_M, true), F64(SENT_NOISE, UNIT_NONE, true),
          F64(CHANNEL_PITCH, UNIT_RAD, true))},
    {.title = "pairs, names that tell nothing",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_PAIRS,
     .separator = ',',
     .assign = '=',
     SENT(NAMED("a", CHANNEL_BANK, UNIT_DEG, 0),
          NAMED("b", CHANNEL_ALTITUDE, UNIT_FT, 0),
          NAMED("c", SENT_COUNTER, UNIT_NONE, 0),
          NAMED("d", CHANNEL_HEADING, UNIT_DEG, 0),
          NAMED("e", CHANNEL_PITCH, UNIT_DEG, -1),
          NAMED("f", CHANNEL_AIRSPEED, UNIT_KT, 0))},
    {.title = "pairs, names that lie",
     .flight = "overshoot",
     .rate_hz = 20,
     .form = INTAKE_FORM_PAIRS,
     .separator = ';',
     .assign = ':',
     SENT(NAMED("heading", CHANNEL_BANK, UNIT_RAD, 0),
          NAMED("bank", CHANNEL_PITCH, UNIT_RAD, 0),
          NAMED("airspeed", CHANNEL_HEADING, UNIT_RAD, 0),
          NAMED("altitude", CHANNEL_AIRSPEED, UNIT_KM_PER_H, 0),
          NAMED("pitch", CHANNEL_ALTITUDE, UNIT_M, 0))},
    {.title = "JSON, nested",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_JSON,
     SENT(NAMED("att.psi", CHANNEL_HEADING, UNIT_DEG, 0),
          NAMED("att.theta", CHANNEL_PITCH, UNIT_DEG, 0),
          NAMED("att.phi", CHANNEL_BANK, UNIT_DEG, 0),
          NAMED("air.v", CHANNEL_AIRSPEED, UNIT_M_PER_S, 0),
          NAMED("air.vt", CHANNEL_TRUE_AIRSPEED, UNIT_M_PER_S, 0),
          NAMED("h", CHANNEL_ALTITUDE, UNIT_M, 0))},
};

/* Streams from which something is missing, or was not flown: whatever is said
 * to be sure must still be right. */
static const struct discover_case poor_cases[] = {
    {.title = "track and ground speed alone",
     .flight = "cruise",
     .rate_hz = 10,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(SENT_WIND_TRACK, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, 0), WORD(SENT_WIND_SPEED, UNIT_KT, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "no airspeed, but fuel",
     .flight = "cruise",
     .rate_hz = 10,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, 0), WORD(SENT_FUEL, UNIT_NONE, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "true airspeed alone",
     .flight = "cruise",
     .rate_hz = 10,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, 0),
          WORD(CHANNEL_TRUE_AIRSPEED, UNIT_KT, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "no pitch, but the path",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0),
          WORD(SENT_PATH_ANGLE, UNIT_DEG, 0), WORD(CHANNEL_BANK, UNIT_DEG, 0),
          WORD(CHANNEL_AIRSPEED, UNIT_KT, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "no bank, but the turn rate",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(SENT_TURN_RATE, UNIT_DEG_PER_S, 0),
          WORD(CHANNEL_AIRSPEED, UNIT_KT, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "no bank, but the one wanted",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(SENT_BANK_WANTED, UNIT_DEG, 0),
          WORD(CHANNEL_AIRSPEED, UNIT_KT, 0),
          WORD(CHANNEL_ALTITUDE, UNIT_FT, 0))},
    {.title = "no altitude",
     .flight = "good_left",
     .rate_hz = 20,
     .form = INTAKE_FORM_TEXT,
     .separator = ',',
     SENT(WORD(CHANNEL_HEADING, UNIT_DEG, 0), WORD(CHANNEL_PITCH, UNIT_DEG, 0),
          WORD(CHANNEL_BANK, UNIT_DEG, 0), WORD(CHANNEL_AIRSPEED, UNIT_KT, 0))},
    {.title = "slipping all the way",
     .flight = "no_rudder",
     .form = INTAKE_FORM_BINARY,
     SENT(F32(CHANNEL_HEADING, UNIT_DEG, true),
          F32(CHANNEL_PITCH, UNIT_DEG, true), F32(CHANNEL_BANK, UNIT_DEG, true),
          F32(CHANNEL_AIRSPEED, UNIT_KT, true),
          F32(CHANNEL_ALTITUDE, UNIT_FT, true))},
    {.title = "stalled",
     .flight = "stall",
     .form = INTAKE_FORM_BINARY,
     SENT(F32(CHANNEL_HEADING, UNIT_DEG, false),
          F32(CHANNEL_PITCH, UNIT_DEG, false),
          F32(CHANNEL_BANK, UNIT_DEG, false),
          F32(CHANNEL_AIRSPEED, UNIT_KT, false),
          F32(CHANNEL_ALTITUDE, UNIT_FT, false))},
    {.title = "given up",
     .flight = "abandoned",
     .form = INTAKE_FORM_BINARY,
     SENT(F32(CHANNEL_HEADING, UNIT_RAD, true),
          F32(CHANNEL_PITCH, UNIT_RAD, true), F32(CHANNEL_BANK, UNIT_RAD, true),
          F32(CHANNEL_AIRSPEED, UNIT_M_PER_S, true),
          F32(CHANNEL_ALTITUDE, UNIT_M, true))},
    {.title = "unsteady",
     .flight = "good_left_unsteady",
     .form = INTAKE_FORM_BINARY,
     SENT(F32(CHANNEL_HEADING, UNIT_RAD, true),
          F32(CHANNEL_PITCH, UNIT_RAD, true), F32(CHANNEL_BANK, UNIT_RAD, true),
          F32(CHANNEL_AIRSPEED, UNIT_M_PER_S, true),
          F32(CHANNEL_ALTITUDE, UNIT_M, true))},
};

static void tell(const struct discover_case *c,
                 const struct intake_discovered *found)
{
    print_message("%s: %u datagrams\n", c->title, found->datagrams);
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (found->finding[i][0] != '\0')
            print_message("    %s: %s\n",
                          intake_channel_name((enum intake_channel)i),
                          found->finding[i]);
    }
}

static void finds_every_layout_that_was_flown_well(void **state)
{
    static struct intake_discovered found;
    const uint32_t wanted = CHANNELS_REQUIRED | CHANNEL_BIT(CHANNEL_ALTITUDE);
    int missed = 0;

    (void)state;
    for (size_t i = 0; i < sizeof good_cases / sizeof good_cases[0]; i++) {
        discover_case_run(&good_cases[i], &found);
        if ((found.found & wanted) != wanted) {
            tell(&good_cases[i], &found);
            missed++;
        }
    }
    assert_int_equal(missed, 0);
}

static void is_never_wrong_and_sure(void **state)
{
    static struct intake_discovered found;

    (void)state;
    for (size_t i = 0; i < sizeof poor_cases / sizeof poor_cases[0]; i++) {
        discover_case_run(&poor_cases[i], &found);
        tell(&poor_cases[i], &found);
        if (!found.enough)
            assert_true(found.ask_count > 0);
    }
}

/* The layouts with flying that shows less than it should: slipping, stalled,
 * given up, wobbling, in turn. */
static void is_never_wrong_and_sure_whatever_is_flown(void **state)
{
    static const char *const flights[] = {"no_rudder", "stall", "abandoned",
                                          "good_left_unsteady"};
    static struct intake_discovered found;

    (void)state;
    for (size_t i = 0; i < sizeof good_cases / sizeof good_cases[0]; i++) {
        struct discover_case c = good_cases[i];

        c.flight = flights[i % 4];
        c.mirrored = i % 8 >= 4;
        c.rate_hz = i % 2 != 0 ? 10.0 : 20.0;
        discover_case_run(&c, &found);
    }
}

static void straight_flight_is_not_enough_and_turns_are_asked_for(void **state)
{
    static struct intake_discovered found;
    struct discover_case c = good_cases[0];

    (void)state;
    c.from_s = 0.0;
    c.to_s = 7.5;
    discover_case_run(&c, &found);
    assert_false(found.enough);
    assert_int_equal(found.found & CHANNELS_REQUIRED, 0);
    assert_true(found.ask_count > 0);
    assert_non_null(strstr(found.ask[0], "turn"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_every_layout_that_was_flown_well),
        cmocka_unit_test(is_never_wrong_and_sure),
        cmocka_unit_test(is_never_wrong_and_sure_whatever_is_flown),
        cmocka_unit_test(straight_flight_is_not_enough_and_turns_are_asked_for),
    };

    return cmocka_run_group_tests_name("discover", tests, NULL, NULL) != 0;
}
