/* test_intake_inspect_warnings.c - flights with a planted mistake in their
 * layout: the wrong unit, the wrong sign, a channel that stands. The flights
 * are those of tests/replay, flown by a simulation this project did not
 * write. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/inspect_tally.h"
#include "flown.h"

static const char name[] = "plain-binary";

static const char *const flights[] = {"good_left", "overshoot", "stall",
                                      "cruise"};

/* What the sender does that the layout does not say. */
struct mistake {
    enum intake_channel channel;
    enum unit sent; /* in place of the layout's, when not UNIT_NONE */
    enum unit said; /* by the layout, when not UNIT_NONE */
    double scale;   /* of the values sent */
    double offset;
    const char *fix; /* expected; NULL: no warning at all */
};

static struct settings settings;
static struct inspect_tally tally;

static struct intake_field *field_of(struct intake_layout *layout,
                                     enum intake_channel channel)
{
    struct intake_packet *packet = &layout->packet[0];

    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].channel == channel)
            return &packet->field[i];
    }
    fail();
    return NULL;
}

static void load(void)
{
    struct settings_choice choice = {.layout = name};
    char why[512] = "";

    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
}

/* Send the flight as the mistaken sender does. */
static void show(const char *flight, const struct mistake *mistake,
                 size_t count, uint32_t channels)
{
    struct intake_layout sent;
    struct stream stream;

    load();
    stream_load(&stream, flight, name);
    stream_keep_channels(&stream, channels);
    sent = settings.layout;
    for (size_t i = 0; i < count; i++) {
        struct intake_field *field = field_of(&sent, mistake[i].channel);
        struct intake_field *said =
            field_of(&settings.layout, mistake[i].channel);

        if (mistake[i].said != UNIT_NONE)
            field->unit = said->unit = mistake[i].said;
        if (mistake[i].sent != UNIT_NONE)
            field->unit = mistake[i].sent;
        field->type = said->type = INTAKE_F32;
    }
    inspect_tally_init(&tally, &settings.layout, NULL, UNITS_NS_PER_S);
    for (size_t p = 0; p < stream.count; p++) {
        struct intake_sample sample = stream.packet[p].sample;
        uint8_t bytes[256];
        int length;

        for (size_t i = 0; i < count; i++) {
            double *value = &sample.value[mistake[i].channel];

            *value = *value * mistake[i].scale + mistake[i].offset;
        }
        length = intake_encode(&sent, 0, &sample, bytes, sizeof bytes);
        assert_true(length > 0);
        inspect_tally_push(&tally, &(struct intake_datagram){
                                       .t_ns = stream.packet[p].arrival_ns,
                                       .data = bytes,
                                       .length = (size_t)length});
    }
    stream_free(&stream);
}

static void expect_warnings(const char *flight, const struct mistake *mistake,
                            size_t count)
{
    struct inspect_warning warning[WARNINGS_MOST];
    uint32_t found =
        inspect_warnings_find(&tally.warnings, &settings.layout, warning);
    size_t expected = 0;

    for (size_t i = 0; i < count; i++)
        expected += mistake[i].fix != NULL;
    for (uint32_t i = 0; i < found && found != expected; i++)
        print_error("%s: %s: %s\n", flight,
                    intake_channel_name(warning[i].channel), warning[i].text);
    if (found != expected)
        fail_msg("%s: %u warnings instead of %zu (%s, %s sent)", flight, found,
                 expected, intake_channel_name(mistake[0].channel),
                 units_name(mistake[0].sent));
    for (size_t i = 0; i < count; i++) {
        bool there = mistake[i].fix == NULL;

        for (uint32_t k = 0; k < found; k++) {
            if (warning[k].channel != mistake[i].channel || there)
                continue;
            assert_string_equal(warning[k].fix, mistake[i].fix);
            assert_int_equal(
                warning[k].line,
                field_of(&settings.layout, mistake[i].channel)->line);
            assert_true(warning[k].line > 0);
            there = true;
        }
        assert_true(there);
    }
}

static void a_sound_layout_gives_no_warning(void **state)
{
    static const char *const all[] = {
        "good_left", "good_left_unsteady", "overshoot", "stall",
        "no_rudder", "abandoned",          "cruise"};
    const struct mistake none = {.scale = 1.0};
    /* All channels; then without vertical speed; without altitude. */
    static const uint32_t without[] = {0, CHANNEL_BIT(CHANNEL_VERTICAL_SPEED),
                                       CHANNEL_BIT(CHANNEL_ALTITUDE),
                                       CHANNEL_BIT(CHANNEL_SIM_TIME)};

    (void)state;
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++) {
        for (size_t k = 0; k < sizeof without / sizeof without[0]; k++) {
            show(all[i], &none, 0, ~without[k]);
            expect_warnings(all[i], &none, 0);
        }
    }
}

