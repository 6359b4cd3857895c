/* fit.c - a fading-memory quadratic fit of one quantity.
 *
 * Weighted least squares of value = c0 + c1 a + c2 a^2 over all samples, a
 * their age in seconds (0 now, negative before), weights fading exponentially
 * with age. A polynomial follows a steady turn or a steady
 * pitch-up without lag, and sample times may be as uneven as they like: loss
 * and jitter need no special care. Moving "now" by dt only mixes the sums, so
 * the cost does not depend on how much is remembered. */
#include "fit.h"

#include <math.h>
#include <string.h>

void fit_reset(struct flight_fit *fit)
{
    memset(fit, 0, sizeof *fit);
}

/* Move the origin of age by d seconds and fade everything. */
static void fit_shift(struct flight_fit *fit, double d, double fade)
{
    double *s = fit->s;
    double *p = fit->p;
    double d2 = d * d;

    s[4] = fade * (s[4] - 4.0 * d * s[3] + 6.0 * d2 * s[2] -
                   4.0 * d2 * d * s[1] + d2 * d2 * s[0]);
    s[3] = fade * (s[3] - 3.0 * d * s[2] + 3.0 * d2 * s[1] - d2 * d * s[0]);
    s[2] = fade * (s[2] - 2.0 * d * s[1] + d2 * s[0]);
    s[1] = fade * (s[1] - d * s[0]);
    s[0] = fade * s[0];
    p[2] = fade * (p[2] - 2.0 * d * p[1] + d2 * p[0]);
    p[1] = fade * (p[1] - d * p[0]);
    p[0] = fade * p[0];
}

void fit_add(struct flight_fit *fit, double dt_s, double fade, double value)
{
    double step = value - fit->base;

    if (fit->count > 0)
        fit_shift(fit, dt_s, fade);
    /* Sums stay small when they are taken against the newest value: an
     * unwrapped heading may have grown large after many turns. */
    for (int i = 0; i < 3; i++)
        fit->p[i] -= step * fit->s[i];
    fit->base = value;
    fit->s[0] += 1.0;
    if (fit->count < 3)
        fit->count++;
}

void fit_trend(const struct flight_fit *fit, double memory_s,
               struct flight_trend *out)
{
    const double *s = fit->s;
    const double *p = fit->p;
    double c0 = 0.0;
    double c1 = 0.0;
    double c2 = 0.0;
    double det;
    double least = 1e-9 * memory_s * memory_s;

    if (fit->count >= 3) {
        double m00 = s[2] * s[4] - s[3] * s[3];
        double m01 = s[2] * s[3] - s[1] * s[4];
        double m02 = s[1] * s[3] - s[2] * s[2];
        double m11 = s[0] * s[4] - s[2] * s[2];
        double m12 = s[1] * s[2] - s[0] * s[3];
        double m22 = s[0] * s[2] - s[1] * s[1];

        det = s[0] * m00 + s[1] * m01 + s[2] * m02;
        /* Several samples at one instant, or a memory that has faded to one:
         * no curve can be told from them. */
        if (det > least * memory_s * memory_s * memory_s * memory_s * s[0] *
                      s[0] * s[0]) {
            c0 = (m00 * p[0] + m01 * p[1] + m02 * p[2]) / det;
            c1 = (m01 * p[0] + m11 * p[1] + m12 * p[2]) / det;
            c2 = (m02 * p[0] + m12 * p[1] + m22 * p[2]) / det;
        }
    } else if (fit->count == 2) {
        det = s[0] * s[2] - s[1] * s[1];
        if (det > least * s[0] * s[0]) {
            c0 = (s[2] * p[0] - s[1] * p[1]) / det;
            c1 = (s[0] * p[1] - s[1] * p[0]) / det;
        }
    }
    out->value = fit->base + c0;
    out->rate = c1;
    out->accel = 2.0 * c2;
}
