/* test_intake_dis.c - Entity State PDUs of IEEE 1278.1. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "dis_pdu.h"
#include "frames.h"
#include "near.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_sample sample;
static uint8_t pdu[DIS_PDU_SIZE];

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_DIS;
    dis_pdu_begin(pdu);
    return 0;
}

static enum intake_reject decode(void)
{
    return frames_decode(&layout, pdu, sizeof pdu, &sample);
}

static double deg(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_deg(sample.value[channel]);
}

/* Source: PROJ 9.1.1, cs2cs from EPSG:4979 (WGS 84, geographic) to EPSG:4978
 * (geocentric), four decimals. The rows of -34.9, 138.5 and 50.8, 4.3 also
 * stand, to three digits, in DSTO-TN-0640, equation 4.5. */
static void places_points_on_the_ellipsoid(void **state)
{
    static const double row[][6] = {
        {0, 0, 0, 6378137.0, 0, 0},
        {90, 0, 0, 0, 0, 6356752.3142},
        {45, 45, 0, 3194419.1451, 3194419.1451, 4487348.4089},
        {47.5, 10, 3000, 4253281.4691, 749968.2796, 4681709.5780},
        {40, -105, 1655, -1266654.0407, -4727217.2356, 4079049.3857},
        {-34.9, 138.5, 0, -3922117.9453, 3469996.8367, -3628773.7162},
        {50.8, 4.3, 0, 4027927.0392, 302861.3554, 4919512.5498},
        {-34.9, 138.5, 1500, -3923039.3314, 3470812.0103, -3629631.9350},
        {0, 180, 100, -6378237.0, 0, 0},
        {-90, 0, 500, 0, 0, -6357252.3142},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        dis_pdu_put_point(pdu, row[i][3], row[i][4], row[i][5]);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_near(deg(CHANNEL_LATITUDE), row[i][0], 1e-9);
        assert_near_deg(deg(CHANNEL_LONGITUDE), row[i][1], 1e-9);
        assert_near(sample.value[CHANNEL_ALTITUDE], row[i][2], 2e-4);
    }
}

/* Source: DSTO-TN-0640, section 4.3, equations 4.27 to 4.29: over latitude
 * -34.9, longitude 138.5, heading 135, pitch 20, roll 30 degrees is psi
 * -123.0, theta 47.8, phi -29.7. Its one decimal sets the tolerance. */
static void reads_the_published_attitude(void **state)
{
    (void)state;
    dis_pdu_put_point(pdu, -3922117.9453, 3469996.8367, -3628773.7162);
    dis_pdu_put_angles_deg(pdu, -123.0, 47.8, -29.7);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near_deg(deg(CHANNEL_HEADING), 135.0, 0.1);
    assert_near(deg(CHANNEL_PITCH), 20.0, 0.1);
    assert_near(deg(CHANNEL_BANK), 30.0, 0.1);
}

/* Computed with rotation matrices, independently of the program. */
static void reads_attitudes_elsewhere(void **state)
{
    static const double row[][6] = {
        {90, 10, 30, -22.69263, -6.40865, -99.56869},
        {270, 12.5, -30, -71.48186, -9.18229, 106.81472},
        {90, 0, 0, 90, 0, -90},
    };
    static const double point[][3] = {
        {-1266654.0407, -4727217.2356, 4079049.3857},
        {4253281.4691, 749968.2796, 4681709.5780},
        {6378137.0, 0, 0},
    };

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        dis_pdu_put_point(pdu, point[i][0], point[i][1], point[i][2]);
        dis_pdu_put_angles_deg(pdu, row[i][3], row[i][4], row[i][5]);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_near_deg(deg(CHANNEL_HEADING), row[i][0], 2e-4);
        assert_near(deg(CHANNEL_PITCH), row[i][1], 2e-4);
        assert_near(deg(CHANNEL_BANK), row[i][2], 2e-4);
    }
}

/* Level and north over the equator is theta -90: psi and phi are then one
 * angle, and only their sum tells the attitude. */
static void reads_an_attitude_in_gimbal_lock(void **state)
{
    (void)state;
    for (int i = -8; i <= 8; i++) {
        double psi = 22.5 * i;

        dis_pdu_put_angles_deg(pdu, psi, -90.0, 180.0 - psi);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_near(deg(CHANNEL_PITCH), 0.0, 1e-4);
        assert_near_deg(deg(CHANNEL_HEADING), 0.0, 1e-4);
        assert_near_deg(deg(CHANNEL_BANK), 180.0, 1e-4);
        dis_pdu_put_angles_deg(pdu, psi, -90.0, -psi);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_near_deg(deg(CHANNEL_HEADING), 0.0, 1e-4);
        assert_near_deg(deg(CHANNEL_BANK), 0.0, 1e-4);
    }
}

