/* test_support_engine.c - the ear by which speech and noise are compared. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "engine.h"
#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/units.h"

enum { SECOND = AUDIO_RATE_HZ };

/* Weight of a sine of the standard's exact frequency, 1 kHz times a tenth of a
 * decade each step. */
static double weight_db(int step)
{
    static float sine[SECOND];
    double hz = 1000.0 * pow(10.0, step / 10.0);

    for (int i = 0; i < SECOND; i++)
        sine[i] = (float)sin(2 * UNITS_PI * hz * i / AUDIO_RATE_HZ);
    return 10.0 * log10(engine_weighted(sine, SECOND) / 0.5);
}

/* IEC 61672-1:2013, table 3: frequency weighting A at nominal frequencies, and
 * the acceptance limits of class 1 (both from memory). */
static void weighs_as_the_standards_table_does(void **state)
{
    static const struct {
        int step; /* tenths of a decade from 1 kHz */
        double weight_db;
        double above_db;
        double below_db;
    } row[] = {
        {-12, -26.2, 1.0, 1.0},                         /* 63 Hz */
        {-11, -22.5, 1.0, 1.0}, {-10, -19.1, 1.0, 1.0}, /* 100 Hz */
        {-9, -16.1, 1.0, 1.0},  {-8, -13.4, 1.0, 1.0},
        {-7, -10.9, 1.0, 1.0},  {-6, -8.6, 1.0, 1.0}, /* 250 Hz */
        {-5, -6.6, 1.0, 1.0},   {-4, -4.8, 1.0, 1.0},
        {-3, -3.2, 1.0, 1.0}, /* 500 Hz */
        {-2, -1.9, 1.0, 1.0},   {-1, -0.8, 1.0, 1.0},
        {0, 0.0, 0.7, 0.7}, /* 1 kHz */
        {1, 0.6, 1.0, 1.0},     {2, 1.0, 1.0, 1.0},
        {3, 1.2, 1.0, 1.0}, /* 2 kHz */
        {4, 1.3, 1.0, 1.0},     {5, 1.2, 1.0, 1.0},
        {6, 1.0, 1.0, 1.0}, /* 4 kHz */
        {7, 0.5, 1.5, 1.5},     {8, -0.1, 1.5, 2.0},
        {9, -1.1, 1.5, 2.5},  /* 8 kHz */
        {10, -2.5, 2.0, 3.0}, /* 10 kHz */
    };
    /* Only ratios are used: the weight at 1 kHz is free. */
    double at_1_khz = weight_db(0);

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double off = weight_db(row[i].step) - at_1_khz - row[i].weight_db;

        if (off > row[i].above_db || off < -row[i].below_db)
            fail_msg("step %d is %.2f dB off the table", row[i].step, off);
        /* Where the table rounds and speech is strong, far closer. */
        if (row[i].step <= 6 && fabs(off) > 0.3)
            fail_msg("step %d is %.2f dB off the table", row[i].step, off);
    }
}

static void weighs_twice_the_sound_as_four_times_the_power(void **state)
{
    static float once[SECOND];
    static float twice[SECOND];

    (void)state;
    engine_noise(7, 2400.0, once, SECOND);
    for (int i = 0; i < SECOND; i++)
        twice[i] = 2.0F * once[i];
    assert_near(engine_weighted(twice, SECOND) / engine_weighted(once, SECOND),
                4.0, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(weighs_as_the_standards_table_does),
        cmocka_unit_test(weighs_twice_the_sound_as_four_times_the_power),
    };

    return cmocka_run_group_tests_name("ear", tests, NULL, NULL) != 0;
}
