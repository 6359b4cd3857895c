/* test_discover_flights.c - layouts found out from flights at other speeds,
 * rates and in other weather than those of tests/replay. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "check_flight.h"
#include "discover_case.h"

#define DEG UNITS_RAD_PER_DEG
#define KT UNITS_MPS_PER_KT

static const uint32_t wanted =
    CHANNELS_REQUIRED | CHANNEL_BIT(CHANNEL_ALTITUDE);

/* Text with what flies beside it: over ground in wind, the path, the counter,
 * a bank that is only wanted. */
static const struct discover_case as_text = {
    .form = INTAKE_FORM_TEXT,
    .separator = ',',
    .count = 10,
    .sent = {{.what = SENT_COUNTER},
             {.what = SENT_WIND_TRACK, .unit = UNIT_DEG},
             {.what = CHANNEL_HEADING, .unit = UNIT_DEG},
             {.what = SENT_WIND_SPEED, .unit = UNIT_KT},
             {.what = CHANNEL_PITCH, .unit = UNIT_DEG},
             {.what = CHANNEL_BANK, .unit = UNIT_DEG, .scale = -1.0},
             {.what = CHANNEL_AIRSPEED, .unit = UNIT_KT},
             {.what = CHANNEL_ALTITUDE, .unit = UNIT_FT},
             {.what = SENT_PATH_ANGLE, .unit = UNIT_DEG},
             {.what = SENT_NOISE}}};

static const struct discover_case as_bytes = {
    .form = INTAKE_FORM_BINARY,
    .head = "FLIGHT",
    .head_length = 6,
    .count = 7,
    .sent = {
        {.what = CHANNEL_ALTITUDE, .unit = UNIT_M, .type = INTAKE_F32},
        {.what = CHANNEL_BANK, .unit = UNIT_RAD, .type = INTAKE_F32},
        {.what = SENT_FUEL, .type = INTAKE_F32},
        {.what = CHANNEL_PITCH, .unit = UNIT_RAD, .type = INTAKE_F32},
        {.what = CHANNEL_AIRSPEED, .unit = UNIT_M_PER_S, .type = INTAKE_F32},
        {.what = CHANNEL_HEADING, .unit = UNIT_RAD, .type = INTAKE_F32},
        {.what = SENT_TURN_RATE, .type = INTAKE_F32}}};

/* Fly it in one of the layouts. What it is sure of is right, or the test
 * fails; and where it is not, it asks for flying.
 * Returns: whether it is sure of everything that is needed. */
static bool fly(const struct check_flight *flight, double rate_hz,
                const struct discover_case *layout)
{
    static struct intake_discovered found;
    struct discover_case c = *layout;
    char title[128];

    (void)snprintf(title, sizeof title,
                   "%s, %.0f kt, %.0f Hz, gusts %.1f m/s, seed %u",
                   intake_form_name(layout->form), flight->airspeed_mps / KT,
                   rate_hz, flight->gust_mps, (unsigned)flight->seed);
    c.title = title;
    c.made = flight;
    c.rate_hz = rate_hz;
    discover_case_run(&c, &found);
    if ((found.found & wanted) == wanted)
        return true;
    assert_true(found.ask_count > 0);
    return false;
}

/* Fast airplanes turn slowly, and in 15 kt of wind the track of a slow turn
 * does as well as the heading: the text is left out for them. */
static void finds_calm_flights_at_any_speed_and_rate(void **state)
{
    static const double speed_kt[] = {60, 80, 105, 140, 180, 250};
    static const double rate_hz[] = {5, 10, 20, 60};
    uint32_t missed = 0;

    (void)state;
    for (uint32_t i = 0; i < 24; i++) {
        const struct check_flight flight = {.airspeed_mps =
                                                speed_kt[i / 4] * KT,
                                            .altitude_m = 1500.0,
                                            .bank_rad = 30.0 * DEG,
                                            .seed = i + 1};
        bool fast = speed_kt[i / 4] > 150.0;

        if (!fly(&flight, rate_hz[i % 4],
                 fast || i % 2 == 1 ? &as_bytes : &as_text))
            missed++;
    }
    assert_int_equal(missed, 0);
}

/* Wind and track beside it at every speed, another bank and height: unsure it
 * may be, wrong and sure never. */
static void is_never_wrong_and_sure_beside_wind(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < 8; i++) {
        const struct check_flight flight = {.airspeed_mps =
                                                (70.0 + 25.0 * i) * KT,
                                            .altitude_m = 600.0 + 400.0 * i,
                                            .bank_rad = (20.0 + 3.0 * i) * DEG,
                                            .seed = i + 1};

        (void)fly(&flight, i % 2 == 0 ? 5.0 : 30.0, &as_text);
    }
}

static void is_never_wrong_and_sure_in_turbulence(void **state)
{
    static const double gust_mps[] = {0.5, 1.0, 2.0, 4.0};

    (void)state;
    for (uint32_t i = 0; i < 16; i++) {
        double gust = gust_mps[i / 4];
        const struct check_flight flight = {.airspeed_mps =
                                                (70.0 + 40.0 * (i % 4)) * KT,
                                            .altitude_m = 1000.0,
                                            .bank_rad = 30.0 * DEG,
                                            .gust_mps = gust,
                                            .wobble_rad = gust * DEG,
                                            .reading_rad = 0.05 * gust * DEG,
                                            .seed = i + 1};

        (void)fly(&flight, 10.0 + 10.0 * (i % 3),
                  i % 2 == 0 ? &as_text : &as_bytes);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_calm_flights_at_any_speed_and_rate),
        cmocka_unit_test(is_never_wrong_and_sure_beside_wind),
        cmocka_unit_test(is_never_wrong_and_sure_in_turbulence),
    };

    return cmocka_run_group_tests_name("discover flights", tests, NULL, NULL) !=
           0;
}
