/* test_flight_units.c - units and angles against published factors. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/units.h"

/* NIST Special Publication 811 (2008), Appendix B.8, factors for units listed
 * alphabetically; printed digits. */
static void converts_by_published_factors(void **state)
{
    static const struct {
        const char *unit;
        double internal;
    } row[] = {
        {"ft", 3.048e-1},       {"NM", 1.852e3},
        {"kt", 5.144444e-1},    {"mph", 4.4704e-1},
        {"km/h", 2.777778e-1},  {"ft/min", 5.08e-3},
        {"ft/s", 3.048e-1},     {"lb", 4.535924e-1},
        {"inHg", 3.386389e3},   {"hPa", 1e2},
        {"deg", 1.745329e-2},   {"turn", 6.283185},
        {"deg/s", 1.745329e-2}, {"m/s2", 1.0 / 9.80665},
        {"percent", 1e-2},      {"ms", 1e-3},
        {"us", 1e-6},           {"km", 1e3},
        {"ft2", 9.290304e-2},   {"m2", 1.0},
        {"hp", 7.456999e2},     {"kW", 1e3},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        enum unit unit;

        assert_int_equal(units_find(row[i].unit, &unit), 0);
        assert_string_equal(units_name(unit), row[i].unit);
        assert_near(units_to_internal(unit, 1.0), row[i].internal,
                    1e-6 * row[i].internal);
    }
}

/* The fixed points of the scales: water freezes at 0 degC, 32 degF, 273.15 K;
 * NIST SP 811, Appendix B.8. */
static void converts_temperatures(void **state)
{
    (void)state;
    assert_near(units_to_internal(UNIT_DEG_C, 0.0), 273.15, 1e-9);
    assert_near(units_to_internal(UNIT_DEG_F, 32.0), 273.15, 1e-9);
    assert_near(units_to_internal(UNIT_DEG_F, 212.0), 373.15, 1e-9);
    assert_near(units_from_internal(UNIT_DEG_C, 288.15), 15.0, 1e-9);
}

static void comes_back_from_every_unit(void **state)
{
    (void)state;
    for (int unit = UNIT_NONE; unit < UNIT_COUNT; unit++) {
        double there = units_to_internal((enum unit)unit, 123.456);

        assert_near(units_from_internal((enum unit)unit, there), 123.456, 1e-9);
    }
}

static void does_not_know_a_unit_that_is_none(void **state)
{
    enum unit unit = UNIT_FT;

    (void)state;
    assert_int_equal(units_find("knots", &unit), ERR_ABSENT);
    assert_int_equal(units_find("", &unit), ERR_ABSENT);
    assert_int_equal(units_find("KT", &unit), ERR_ABSENT);
    assert_int_equal(unit, UNIT_FT);
}

static void folds_angles(void **state)
{
    (void)state;
    for (int turns = -3; turns <= 3; turns++) {
        double rad = units_rad(10.0) + turns * 2.0 * UNITS_PI;

        assert_near(units_deg(angle_wrap_circle(rad)), 10.0, 1e-9);
        assert_near(units_deg(angle_wrap_half(-rad)), -10.0, 1e-9);
    }
    assert_true(angle_wrap_circle(-1e-20) < 2.0 * UNITS_PI);
    assert_near(angle_wrap_circle(-1e-20), 0.0, 1e-12);
    assert_near(units_deg(angle_wrap_half(UNITS_PI)), 180.0, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(converts_by_published_factors),
        cmocka_unit_test(converts_temperatures),
        cmocka_unit_test(comes_back_from_every_unit),
        cmocka_unit_test(does_not_know_a_unit_that_is_none),
        cmocka_unit_test(folds_angles),
    };

    return cmocka_run_group_tests_name("flight: units", tests, NULL, NULL) != 0;
}
