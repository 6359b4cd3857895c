/* test_intake_encoder.c - moments written in the open standards. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/intake/bytes.h"
#include "../../daemon/intake/dis.h"
#include "frames.h"
#include "near.h"
#include "quarterturn/error.h"
#include "written.h"

static struct written w;

/* ---- against encoders that are not ours --------------------------------- */

static bool is_single(size_t at)
{
    return (at >= AT_VELOCITY && at < AT_LOCATION) ||
           (at >= AT_ORIENTATION && at < AT_APPEARANCE) ||
           (at >= AT_ACCELERATION && at < AT_TURNING);
}

/* Two ways of computing the same number may round apart in the last bit. */
static void expect_same_pdu(const struct frame *like)
{
    assert_int_equal(w.length, like->length);
    for (size_t i = 0; i < like->length; i++) {
        if (is_single(i)) {
            double own = bytes_f32(w.bytes + i, true);
            double other = bytes_f32(like->bytes + i, true);

            assert_near(own, other, 1e-5);
            i += 3;
        } else if (i >= AT_LOCATION && i < AT_ORIENTATION) {
            assert_near(bytes_f64(w.bytes + i, true),
                        bytes_f64(like->bytes + i, true), 1e-8);
            i += 7;
        } else if (w.bytes[i] != like->bytes[i]) {
            fail_msg("%s: byte %zu is %02x, not %02x", like->name, i,
                     w.bytes[i], like->bytes[i]);
        }
    }
}

static void expect_same_bytes(const struct frame *like)
{
    for (size_t i = 0; i < like->length && (int)i < w.length; i++) {
        if (w.bytes[i] != like->bytes[i])
            fail_msg("%s: byte %zu is %02x, not %02x", like->name, i,
                     w.bytes[i], like->bytes[i]);
    }
    assert_int_equal(w.length, like->length);
}

/* tests/oracle/sent.frames: what open-dis and node-mavlink write of the same
 * moments. */
static void writes_what_other_encoders_write(void **state)
{
    struct frame *frame;
    size_t count = frames_load("tests/oracle/sent.frames", &frame);

    (void)state;
    assert_int_equal(count, 8);
    for (size_t i = 0; i < count; i++) {
        bool dis = strncmp(frame[i].name, "dis", 3) == 0;

        written_begin(&w, dis ? INTAKE_FORM_DIS : INTAKE_FORM_MAVLINK);
        for (size_t v = 0; v < frame[i].value_count; v++) {
            const struct frame_value *value = &frame[i].value[v];

            w.sample.value[value->channel] =
                units_to_internal(value->unit, value->value);
            w.sample.valid |= CHANNEL_BIT(value->channel);
        }
        written_put(&w);
        if (dis)
            expect_same_pdu(&frame[i]);
        else
            expect_same_bytes(&frame[i]);
    }
    free(frame);
}

/* Source: DSTO-TN-0640, section 4.3, equations 4.27 to 4.29, and 4.5: at 34.9
 * degrees south, 138.5 east, heading 135, nose 20 up and right wing 30 down
 * are psi -123.0, theta 47.8 and phi -29.7 degrees; the place is (-3.92, 3.47,
 * -3.63) million metres. */
static void turns_angles_as_the_published_example(void **state)
{
    (void)state;
    written_begin_flight(&w, INTAKE_FORM_DIS);
    written_tell(&w, CHANNEL_LATITUDE, -34.9);
    written_tell(&w, CHANNEL_LONGITUDE, 138.5);
    written_tell(&w, CHANNEL_ALTITUDE, 0.0);
    written_tell(&w, CHANNEL_HEADING, 135.0);
    written_tell(&w, CHANNEL_PITCH, 20.0);
    written_tell(&w, CHANNEL_BANK, 30.0);
    written_put(&w);
    assert_near(units_deg(bytes_f32(w.bytes + AT_ORIENTATION, true)), -123.0,
                0.05);
    assert_near(units_deg(bytes_f32(w.bytes + AT_ORIENTATION + 4, true)), 47.8,
                0.05);
    assert_near(units_deg(bytes_f32(w.bytes + AT_ORIENTATION + 8, true)), -29.7,
                0.05);
    assert_near(bytes_f64(w.bytes + AT_LOCATION, true), -3.92e6, 0.005e6);
    assert_near(bytes_f64(w.bytes + AT_LOCATION + 8, true), 3.47e6, 0.005e6);
    assert_near(bytes_f64(w.bytes + AT_LOCATION + 16, true), -3.63e6, 0.005e6);
}

