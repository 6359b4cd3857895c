/* series.c - the columns of a series, and its values between two points. */
#include "series.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

const struct series_column series_column[] = {
    {"time", UNIT_S, 3, offsetof(struct debrief_point, t_s)},
    {"turn", UNIT_DEG, 2, offsetof(struct debrief_point, turn_rad)},
    {"heading", UNIT_DEG, 2, offsetof(struct debrief_point, heading_rad)},
    {"bank", UNIT_DEG, 2, offsetof(struct debrief_point, bank_rad)},
    {"pitch", UNIT_DEG, 2, offsetof(struct debrief_point, pitch_rad)},
    {"roll rate", UNIT_DEG_PER_S, 2,
     offsetof(struct debrief_point, roll_rate_radps)},
    {"airspeed", UNIT_KT, 2, offsetof(struct debrief_point, cas_mps)},
    {"true airspeed", UNIT_KT, 2, offsetof(struct debrief_point, tas_mps)},
    {"altitude", UNIT_FT, 1, offsetof(struct debrief_point, altitude_m)},
    {"height", UNIT_FT, 1, offsetof(struct debrief_point, height_m)},
    {"vertical speed", UNIT_FT_PER_MIN, 0,
     offsetof(struct debrief_point, vertical_speed_mps)},
    {"load factor", UNIT_G, 3, offsetof(struct debrief_point, load_factor)},
    {"stall speed", UNIT_KT, 2,
     offsetof(struct debrief_point, stall_speed_mps)},
    {"stall margin", UNIT_KT, 2,
     offsetof(struct debrief_point, stall_margin_mps)},
    {"lateral g", UNIT_G, 3, offsetof(struct debrief_point, lateral_g)},
    {"sideslip", UNIT_DEG, 2, offsetof(struct debrief_point, sideslip_rad)},
    {"angle of attack", UNIT_DEG, 2,
     offsetof(struct debrief_point, angle_of_attack_rad)},
    {"north", UNIT_M, 1, offsetof(struct debrief_point, north_m)},
    {"east", UNIT_M, 1, offsetof(struct debrief_point, east_m)},
};

_Static_assert(sizeof series_column / sizeof series_column[0] == SERIES_COLUMNS,
               "every member of a point is a column");

static double *place_of(struct debrief_point *point, int column)
{
    return (double *)(void *)((char *)point + series_column[column].offset);
}

double series_value(const struct debrief_point *point, int column)
{
    double value;

    memcpy(&value, (const char *)point + series_column[column].offset,
           sizeof value);
    return value;
}

static void mix(const struct debrief_point *a, const struct debrief_point *b,
                double fraction, struct debrief_point *out)
{
    for (int i = 0; i < SERIES_COLUMNS; i++) {
        double from = series_value(a, i);

        *place_of(out, i) = from + (series_value(b, i) - from) * fraction;
    }
}

void debrief_point_at(const struct debrief_attempt *attempt, double t_s,
                      struct debrief_point *out)
{
    const struct debrief_point *point = attempt->point;
    uint32_t low = 0;
    uint32_t high = attempt->point_count;

    if (high == 0) {
        for (int i = 0; i < SERIES_COLUMNS; i++)
            *place_of(out, i) = NAN;
        return;
    }
    /* point[low] is the last one that is not after t_s. */
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;

        if (point[middle].t_s <= t_s)
            low = middle;
        else
            high = middle;
    }
    if (t_s <= point[low].t_s || high == attempt->point_count)
        *out = point[low];
    else
        mix(&point[low], &point[high],
            (t_s - point[low].t_s) / (point[high].t_s - point[low].t_s), out);
}
