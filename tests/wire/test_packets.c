/* test_packets.c - the packets of the layouts that come with the program,
 * whole, cut at every length, and with every byte replaced by every other.
 *
 * Each datagram lies in memory of exactly its length, so that a sanitizer
 * sees a read beyond it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/settings.h"

/* The same moment twice. */
static const char text_packet[] =
    "514.0000,290.000,1.032,-30.000,104.93,109.64,3000.0,2400.0,0.2,"
    "1.0003,-0.0100,0.105,1.031\n";

/* Floating-point numbers after IEEE 754-2008, 3.4, put down by hand; only
 * such as have short binary fractions. */
static const uint8_t binary_packet[60] = {
    'Q', 'T',  'A',  '1',                       /* starts_with */
    0,   0,    0,    0,    0, 0x10, 0x80, 0x40, /* 514.0 s */
    0,   0,    0x91, 0x43,                      /* 290 deg */
    0,   0,    0x80, 0x3f,                      /* 1 deg */
    0,   0,    0xf0, 0xc1,                      /* -30 deg */
    0,   0,    0xd2, 0x42,                      /* 105 kt */
    0,   0,    0xdc, 0x42,                      /* 110 kt */
    0,   0x80, 0x3b, 0x45,                      /* 3000 ft */
    0,   0,    0x16, 0x45,                      /* 2400 ft */
    0,   0,    0,    0xbf,                      /* -0.5 ft/min */
    0,   0,    0x80, 0x3f,                      /* 1 g */
    0,   0,    0,    0xbd,                      /* -0.03125 g */
    0,   0,    0x80, 0x3e,                      /* 0.25 deg */
    0,   0,    0xc0, 0x7f,                      /* not known */
};

static void load_layout(const char *name, struct settings *out)
{
    struct settings_choice choice = {.layout = name};
    char why[512] = "";

    if (settings_load(&choice, ".", out, why, sizeof why) != 0)
        fail_msg("%s", why);
}

static double shown(const struct intake_sample *sample,
                    enum intake_channel channel)
{
    assert_true((sample->valid & CHANNEL_BIT(channel)) != 0);
    return units_from_internal(intake_channel_display_unit(channel),
                               sample->value[channel]);
}

static void plain_text_is_read(void **state)
{
    static const double value[] = {514.0,  290.0, 1.032,  -30.0, 104.93,
                                   109.64, 3e3,   2400.0, 0.2,   1.0003,
                                   -0.01,  0.105, 1.031};
    struct settings settings;
    struct intake_sample sample;

    (void)state;
    load_layout("plain-text", &settings);
    assert_int_equal(intake_decode(&settings.layout,
                                   (const uint8_t *)text_packet,
                                   sizeof text_packet - 1, &sample),
                     INTAKE_TAKEN);
    for (int i = 0; i <= CHANNEL_ANGLE_OF_ATTACK; i++)
        assert_near(shown(&sample, (enum intake_channel)i), value[i], 1e-9);
}

static void plain_binary_is_read(void **state)
{
    static const double value[] = {514.0, 290.0,  1.0,  -30.0, 105.0,    110.0,
                                   3e3,   2400.0, -0.5, 1.0,   -0.03125, 0.25};
    struct settings settings;
    struct intake_sample sample;

    (void)state;
    load_layout("plain-binary", &settings);
    assert_int_equal(intake_decode(&settings.layout, binary_packet,
                                   sizeof binary_packet, &sample),
                     INTAKE_TAKEN);
    for (int i = 0; i < CHANNEL_ANGLE_OF_ATTACK; i++)
        assert_near(shown(&sample, (enum intake_channel)i), value[i], 1e-9);
    assert_int_equal(sample.valid & CHANNEL_BIT(CHANNEL_ANGLE_OF_ATTACK), 0);
}

/* Decode a copy of exactly that length. */
static enum intake_reject decode_copy(const struct intake_layout *layout,
                                      const uint8_t *bytes, size_t length,
                                      struct intake_sample *out)
{
    uint8_t *copy = malloc(length > 0 ? length : 1);
    enum intake_reject reject;

    assert_non_null(copy);
    memcpy(copy, bytes, length);
    reject = intake_decode(layout, copy, length, out);
    free(copy);
    return reject;
}

