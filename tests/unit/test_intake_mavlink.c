/* test_intake_mavlink.c - MAVLink frames, versions 1 and 2. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/intake/crc16.h"
#include "frames.h"
#include "near.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_sample sample;
static uint8_t bytes[FRAME_BYTES];
static size_t length;

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_MAVLINK;
    layout.system = -1;
    length = 0;
    return 0;
}

static enum intake_reject decode(void)
{
    return frames_decode(&layout, bytes, length, &sample);
}

static enum intake_reject decode_hex(const char *hex)
{
    length = frames_read_hex(hex, bytes, sizeof bytes);
    return decode();
}

static double shown(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_from_internal(intake_channel_display_unit(channel),
                               sample.value[channel]);
}

static void put_float(uint8_t *at, double value)
{
    float single = (float)value;
    uint32_t bits;

    memcpy(&bits, &single, sizeof bits);
    for (int i = 0; i < 4; i++)
        at[i] = (uint8_t)(bits >> (8 * i));
}

/* A version 2 frame after the packet table of the MAVLink developer guide. */
static void build(uint32_t id, uint8_t extra, const uint8_t *payload,
                  size_t payload_length)
{
    uint16_t crc;

    memset(bytes, 0, sizeof bytes);
    bytes[0] = 0xfd;
    bytes[1] = (uint8_t)payload_length;
    bytes[5] = 1;
    bytes[6] = 1;
    bytes[7] = (uint8_t)id;
    bytes[8] = (uint8_t)(id >> 8);
    bytes[9] = (uint8_t)(id >> 16);
    memcpy(bytes + 10, payload, payload_length);
    crc = crc16_add(CRC16_BEGIN, bytes + 1, 9 + payload_length);
    crc = crc16_add(crc, &extra, 1);
    bytes[10 + payload_length] = (uint8_t)crc;
    bytes[11 + payload_length] = (uint8_t)(crc >> 8);
    length = 12 + payload_length;
}

/* Source: the catalogue of parametrised CRC algorithms, CRC-16/MCRF4XX: the
 * check value, over the nine digits, is 0x6f91. */
static void sums_up_the_check_value(void **state)
{
    (void)state;
    assert_int_equal(crc16_add(CRC16_BEGIN, (const uint8_t *)"123456789", 9),
                     0x6f91);
    assert_int_equal(crc16_add(CRC16_BEGIN, NULL, 0), CRC16_BEGIN);
}

/* Three frames put down by hand after the message definitions, their
 * checksums computed with a second implementation. */
static void reads_frames_made_by_hand(void **state)
{
    (void)state;
    assert_int_equal(decode_hex("fe1c0701011e40e20100920a063fc2b8323edb0fc9bf0a"
                                "d7233c0ad7a3bcae47e13d1dfb"),
                     INTAKE_TAKEN);
    assert_near(shown(CHANNEL_SIM_TIME), 123.456, 1e-9);
    assert_near(shown(CHANNEL_BANK), 30.0, 1e-5);
    assert_near(shown(CHANNEL_PITCH), 10.0, 1e-5);
    assert_near(shown(CHANNEL_HEADING), -90.0, 1e-5);

    /* The last of its twenty bytes is zero and was left out. */
    assert_int_equal(decode_hex("fd1300000701014a00003333394200004d429a9964445c"
                                "8fa2400e01644540"),
                     INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_AIRSPEED], 46.3, 1e-5);
    assert_near(sample.value[CHANNEL_ALTITUDE], 914.4, 1e-4);
    assert_near(sample.value[CHANNEL_VERTICAL_SPEED], 5.08, 1e-6);
    assert_near(sample.value[CHANNEL_THROTTLE], 1.0, 1e-12);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_HEADING));

    assert_int_equal(decode_hex("fd1000000701010c2b0015cd5b070000000000004841"
                                "0000a0bff2c4"),
                     INTAKE_TAKEN);
    assert_near(shown(CHANNEL_ANGLE_OF_ATTACK), 12.5, 1e-6);
    assert_near(shown(CHANNEL_SIDESLIP), -1.25, 1e-6);
}

static void reads_what_another_encoder_wrote(void **state)
{
    struct frame *frame;
    size_t count = frames_load("tests/oracle/mavlink.frames", &frame);

    (void)state;
    for (size_t i = 0; i < count; i++)
        frames_check(&frame[i], &layout);
    free(frame);
}

/* One frame of ours alone is sealed by its checksum; a signature and messages
 * that are not ours are not. */
static void stands_every_cut_and_every_changed_byte(void **state)
{
    struct frame *frame;
    size_t count = frames_load("tests/oracle/mavlink.frames", &frame);

    (void)state;
    for (size_t i = 0; i < count; i++) {
        bool several = strncmp(frame[i].name, "several", 7) == 0;
        bool is_signed = strcmp(frame[i].name, "v2-signed") == 0;

        frames_torment(&layout, frame[i].bytes, frame[i].length,
                       several ? 30 : frame[i].length, !several && !is_signed);
    }
    free(frame);
}

/* The rule of the developer guide: zeros at the end are left out, but not the
 * first byte; some senders leave that out too. */
static void fills_a_cut_payload_up_with_zeros(void **state)
{
    static const uint8_t zero[20];

    (void)state;
    for (size_t kept = 0; kept <= sizeof zero; kept++) {
        build(74, 20, zero, kept);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_near(sample.value[CHANNEL_AIRSPEED], 0.0, 0.0);
        assert_near(sample.value[CHANNEL_THROTTLE], 0.0, 0.0);
    }
}