static const struct mistake mistakes[] = {
    {CHANNEL_HEADING, UNIT_RAD, UNIT_NONE, 1.0, 0.0, "unit = \"rad\""},
    {CHANNEL_BANK, UNIT_RAD, UNIT_NONE, 1.0, 0.0, "unit = \"rad\""},
    {CHANNEL_PITCH, UNIT_RAD, UNIT_NONE, 1.0, 0.0, "unit = \"rad\""},
    {CHANNEL_BANK, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
    {CHANNEL_PITCH, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
    {CHANNEL_VERTICAL_SPEED, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
    {CHANNEL_AIRSPEED, UNIT_M_PER_S, UNIT_NONE, 1.0, 0.0, "unit = \"m/s\""},
    {CHANNEL_AIRSPEED, UNIT_KM_PER_H, UNIT_NONE, 1.0, 0.0, "unit = \"km/h\""},
    {CHANNEL_AIRSPEED, UNIT_KT, UNIT_M_PER_S, 1.0, 0.0, "unit = \"kt\""},
    {CHANNEL_TRUE_AIRSPEED, UNIT_M_PER_S, UNIT_NONE, 1.0, 0.0,
     "unit = \"m/s\""},
    {CHANNEL_ALTITUDE, UNIT_M, UNIT_NONE, 1.0, 0.0, "unit = \"m\""},
    {CHANNEL_ALTITUDE, UNIT_FT, UNIT_M, 1.0, 0.0, "unit = \"ft\""},
    {CHANNEL_VERTICAL_SPEED, UNIT_M_PER_S, UNIT_NONE, 1.0, 0.0,
     "unit = \"m/s\""},
    {CHANNEL_VERTICAL_SPEED, UNIT_FT_PER_S, UNIT_M_PER_S, 1.0, 0.0,
     "unit = \"ft/s\""},
    {CHANNEL_LOAD_FACTOR, UNIT_M_PER_S2, UNIT_NONE, 1.0, 0.0,
     "unit = \"m/s2\""},
    {CHANNEL_LOAD_FACTOR, UNIT_NONE, UNIT_NONE, 1.0, -1.0, "offset = 1"},
    {CHANNEL_LOAD_FACTOR, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
    /* Most of these values are refused: no airplane has them. */
    {CHANNEL_VERTICAL_SPEED, UNIT_FT_PER_MIN, UNIT_M_PER_S, 1.0, 0.0,
     "unit = \"ft/min\""},
    {CHANNEL_HEADING, UNIT_DEG, UNIT_RAD, 1.0, 0.0, "unit = \"deg\""},
    {CHANNEL_BANK, UNIT_DEG, UNIT_RAD, 1.0, 0.0, "unit = \"deg\""},
    {CHANNEL_PITCH, UNIT_DEG, UNIT_RAD, 1.0, 0.0, "unit = \"deg\""},
    {CHANNEL_AIRSPEED, UNIT_FT_PER_MIN, UNIT_KT, 1.0, 0.0, "unit = \"ft/min\""},
    {CHANNEL_ALTITUDE, UNIT_FT, UNIT_NM, 1.0, 0.0, ""}, /* or metres */
    {CHANNEL_LOAD_FACTOR, UNIT_NONE, UNIT_NONE, 0.0, -999.0, "missing = -999"},
    {CHANNEL_PITCH, UNIT_NONE, UNIT_NONE, 0.0, 0.01, ""},
    {CHANNEL_AIRSPEED, UNIT_NONE, UNIT_NONE, 0.0, 50.0, ""},
    {CHANNEL_ALTITUDE, UNIT_NONE, UNIT_NONE, 0.0, 1000.0, ""},
};

static void each_planted_mistake_is_named_with_its_mending(void **state)
{
    (void)state;
    for (size_t f = 0; f < sizeof flights / sizeof flights[0]; f++) {
        for (size_t i = 0; i < sizeof mistakes / sizeof mistakes[0]; i++) {
            show(flights[f], &mistakes[i], 1, ~UINT32_C(0));
            expect_warnings(flights[f], &mistakes[i], 1);
        }
    }
}

static void mistakes_together_are_told_apart(void **state)
{
    static const struct mistake pairs[][2] = {
        {{CHANNEL_HEADING, UNIT_RAD, UNIT_NONE, 1.0, 0.0, "unit = \"rad\""},
         {CHANNEL_BANK, UNIT_RAD, UNIT_NONE, 1.0, 0.0, "unit = \"rad\""}},
        {{CHANNEL_AIRSPEED, UNIT_M_PER_S, UNIT_NONE, 1.0, 0.0,
          "unit = \"m/s\""},
         {CHANNEL_ALTITUDE, UNIT_M, UNIT_NONE, 1.0, 0.0, "unit = \"m\""}},
        {{CHANNEL_BANK, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
         {CHANNEL_TRUE_AIRSPEED, UNIT_KM_PER_H, UNIT_NONE, 1.0, 0.0,
          "unit = \"km/h\""}},
        {{CHANNEL_BANK, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"},
         {CHANNEL_PITCH, UNIT_NONE, UNIT_NONE, -1.0, 0.0, "scale = -1"}},
    };

    (void)state;
    for (size_t f = 0; f < sizeof flights / sizeof flights[0]; f++) {
        for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
            show(flights[f], pairs[i], 2, ~UINT32_C(0));
            expect_warnings(flights[f], pairs[i], 2);
        }
    }
}

/* A minute in a straight line shows nothing, and nothing is said. */
static void little_flying_gives_no_warning(void **state)
{
    struct inspect_warning warning[WARNINGS_MOST];
    struct inspect_warnings warnings;
    struct intake_sample sample = {0};

    (void)state;
    load();
    inspect_warnings_init(&warnings);
    for (int i = 0; i < 1200; i++) {
        sample.t_ns = i * (UNITS_NS_PER_S / 20);
        sample.valid = sample.fresh = CHANNELS_REQUIRED;
        sample.value[CHANNEL_HEADING] = units_rad(3.0 + 0.1 * sin(i));
        sample.value[CHANNEL_PITCH] = units_rad(1.0 + 0.1 * cos(i));
        sample.value[CHANNEL_BANK] = units_rad(0.1 * sin(1.7 * i));
        sample.value[CHANNEL_AIRSPEED] = 50.0 + 0.1 * sin(i);
        inspect_warnings_take(&warnings, &sample, false);
    }
    assert_int_equal(
        inspect_warnings_find(&warnings, &settings.layout, warning), 0);
}

/* The layout's own bounds may hold the mistake. */
static void bounds_that_keep_everything_out_are_told(void **state)
{
    struct inspect_warning warning[WARNINGS_MOST];
    struct inspect_warnings warnings;
    struct intake_field *field;

    (void)state;
    load();
    field = field_of(&settings.layout, CHANNEL_AIRSPEED);
    field->has_range = true;
    field->least = 40.0 * UNITS_MPS_PER_KT;
    field->most = 100.0 * UNITS_MPS_PER_KT;
    inspect_warnings_init(&warnings);
    for (int i = 0; i < 100; i++) { /* 150 to 180 km/h, said to be knots */
        const struct intake_sample sample = {
            .beyond = CHANNEL_BIT(CHANNEL_AIRSPEED),
            .value[CHANNEL_AIRSPEED] = (150.0 + 0.3 * i) * UNITS_MPS_PER_KT};

        inspect_warnings_take_beyond(&warnings, &sample);
    }
    assert_int_equal(
        inspect_warnings_find(&warnings, &settings.layout, warning), 1);
    assert_int_equal(warning[0].channel, CHANNEL_AIRSPEED);
    assert_string_equal(warning[0].fix, "unit = \"km/h\"");
    assert_string_equal(warning[0].text, "100 of 100 values refused, as 179.7 "
                                         "kt: looks like km/h");
}

/* Whole datagrams go with such a value; the reason is printed all the same. */
static void a_stream_refused_whole_is_explained(void **state)
{
    static const struct mistake mistake = {
        CHANNEL_ALTITUDE, UNIT_FT, UNIT_NM, 1.0, 0.0, ""};
    FILE *file = tmpfile();
    char text[1024];
    size_t length;

    (void)state;
    assert_non_null(file);
    show("good_left", &mistake, 1, ~UINT32_C(0));
    assert_int_equal(tally.stream.counts.taken, 0);
    inspect_tally_print(&tally, "mine.conf", file);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    text[length] = '\0';
    (void)fclose(file);
    assert_non_null(strstr(text, "warning: altitude: "));
    assert_non_null(strstr(text, "looks like ft or m\n    mine.conf:"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_sound_layout_gives_no_warning),
        cmocka_unit_test(each_planted_mistake_is_named_with_its_mending),
        cmocka_unit_test(mistakes_together_are_told_apart),
        cmocka_unit_test(little_flying_gives_no_warning),
        cmocka_unit_test(bounds_that_keep_everything_out_are_told),
        cmocka_unit_test(a_stream_refused_whole_is_explained),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
