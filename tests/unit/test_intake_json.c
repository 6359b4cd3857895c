/* test_intake_json.c - values by their path in an object or array. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_packet *packet;
static struct intake_sample sample;

static struct intake_field *add_field(enum intake_channel channel,
                                      const char *path)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    (void)snprintf(field->name, sizeof field->name, "%s", path);
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    return field;
}

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_JSON;
    layout.packet_count = 1;
    packet = &layout.packet[0];
    return 0;
}

static enum intake_reject decode(const char *text)
{
    return intake_decode(&layout, (const uint8_t *)text, strlen(text), &sample);
}

static double degrees(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_deg(sample.value[channel]);
}

static void finds_values_by_their_path(void **state)
{
    static const struct {
        const char *path;
        const char *text;
    } row[] = {
        {"pitch", "{\"pitch\":12.5}"},
        {"a.pitch", "{\"b\":{\"pitch\":1},\"a\":{\"pitch\":12.5}}\r\n"},
        {"a.b.c.d", "{\"a\":{\"b\":{\"c\":{\"d\":12.5}}}}"},
        {"values.3", "{\"values\":[0,1,2,12.5,4]}"},
        {"1", "[0,12.5]"},
        {"1.pitch", "[0,{\"pitch\":12.5}]"},
        {"0.1.0", "[[0,[12.5]],7]"},
        {"3", "{\"3\":12.5}"},
        {"a.b", "{\"a.b\":12.5,\"a\":{\"b\":1}}"},
        {"a.b.c", "{\"a\":{\"b.c\":12.5}}"},
        {"pitch", " \n{ \"pitch\" : 1.25e1 } \n"},
        {"pitch", "{\"pitch\":\"12.5\"}"},
        {"pitch", "{\"pitch\":\" +12.5 \"}"},
        {"pitch", "{\"p\\u0069tch\":12.5}"},
        {"n\303\244se", "{\"n\303\244se\":12.5}"},
    };

    (void)state;
    add_field(CHANNEL_PITCH, "");
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        (void)snprintf(packet->field[0].name, sizeof packet->field[0].name,
                       "%s", row[i].path);
        if (decode(row[i].text) != INTAKE_TAKEN)
            fail_msg("%s: %s", row[i].text,
                     intake_reject_name(decode(row[i].text)));
        assert_near(degrees(CHANNEL_PITCH), 12.5, 1e-12);
    }
}

static void takes_a_string_with_its_nul(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, "pitch");
    assert_int_equal(intake_decode(&layout,
                                   (const uint8_t *)"{\"pitch\":5}\n\0", 13,
                                   &sample),
                     INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 5.0, 1e-12);
}

static void takes_what_is_there(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, "a.pitch");
    add_field(CHANNEL_BANK, "a.bank")->optional = true;
    assert_int_equal(decode("{\"a\":{\"pitch\":5,\"bank\":null}}"),
                     INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("{\"a\":{\"pitch\":\"NaN\",\"bank\":5}}"),
                     INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_BANK));
    assert_int_equal(decode("{\"a\":{\"pitch\":5,\"bank\":\"\"}}"),
                     INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("{\"a\":5}"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("{\"a\":[5]}"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("[]"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("{}"), INTAKE_NOTHING_KNOWN);
}

static void reads_truth(void **state)
{
    static const struct {
        const char *text;
        double value;
    } row[] = {{"[true]", 1.0}, {"[false]", 0.0},    {"[1]", 1.0},
               {"[0.0]", 0.0},  {"[\"true\"]", 1.0}, {"[\"False\"]", 0.0},
               {"[\"1\"]", 1.0}};

    (void)state;
    add_field(CHANNEL_PAUSED, "0");
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        assert_int_equal(decode(row[i].text), INTAKE_TAKEN);
        assert_true(sample.value[CHANNEL_PAUSED] == row[i].value);
    }
}

/* Source: RFC 8259: one value, no comments, no NaN, no leading zeros; names in
 * an object should be unique (section 4), and here they must be. */
