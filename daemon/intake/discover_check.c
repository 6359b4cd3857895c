/* discover_check.c - whether the heading turns as bank, speed and path want
 * it, by the formula that stands at the beginning of discover_turn.c. */
#include <math.h>

#include "discover.h"

static const double lag_probe_s = 0.5;
static const double most_lag_s = 0.35;
static const double most_ratio_error = 0.1;

const double discover_least_bank = 8.0 * UNITS_RAD_PER_DEG;
const double discover_least_rate = 1.0 * UNITS_RAD_PER_DEG;

double discover_bound(double value, double least, double most)
{
    if (value < least)
        return least;
    return value > most ? most : value;
}

double discover_bound_sine(double value)
{
    return discover_bound(value, -0.9, 0.9);
}

double discover_lift(double load, double speed)
{
    return 2000.0 * load / (speed * speed);
}

/* The turn rate that the formula wants, smoothed as the measured one is, in
 * load[], which is not needed any more; and in lead[] how fast the nose runs
 * ahead of the path. */
static void find_formula(struct intake_discovery *d,
                         const struct discover_choice *choice)
{
    for (uint32_t i = 0; i < d->grid_count; i++) {
        double c = cos(d->slope[i]);
        double m =
            asin(discover_bound_sine(cos(d->pitch[i]) * sin(d->bank[i]) / c));
        double rate = UNITS_G0_MPS2 / d->speed[i] + d->slope_rate[i] / c;
        double load = discover_bound(
            rate * d->speed[i] * c / UNITS_G0_MPS2 / cos(m), 0.2, 3.0);

        d->scratch[i] = tan(m) * rate;
        d->sorted[i] = sin(m) / c *
                       (choice->attack[0] +
                        choice->attack[1] * discover_lift(load, d->speed[i]));
    }
    discover_smooth(d, d->scratch, d->load);
    discover_derive(d, d->sorted, d->lead);
}

/* Rolled about its path, an airplane swings its nose into the turn by the
 * angle of attack; slipping a little as it rolls in, by less. So much of it as
 * suits, between nothing and all, belongs to the formula. */
static void add_lead(struct intake_discovery *d)
{
    double xx = 0.0;
    double xy = 0.0;
    double part;

    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        double left = d->heading_rate[i] - d->load[i];

        if (!isfinite(left) || !isfinite(d->lead[i]))
            continue;
        xx += d->lead[i] * d->lead[i];
        xy += d->lead[i] * left;
    }
    part = xx > 0.0 ? discover_bound(xy / xx, 0.0, 1.0) : 0.0;
    for (uint32_t i = 0; i < d->grid_count; i++)
        d->load[i] += part * d->lead[i];
}

/* rms of what the formula leaves of the turn rate, against its rms, if the
 * bank were that of so many steps later. */
static double turn_error(const struct intake_discovery *d, int32_t shift)
{
    double square = 0.0;
    double wrong = 0.0;

    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        int64_t at = (int64_t)i + shift;
        double left;

        if (at < 0 || at >= (int64_t)d->grid_count)
            continue;
        left = d->heading_rate[i] - d->load[at];
        if (!isfinite(left))
            continue;
        square += d->heading_rate[i] * d->heading_rate[i];
        wrong += left * left;
    }
    return square > 0.0 ? sqrt(wrong / square) : INFINITY;
}

/* A bank that runs ahead of the turn, or behind it, is one that is wanted or
 * was: the lag that would suit best. */
static double find_lag_s(const struct intake_discovery *d, double error)
{
    int32_t shift = (int32_t)lround(lag_probe_s / d->step_s);
    double before = turn_error(d, -shift);
    double after = turn_error(d, shift);
    double bend = before * before + after * after - 2.0 * error * error;

    if (!(bend > 0.0))
        return INFINITY;
    return 0.5 * lag_probe_s * (before * before - after * after) / bend;
}

bool discover_check_turn(struct intake_discovery *d,
                         struct discover_choice *choice)
{
    uint32_t count = 0;

    find_formula(d, choice);
    add_lead(d);
    for (uint32_t i = 0; i < d->grid_count; i += discover_hop(d)) {
        double ratio = d->heading_rate[i] / d->load[i];

        if (isfinite(ratio) && fabs(d->bank[i]) > discover_least_bank &&
            fabs(d->heading_rate[i]) > discover_least_rate)
            d->sorted[count++] = ratio;
    }
    choice->turn_error = turn_error(d, 0);
    choice->turn_ratio = discover_median(d->sorted, count);
    if (count < 20 || !(fabs(log(choice->turn_ratio)) < most_ratio_error) ||
        !(fabs(find_lag_s(d, choice->turn_error)) < most_lag_s))
        return false;
    choice->cost = choice->turn_error + choice->pitch_error +
                   2.0 * fabs(log(choice->turn_ratio)) +
                   0.5 * fabs(log(choice->pitch_slope));
    return isfinite(choice->cost);
}