static void expect_sound(enum intake_reject reject,
                         const struct intake_sample *sample)
{
    assert_in_range(reject, INTAKE_TAKEN, INTAKE_OUT_OF_RANGE);
    if (reject != INTAKE_TAKEN)
        return;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->valid & CHANNEL_BIT(i)) != 0)
            assert_true(isfinite(sample->value[i]));
    }
}

static void plain_binary_is_refused_at_every_other_length(void **state)
{
    struct settings settings;
    struct intake_sample sample;

    (void)state;
    load_layout("plain-binary", &settings);
    assert_int_equal(decode_copy(&settings.layout, binary_packet, 0, &sample),
                     INTAKE_EMPTY);
    for (size_t length = 1; length < sizeof binary_packet; length++)
        assert_int_equal(
            decode_copy(&settings.layout, binary_packet, length, &sample),
            INTAKE_NO_PACKET);
    /* The same without a size: the fields tell. */
    settings.layout.packet[0].size = 0;
    for (size_t length = 4; length < sizeof binary_packet; length++)
        assert_int_equal(
            decode_copy(&settings.layout, binary_packet, length, &sample),
            INTAKE_TOO_SHORT);
}

/* What a cut line is, told by its commas and its last column alone. */
static enum intake_reject reason_of_cut(size_t length)
{
    size_t commas = 0;
    size_t column = 0;

    if (length == 0)
        return INTAKE_EMPTY;
    for (size_t i = 0; i < length; i++) {
        if (text_packet[i] == ',') {
            commas++;
            column = i + 1;
        }
    }
    if (length == column ||
        (length == column + 1 && text_packet[column] == '-'))
        return commas < 5 || length > column ? INTAKE_NOT_A_NUMBER
                                             : INTAKE_TAKEN;
    return commas < 4 ? INTAKE_TOO_FEW_COLUMNS : INTAKE_TAKEN;
}

static void plain_text_names_the_reason_at_every_length(void **state)
{
    struct settings settings;
    struct intake_sample sample;

    (void)state;
    load_layout("plain-text", &settings);
    for (size_t length = 0; length < sizeof text_packet; length++) {
        enum intake_reject reject = decode_copy(
            &settings.layout, (const uint8_t *)text_packet, length, &sample);

        assert_int_equal(reject, reason_of_cut(length));
        expect_sound(reject, &sample);
    }
}

static void replace_every_byte(const char *layout, const void *packet,
                               size_t length, int *taken, int *refused)
{
    struct settings settings;
    struct intake_sample sample;
    uint8_t bytes[256];

    assert_true(length <= sizeof bytes);
    load_layout(layout, &settings);
    for (size_t at = 0; at < length; at++) {
        for (int value = 0; value < 256; value++) {
            enum intake_reject reject;

            memcpy(bytes, packet, length);
            bytes[at] = (uint8_t)value;
            reject = decode_copy(&settings.layout, bytes, length, &sample);
            expect_sound(reject, &sample);
            *(reject == INTAKE_TAKEN ? taken : refused) += 1;
        }
    }
}

static void any_byte_of_a_line_may_be_any_other(void **state)
{
    int taken = 0;
    int refused = 0;

    (void)state;
    replace_every_byte("plain-text", text_packet, sizeof text_packet - 1,
                       &taken, &refused);
    /* Most of the 256 values make no number. */
    assert_true(refused > taken);
    assert_true(taken > 0);
}

static void any_byte_of_a_binary_packet_may_be_any_other(void **state)
{
    int taken = 0;
    int refused = 0;

    (void)state;
    replace_every_byte("plain-binary", binary_packet, sizeof binary_packet,
                       &taken, &refused);
    /* At the least the 255 other values in each of the first four places. */
    assert_true(refused >= 4 * 255);
    assert_true(taken > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_text_is_read),
        cmocka_unit_test(plain_binary_is_read),
        cmocka_unit_test(plain_binary_is_refused_at_every_other_length),
        cmocka_unit_test(plain_text_names_the_reason_at_every_length),
        cmocka_unit_test(any_byte_of_a_line_may_be_any_other),
        cmocka_unit_test(any_byte_of_a_binary_packet_may_be_any_other),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
