/* discover_series.c - numbers over time: as channels, their slopes, fits. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "discover.h"

/* ---- values ------------------------------------------------------------- */

void discover_values(const struct intake_discovery *d,
                     const struct discover_reading *reading, bool circle,
                     double *out)
{
    const float *grid = d->grid[reading->series];
    double base = d->series[reading->series].base;
    double turns = 0.0;
    double last = NAN;

    for (uint32_t i = 0; i < d->grid_count; i++) {
        double value = (base + (double)grid[i]) * reading->factor;

        if (circle && isfinite(value)) {
            if (isfinite(last) && value + turns - last > UNITS_PI)
                turns -= 2.0 * UNITS_PI;
            else if (isfinite(last) && value + turns - last < -UNITS_PI)
                turns += 2.0 * UNITS_PI;
            value += turns;
            last = value;
        }
        out[i] = value;
    }
}

void discover_derive(const struct intake_discovery *d, const double *values,
                     double *out)
{
    uint32_t half = (uint32_t)lround(1.0 / d->step_s);

    for (uint32_t i = 0; i < d->grid_count; i++)
        out[i] = i < half || i + half >= d->grid_count
                     ? NAN
                     : (values[i + half] - values[i - half]) /
                           (2.0 * half * d->step_s);
}

void discover_smooth(const struct intake_discovery *d, const double *values,
                     double *out)
{
    uint32_t half = (uint32_t)lround(1.0 / d->step_s);

    for (uint32_t i = 0; i < d->grid_count; i++) {
        double sum = 0.0;

        if (i < half || i + half >= d->grid_count) {
            out[i] = NAN;
            continue;
        }
        for (uint32_t k = i - half; k <= i + half; k++)
            sum += values[k];
        out[i] = sum / (2.0 * half + 1.0);
    }
}

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a;
    double y = *(const double *)b;

    return (x > y) - (x < y);
}

double discover_median(double *values, uint32_t count)
{
    if (count == 0)
        return NAN;
    qsort(values, count, sizeof *values, compare);
    return values[count / 2];
}

double discover_difference(struct intake_discovery *d,
                           const struct discover_reading *a,
                           const struct discover_reading *b, bool circle,
                           bool shifted)
{
    uint32_t count = 0;
    double middle = 0.0;

    discover_values(d, a, circle, d->scratch);
    discover_values(d, b, circle, d->sorted);
    for (uint32_t i = 0; i < d->grid_count; i++) {
        double difference = d->scratch[i] - d->sorted[i];

        if (circle)
            difference = remainder(difference, 2.0 * UNITS_PI);
        if (isfinite(difference))
            d->sorted[count++] = difference;
    }
    if (count == 0)
        return INFINITY;
    if (shifted)
        middle = discover_median(d->sorted, count);
    for (uint32_t i = 0; i < count; i++)
        d->sorted[i] = fabs(d->sorted[i] - middle);
    qsort(d->sorted, count, sizeof *d->sorted, compare);
    return d->sorted[count - 1 - count / 20];
}

bool discover_overlap(const struct intake_discovery *d,
                      const struct discover_reading *a,
                      const struct discover_reading *b)
{
    const struct discover_place *x;
    const struct discover_place *y;

    if (a->series >= d->series_count || b->series >= d->series_count)
        return false;
    x = &d->series[a->series].place;
    y = &d->series[b->series].place;
    if (d->form.form != INTAKE_FORM_BINARY &&
        d->form.form != INTAKE_FORM_RECORDS)
        return a->series == b->series;
    return x->kind == y->kind && x->key == y->key &&
           x->at < y->at + intake_type_size(y->type) &&
           y->at < x->at + intake_type_size(x->type);
}

/* ---- readings ----------------------------------------------------------- */

struct way {
    enum unit unit;
    double scale;
    bool whole; /* only for whole numbers */
};

#define TURN16 (1.0 / 65536.0)
#define TURN32 (1.0 / 4294967296.0)

static const struct way angle_ways[] = {
    {UNIT_DEG, 1.0, false},    {UNIT_RAD, 1.0, false},
    {UNIT_TURN, 1.0, false},   {UNIT_DEG, 0.1, true},
    {UNIT_DEG, 0.01, true},    {UNIT_DEG, 0.001, true},
    {UNIT_TURN, TURN16, true}, {UNIT_TURN, TURN32, true}};

static const struct way speed_ways[] = {
    {UNIT_KT, 1.0, false},       {UNIT_M_PER_S, 1.0, false},
    {UNIT_KM_PER_H, 1.0, false}, {UNIT_MPH, 1.0, false},
    {UNIT_FT_PER_S, 1.0, false}, {UNIT_KT, 0.1, true},
    {UNIT_M_PER_S, 0.1, true},   {UNIT_KM_PER_H, 0.1, true},
    {UNIT_KT, 0.01, true},       {UNIT_M_PER_S, 0.01, true}};

static const struct way length_ways[] = {
    {UNIT_FT, 1.0, false}, {UNIT_M, 1.0, false}, {UNIT_FT, 0.1, true},
    {UNIT_M, 0.1, true},   {UNIT_M, 0.01, true}, {UNIT_M, 0.001, true},
    {UNIT_FT, 0.01, true}, {UNIT_KM, 1.0, false}};

