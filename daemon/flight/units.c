/* units.c - exact unit factors and angles. */
#include "quarterturn/units.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "quarterturn/error.h"

/* Factors are exact unless a line says otherwise.
 * Source: NIST Special Publication 811 (2008), Appendix B.8: foot 0.3048 m,
 * statute mile 1609.344 m, nautical mile 1852 m, pound 0.45359237 kg, inch of
 * mercury (conventional) 3386.389 Pa (rounded there), standard free fall
 * 9.80665 m/s2; square foot 0.09290304 m2; horsepower (550 ft lbf/s)
 * 745.6999 W (rounded there); temperatures: Appendix B.8, deg F to K. */
struct unit_row {
    const char *name;
    enum units_quantity quantity;
    double scale;
    double offset;
};

static const struct unit_row row_of_unit[UNIT_COUNT] = {
    [UNIT_NONE] = {"", UNITS_NUMBER, 1.0, 0.0},
    [UNIT_DEG] = {"deg", UNITS_ANGLE, UNITS_RAD_PER_DEG, 0.0},
    [UNIT_RAD] = {"rad", UNITS_ANGLE, 1.0, 0.0},
    [UNIT_TURN] = {"turn", UNITS_ANGLE, 2.0 * UNITS_PI, 0.0},
    [UNIT_DEG_PER_S] = {"deg/s", UNITS_ANGLE_RATE, UNITS_RAD_PER_DEG, 0.0},
    [UNIT_RAD_PER_S] = {"rad/s", UNITS_ANGLE_RATE, 1.0, 0.0},
    [UNIT_KT] = {"kt", UNITS_SPEED, UNITS_MPS_PER_KT, 0.0},
    [UNIT_MPH] = {"mph", UNITS_SPEED, 1609.344 / 3600.0, 0.0},
    [UNIT_KM_PER_H] = {"km/h", UNITS_SPEED, 1000.0 / 3600.0, 0.0},
    [UNIT_M_PER_S] = {"m/s", UNITS_SPEED, 1.0, 0.0},
    [UNIT_FT_PER_S] = {"ft/s", UNITS_SPEED, UNITS_M_PER_FT, 0.0},
    [UNIT_FT_PER_MIN] = {"ft/min", UNITS_SPEED, UNITS_M_PER_FT / 60.0, 0.0},
    [UNIT_FT] = {"ft", UNITS_LENGTH, UNITS_M_PER_FT, 0.0},
    [UNIT_M] = {"m", UNITS_LENGTH, 1.0, 0.0},
    [UNIT_NM] = {"NM", UNITS_LENGTH, UNITS_M_PER_NM, 0.0},
    [UNIT_KM] = {"km", UNITS_LENGTH, 1000.0, 0.0},
    [UNIT_S] = {"s", UNITS_TIME, 1.0, 0.0},
    [UNIT_MS] = {"ms", UNITS_TIME, 1e-3, 0.0},
    [UNIT_US] = {"us", UNITS_TIME, 1e-6, 0.0},
    [UNIT_G] = {"g", UNITS_ACCELERATION, 1.0, 0.0},
    [UNIT_M_PER_S2] = {"m/s2", UNITS_ACCELERATION, 1.0 / UNITS_G0_MPS2, 0.0},
    [UNIT_LB] = {"lb", UNITS_MASS, 0.45359237, 0.0},
    [UNIT_KG] = {"kg", UNITS_MASS, 1.0, 0.0},
    [UNIT_PA] = {"Pa", UNITS_PRESSURE, 1.0, 0.0},
    [UNIT_HPA] = {"hPa", UNITS_PRESSURE, 100.0, 0.0},
    [UNIT_INHG] = {"inHg", UNITS_PRESSURE, 3386.389, 0.0},
    [UNIT_DEG_C] = {"degC", UNITS_TEMPERATURE, 1.0, 273.15},
    [UNIT_DEG_F] = {"degF", UNITS_TEMPERATURE, 1.0 / 1.8, 459.67 / 1.8},
    [UNIT_K] = {"K", UNITS_TEMPERATURE, 1.0, 0.0},
    [UNIT_FT2] = {"ft2", UNITS_AREA, 0.09290304, 0.0},
    [UNIT_M2] = {"m2", UNITS_AREA, 1.0, 0.0},
    [UNIT_HP] = {"hp", UNITS_POWER, 745.6999, 0.0},
    [UNIT_KW] = {"kW", UNITS_POWER, 1000.0, 0.0},
    [UNIT_PERCENT] = {"percent", UNITS_NUMBER, 0.01, 0.0},
    [UNIT_BOOL] = {"bool", UNITS_NUMBER, 1.0, 0.0},
};

int units_find(const char *name, enum unit *out)
{
    for (size_t i = UNIT_NONE + 1; i < UNIT_COUNT; i++) {
        if (strcmp(row_of_unit[i].name, name) == 0) {
            *out = (enum unit)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

const char *units_name(enum unit unit)
{
    return row_of_unit[unit].name;
}

enum units_quantity units_quantity(enum unit unit)
{
    return row_of_unit[unit].quantity;
}

double units_to_internal(enum unit unit, double value)
{
    return value * row_of_unit[unit].scale + row_of_unit[unit].offset;
}

double units_from_internal(enum unit unit, double value)
{
    return (value - row_of_unit[unit].offset) / row_of_unit[unit].scale;
}

void units_factors(enum unit unit, double *scale, double *offset)
{
    *scale = row_of_unit[unit].scale;
    *offset = row_of_unit[unit].offset;
}

double angle_wrap_circle(double rad)
{
    double folded = fmod(rad, 2.0 * UNITS_PI);

    if (folded < 0.0)
        folded += 2.0 * UNITS_PI;
    /* A tiny negative angle rounds up to the full turn. */
    return folded >= 2.0 * UNITS_PI ? 0.0 : folded;
}

double angle_wrap_half(double rad)
{
    double folded = angle_wrap_circle(rad);

    return folded > UNITS_PI ? folded - 2.0 * UNITS_PI : folded;
}

double units_deg(double rad)
{
    return rad / UNITS_RAD_PER_DEG;
}

double units_rad(double deg)
{
    return deg * UNITS_RAD_PER_DEG;
}

double units_kt(double mps)
{
    return mps / UNITS_MPS_PER_KT;
}

double units_ft(double m)
{
    return m / UNITS_M_PER_FT;
}
