/* test_intake_records.c - records, each with a key in front. */
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

static struct intake_field *add_field(enum intake_channel channel, int64_t key,
                                      uint32_t at, enum intake_type type)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    field->key = key;
    field->at = at;
    field->type = type;
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    return field;
}

/* A header of two letters, records of a byte and two i8. */
static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_RECORDS;
    layout.packet_count = 1;
    packet = &layout.packet[0];
    memcpy(packet->starts_with, "KR", 2);
    packet->starts_with_length = 2;
    packet->records_at = 2;
    packet->record_size = 3;
    packet->key_type = INTAKE_U8;
    return 0;
}

static enum intake_reject decode(const char *bytes, size_t length)
{
    return intake_decode(&layout, (const uint8_t *)bytes, length, &sample);
}

static double shown(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_from_internal(intake_channel_display_unit(channel),
                               sample.value[channel]);
}

static void reads_records_in_any_order(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, 7, 1, INTAKE_I8);
    add_field(CHANNEL_BANK, 7, 2, INTAKE_I8);
    add_field(CHANNEL_AIRSPEED, 9, 1, INTAKE_U8);
    assert_int_equal(decode("KR\x07\x05\xe2\x09\x64\x00", 8), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_PITCH), 5.0, 1e-12);
    assert_near(shown(CHANNEL_BANK), -30.0, 1e-12);
    assert_near(shown(CHANNEL_AIRSPEED), 100.0, 1e-12);
    assert_int_equal(decode("KR\x09\x64\x00\x07\x05\xe2", 8), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_BANK), -30.0, 1e-12);
    assert_near(shown(CHANNEL_AIRSPEED), 100.0, 1e-12);
}

static void passes_over_keys_that_nobody_asks_for(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, 7, 1, INTAKE_I8);
    assert_int_equal(decode("KR\x01\xff\xff\x07\x05\x00\x02\xff\xff", 11),
                     INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("KR\x01\xff\xff", 5), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("KR", 2), INTAKE_NOTHING_KNOWN);
}

static void lets_the_later_of_two_records_count(void **state)
{
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_PITCH, 7, 1, INTAKE_I8);
    field->has_missing = true;
    field->missing = -128;
    assert_int_equal(decode("KR\x07\x05\x00\x07\x06\x00", 8), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_PITCH), 6.0, 1e-12);
    /* Also when it says that there is no value. */
    assert_int_equal(decode("KR\x07\x05\x00\x07\x80\x00", 8),
                     INTAKE_NOTHING_KNOWN);
}

static void refuses_a_record_that_is_cut(void **state)
{
    static const char bytes[] = "KR\x07\x05\x00\x09\x06\x00";

    (void)state;
    add_field(CHANNEL_PITCH, 7, 1, INTAKE_I8);
    for (size_t length = 1; length < sizeof bytes; length++) {
        enum intake_reject expected = length < 2    ? INTAKE_NO_PACKET
                                      : length == 2 ? INTAKE_NOTHING_KNOWN
                                      : (length - 2) % 3 == 0
                                          ? INTAKE_TAKEN
                                          : INTAKE_BAD_STRUCTURE;

        assert_int_equal(decode(bytes, length), expected);
    }
    /* A header that is longer than the datagram. */
    packet->records_at = 20;
    assert_int_equal(decode(bytes, 8), INTAKE_TOO_SHORT);
}

/* The key 258, or the last number of a type, in both orders. */
static void knows_keys_of_every_integer_type(void **state)
{
    static const struct {
        enum intake_type type;
        int64_t key;
        uint8_t bytes[8]; /* big-endian */
    } row[] = {
        {INTAKE_I8, -2, {0xfe}},
        {INTAKE_U8, 254, {0xfe}},
        {INTAKE_I16, -2, {0xff, 0xfe}},
        {INTAKE_U16, 258, {1, 2}},
        {INTAKE_I32, -2, {0xff, 0xff, 0xff, 0xfe}},
        {INTAKE_U32, 4294967294, {0xff, 0xff, 0xff, 0xfe}},
        {INTAKE_I64, -2, {255, 255, 255, 255, 255, 255, 255, 0xfe}},
        {INTAKE_U64, 258, {0, 0, 0, 0, 0, 0, 1, 2}},
    };
    uint8_t bytes[16];

    (void)state;
    packet->starts_with_length = 0;
    packet->records_at = 1;
    add_field(CHANNEL_PITCH, 0, 0, INTAKE_I8);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        uint32_t size = intake_type_size(row[i].type);

        for (int big = 0; big < 2; big++) {
            packet->key_type = row[i].type;
            packet->key_big_endian = big != 0;
            packet->record_size = size + 1;
            packet->field[0].key = row[i].key;
            packet->field[0].at = size;
            memset(bytes, 0, sizeof bytes);
            for (uint32_t b = 0; b < size; b++)
                bytes[1 + (big != 0 ? b : size - 1 - b)] = row[i].bytes[b];
            bytes[1 + size] = 5;
            assert_int_equal(intake_decode(&layout, bytes, size + 2, &sample),
                             INTAKE_TAKEN);
            assert_near(shown(CHANNEL_PITCH), 5.0, 1e-12);
            /* Another key by one bit of its last byte. */
            bytes[1 + (big != 0 ? size - 1 : 0)] ^= 1;
            assert_int_equal(intake_decode(&layout, bytes, size + 2, &sample),
                             INTAKE_NOTHING_KNOWN);
        }
    }
}

