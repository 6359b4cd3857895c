/* test_intake_binary.c - numbers at fixed places, and back again. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_packet *packet;
static struct intake_sample sample;

static struct intake_field *add_field(enum intake_channel channel, uint32_t at,
                                      enum intake_type type)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    field->at = at;
    field->type = type;
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    return field;
}

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_BINARY;
    layout.packet_count = 1;
    packet = &layout.packet[0];
    return 0;
}

/* Bytes in big-endian order as they are written down, and what they mean.
 * Source of the floating-point ones: IEEE 754-2008, 3.4 (binary32: 1 sign, 8
 * exponent, 23 fraction bits; binary64: 1, 11, 52); integers are two's
 * complement. */
static const struct {
    enum intake_type type;
    uint8_t bytes[8];
    double value;
} encoding[] = {
    {INTAKE_I8, {0x80}, -128.0},
    {INTAKE_I8, {0x7f}, 127.0},
    {INTAKE_I8, {0xff}, -1.0},
    {INTAKE_U8, {0xff}, 255.0},
    {INTAKE_I16, {0xff, 0xfe}, -2.0},
    {INTAKE_I16, {0x80, 0x00}, -32768.0},
    {INTAKE_I16, {0x12, 0x34}, 4660.0},
    {INTAKE_U16, {0xff, 0xfe}, 65534.0},
    {INTAKE_I32, {0xff, 0xff, 0xff, 0x85}, -123.0},
    {INTAKE_I32, {0x80, 0x00, 0x00, 0x00}, -2147483648.0},
    {INTAKE_U32, {0x80, 0x00, 0x00, 0x01}, 2147483649.0},
    {INTAKE_I64, {0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}, -1.0},
    {INTAKE_I64, {0, 0, 0, 1, 0, 0, 0, 2}, 4294967298.0},
    {INTAKE_U64, {0, 0, 0, 0, 0xff, 0xff, 0xff, 0xfe}, 4294967294.0},
    {INTAKE_F32, {0x42, 0xf6, 0x80, 0x00}, 123.25},
    {INTAKE_F32, {0xc1, 0xf0, 0x00, 0x00}, -30.0},
    {INTAKE_F64, {0x40, 0x80, 0x10, 0, 0, 0, 0, 0}, 514.0},
    {INTAKE_F64, {0xbf, 0xe0, 0, 0, 0, 0, 0, 0}, -0.5},
};

enum { ENCODINGS = sizeof encoding / sizeof encoding[0] };

static void lay_out(size_t row, bool big, uint8_t *at)
{
    uint32_t size = intake_type_size(encoding[row].type);

    for (uint32_t i = 0; i < size; i++)
        at[big ? i : size - 1 - i] = encoding[row].bytes[i];
}

static void reads_every_type_in_both_orders_at_any_place(void **state)
{
    uint8_t bytes[16];

    (void)state;
    /* Seconds: the one channel that takes numbers of this size. */
    add_field(CHANNEL_SIM_TIME, 0, INTAKE_I8);
    for (size_t row = 0; row < ENCODINGS; row++) {
        for (uint32_t at = 0; at < 8; at++) {
            for (int big = 0; big < 2; big++) {
                memset(bytes, 0xa5, sizeof bytes);
                packet->field[0].type = encoding[row].type;
                packet->field[0].at = at;
                packet->field[0].big_endian = big != 0;
                if (fabs(encoding[row].value) > 4e9)
                    packet->field[0].scale = 0.5;
                else
                    packet->field[0].scale = 1.0;
                lay_out(row, big != 0, bytes + at);
                assert_int_equal(
                    intake_decode(&layout, bytes, sizeof bytes, &sample),
                    INTAKE_TAKEN);
                assert_true(sample.value[CHANNEL_SIM_TIME] ==
                            encoding[row].value * packet->field[0].scale);
            }
        }
    }
}

static void writes_what_it_reads(void **state)
{
    uint8_t expected[16];
    uint8_t bytes[16];

    (void)state;
    add_field(CHANNEL_SIM_TIME, 3, INTAKE_I8);
    for (size_t row = 0; row < ENCODINGS; row++) {
        uint32_t size = intake_type_size(encoding[row].type);

        for (int big = 0; big < 2; big++) {
            memset(expected, 0, sizeof expected);
            lay_out(row, big != 0, expected + 3);
            packet->field[0].type = encoding[row].type;
            packet->field[0].big_endian = big != 0;
            sample.valid = CHANNEL_BIT(CHANNEL_SIM_TIME);
            sample.value[CHANNEL_SIM_TIME] = encoding[row].value;
            assert_int_equal(
                intake_encode(&layout, 0, &sample, bytes, sizeof bytes),
                3 + size);
            assert_memory_equal(bytes, expected, 3 + size);
        }
    }
}