static void reads_the_other_name_of_an_attitude(void **state)
{
    (void)state;
    dis_pdu_put_angles_deg(pdu, 40.0, 25.0, -70.0);
    assert_int_equal(decode(), INTAKE_TAKEN);
    double heading = deg(CHANNEL_HEADING);
    double pitch = deg(CHANNEL_PITCH);
    double bank = deg(CHANNEL_BANK);

    dis_pdu_put_angles_deg(pdu, 40.0 - 180.0, 180.0 - 25.0, -70.0 + 180.0);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near_deg(deg(CHANNEL_HEADING), heading, 1e-4);
    assert_near(deg(CHANNEL_PITCH), pitch, 1e-4);
    assert_near_deg(deg(CHANNEL_BANK), bank, 1e-4);
}

static void reads_what_another_encoder_wrote(void **state)
{
    struct frame *frame;
    size_t count = frames_load("tests/oracle/dis.frames", &frame);

    (void)state;
    for (size_t i = 0; i < count; i++)
        frames_check(&frame[i], &layout);
    free(frame);
}

static void stands_every_cut_and_every_changed_byte(void **state)
{
    struct frame *frame;
    size_t count = frames_load("tests/oracle/dis.frames", &frame);

    (void)state;
    layout.still_air = true;
    for (size_t i = 0; i < count; i++) {
        /* A cut just behind a first whole PDU leaves a whole datagram. */
        size_t least = frame[i].length > 200 ? 96 : frame[i].length;

        frames_torment(&layout, frame[i].bytes, frame[i].length, least, false);
    }
    free(frame);
}

/* One unit is 3600 / 2^31 s; the lowest bit tells absolute from relative.
 * Source: IEEE 1278.1-2012, 6.2.88. */
static void reads_time_past_the_hour(void **state)
{
    (void)state;
    dis_pdu_put_32(pdu, 4, 0x80000000);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_SIM_TIME], 1800.0, 0.0);
    dis_pdu_put_32(pdu, 4, 0x80000001);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_SIM_TIME], 1800.0, 0.0);
    dis_pdu_put_32(pdu, 4, 2);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_SIM_TIME], 1.67638063e-6, 1e-13);
    dis_pdu_put_32(pdu, 4, 0xffffffff);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_SIM_TIME], 3600.0, 2e-6);
    assert_true(sample.value[CHANNEL_SIM_TIME] < 3600.0);
}

static void takes_a_timestamp_of_zero_for_none(void **state)
{
    (void)state;
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_SIM_TIME));
}

/* Source: SISO-REF-010, appearance of platforms: bit 21, "Frozen Status". */
static void reads_that_the_entity_is_frozen(void **state)
{
    (void)state;
    dis_pdu_put_32(pdu, 84, 1U << 21);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_PAUSED], 1.0, 0.0);
    dis_pdu_put_32(pdu, 84, ~(1U << 21));
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_PAUSED], 0.0, 0.0);
    assert_true(sample.valid & CHANNEL_BIT(CHANNEL_PAUSED));
    /* A person's bits, say, are others. */
    pdu[20] = 3;
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_PAUSED));
}

static void gives_no_airspeed_unless_the_air_is_still(void **state)
{
    const uint32_t both =
        CHANNEL_BIT(CHANNEL_AIRSPEED) | CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED);

    (void)state;
    /* 30 m/s east, 40 m/s north, 0 up over latitude 0, longitude 0. */
    dis_pdu_put_float(pdu, 40, 30.0);
    dis_pdu_put_float(pdu, 44, 40.0);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_false(sample.valid & both);
    assert_false(intake_layout_channels(&layout) & both);
    layout.still_air = true;
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_TRUE_AIRSPEED], 50.0, 1e-9);
    assert_true(intake_layout_channels(&layout) &
                CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED));
}

static void heeds_what_the_layout_says_of_a_channel(void **state)
{
    struct intake_field *field = layout.packet[0].field;

    (void)state;
    layout.packet_count = 1;
    layout.packet[0].field_count = 2;
    field[0].channel = CHANNEL_GROUND_SPEED;
    field[0].scale = 2.0;
    field[0].offset = 1.0;
    field[1].channel = CHANNEL_ALTITUDE;
    field[1].scale = 1.0;
    field[1].has_range = true;
    field[1].least = 100.0;
    field[1].most = 1e4;
    dis_pdu_put_float(pdu, 40, 50.0 * UNITS_MPS_PER_KT);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(units_kt(sample.value[CHANNEL_GROUND_SPEED]), 101.0, 1e-5);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_ALTITUDE));
}

static void gives_no_track_to_one_that_stands(void **state)
{
    (void)state;
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_false(sample.valid & CHANNEL_BIT(CHANNEL_TRACK));
    assert_near(sample.value[CHANNEL_GROUND_SPEED], 0.0, 0.0);
}

