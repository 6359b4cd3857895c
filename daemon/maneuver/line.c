/* line.c - a straight line through values, the newest weighing most.
 *
 * Least squares of value = end + slope x age over all that was added, age in
 * seconds (0 now, negative before), each value weighted by the time it stands
 * for, so that a stream of any rate gives the same line, and fading with age.
 * Sums are taken against the newest value and moved along with "now". */
#include <math.h>
#include <string.h>

#include "machine.h"

void line_begin(struct maneuver_line *line, double value, double weight_s)
{
    memset(line, 0, sizeof *line);
    line->base = value;
    line->s[0] = weight_s;
}

/* Move the origin of age by dt_s, and fade everything. */
static void move_on(struct maneuver_line *line, double dt_s, double fade)
{
    double *s = line->s;
    double *p = line->p;

    s[2] = fade * (s[2] - 2.0 * dt_s * s[1] + dt_s * dt_s * s[0]);
    s[1] = fade * (s[1] - dt_s * s[0]);
    s[0] = fade * s[0];
    p[1] = fade * (p[1] - dt_s * p[0]);
    p[0] = fade * p[0];
    line->squares = fade * line->squares;
}

void line_add(struct maneuver_line *line, double dt_s, double memory_s,
              double value)
{
    double step = value - line->base;

    line->squares += step * step * line->s[0] - 2.0 * step * line->p[0];
    line->p[0] -= step * line->s[0];
    line->p[1] -= step * line->s[1];
    line->base = value;
    move_on(line, dt_s, exp(-dt_s / memory_s));
    line->s[0] += dt_s;
}

void line_look(const struct maneuver_line *line, struct line_view *out)
{
    const double *s = line->s;
    const double *p = line->p;
    double det = s[0] * s[2] - s[1] * s[1];
    double end = s[0] > 0.0 ? p[0] / s[0] : 0.0;
    double off;

    out->slope = 0.0;
    /* One instant tells no slope. */
    if (det > 1e-9 * s[0] * s[0]) {
        end = (s[2] * p[0] - s[1] * p[1]) / det;
        out->slope = (s[0] * p[1] - s[1] * p[0]) / det;
    }
    off = line->squares - end * p[0] - out->slope * p[1];
    out->end = line->base + end;
    out->off_square = s[0] > 0.0 ? fmax(0.0, off / s[0]) : 0.0;
    out->spread_s3 = s[0] > 0.0 ? fmax(0.0, det / s[0]) : 0.0;
}