static void writes_the_nearest_integer_and_stays_within_it(void **state)
{
    static const struct {
        enum intake_type type;
        double value;
        double read;
    } row[] = {
        {INTAKE_U8, 254.6, 255.0},       {INTAKE_U8, 999.0, 255.0},
        {INTAKE_U8, -3.0, 0.0},          {INTAKE_I8, -999.0, -128.0},
        {INTAKE_I16, 1e9, 32767.0},      {INTAKE_I32, -4e9, -2147483648.0},
        {INTAKE_U32, 4e9, 4000000000.0}, {INTAKE_I64, -3.4e9, -3.4e9},
        {INTAKE_U64, 3.4e9, 3.4e9},
    };
    uint8_t bytes[8];

    (void)state;
    add_field(CHANNEL_SIM_TIME, 0, INTAKE_I8);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        int length;

        packet->field[0].type = row[i].type;
        sample.valid = CHANNEL_BIT(CHANNEL_SIM_TIME);
        sample.value[CHANNEL_SIM_TIME] = row[i].value;
        length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
        assert_true(length > 0);
        assert_int_equal(intake_decode(&layout, bytes, (size_t)length, &sample),
                         INTAKE_TAKEN);
        assert_true(sample.value[CHANNEL_SIM_TIME] == row[i].read);
    }
    /* The ends of 64 bits, where a double has no neighbour. */
    packet->field[0].scale = 1e-10;
    packet->field[0].type = INTAKE_I64;
    sample.valid = CHANNEL_BIT(CHANNEL_SIM_TIME);
    sample.value[CHANNEL_SIM_TIME] = 3e9;
    (void)intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
    assert_memory_equal(bytes, "\xff\xff\xff\xff\xff\xff\xff\x7f", 8);
    sample.value[CHANNEL_SIM_TIME] = -3e9;
    (void)intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
    assert_memory_equal(bytes, "\0\0\0\0\0\0\0\x80", 8);
}

static void leaves_out_what_is_not_a_number(void **state)
{
    static const uint8_t nan32[4] = {0, 0, 0xc0, 0x7f};

    (void)state;
    add_field(CHANNEL_PITCH, 0, INTAKE_F32);
    assert_int_equal(intake_decode(&layout, nan32, 4, &sample),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(sample.valid, 0);
}

static void refuses_infinity(void **state)
{
    static const uint8_t inf32[4] = {0, 0, 0x80, 0x7f};

    (void)state;
    add_field(CHANNEL_PITCH, 0, INTAKE_F32);
    assert_int_equal(intake_decode(&layout, inf32, 4, &sample),
                     INTAKE_NOT_FINITE);
}

static void knows_a_missing_value_in_single_precision(void **state)
{
    uint8_t bytes[4];
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_PITCH, 0, INTAKE_F32);
    field->has_missing = true;
    field->missing = -999.9; /* no float is equal to it */
    sample.valid = 0;
    assert_int_equal(intake_encode(&layout, 0, &sample, bytes, 4), 4);
    assert_int_equal(intake_decode(&layout, bytes, 4, &sample),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(sample.valid, 0);
}

static void says_when_a_field_lies_beyond_the_end(void **state)
{
    static const uint8_t bytes[20];

    (void)state;
    add_field(CHANNEL_PITCH, 9, INTAKE_F64);
    for (size_t length = 1; length < 17; length++)
        assert_int_equal(intake_decode(&layout, bytes, length, &sample),
                         INTAKE_TOO_SHORT);
    assert_int_equal(intake_decode(&layout, bytes, 17, &sample), INTAKE_TAKEN);
}

static void picks_the_packet_by_size_and_beginning(void **state)
{
    (void)state;
    packet->size = 6;
    memcpy(packet->starts_with, "\x41\x54", 2);
    packet->starts_with_length = 2;
    add_field(CHANNEL_PITCH, 2, INTAKE_I8);
    packet = &layout.packet[1];
    packet->min_size = 4;
    add_field(CHANNEL_BANK, 3, INTAKE_I8);
    layout.packet_count = 2;
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"AT\5\0\0\0", 6, &sample),
        INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"AT\5\7\0", 5, &sample),
        INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_BANK));
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"AT\5", 3, &sample),
        INTAKE_NO_PACKET);
}