/* ---- DIS ---------------------------------------------------------------- */

/* Source: IEEE 1278.1-2012, 6.2.88: 2^31 units an hour, behind them a bit that
 * is 0 for a relative time. */
static void counts_time_past_the_hour(void **state)
{
    static const struct {
        double s;
        uint32_t word;
    } row[] = {{0.0, 2}, /* 0 would be a sender without a clock */
               {900.0, 0x40000000},
               {1800.0, 0x80000000},
               {5400.0, 0x80000000},
               {3600.0, 2},
               {-900.0, 0xc0000000}};

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_DIS);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        written_tell(&w, CHANNEL_SIM_TIME, row[i].s);
        written_put(&w);
        assert_int_equal(bytes_u32(w.bytes + AT_TIMESTAMP, true), row[i].word);
    }
}

/* Bit 21 of an air platform's appearance: SISO-REF-010. */
static void tells_a_pause_as_frozen(void **state)
{
    (void)state;
    written_begin_flight(&w, INTAKE_FORM_DIS);
    written_tell(&w, CHANNEL_PAUSED, 0.0);
    written_put(&w);
    assert_int_equal(bytes_u32(w.bytes + AT_APPEARANCE, true), 0);
    written_tell(&w, CHANNEL_PAUSED, 1.0);
    written_put(&w);
    assert_int_equal(bytes_u32(w.bytes + AT_APPEARANCE, true), 0x00200000);
}

/* A level turn to the right at 30 degrees of bank and 3 degrees a second: the
 * turn is about the belly and the wing, by the cosine and the sine of the
 * bank. Half a metre a second faster in a tenth of one. */
static void tells_how_it_turns_and_speeds_up(void **state)
{
    const uint8_t *told = w.bytes + AT_ACCELERATION;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_DIS);
    written_tell(&w, CHANNEL_LATITUDE, 0.0);
    written_tell(&w, CHANNEL_LONGITUDE, 0.0);
    written_tell(&w, CHANNEL_PITCH, 0.0);
    written_tell(&w, CHANNEL_BANK, 30.0);
    written_tell(&w, CHANNEL_VERTICAL_SPEED, 0.0);
    written_tell(&w, CHANNEL_LATERAL_G, 0.0);
    written_tell(&w, CHANNEL_LOAD_FACTOR, 1.0 / cos(units_rad(30.0)));
    written_tell(&w, CHANNEL_HEADING, 359.85);
    written_tell(&w, CHANNEL_TRACK, 0.0);
    written_put(&w);
    assert_near(bytes_f32(w.bytes + AT_TURNING + 8, true), 0.0, 0.0);
    written_tell(&w, CHANNEL_SIM_TIME, 100.1);
    written_tell(&w, CHANNEL_HEADING, 0.15);
    w.sample.value[CHANNEL_GROUND_SPEED] += 0.5;
    written_put(&w);
    assert_int_equal(w.bytes[AT_DEAD_RECKONING], 4);
    assert_near(units_deg(bytes_f32(w.bytes + AT_TURNING, true)), 0.0, 1e-4);
    assert_near(units_deg(bytes_f32(w.bytes + AT_TURNING + 4, true)),
                3.0 * sin(units_rad(30.0)), 1e-4);
    assert_near(units_deg(bytes_f32(w.bytes + AT_TURNING + 8, true)),
                3.0 * cos(units_rad(30.0)), 1e-4);
    /* At 0 degrees north and east, up is x, east y and north z. A level turn
     * is g times the tangent of the bank to the inside: to the east. */
    assert_near(bytes_f32(told, true), 0.0, 1e-5);
    assert_near(bytes_f32(told + 4, true), UNITS_G0_MPS2 * tan(units_rad(30.0)),
                0.02);
    assert_near(bytes_f32(told + 8, true), 5.0, 0.02);
}

