/* units.h - exact unit factors, unit names, angles.
 *
 * Inside the program there is one unit for each quantity: rad, rad/s, m/s, m,
 * s, kg, Pa, K, m/s2, m2, W; ratios, g and bools are plain numbers. Knots, feet
 * and degrees exist only in configuration, text, speech and output. Right bank,
 * nose up and right turn are positive. */
#ifndef QUARTERTURN_UNITS_H
#define QUARTERTURN_UNITS_H

#include <stdint.h>

#define UNITS_PI 3.14159265358979323846

/* Standard acceleration of free fall: 9.80665 m/s2 exactly.
 * Source: The International System of Units (BIPM SI Brochure, 9th ed.),
 * after the 3rd CGPM, 1901. */
#define UNITS_G0_MPS2 9.80665
/* International foot and nautical mile, exact.
 * Source: NIST Special Publication 811 (2008), Appendix B.8. */
#define UNITS_M_PER_FT 0.3048
#define UNITS_M_PER_NM 1852.0
#define UNITS_MPS_PER_KT (UNITS_M_PER_NM / 3600.0)
#define UNITS_RAD_PER_DEG (UNITS_PI / 180.0)
#define UNITS_NS_PER_S INT64_C(1000000000)

/* What a unit measures; only units of one quantity can stand for each other. */
enum units_quantity {
    UNITS_NUMBER, /* ratio, percent, bool, count */
    UNITS_ANGLE,
    UNITS_ANGLE_RATE,
    UNITS_SPEED,
    UNITS_LENGTH,
    UNITS_TIME,
    UNITS_ACCELERATION, /* internal unit: g (load factor), not m/s2 */
    UNITS_MASS,
    UNITS_PRESSURE,
    UNITS_TEMPERATURE,
    UNITS_AREA,
    UNITS_POWER
};

enum unit {
    UNIT_NONE, /* a plain number */
    UNIT_DEG,
    UNIT_RAD,
    UNIT_TURN,
    UNIT_DEG_PER_S,
    UNIT_RAD_PER_S,
    UNIT_KT,
    UNIT_MPH,
    UNIT_KM_PER_H,
    UNIT_M_PER_S,
    UNIT_FT_PER_S,
    UNIT_FT_PER_MIN,
    UNIT_FT,
    UNIT_M,
    UNIT_NM,
    UNIT_KM,
    UNIT_S,
    UNIT_MS,
    UNIT_US,
    UNIT_G,
    UNIT_M_PER_S2,
    UNIT_LB,
    UNIT_KG,
    UNIT_PA,
    UNIT_HPA,
    UNIT_INHG,
    UNIT_DEG_C,
    UNIT_DEG_F,
    UNIT_K,
    UNIT_FT2,
    UNIT_M2,
    UNIT_HP,
    UNIT_KW,
    UNIT_PERCENT,
    UNIT_BOOL,
    UNIT_COUNT
};

/* Find a unit by the name used in configuration ("kt", "ft/min", ...).
 * name: NUL-terminated, case matters.
 * out: set on success.
 * Returns: 0, or ERR_ABSENT for an unknown name (out unchanged). */
int units_find(const char *name, enum unit *out);

/* Name of a unit as written in configuration; "" for UNIT_NONE. */
const char *units_name(enum unit unit);

/* The quantity a unit measures. */
enum units_quantity units_quantity(enum unit unit);

/* Convert to and from the internal unit of the unit's quantity.
 * value: any double; NaN and infinity pass through.
 * Exact factors, sources beside the table in units.c. */
double units_to_internal(enum unit unit, double value);
double units_from_internal(enum unit unit, double value);

/* The scale and offset of the same conversion: internal = value * scale +
 * offset. For code that converts many values of one unit. */
void units_factors(enum unit unit, double *scale, double *offset);

/* Fold an angle into [0, 2 pi) or (-pi, pi]. rad, finite. */
double angle_wrap_circle(double rad);
double angle_wrap_half(double rad);

/* Shorthands for output and tests. */
double units_deg(double rad);
double units_rad(double deg);
double units_kt(double mps);
double units_ft(double m);

#endif
