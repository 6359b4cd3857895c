/* test_intake_dis_forces.c - what is felt on board, from the accelerations of
 * Entity State PDUs. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "dis_pdu.h"
#include "frames.h"
#include "near.h"

static struct intake_layout layout = {.form = INTAKE_FORM_DIS};
static struct intake_sample sample;
static uint8_t pdu[DIS_PDU_SIZE];

static enum intake_reject decode(void)
{
    return frames_decode(&layout, pdu, sizeof pdu, &sample);
}

/* In the right turn of a banked airplane over latitude 0, longitude 0: nose
 * east, acceleration to the south. */
static void bank_over_the_origin(double bank_deg, uint8_t algorithm)
{
    dis_pdu_begin(pdu);
    dis_pdu_put_angles_deg(pdu, 90.0, 0.0, bank_deg - 90.0);
    dis_pdu_put_float(pdu, 40, 50.0);
    pdu[88] = algorithm;
}

static void put_acceleration(double a, double b, double c)
{
    dis_pdu_put_float(pdu, 104, a);
    dis_pdu_put_float(pdu, 108, b);
    dis_pdu_put_float(pdu, 112, c);
}

static void expect_coordinated(double load_factor)
{
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_true(sample.valid & CHANNEL_BIT(CHANNEL_LOAD_FACTOR));
    assert_true(sample.valid & CHANNEL_BIT(CHANNEL_LATERAL_G));
    assert_near(sample.value[CHANNEL_LOAD_FACTOR], load_factor, 1e-4);
    assert_near(sample.value[CHANNEL_LATERAL_G], 0.0, 1e-5);
}

/* Level turns need g tan(bank) to the inside. Load factors: FAA-H-8083-25,
 * chapter on aerodynamics of flight, load factors in steep turns: 60 degrees
 * 2 g; to four decimals they are 1 / cos(bank). */
static const struct {
    double bank_deg;
    double load_factor;
} level_turn[] = {{30.0, 1.1547}, {45.0, 1.4142}, {60.0, 2.0}};

enum { LEVEL_TURNS = sizeof level_turn / sizeof level_turn[0] };

static void feels_level_turns_along_the_axes_of_the_earth(void **state)
{
    (void)state;
    for (size_t i = 0; i < LEVEL_TURNS; i++) {
        double aside = 9.80665 * tan(units_rad(level_turn[i].bank_deg));

        for (uint8_t algorithm = 4; algorithm <= 5; algorithm++) {
            bank_over_the_origin(level_turn[i].bank_deg, algorithm);
            put_acceleration(0.0, 0.0, -aside);
            expect_coordinated(level_turn[i].load_factor);
        }
    }
}

static void feels_level_turns_along_the_axes_of_the_body(void **state)
{
    (void)state;
    for (size_t i = 0; i < LEVEL_TURNS; i++) {
        double bank_rad = units_rad(level_turn[i].bank_deg);
        double aside = 9.80665 * tan(bank_rad);

        bank_over_the_origin(level_turn[i].bank_deg, 9);
        put_acceleration(0.0, aside * cos(bank_rad), -aside * sin(bank_rad));
        expect_coordinated(level_turn[i].load_factor);
    }
}

/* 50 m/s along the nose, turning at g tan(bank) / V about the vertical: the
 * velocity stays as it is, seen from the body. */
static void feels_level_turns_of_a_velocity_that_turns_along(void **state)
{
    (void)state;
    for (size_t i = 0; i < LEVEL_TURNS; i++) {
        double bank_rad = units_rad(level_turn[i].bank_deg);
        double turning = 9.80665 * tan(bank_rad) / 50.0;

        bank_over_the_origin(level_turn[i].bank_deg, 8);
        dis_pdu_put_float(pdu, 36, 50.0);
        dis_pdu_put_float(pdu, 40, 0.0);
        dis_pdu_put_float(pdu, 120, turning * sin(bank_rad));
        dis_pdu_put_float(pdu, 124, turning * cos(bank_rad));
        expect_coordinated(level_turn[i].load_factor);
    }
}

/* A skid: the same turn with the wings level throws the ball to the left. */
static void feels_one_g_level_and_a_push_aside(void **state)
{
    (void)state;
    bank_over_the_origin(0.0, 4);
    put_acceleration(0.0, 0.5, 0.0); /* faster, along the nose */
    expect_coordinated(1.0);
    put_acceleration(0.0, 0.0, -0.980665);
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_LATERAL_G], 0.1, 1e-6);
    assert_near(sample.value[CHANNEL_LOAD_FACTOR], 1.0, 1e-6);
    put_acceleration(9.80665, 0.0, 0.0); /* pulled up */
    assert_int_equal(decode(), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_LOAD_FACTOR], 2.0, 1e-6);
}

static void feels_nothing_where_no_acceleration_is_told(void **state)
{
    const uint32_t both =
        CHANNEL_BIT(CHANNEL_LOAD_FACTOR) | CHANNEL_BIT(CHANNEL_LATERAL_G);

    (void)state;
    for (uint8_t algorithm = 0; algorithm < 12; algorithm++) {
        bool reckons = algorithm == 4 || algorithm == 5 || algorithm == 8 ||
                       algorithm == 9;

        bank_over_the_origin(30.0, algorithm);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_false(sample.valid & both);
        put_acceleration(1.0, 2.0, 3.0);
        assert_int_equal(decode(), INTAKE_TAKEN);
        assert_int_equal(sample.valid & both, reckons ? both : 0);
        put_acceleration(1.0, (double)NAN, 3.0);
        assert_int_equal(decode(), reckons ? INTAKE_NOT_FINITE : INTAKE_TAKEN);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(feels_level_turns_along_the_axes_of_the_earth),
        cmocka_unit_test(feels_level_turns_along_the_axes_of_the_body),
        cmocka_unit_test(feels_level_turns_of_a_velocity_that_turns_along),
        cmocka_unit_test(feels_one_g_level_and_a_push_aside),
        cmocka_unit_test(feels_nothing_where_no_acceleration_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