static void names_what_is_wrong(void **state)
{
    static const struct {
        const char *text;
        enum intake_reject reject;
    } row[] = {
        {"{\"pitch\":5", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":5}}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":5}{\"pitch\":6}", INTAKE_BAD_STRUCTURE},
        {"{'pitch':5}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":5,}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":05}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":NaN}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":Infinity}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":5,\"pitch\":6}", INTAKE_BAD_STRUCTURE},
        {"{\"x\":{\"y\":1,\"y\":1},\"pitch\":5}", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":5 /* up */}", INTAKE_BAD_STRUCTURE},
        {"{\"n\":\"\xff\",\"pitch\":5}", INTAKE_BAD_STRUCTURE},
        {"5", INTAKE_BAD_STRUCTURE},
        {"pitch=5", INTAKE_BAD_STRUCTURE},
        {"{\"pitch\":1e999}", INTAKE_NOT_FINITE},
        {"{\"pitch\":\"1e999\"}", INTAKE_NOT_FINITE},
        {"{\"pitch\":true}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":\"up\"}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":\"\"}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":\"5,5\"}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":{}}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":[5]}", INTAKE_NOT_A_NUMBER},
        {"{\"pitch\":96}", INTAKE_OUT_OF_RANGE},
        {"{\"pitch\":123456789012345678901234567890}", INTAKE_OUT_OF_RANGE},
    };

    (void)state;
    add_field(CHANNEL_PITCH, "pitch");
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        if (decode(row[i].text) != row[i].reject)
            fail_msg("%s: %s, not %s", row[i].text,
                     intake_reject_name(decode(row[i].text)),
                     intake_reject_name(row[i].reject));
    }
}

static void limits_how_deep_it_goes(void **state)
{
    static char text[60000];
    static const char path[] = "0.0.0.0.0.0.0.0.0.0.0.0.0.0.0.0";

    (void)state;
    add_field(CHANNEL_PITCH, path);
    for (size_t depth = 15; depth < 18; depth++) {
        memset(text, '[', depth);
        text[depth] = '5';
        memset(text + depth + 1, ']', depth);
        text[2 * depth + 1] = '\0';
        assert_int_equal(decode(text), depth < 16    ? INTAKE_NOTHING_KNOWN
                                       : depth == 16 ? INTAKE_TAKEN
                                                     : INTAKE_BAD_STRUCTURE);
    }
    memset(text, '[', sizeof text - 1);
    text[sizeof text - 1] = '\0';
    assert_int_equal(decode(text), INTAKE_BAD_STRUCTURE);
    /* Marks in a string nest nothing. */
    packet->field[0].name[1] = '\0';
    assert_int_equal(decode("[5,\"[[[[[[[[[[[[[[[[[[[[\\\"[[[[[\"]"),
                     INTAKE_TAKEN);
}

