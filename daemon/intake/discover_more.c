/* discover_more.c - channels that hang on those already found. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "discover.h"

/* How well a number must follow what it should be: share left over, and
 * slope. A climb angle in degrees is near to a vertical speed in m/s. Ours. */
static const double most_left = 0.05;
static const double most_slope_error = 0.02;
static const double most_clock_error = 0.002;

/* Fit values on what is expected.
 * Returns: the slope; left: the share of its spread left over. */
static double follow(const struct intake_discovery *d, const double *expected,
                     const double *values, double *left, double *constant)
{
    struct discover_fit fit;
    double weight[FIT_COLUMNS];
    double error;
    double spread;

    discover_fit_begin(&fit, 2);
    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        double x[2] = {expected[i], 1.0};

        if (isfinite(x[0]) && isfinite(values[i]))
            discover_fit_add(&fit, x, values[i]);
    }
    *left = INFINITY;
    *constant = 0.0;
    if (!discover_fit_end(&fit, weight, &error, &spread) || spread <= 0.0)
        return 0.0;
    *left = error / spread;
    *constant = weight[1];
    return weight[0];
}

static void settle_one(struct intake_discovery *d, enum intake_channel channel,
                       const struct discover_reading *reading, double left,
                       struct intake_discovered *out)
{
    discover_settle(d, channel, reading, out);
    (void)snprintf(out->finding[channel], INTAKE_FINDING_SIZE,
                   "sure: follows what the others make it, %.0f %% left over",
                   100.0 * left);
}

static void find_vertical_speed(struct intake_discovery *d,
                                struct intake_discovered *out)
{
    struct discover_readings readings;
    double best = most_left;
    const struct discover_reading *chosen = NULL;

    discover_readings_of(d, CHANNEL_VERTICAL_SPEED, &readings);
    for (uint32_t r = 0; r < readings.count; r++) {
        double left;
        double constant;
        double slope;

        discover_values(d, &readings.reading[r], false, d->sorted);
        discover_smooth(d, d->sorted, d->scratch);
        slope = follow(d, d->climb, d->scratch, &left, &constant);
        if (left < best && fabs(fabs(slope) - 1.0) < most_slope_error &&
            fabs(constant) < 0.3) {
            best = left;
            chosen = &readings.reading[r];
            if (slope < 0.0) {
                readings.reading[r].scale = -readings.reading[r].scale;
                readings.reading[r].factor = -readings.reading[r].factor;
            }
        }
    }
    if (chosen != NULL)
        settle_one(d, CHANNEL_VERTICAL_SPEED, chosen, best, out);
}

/* load[] holds what the path wants; pure centripetal and weight. */
static void find_load_factor(struct intake_discovery *d,
                             struct intake_discovered *out)
{
    static const enum unit units[] = {UNIT_G, UNIT_M_PER_S2};
    struct discover_reading best = {0};
    double best_left = 0.5;

    for (uint32_t s = 0; s < d->series_count; s++) {
        for (size_t u = 0; u < sizeof units / sizeof units[0]; u++) {
            struct discover_reading reading = {s, units[u], 1.0, 1.0};
            double offset;
            double left;
            double constant;
            double slope;

            units_factors(units[u], &reading.factor, &offset);
            discover_values(d, &reading, false, d->sorted);
            discover_smooth(d, d->sorted, d->scratch);
            slope = follow(d, d->load, d->scratch, &left, &constant);
            if (slope < 0.0) {
                reading.scale = -1.0;
                reading.factor = -reading.factor;
                slope = -slope;
                constant = -constant;
            }
            if (left < best_left && slope > 0.8 && slope < 1.2 &&
                fabs(slope + constant - 1.0) < 0.03) {
                best_left = left;
                best = reading;
            }
        }
    }
    if (best_left < 0.5)
        settle_one(d, CHANNEL_LOAD_FACTOR, &best, best_left, out);
}

/* A clock gains a second a second. Two of them: the smaller one, which is
 * the flight's own and not the day's. */
static void find_time(struct intake_discovery *d, struct intake_discovered *out)
{
    static const enum unit units[] = {UNIT_S, UNIT_MS, UNIT_US};
    struct discover_reading best = {0};
    bool found = false;

    for (uint32_t i = 0; i < d->grid_count; i++)
        d->sorted[i] = (double)i * d->step_s;
    for (uint32_t s = 0; s < d->series_count; s++) {
        for (size_t u = 0; u < sizeof units / sizeof units[0]; u++) {
            struct discover_reading reading = {s, units[u], 1.0, 1.0};
            double offset;
            double left;
            double constant;
            double slope;

            units_factors(units[u], &reading.factor, &offset);
            if (d->series[s].greatest * reading.factor > 3.9e9)
                continue;
            discover_values(d, &reading, false, d->scratch);
            slope = follow(d, d->sorted, d->scratch, &left, &constant);
            if (fabs(slope - 1.0) < most_clock_error && left < 0.002 &&
                (!found ||
                 d->series[s].least * reading.factor <
                     d->series[best.series].least * best.factor - 1.0)) {
                found = true;
                best = reading;
            }
        }
    }
    if (!found)
        return;
    discover_settle(d, CHANNEL_SIM_TIME, &best, out);
    (void)snprintf(out->finding[CHANNEL_SIM_TIME], INTAKE_FINDING_SIZE,
                   "sure: gains a second a second");
}

void discover_more(struct intake_discovery *d,
                   const struct discover_choice *best,
                   struct intake_discovered *out)
{
    const uint32_t path = CHANNEL_BIT(CHANNEL_BANK) |
                          CHANNEL_BIT(CHANNEL_PITCH) |
                          CHANNEL_BIT(CHANNEL_ALTITUDE);

    find_time(d, out);
    if (d->climb_source != CLIMB_ALTITUDE || (out->found & path) != path)
        return;
    discover_motion(d, best);
    find_vertical_speed(d, out);
    discover_motion(d, best);
    find_load_factor(d, out);
}