/* Without forces no acceleration is told, and the algorithm is one that asks
 * for none; without a place there is no PDU. */
static void leaves_out_what_is_not_known(void **state)
{
    struct intake_sample back;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_DIS);
    w.sample.valid &= ~CHANNEL_BIT(CHANNEL_LATERAL_G);
    written_put(&w);
    assert_int_equal(w.bytes[AT_DEAD_RECKONING], 3);
    written_read(&w, &back);
    assert_false(back.valid & CHANNEL_BIT(CHANNEL_LOAD_FACTOR));
    w.sample.valid &= ~CHANNEL_BIT(CHANNEL_LATITUDE);
    assert_int_equal(
        intake_encoder_put(&w.encoder, 0, &w.sample, w.bytes, WRITTEN_MOST),
        ERR_ABSENT);

    written_begin_flight(&w, INTAKE_FORM_MAVLINK);
    w.sample.valid = CHANNEL_BIT(CHANNEL_ANGLE_OF_ATTACK) |
                     CHANNEL_BIT(CHANNEL_AIRSPEED) |
                     CHANNEL_BIT(CHANNEL_LOAD_FACTOR);
    written_put(&w);
    written_read(&w, &back);
    /* The throttle is a whole number, which has no "not known". */
    assert_int_equal(back.valid,
                     w.sample.valid | CHANNEL_BIT(CHANNEL_THROTTLE));
    w.sample.valid = CHANNEL_BIT(CHANNEL_SIM_TIME);
    assert_int_equal(
        intake_encoder_put(&w.encoder, 0, &w.sample, w.bytes, WRITTEN_MOST),
        ERR_ABSENT);

    written_begin_flight(&w, INTAKE_FORM_NMEA);
    w.sample.valid = CHANNEL_BIT(CHANNEL_SIM_TIME);
    assert_int_equal(
        intake_encoder_put(&w.encoder, 0, &w.sample, w.bytes, WRITTEN_MOST),
        ERR_ABSENT);
    w.sample.valid = CHANNEL_BIT(CHANNEL_ALTITUDE);
    written_put(&w);
    assert_string_equal((const char *)w.bytes,
                        "$GPGGA,,,,,,8,,,914.400,M,,M,,*48\r\n");
    written_read(&w, &back);
    assert_int_equal(back.valid, w.sample.valid);
}

/* ---- MAVLink ------------------------------------------------------------ */

/* The number of a frame and its message, or false behind the last one. */
static bool next_frame(int *at, unsigned *number, unsigned *message)
{
    if (*at >= w.length)
        return false;
    assert_int_equal(w.bytes[*at], 0xfd);
    *number = w.bytes[*at + 4];
    *message = w.bytes[*at + 7] | (unsigned)w.bytes[*at + 8] << 8;
    *at += 12 + w.bytes[*at + 1];
    return true;
}

static void numbers_frames_and_beats_once_a_second(void **state)
{
    unsigned expected = 0;
    int beats = 0;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_MAVLINK);
    w.layout.system = 42;
    for (int i = 0; i <= 100; i++) {
        unsigned number;
        unsigned message;
        int at = 0;

        written_tell(&w, CHANNEL_SIM_TIME, 7.0 + i * 0.1);
        written_put(&w);
        assert_int_equal(w.bytes[5], 42);
        while (next_frame(&at, &number, &message)) {
            assert_int_equal(number, expected++ % 256);
            beats += message == 0;
        }
        assert_int_equal(at, w.length);
    }
    assert_int_equal(beats, 11);
    assert_true(expected > 512); /* they began again twice */
}

/* 2^32 ms after the start the clock of 32 bits begins again. */
static void wraps_the_milliseconds(void **state)
{
    struct intake_sample back;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_MAVLINK);
    written_tell(&w, CHANNEL_SIM_TIME, 4294967.296 + 12.0);
    written_put(&w);
    written_read(&w, &back);
    assert_near(back.value[CHANNEL_SIM_TIME], 12.0, 1e-9);
}

/* ---- all ---------------------------------------------------------------- */