static const struct way climb_ways[] = {
    {UNIT_FT_PER_MIN, 1.0, false}, {UNIT_M_PER_S, 1.0, false},
    {UNIT_FT_PER_S, 1.0, false},   {UNIT_M_PER_S, 0.1, true},
    {UNIT_M_PER_S, 0.01, true},    {UNIT_KT, 1.0, false}};

/* What a series must span and stay within to be a channel, internal units. */
struct bounds {
    enum intake_channel channel;
    const struct way *way;
    size_t ways;
    double least;
    double greatest;
    double least_top; /* the greatest magnitude must reach this */
    double span;
};

#define DEG UNITS_RAD_PER_DEG

static const struct bounds all_bounds[] = {
    {CHANNEL_HEADING, angle_ways, sizeof angle_ways / sizeof angle_ways[0],
     -361.0 * DEG, 361.0 * DEG, 0.0, 25.0 * DEG},
    {CHANNEL_BANK, angle_ways, sizeof angle_ways / sizeof angle_ways[0],
     -85.0 * DEG, 85.0 * DEG, 10.0 * DEG, 10.0 * DEG},
    {CHANNEL_PITCH, angle_ways, sizeof angle_ways / sizeof angle_ways[0],
     -60.0 * DEG, 60.0 * DEG, 2.5 * DEG, 3.0 * DEG},
    {CHANNEL_AIRSPEED, speed_ways, sizeof speed_ways / sizeof speed_ways[0],
     8.0, 300.0, 20.0, 0.5},
    {CHANNEL_ALTITUDE, length_ways, sizeof length_ways / sizeof length_ways[0],
     -500.0, 20000.0, 0.0, 15.0},
    {CHANNEL_VERTICAL_SPEED, climb_ways,
     sizeof climb_ways / sizeof climb_ways[0], -150.0, 150.0, 0.7, 0.7},
};

void discover_readings_of(const struct intake_discovery *d,
                          enum intake_channel channel,
                          struct discover_readings *out)
{
    const struct bounds *bounds = all_bounds;

    out->count = 0;
    while (bounds->channel != channel)
        bounds++;
    for (uint32_t s = 0; s < d->series_count; s++) {
        const struct discover_series *series = &d->series[s];

        for (size_t w = 0; w < bounds->ways && series->smooth; w++) {
            const struct way *way = &bounds->way[w];
            double unit;
            double offset;
            double factor;

            if (way->whole && !series->whole)
                continue;
            if (!d->whole_too && series->place.type != INTAKE_F32 &&
                series->place.type != INTAKE_F64)
                continue;
            units_factors(way->unit, &unit, &offset);
            factor = way->scale * unit;
            if (series->least * factor < bounds->least ||
                series->greatest * factor > bounds->greatest ||
                (series->greatest - series->least) * factor < bounds->span ||
                fmax(-series->least, series->greatest) * factor <
                    bounds->least_top ||
                out->count == DISCOVER_READINGS)
                continue;
            out->reading[out->count++] =
                (struct discover_reading){s, way->unit, way->scale, factor};
        }
    }
}

/* ---- least squares ------------------------------------------------------ */

void discover_fit_begin(struct discover_fit *fit, uint32_t columns)
{
    memset(fit, 0, sizeof *fit);
    fit->columns = columns;
}

void discover_fit_add(struct discover_fit *fit, const double *x, double y)
{
    for (uint32_t r = 0; r < fit->columns; r++) {
        for (uint32_t c = 0; c < fit->columns; c++)
            fit->sum[r][c] += x[r] * x[c];
        fit->sum[r][FIT_COLUMNS] += x[r] * y;
    }
    fit->yy += y * y;
    fit->y += y;
    fit->count++;
}

bool discover_fit_end(struct discover_fit *fit, double *weight, double *error,
                      double *spread)
{
    uint32_t n = fit->columns;
    double left = fit->yy;
    double given[FIT_COLUMNS];

    if (fit->count < 8 * n)
        return false;
    for (uint32_t r = 0; r < n; r++)
        given[r] = fit->sum[r][FIT_COLUMNS];
    for (uint32_t r = 0; r < n; r++) {
        double pivot = fit->sum[r][r];

        if (!(pivot > 1e-12 * fit->count))
            return false;
        for (uint32_t c = 0; c <= FIT_COLUMNS; c++)
            fit->sum[r][c] /= pivot;
        for (uint32_t o = 0; o < n; o++) {
            double times = fit->sum[o][r];

            for (uint32_t c = 0; o != r && c <= FIT_COLUMNS; c++)
                fit->sum[o][c] -= times * fit->sum[r][c];
        }
    }
    for (uint32_t r = 0; r < n; r++) {
        weight[r] = fit->sum[r][FIT_COLUMNS];
        left -= weight[r] * given[r];
    }
    *error = sqrt(fmax(left, 0.0) / fit->count);
    *spread = sqrt(
        fmax(fit->yy / fit->count - fit->y / fit->count * (fit->y / fit->count),
             0.0));
    return true;
}