/* A field of each channel, in its display unit, through both forms. */
static void fill_every_channel(void)
{
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        enum intake_channel channel = (enum intake_channel)i;
        struct intake_field *field =
            add_field(channel, (uint32_t)i * 8, INTAKE_F64);
        double shown = intake_channel_display_unit(channel) == UNIT_BOOL
                           ? 1.0
                           : 0.123456789 + i;

        field->column = (uint32_t)(CHANNEL_COUNT - i);
        field->optional = true;
        if (channel == CHANNEL_THROTTLE || channel == CHANNEL_FLAPS ||
            channel == CHANNEL_GEAR)
            shown = 0.25;
        sample.value[i] = units_to_internal(field->unit, shown);
    }
    packet->separator = ';';
}

static void every_channel_survives_the_way_there_and_back(void **state)
{
    uint8_t bytes[1024];
    struct intake_sample back;

    (void)state;
    fill_every_channel();
    for (int form = 0; form < 4; form++) {
        layout.form = form == 0 ? INTAKE_FORM_BINARY : INTAKE_FORM_TEXT;
        packet->decimal_comma = form == 2;
        if (form == 3) {
            memcpy(packet->starts_with, "A;B;", 4);
            packet->starts_with_length = 4;
            for (uint32_t i = 0; i < packet->field_count; i++)
                packet->field[i].column += 2;
        }
        /* All of them, and each of them missing. */
        for (int out = -1; out < CHANNEL_COUNT; out++) {
            int length;

            sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
            if (out >= 0)
                sample.valid &= ~CHANNEL_BIT(out);
            length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_true(length > 0);
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

static void picks_the_packet_by_bytes_in_the_middle(void **state)
{
    (void)state;
    packet->starts_at = 2;
    memcpy(packet->starts_with, "AT", 2);
    packet->starts_with_length = 2;
    add_field(CHANNEL_PITCH, 0, INTAKE_I8);
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"\5\0AT", 4, &sample),
        INTAKE_TAKEN);
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"\5AT\0", 4, &sample),
        INTAKE_NO_PACKET);
    assert_int_equal(
        intake_decode(&layout, (const uint8_t *)"\5\0A", 3, &sample),
        INTAKE_NO_PACKET);
}

static void reads_and_writes_single_bits(void **state)
{
    static const uint8_t bytes[2] = {0x80, 0x04};
    uint8_t back[2] = {0xff, 0xff};
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_PAUSED, 0, INTAKE_U16);
    field->big_endian = true;
    field->has_bit = true;
    field->bit = 15;
    field = add_field(CHANNEL_ON_GROUND, 0, INTAKE_U16);
    field->big_endian = true;
    field->has_bit = true;
    field->bit = 3;
    field = add_field(CHANNEL_STALL_WARNING, 0, INTAKE_U16);
    field->big_endian = true;
    field->has_bit = true;
    field->bit = 2;
    assert_int_equal(intake_decode(&layout, bytes, 2, &sample), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_PAUSED], 1.0, 0.0);
    assert_near(sample.value[CHANNEL_ON_GROUND], 0.0, 0.0);
    assert_near(sample.value[CHANNEL_STALL_WARNING], 1.0, 0.0);
    assert_int_equal(intake_encode(&layout, 0, &sample, back, 2), 2);
    assert_memory_equal(back, bytes, 2);
}

/* Source of the value: the catalogue of parametrised CRC algorithms gives
 * 0x6f91 for CRC-16/MCRF4XX of "123456789". */