static const enum intake_form forms[] = {INTAKE_FORM_NMEA, INTAKE_FORM_DIS,
                                         INTAKE_FORM_MAVLINK};

/* A field's scale and offset are undone, and done again by the decoder. */
static void every_standard_undoes_what_a_field_does(void **state)
{
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        struct intake_sample back;

        written_begin_flight(&w, forms[i]);
        written_declare(&w, CHANNEL_PITCH, "")->scale = -1.0;
        written_declare(&w, CHANNEL_ALTITUDE, "")->offset = 250.0;
        written_put(&w);
        written_read(&w, &back);
        assert_near(written_shown(&back, CHANNEL_PITCH), 12.5, 1e-3);
        assert_near(written_shown(&back, CHANNEL_ALTITUDE), 3000.0, 1e-2);
        w.layout.packet_count = 0;
        written_read(&w, &back);
        assert_near(written_shown(&back, CHANNEL_PITCH), -12.5, 1e-3);
        assert_near(written_shown(&back, CHANNEL_ALTITUDE), 2750.0, 1e-2);
    }
}

static void every_standard_says_when_room_is_short(void **state)
{
    (void)state;
    for (size_t i = 0; i < 3; i++) {
        int whole;

        written_begin_flight(&w, forms[i]);
        written_put(&w);
        whole = w.length;
        for (int size = 0; size < whole; size++) {
            intake_encoder_init(&w.encoder, &w.layout);
            assert_int_equal(intake_encoder_put(&w.encoder, 0, &w.sample,
                                                w.bytes, (size_t)size),
                             ERR_FULL);
        }
        intake_encoder_init(&w.encoder, &w.layout);
        assert_int_equal(intake_encoder_put(&w.encoder, 0, &w.sample, w.bytes,
                                            (size_t)whole),
                         whole);
        assert_int_equal(intake_encoder_datagrams(&w.encoder), 1);
        assert_int_equal(
            intake_encoder_put(&w.encoder, 1, &w.sample, w.bytes, WRITTEN_MOST),
            ERR_RANGE);
        assert_int_equal(
            intake_encode(&w.layout, 0, &w.sample, w.bytes, WRITTEN_MOST),
            w.layout.packet_count == 0 ? ERR_RANGE : ERR_USAGE);
    }
}

static void a_declared_layout_takes_a_datagram_for_each_packet(void **state)
{
    (void)state;
    written_begin_flight(&w, INTAKE_FORM_TEXT);
    w.layout.packet[0] =
        (struct intake_packet){.separator = ',', .field_count = 0};
    written_declare(&w, CHANNEL_HEADING, "")->column = 1;
    w.layout.packet[1] = w.layout.packet[0];
    w.layout.packet[1].field[0].channel = CHANNEL_PITCH;
    w.layout.packet_count = 2;
    assert_int_equal(intake_encoder_datagrams(&w.encoder), 2);
    written_put(&w);
    assert_string_equal((const char *)w.bytes, "271.5\n");
    w.length =
        intake_encoder_put(&w.encoder, 1, &w.sample, w.bytes, WRITTEN_MOST);
    assert_int_equal(w.length, 5);
    assert_memory_equal(w.bytes, "12.5\n", 5);
    assert_int_equal(
        intake_encoder_put(&w.encoder, 2, &w.sample, w.bytes, WRITTEN_MOST),
        ERR_RANGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(writes_what_other_encoders_write),
        cmocka_unit_test(turns_angles_as_the_published_example),
        cmocka_unit_test(counts_time_past_the_hour),
        cmocka_unit_test(tells_a_pause_as_frozen),
        cmocka_unit_test(tells_how_it_turns_and_speeds_up),
        cmocka_unit_test(leaves_out_what_is_not_known),
        cmocka_unit_test(numbers_frames_and_beats_once_a_second),
        cmocka_unit_test(wraps_the_milliseconds),
        cmocka_unit_test(every_standard_undoes_what_a_field_does),
        cmocka_unit_test(every_standard_says_when_room_is_short),
        cmocka_unit_test(a_declared_layout_takes_a_datagram_for_each_packet),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