static void refuses_lengths_that_contradict_themselves(void **state)
{
    uint8_t longer[DIS_PDU_SIZE + 5] = {0};

    (void)state;
    pdu[19] = 1; /* a parameter that is not there */
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
    pdu[19] = 0;
    pdu[9] = DIS_PDU_SIZE - 1;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
    pdu[9] = 11;
    assert_int_equal(decode(), INTAKE_BAD_STRUCTURE);
    pdu[9] = DIS_PDU_SIZE + 1;
    assert_int_equal(decode(), INTAKE_TOO_SHORT);
    pdu[9] = DIS_PDU_SIZE;
    memcpy(longer, pdu, sizeof pdu);
    assert_int_equal(frames_decode(&layout, longer, sizeof longer, &sample),
                     INTAKE_BAD_STRUCTURE);
    longer[DIS_PDU_SIZE] = 7;
    assert_int_equal(frames_decode(&layout, longer, sizeof longer, &sample),
                     INTAKE_TOO_SHORT);
}

static void refuses_other_versions_and_kinds(void **state)
{
    (void)state;
    pdu[0] = 5;
    assert_int_equal(decode(), INTAKE_NO_PACKET);
    pdu[0] = 8;
    assert_int_equal(decode(), INTAKE_NO_PACKET);
    pdu[0] = 6;
    assert_int_equal(decode(), INTAKE_TAKEN);
    pdu[2] = 2;
    assert_int_equal(decode(), INTAKE_NOTHING_KNOWN);
    pdu[2] = 1;
    pdu[3] = 2;
    assert_int_equal(decode(), INTAKE_NOTHING_KNOWN);
}

static void refuses_numbers_that_are_none(void **state)
{
    static const size_t at_double[] = {48, 56, 64};
    static const size_t at_float[] = {36, 40, 44, 72, 76, 80};

    (void)state;
    for (size_t i = 0; i < 3; i++) {
        begin(NULL);
        dis_pdu_put_double(pdu, at_double[i], (double)NAN);
        assert_int_equal(decode(), INTAKE_NOT_FINITE);
        dis_pdu_put_double(pdu, at_double[i], (double)INFINITY);
        assert_int_equal(decode(), INTAKE_NOT_FINITE);
    }
    for (size_t i = 0; i < 6; i++) {
        begin(NULL);
        dis_pdu_put_float(pdu, at_float[i], (double)NAN);
        assert_int_equal(decode(), INTAKE_NOT_FINITE);
        dis_pdu_put_float(pdu, at_float[i], -(double)INFINITY);
        assert_int_equal(decode(), INTAKE_NOT_FINITE);
    }
}

static void refuses_places_where_no_airplane_is(void **state)
{
    (void)state;
    dis_pdu_put_point(pdu, 0, 0, 0);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    dis_pdu_put_point(pdu, 1, 2, 3);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    dis_pdu_put_point(pdu, 6378137.0 - 5000.0, 0, 0);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    dis_pdu_put_point(pdu, 6378137.0 + 300e3, 0, 0);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    dis_pdu_put_point(pdu, 1e308, 1e308, 1e308);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
    dis_pdu_put_float(pdu, 36, 5000.0);
    dis_pdu_put_point(pdu, 6378137.0, 0, 0);
    assert_int_equal(decode(), INTAKE_OUT_OF_RANGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(places_points_on_the_ellipsoid, begin),
        cmocka_unit_test_setup(reads_the_published_attitude, begin),
        cmocka_unit_test_setup(reads_attitudes_elsewhere, begin),
        cmocka_unit_test_setup(reads_an_attitude_in_gimbal_lock, begin),
        cmocka_unit_test_setup(reads_the_other_name_of_an_attitude, begin),
        cmocka_unit_test_setup(reads_what_another_encoder_wrote, begin),
        cmocka_unit_test_setup(stands_every_cut_and_every_changed_byte, begin),
        cmocka_unit_test_setup(reads_time_past_the_hour, begin),
        cmocka_unit_test_setup(takes_a_timestamp_of_zero_for_none, begin),
        cmocka_unit_test_setup(reads_that_the_entity_is_frozen, begin),
        cmocka_unit_test_setup(gives_no_airspeed_unless_the_air_is_still,
                               begin),
        cmocka_unit_test_setup(heeds_what_the_layout_says_of_a_channel, begin),
        cmocka_unit_test_setup(gives_no_track_to_one_that_stands, begin),
        cmocka_unit_test_setup(refuses_lengths_that_contradict_themselves,
                               begin),
        cmocka_unit_test_setup(refuses_other_versions_and_kinds, begin),
        cmocka_unit_test_setup(refuses_numbers_that_are_none, begin),
        cmocka_unit_test_setup(refuses_places_where_no_airplane_is, begin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
