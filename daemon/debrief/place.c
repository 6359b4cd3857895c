/* place.c - where an attempt was flown over the ground. */
#include <math.h>

#include "collect.h"

/* WGS 84: semi-major axis, m, and first eccentricity squared.
 * Source: NIMA TR8350.2, third edition, tables 3.1 and 3.3. */
static const double axis_m = 6378137.0;
static const double eccentricity2 = 6.69437999014e-3;

/* The entry is the origin, and a first fix up to this long after it tells
 * where that is: positions may come less often than attitudes. */
static const double first_fix_s = 2.0;

void place_begin(struct debrief_collector *collector)
{
    collector->attempt.positions_sent = false;
    collector->north_m = collector->east_m = 0.0;
}

/* An attempt stays within a few kilometres, so the ellipsoid is as good as
 * flat: one radius of curvature along the meridian, one across it. */
static void take_fix(struct debrief_collector *collector,
                     const struct debrief_raw *now, double t_s)
{
    double sine = sin(now->latitude_rad);
    double w2 = 1.0 - eccentricity2 * sine * sine;
    double across_m = axis_m / sqrt(w2) * cos(now->latitude_rad);
    double along_m = axis_m * (1.0 - eccentricity2) / (w2 * sqrt(w2));

    if (!collector->attempt.positions_sent) {
        if (t_s > first_fix_s)
            return;
        collector->attempt.positions_sent = true;
        collector->origin_latitude_rad =
            now->latitude_rad - collector->north_m / along_m;
        collector->origin_longitude_rad =
            now->longitude_rad - collector->east_m / across_m;
    }
    collector->north_m =
        along_m * (now->latitude_rad - collector->origin_latitude_rad);
    collector->east_m =
        across_m *
        angle_wrap_half(now->longitude_rad - collector->origin_longitude_rad);
}

/* Speed along the ground in calm air. Without an altitude the climb is not
 * known, and leaving it out lengthens the track by a hundredth or two. */
static double ground_speed_mps(const struct debrief_raw *raw)
{
    return raw->point.tas_mps *
           (isnan(raw->path_rad) ? 1.0 : cos(raw->path_rad));
}

void place_set(struct debrief_collector *collector,
               const struct debrief_raw *before, const struct debrief_raw *now,
               struct debrief_point *point)
{
    double half_s = (double)(now->t_ns - before->t_ns) * 0.5e-9;
    double was_mps = ground_speed_mps(before);
    double is_mps = ground_speed_mps(now);
    double was_rad = before->point.heading_rad;
    double is_rad = now->point.heading_rad;

    collector->north_m +=
        half_s * (was_mps * cos(was_rad) + is_mps * cos(is_rad));
    collector->east_m +=
        half_s * (was_mps * sin(was_rad) + is_mps * sin(is_rad));
    /* Between two fixes it goes on by reckoning, so that the track has no
     * steps. */
    if (!isnan(now->latitude_rad) && !isnan(now->longitude_rad))
        take_fix(collector, now, point->t_s);
    point->north_m = collector->north_m;
    point->east_m = collector->east_m;
}
