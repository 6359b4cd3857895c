/* inspect_warnings.c - what the channels say of each other. */
#include "inspect_warnings.h"

#include <math.h>
#include <string.h>

#include "inspect_suspects.h"
#include "quarterturn/flight.h"

static const double leg_s = 1.0;
static const double leg_most_s = 5.0;

void inspect_warnings_init(struct inspect_warnings *warnings)
{
    memset(warnings, 0, sizeof *warnings);
}

static bool has(const struct intake_sample *sample, enum intake_channel channel)
{
    return (sample->valid & CHANNEL_BIT(channel)) != 0;
}

static void trend_add(struct warnings_trend *trend, double x, double y)
{
    trend->n += 1.0;
    trend->x += x;
    trend->y += y;
    trend->xx += x * x;
    trend->xy += x * y;
    trend->yy += y * y;
    trend->xxxx += x * x * x * x;
}

static void take_extent(struct inspect_warnings *warnings, unsigned i,
                        double value)
{
    struct warnings_extent *extent = &warnings->extent[i];

    if (extent->count == 0) {
        extent->least = extent->greatest = value;
        extent->begin_ns = extent->since_ns = warnings->now_ns;
    } else if (value != warnings->last[i]) {
        extent->changes++;
        extent->since_ns = warnings->now_ns;
    }
    extent->least = fmin(extent->least, value);
    extent->greatest = fmax(extent->greatest, value);
    extent->sum += value;
    extent->count++;
    warnings->last[i] = value;
}

static double true_airspeed_of(const struct intake_sample *sample)
{
    double altitude_m = has(sample, CHANNEL_ALTITUDE)
                            ? fmin(sample->value[CHANNEL_ALTITUDE], 20000.0)
                            : 0.0;

    if (has(sample, CHANNEL_AIRSPEED))
        return flight_true_airspeed_mps(
            fmin(fmax(sample->value[CHANNEL_AIRSPEED], 0.0), 300.0),
            altitude_m);
    return sample->value[CHANNEL_TRUE_AIRSPEED];
}

static void begin_leg(struct inspect_warnings *warnings,
                      const struct intake_sample *sample)
{
    warnings->leg =
        (struct warnings_leg){.begin_ns = sample->t_ns,
                              .heading_rad = sample->value[CHANNEL_HEADING],
                              .altitude_m = sample->value[CHANNEL_ALTITUDE],
                              .has = sample->valid};
}

/* Hold what the leg did against what it was flown with. */
static void end_leg(struct inspect_warnings *warnings,
                    const struct intake_sample *sample, double passed_s)
{
    const struct warnings_leg *leg = &warnings->leg;
    double turned =
        angle_wrap_half(sample->value[CHANNEL_HEADING] - leg->heading_rad) /
        passed_s;
    double climbed =
        (sample->value[CHANNEL_ALTITUDE] - leg->altitude_m) / passed_s;
    bool high = (leg->has & CHANNEL_BIT(CHANNEL_ALTITUDE)) != 0;
    bool vertical = (leg->has & CHANNEL_BIT(CHANNEL_VERTICAL_SPEED)) != 0;

    trend_add(&warnings->turn, leg->turn_sum / leg->count, turned);
    if (high)
        trend_add(&warnings->altitude, leg->climb_sum / leg->count, climbed);
    if (vertical)
        trend_add(&warnings->vertical, leg->climb_sum / leg->count,
                  leg->sink_sum / leg->count);
    if (high && vertical)
        trend_add(&warnings->climb, leg->sink_sum / leg->count, climbed);
}

static void fly_leg(struct inspect_warnings *warnings,
                    const struct intake_sample *sample, bool broken)
{
    const uint32_t needed = CHANNEL_BIT(CHANNEL_HEADING) |
                            CHANNEL_BIT(CHANNEL_PITCH) |
                            CHANNEL_BIT(CHANNEL_BANK);
    const double *value = sample->value;
    struct warnings_leg *leg = &warnings->leg;
    double passed_s;
    double tas_mps;
    bool goes_on;

    if ((sample->valid & needed) != needed ||
        !(has(sample, CHANNEL_AIRSPEED) || has(sample, CHANNEL_TRUE_AIRSPEED)))
        return;
    passed_s = (double)(sample->t_ns - leg->begin_ns) * 1e-9;
    goes_on = leg->count > 0.0 && (leg->has & ~sample->valid) == 0 && !broken &&
              passed_s <= leg_most_s;
    if (goes_on && passed_s >= leg_s)
        end_leg(warnings, sample, passed_s);
    if (!goes_on || passed_s >= leg_s)
        begin_leg(warnings, sample);
    tas_mps = true_airspeed_of(sample);
    if (tas_mps < 1.0) {
        leg->count = 0.0;
        return;
    }
    leg->count += 1.0;
    leg->turn_sum += UNITS_G0_MPS2 * tan(value[CHANNEL_BANK]) / tas_mps;
    leg->climb_sum += tas_mps * sin(value[CHANNEL_PITCH]);
    if (has(sample, CHANNEL_VERTICAL_SPEED))
        leg->sink_sum += value[CHANNEL_VERTICAL_SPEED];
}

void inspect_warnings_take(struct inspect_warnings *warnings,
                           const struct intake_sample *sample, bool broken)
{
    warnings->now_ns = sample->t_ns;
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->fresh >> i & 1) != 0)
            take_extent(warnings, i, sample->value[i]);
    }
    fly_leg(warnings, sample, broken);
}

void inspect_warnings_take_beyond(struct inspect_warnings *warnings,
                                  const struct intake_sample *decoded)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        struct warnings_beyond *beyond = &warnings->beyond[i];
        double value = decoded->value[i];

        if ((decoded->beyond >> i & 1) == 0)
            continue;
        beyond->least = beyond->count > 0 ? fmin(beyond->least, value) : value;
        beyond->greatest =
            beyond->count > 0 ? fmax(beyond->greatest, value) : value;
        beyond->count++;
    }
}

uint32_t inspect_warnings_find(const struct inspect_warnings *warnings,
                               const struct intake_layout *layout,
                               struct inspect_warning out[WARNINGS_MOST])
{
    struct suspects suspects = {warnings, layout, out, 0, 1.0};

    suspects_find(&suspects);
    return suspects.count;
}