static void knows_a_word_before_the_text(void **state)
{
    (void)state;
    memcpy(packet->starts_with, "DATA ", 5);
    packet->starts_with_length = 5;
    add_field(CHANNEL_PITCH, "pitch");
    packet = &layout.packet[1];
    memcpy(packet->starts_with, "{\"kind\":2", 9);
    packet->starts_with_length = 9;
    add_field(CHANNEL_BANK, "bank");
    layout.packet_count = 2;
    assert_int_equal(decode("DATA {\"pitch\":5}"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 5.0, 1e-12);
    assert_int_equal(decode("{\"kind\":2,\"bank\":6}"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_BANK));
    assert_int_equal(decode("{\"kind\":3,\"bank\":6}"), INTAKE_NO_PACKET);
    assert_int_equal(decode("DATA "), INTAKE_BAD_STRUCTURE);
}

static void reads_a_quoted_decimal_comma(void **state)
{
    (void)state;
    packet->decimal_comma = true;
    add_field(CHANNEL_PITCH, "pitch");
    assert_int_equal(decode("{\"pitch\":\"5,25\"}"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 5.25, 1e-12);
    assert_int_equal(decode("{\"pitch\":5.25}"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 5.25, 1e-12);
}

/* The library reads what is written here by hand. */
static void writes_what_a_library_reads(void **state)
{
    static const char *const path[] = {"time", "a.pitch", "a.b.0", "a.b.2.c",
                                       "list.1"};
    static const enum intake_channel channel[] = {
        CHANNEL_SIM_TIME, CHANNEL_PITCH, CHANNEL_BANK, CHANNEL_HEADING,
        CHANNEL_SIDESLIP};
    uint8_t bytes[256];
    json_t *expected;
    json_t *written;
    int length;

    (void)state;
    for (int i = 0; i < 5; i++) {
        struct intake_field *field = add_field(channel[i], path[i]);

        field->unit = i == 0 ? UNIT_S : UNIT_RAD;
        sample.value[channel[i]] = 0.5 * i;
    }
    sample.valid = ~CHANNEL_BIT(CHANNEL_PITCH);
    length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
    assert_true(length > 0);
    expected = json_pack("{s:f,s:{s:n,s:[f,n,{s:f}]},s:[n,f]}", "time", 0.0,
                         "a", "pitch", "b", 1.0, "c", 1.5, "list", 2.0);
    written = json_loadb((const char *)bytes, (size_t)length,
                         JSON_DECODE_INT_AS_REAL, NULL);
    assert_non_null(expected);
    assert_non_null(written);
    assert_true(json_equal(expected, written));
    json_decref(expected);
    json_decref(written);
}

static void every_channel_survives_the_way_there_and_back(void **state)
{
    static const char *const form[] = {"c%d", "a.c%d", "list.%d", "a.%d.v"};
    struct intake_sample back;
    uint8_t bytes[2048];

    (void)state;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        struct intake_field *field = add_field((enum intake_channel)i, "");

        sample.value[i] = units_to_internal(
            field->unit, field->unit == UNIT_BOOL ? 1.0
                         : units_quantity(field->unit) == UNITS_NUMBER
                             ? 0.25
                             : 1.123456789 + i);
    }
    for (size_t f = 0; f < sizeof form / sizeof form[0]; f++) {
        for (int i = 0; i < CHANNEL_COUNT; i++) {
            char number[16];
            char *name = packet->field[i].name;
            const char *mark = strchr(form[f], '%');

            (void)snprintf(number, sizeof number, "%d", i);
            (void)snprintf(name, INTAKE_FIELD_NAME, "%.*s%s%s",
                           (int)(mark - form[f]), form[f], number, mark + 2);
        }
        for (int out = -1; out < CHANNEL_COUNT; out++) {
            int length;

            sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
            if (out >= 0)
                sample.valid &= ~CHANNEL_BIT(out);
            length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_true(length > 0);
            for (size_t size = 0; out < 0 && size < (size_t)length; size++)
                assert_int_equal(
                    intake_encode(&layout, 0, &sample, bytes, size), ERR_FULL);
            (void)intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_int_equal(
                intake_decode(&layout, bytes, (size_t)length, &back),
                INTAKE_TAKEN);
            assert_int_equal(back.valid, sample.valid);
            for (int i = 0; i < CHANNEL_COUNT; i++) {
                if (i != out)
                    assert_near(back.value[i], sample.value[i],
                                1e-13 * (1.0 + fabs(sample.value[i])));
            }
        }
    }
}

#define json_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        json_test(finds_values_by_their_path),
        json_test(takes_a_string_with_its_nul),
        json_test(takes_what_is_there),
        json_test(reads_truth),
        json_test(names_what_is_wrong),
        json_test(limits_how_deep_it_goes),
        json_test(knows_a_word_before_the_text),
        json_test(reads_a_quoted_decimal_comma),
        json_test(writes_what_a_library_reads),
        json_test(every_channel_survives_the_way_there_and_back),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