static void reads_a_payload_with_extensions_yet_unknown(void **state)
{
    uint8_t payload[40];

    (void)state;
    memset(payload, 0xff, sizeof payload);
    put_float(payload, 50.0);
    put_float(payload + 4, 45.0);
    put_float(payload + 8, 1000.0);
    put_float(payload + 12, -1.0);
    payload[18] = 70;
    payload[19] = 0;
    build(74, 20, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_AIRSPEED], 50.0, 0.0);
    assert_near(sample.value[CHANNEL_THROTTLE], 0.7, 1e-12);
}

static void leaves_out_what_the_sender_does_not_know(void **state)
{
    uint8_t payload[20] = {0};

    (void)state;
    put_float(payload, (double)NAN);
    put_float(payload + 8, 1000.0);
    build(74, 20, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_AIRSPEED));
    assert_near(sample.value[CHANNEL_ALTITUDE], 1000.0, 0.0);
    put_float(payload, (double)INFINITY);
    build(74, 20, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_NOT_FINITE);
    put_float(payload, 5000.0);
    build(74, 20, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
}

static void heeds_what_the_layout_says_of_a_channel(void **state)
{
    uint8_t payload[20] = {0};

    (void)state;
    layout.packet_count = 1;
    layout.packet[0].field_count = 1;
    layout.packet[0].field[0].channel = CHANNEL_VERTICAL_SPEED;
    layout.packet[0].field[0].scale = -1.0;
    put_float(payload + 12, 2.5);
    build(74, 20, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_VERTICAL_SPEED], -2.5, 1e-12);
}

static void refuses_a_quaternion_that_is_no_attitude(void **state)
{
    uint8_t payload[32] = {0};

    (void)state;
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    put_float(payload + 4, 1.2);
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    put_float(payload + 4, (double)INFINITY);
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_NOT_FINITE);
    put_float(payload + 4, (double)NAN);
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_SIM_TIME));
    put_float(payload + 4, -1.01);
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_BANK), 0.0, 1e-9);
}

/* Straight up: pitch is 90, and the sine of it may come out above 1. */
static void reads_a_quaternion_straight_up(void **state)
{
    uint8_t payload[32] = {0};

    (void)state;
    put_float(payload + 4, 0.70710678);
    put_float(payload + 12, 0.70710678);
    build(31, 246, payload, sizeof payload);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_PITCH), 90.0, 0.05);
}

static void refuses_damage_and_what_is_cut_off(void **state)
{
    static const uint8_t zero[20];

    (void)state;
    build(74, 20, zero, sizeof zero);
    bytes[12] ^= 1;
    assert_int_equal(decode(), INTAKE_BAD_CHECKSUM);
    build(74, 21, zero, sizeof zero); /* of another definition */
    assert_int_equal(decode(), INTAKE_BAD_CHECKSUM);
    build(74, 20, zero, sizeof zero);
    length--;
    assert_int_equal(decode(), INTAKE_TOO_SHORT);
    length = 1;
    assert_int_equal(decode(), INTAKE_TOO_SHORT);
    build(74, 20, zero, sizeof zero);
    bytes[length++] = 0x55;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
    bytes[0] = 0x55;
    assert_int_equal(decode(), INTAKE_NO_PACKET);
}

static void refuses_flags_that_it_does_not_know(void **state)
{
    static const uint8_t zero[20];

    (void)state;
    build(74, 20, zero, sizeof zero);
    bytes[2] = 2;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
    bytes[2] = 3;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
}

/* Version 1 leaves nothing out: a short payload is another message. */
static void refuses_a_cut_payload_of_version_1(void **state)
{
    uint8_t extra = 20;
    uint16_t crc;

    (void)state;
    memset(bytes, 0, sizeof bytes);
    bytes[0] = 0xfe;
    bytes[1] = 19;
    bytes[3] = bytes[4] = 1;
    bytes[5] = 74;
    crc = crc16_add(CRC16_BEGIN, bytes + 1, 5 + 19);
    crc = crc16_add(crc, &extra, 1);
    bytes[25] = (uint8_t)crc;
    bytes[26] = (uint8_t)(crc >> 8);
    length = 27;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(sums_up_the_check_value, begin),
        cmocka_unit_test_setup(reads_frames_made_by_hand, begin),
        cmocka_unit_test_setup(reads_what_another_encoder_wrote, begin),
        cmocka_unit_test_setup(stands_every_cut_and_every_changed_byte, begin),
        cmocka_unit_test_setup(fills_a_cut_payload_up_with_zeros, begin),
        cmocka_unit_test_setup(reads_a_payload_with_extensions_yet_unknown,
                               begin),
        cmocka_unit_test_setup(leaves_out_what_the_sender_does_not_know, begin),
        cmocka_unit_test_setup(heeds_what_the_layout_says_of_a_channel, begin),
        cmocka_unit_test_setup(refuses_a_quaternion_that_is_no_attitude, begin),
        cmocka_unit_test_setup(reads_a_quaternion_straight_up, begin),
        cmocka_unit_test_setup(refuses_damage_and_what_is_cut_off, begin),
        cmocka_unit_test_setup(refuses_flags_that_it_does_not_know, begin),
        cmocka_unit_test_setup(refuses_a_cut_payload_of_version_1, begin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