static void holds_a_packet_to_its_checksum(void **state)
{
    static const uint8_t little[] = "123456789\x91\x6f";
    uint8_t bytes[11];

    (void)state;
    packet->checksum = INTAKE_CHECKSUM_CRC16;
    add_field(CHANNEL_PITCH, 0, INTAKE_U8);
    memcpy(bytes, little, sizeof bytes);
    assert_int_equal(intake_decode(&layout, bytes, 11, &sample), INTAKE_TAKEN);
    packet->checksum_big_endian = true;
    assert_int_equal(intake_decode(&layout, bytes, 11, &sample),
                     INTAKE_BAD_CHECKSUM);
    bytes[9] = 0x6f;
    bytes[10] = 0x91;
    assert_int_equal(intake_decode(&layout, bytes, 11, &sample), INTAKE_TAKEN);
    for (size_t at = 0; at < sizeof bytes; at++) {
        for (int bit = 0; bit < 8; bit++) {
            bytes[at] ^= (uint8_t)(1 << bit);
            assert_int_equal(intake_decode(&layout, bytes, 11, &sample),
                             INTAKE_BAD_CHECKSUM);
            bytes[at] ^= (uint8_t)(1 << bit);
        }
    }
    assert_int_equal(intake_decode(&layout, bytes, 1, &sample),
                     INTAKE_TOO_SHORT);
    /* A field may not stand in it. */
    packet->field[0].at = 9;
    assert_int_equal(intake_decode(&layout, bytes, 11, &sample),
                     INTAKE_TOO_SHORT);
    packet->field[0].at = 0;
    sample.valid = CHANNEL_BIT(CHANNEL_PITCH);
    sample.value[CHANNEL_PITCH] = units_rad(49.0);
    packet->min_size = 11;
    assert_int_equal(intake_encode(&layout, 0, &sample, bytes, 11), 11);
    assert_int_equal(intake_decode(&layout, bytes, 11, &sample), INTAKE_TAKEN);
    assert_near(units_deg(sample.value[CHANNEL_PITCH]), 49.0, 1e-9);
}

static void writes_nothing_beyond_its_room(void **state)
{
    uint8_t bytes[1024];
    int length;

    (void)state;
    fill_every_channel();
    sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
    for (int form = 0; form < 2; form++) {
        layout.form = form == 0 ? INTAKE_FORM_BINARY : INTAKE_FORM_TEXT;
        length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
        assert_true(length > 0);
        for (size_t size = 0; size < (size_t)length; size++) {
            memset(bytes, 0xa5, sizeof bytes);
            assert_int_equal(intake_encode(&layout, 0, &sample, bytes, size),
                             ERR_FULL);
            for (size_t i = size; i < sizeof bytes; i++)
                assert_int_equal(bytes[i], 0xa5);
        }
    }
    assert_int_equal(intake_encode(&layout, 1, &sample, bytes, sizeof bytes),
                     ERR_RANGE);
}

static void knows_its_own_words(void **state)
{
    enum intake_type type = INTAKE_TYPE_COUNT;
    enum intake_form form = INTAKE_FORM_TEXT;

    (void)state;
    for (int i = 0; i < INTAKE_TYPE_COUNT; i++) {
        assert_int_equal(
            intake_type_find(intake_type_name((enum intake_type)i), &type), 0);
        assert_int_equal(type, i);
    }
    assert_int_equal(intake_type_find("f16", &type), ERR_ABSENT);
    assert_int_equal(intake_form_find("binary", &form), 0);
    assert_int_equal(form, INTAKE_FORM_BINARY);
    assert_string_equal(intake_form_name(form), "binary");
    for (int i = 0; i < INTAKE_FORM_COUNT; i++) {
        assert_int_equal(
            intake_form_find(intake_form_name((enum intake_form)i), &form), 0);
        assert_int_equal(form, i);
    }
    assert_int_equal(intake_form_find("xml", &form), ERR_ABSENT);
    add_field(CHANNEL_PITCH, 0, INTAKE_F32);
    add_field(CHANNEL_GEAR, 4, INTAKE_F32);
    assert_int_equal(intake_layout_channels(&layout),
                     CHANNEL_BIT(CHANNEL_PITCH) | CHANNEL_BIT(CHANNEL_GEAR));
}

#define binary_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        binary_test(reads_every_type_in_both_orders_at_any_place),
        binary_test(writes_what_it_reads),
        binary_test(writes_the_nearest_integer_and_stays_within_it),
        binary_test(leaves_out_what_is_not_a_number),
        binary_test(refuses_infinity),
        binary_test(knows_a_missing_value_in_single_precision),
        binary_test(says_when_a_field_lies_beyond_the_end),
        binary_test(picks_the_packet_by_size_and_beginning),
        binary_test(picks_the_packet_by_bytes_in_the_middle),
        binary_test(reads_and_writes_single_bits),
        binary_test(holds_a_packet_to_its_checksum),
        binary_test(every_channel_survives_the_way_there_and_back),
        binary_test(writes_nothing_beyond_its_room),
        binary_test(knows_its_own_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