/* Three letters and a NUL, a byte more, then u32 and eight f32: values after
 * IEEE 754-2008, 3.4, put down by hand. */
static void reads_eight_values_behind_a_word(void **state)
{
    static const uint8_t bytes[5 + 36] = {
        'V', 'A',  'L',  'S',  0,                /* header */
        3,   0,    0,    0,    0, 0, 0xd2, 0x42, /* 105 */
        0,   0xc0, 0x79, 0xc4, 0, 0, 0xc0, 0x7f, /* -999, NaN */
        0,   0,    0x20, 0x41,                   /* 10 */
    };
    struct intake_field *field;

    (void)state;
    memcpy(packet->starts_with, "VALS", 4);
    packet->starts_with_length = 4;
    packet->records_at = 5;
    packet->record_size = 36;
    packet->key_type = INTAKE_U32;
    add_field(CHANNEL_AIRSPEED, 3, 4, INTAKE_F32);
    field = add_field(CHANNEL_TRUE_AIRSPEED, 3, 8, INTAKE_F32);
    field->has_missing = true;
    field->missing = -999;
    add_field(CHANNEL_GROUND_SPEED, 3, 12, INTAKE_F32);
    add_field(CHANNEL_PITCH, 3, 16, INTAKE_F32);
    assert_int_equal(intake_decode(&layout, bytes, sizeof bytes, &sample),
                     INTAKE_TAKEN);
    assert_near(shown(CHANNEL_AIRSPEED), 105.0, 1e-9);
    assert_near(shown(CHANNEL_PITCH), 10.0, 1e-9);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_AIRSPEED) |
                                       CHANNEL_BIT(CHANNEL_PITCH));
}

/* Three fields to a record, of different types, with a checksum or not. */
static void fill(void)
{
    static const enum intake_type type[] = {INTAKE_F64, INTAKE_F64, INTAKE_F64};

    packet->records_at = 5;
    packet->record_size = 28;
    packet->key_type = INTAKE_U16;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        enum intake_channel channel = (enum intake_channel)i;
        double value = intake_channel_display_unit(channel) == UNIT_BOOL ? 1.0
                       : intake_channel_quantity(channel) == UNITS_NUMBER
                           ? 0.25
                           : 1.5 + i;
        struct intake_field *field = add_field(
            channel, 300 + i / 3, (uint32_t)(3 + i % 3 * 8), type[i % 3]);

        field->big_endian = i % 2 != 0;
        sample.value[i] = units_to_internal(field->unit, value);
    }
}

static void every_channel_survives_the_way_there_and_back(void **state)
{
    struct intake_sample back;
    uint8_t bytes[1024];

    (void)state;
    fill();
    for (int round = 0; round < 4; round++) {
        packet->checksum =
            round < 2 ? INTAKE_CHECKSUM_NONE : INTAKE_CHECKSUM_CRC16;
        packet->key_big_endian = round % 2 != 0;
        for (int out = -1; out < CHANNEL_COUNT; out++) {
            int length;

            sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
            if (out >= 0)
                sample.valid &= ~CHANNEL_BIT(out);
            length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_int_equal(length, 5 + 8 * 28 + (round < 2 ? 0 : 2));
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
    /* A group of which nothing is known is not sent. */
    sample.valid = CHANNEL_BIT(CHANNEL_HEADING);
    assert_int_equal(intake_encode(&layout, 0, &sample, bytes, sizeof bytes),
                     5 + 28 + 2);
}

static void writes_nothing_beyond_its_room(void **state)
{
    uint8_t bytes[1024];
    int length;

    (void)state;
    fill();
    packet->checksum = INTAKE_CHECKSUM_CRC16;
    sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
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

static void one_wrong_bit_breaks_the_checksum(void **state)
{
    uint8_t bytes[1024];
    int length;

    (void)state;
    fill();
    packet->checksum = INTAKE_CHECKSUM_CRC16;
    sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
    length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
    for (int bit = 0; bit < 8 * length; bit++) {
        bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
        assert_int_equal(intake_decode(&layout, bytes, (size_t)length, &sample),
                         bit < 16 ? INTAKE_NO_PACKET : INTAKE_BAD_CHECKSUM);
        bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
    }
}

#define records_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        records_test(reads_records_in_any_order),
        records_test(passes_over_keys_that_nobody_asks_for),
        records_test(lets_the_later_of_two_records_count),
        records_test(refuses_a_record_that_is_cut),
        records_test(knows_keys_of_every_integer_type),
        records_test(reads_eight_values_behind_a_word),
        records_test(every_channel_survives_the_way_there_and_back),
        records_test(writes_nothing_beyond_its_room),
        records_test(one_wrong_bit_breaks_the_checksum),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
