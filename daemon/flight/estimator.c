/* estimator.c - from time-stamped samples to the state of flight. */
#include <math.h>
#include <string.h>

#include "fit.h"
#include "path.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"

/* One fit for each smoothed quantity. */
enum trend { HEADING, PITCH, BANK, CAS, ALTITUDE, CLIMB };

static const enum intake_channel channel_of_trend[FLIGHT_TRENDS] = {
    [HEADING] = CHANNEL_HEADING,   [PITCH] = CHANNEL_PITCH,
    [BANK] = CHANNEL_BANK,         [CAS] = CHANNEL_AIRSPEED,
    [ALTITUDE] = CHANNEL_ALTITUDE, [CLIMB] = CHANNEL_VERTICAL_SPEED};

/* A channel that has been silent for longer is not known any more; one that
 * comes back after that starts afresh. */
static const double channel_age_s = 1.5;

/* Memory of the fits: a few samples at slow rates, a fifth of a second at
 * fast ones. Longer would smear the start of the roll-out, shorter would let
 * the jitter of the network through. Chosen by the replay tests. */
static const double memory_intervals = 3.0;
static const double memory_least_s = 0.20;
static const double memory_most_s = 0.60;

/* At a speed V a wing gives (V / Vs)^2 at most: more in a derived load factor
 * is not flown. Ours: a tenth of the speed for what the airplane's figure and
 * the lift of the propeller leave open, so that speed below the stall speed
 * for the load factor can still be told. */
static const double reach_most = 1.1;

static double seconds(int64_t ns)
{
    return (double)ns * 1e-9;
}

void flight_init(struct flight_estimator *estimator,
                 const struct flight_aircraft *aircraft)
{
    memset(estimator, 0, sizeof *estimator);
    estimator->aircraft = *aircraft;
    path_init(&estimator->path);
}

void flight_reset(struct flight_estimator *estimator)
{
    struct flight_aircraft aircraft = estimator->aircraft;

    flight_init(estimator, &aircraft);
}

void flight_rest(struct flight_estimator *estimator)
{
    for (int i = 0; i < FLIGHT_TRENDS; i++)
        fit_reset(&estimator->fit[i]);
    path_rest(&estimator->path);
}

static double memory_s(const struct flight_estimator *estimator)
{
    double memory = memory_intervals * estimator->interval_s;

    if (memory < memory_least_s)
        return memory_least_s;
    return memory < memory_most_s ? memory : memory_most_s;
}

/* Heading without the step at north: the short way from the last one. */
static double unwrap_heading(struct flight_estimator *estimator, double rad)
{
    struct flight_fit *fit = &estimator->fit[HEADING];

    if (fit->count == 0 && !estimator->started)
        estimator->heading_unwrapped_rad = angle_wrap_circle(rad);
    else
        estimator->heading_unwrapped_rad +=
            angle_wrap_half(rad - estimator->heading_unwrapped_rad);
    return estimator->heading_unwrapped_rad;
}

static double nearest_altitude_m(const struct flight_estimator *estimator,
                                 const struct intake_sample *sample)
{
    if (sample->valid & CHANNEL_BIT(CHANNEL_ALTITUDE))
        return sample->value[CHANNEL_ALTITUDE];
    return estimator->fit[ALTITUDE].count > 0 ? estimator->fit[ALTITUDE].base
                                              : 0.0;
}

/* What a sample newly says about a trend: a value that is only remembered
 * from another datagram has been fitted before. A simulator that tells only the
 * true airspeed tells the calibrated one with the altitude. Returns: false when
 * it says nothing. */
static bool value_of_trend(struct flight_estimator *estimator, int which,
                           const struct intake_sample *sample, double *value)
{
    enum intake_channel channel = channel_of_trend[which];

    if (sample->fresh & CHANNEL_BIT(channel)) {
        *value = which == HEADING
                     ? unwrap_heading(estimator, sample->value[channel])
                     : sample->value[channel];
        return true;
    }
    if (which != CAS || (sample->valid & CHANNEL_BIT(CHANNEL_AIRSPEED)) ||
        !(sample->fresh & CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED)))
        return false;
    *value = flight_calibrated_airspeed_mps(
        fmax(0.0, sample->value[CHANNEL_TRUE_AIRSPEED]),
        nearest_altitude_m(estimator, sample));
    return true;
}

static void take_channels(struct flight_estimator *estimator,
                          const struct intake_sample *sample)
{
    double memory = memory_s(estimator);
    double last_dt_s = -1.0;
    double fade = 1.0;

    for (int i = 0; i < FLIGHT_TRENDS; i++) {
        struct flight_fit *fit = &estimator->fit[i];
        double value;
        double dt_s;

        if (!value_of_trend(estimator, i, sample, &value))
            continue;
        dt_s = fit->count > 0 ? seconds(sample->t_ns - estimator->last_ns[i])
                              : 0.0;
        if (dt_s > channel_age_s) {
            fit_reset(fit);
            dt_s = 0.0;
        }
        if (dt_s != last_dt_s) {
            fade = exp(-dt_s / memory);
            last_dt_s = dt_s;
        }
        fit_add(fit, dt_s, fade, value);
        estimator->last_ns[i] = sample->t_ns;
    }
}

/* The trend of a channel at t_ns, carried on for a moment when this sample
 * did not bring it. */
static bool trend_at(const struct flight_estimator *estimator, enum trend which,
                     int64_t t_ns, struct flight_trend *out)
{
    const struct flight_fit *fit = &estimator->fit[which];
    double age_s = seconds(t_ns - estimator->last_ns[which]);

    if (fit->count == 0 || age_s > channel_age_s) {
        out->value = out->rate = out->accel = NAN;
        return false;
    }
    fit_trend(fit, memory_s(estimator), out);
    if (age_s > 0.0) {
        out->value += out->rate * age_s;
        out->accel = 0.0;
    }
    return true;
}

static double known_or_nan(const struct intake_sample *sample,
                           enum intake_channel channel, uint32_t bit,
                           uint32_t *known)
{
    if (!(sample->valid & CHANNEL_BIT(channel)))
        return NAN;
    *known |= bit;
    return sample->value[channel];
}

static void fill_trends(const struct flight_estimator *estimator,
                        struct flight_state *out)
{
    struct flight_trend climb;

    if (trend_at(estimator, HEADING, out->t_ns, &out->heading))
        out->known |= FLIGHT_HEADING;
    if (trend_at(estimator, PITCH, out->t_ns, &out->pitch))
        out->known |= FLIGHT_PITCH;
    if (trend_at(estimator, BANK, out->t_ns, &out->bank))
        out->known |= FLIGHT_BANK;
    if (trend_at(estimator, CAS, out->t_ns, &out->cas))
        out->known |= FLIGHT_AIRSPEED;
    if (trend_at(estimator, ALTITUDE, out->t_ns, &out->altitude))
        out->known |= FLIGHT_ALTITUDE;
    /* A vertical speed that is sent is better than one from two altitudes. */
    if (trend_at(estimator, CLIMB, out->t_ns, &climb)) {
        out->altitude.rate = climb.value;
        out->altitude.accel = climb.rate;
    }
}

static void fill_plain(const struct intake_sample *sample,
                       struct flight_state *out)
{
    out->lateral_g =
        known_or_nan(sample, CHANNEL_LATERAL_G, FLIGHT_LATERAL_G, &out->known);
    out->sideslip_rad =
        known_or_nan(sample, CHANNEL_SIDESLIP, FLIGHT_SIDESLIP, &out->known);
    out->angle_of_attack_rad = known_or_nan(
        sample, CHANNEL_ANGLE_OF_ATTACK, FLIGHT_ANGLE_OF_ATTACK, &out->known);
    out->height_m =
        known_or_nan(sample, CHANNEL_HEIGHT, FLIGHT_HEIGHT, &out->known);
    out->stall_warning = known_or_nan(sample, CHANNEL_STALL_WARNING,
                                      FLIGHT_STALL_WARNING, &out->known) > 0.5;
    out->on_ground = known_or_nan(sample, CHANNEL_ON_GROUND, FLIGHT_ON_GROUND,
                                  &out->known) > 0.5;
}

static void fill_airspeed(const struct intake_sample *sample,
                          struct flight_state *out)
{
    double altitude_m =
        out->known & FLIGHT_ALTITUDE ? out->altitude.value : 0.0;

    if (sample->valid & CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED))
        out->tas_mps = sample->value[CHANNEL_TRUE_AIRSPEED];
    else if ((out->known & FLIGHT_AIRSPEED) && out->cas.value > 0.0)
        out->tas_mps = flight_true_airspeed_mps(out->cas.value, altitude_m);
    if (out->tas_mps > 1.0 && !isnan(out->altitude.rate)) {
        double sine = out->altitude.rate / out->tas_mps;

        out->path_rad = asin(fmax(-1.0, fmin(1.0, sine)));
    }
}

/* The load factor that the flight path tells. */
static void derive_load_factor(struct flight_estimator *estimator,
                               const struct intake_sample *sample,
                               struct flight_state *out)
{
    const struct flight_aircraft *aircraft = &estimator->aircraft;
    struct path_view view;
    double unloaded_mps =
        flight_stall_speed_mps(aircraft->stall_speed_mps, 1.0, out->weight_kg,
                               aircraft->stall_weight_kg);
    double reach;

    path_follow(&estimator->path, sample, out, unloaded_mps,
                memory_s(estimator));
    if (!(out->known & FLIGHT_BANK) || !path_look(&estimator->path, out, &view))
        return;
    out->path_rad = view.path_rad;
    reach = reach_most * fmax(0.0, out->cas.value) / unloaded_mps;
    out->load_factor = fmin(path_load_factor(&view, out), reach * reach);
}

static void fill_margin(struct flight_estimator *estimator,
                        const struct intake_sample *sample,
                        struct flight_state *out)
{
    const struct flight_aircraft *aircraft = &estimator->aircraft;
    const uint32_t needed = FLIGHT_AIRSPEED | FLIGHT_BANK;
    double steady;
    double counted;

    out->weight_kg = sample->valid & CHANNEL_BIT(CHANNEL_WEIGHT)
                         ? sample->value[CHANNEL_WEIGHT]
                         : aircraft->weight_kg;
    if (sample->valid & CHANNEL_BIT(CHANNEL_LOAD_FACTOR)) {
        out->load_factor = sample->value[CHANNEL_LOAD_FACTOR];
        out->known |= FLIGHT_LOAD_MEASURED;
    } else {
        derive_load_factor(estimator, sample, out);
    }
    if ((out->known & needed) != needed)
        return;
    if (isnan(out->load_factor))
        out->load_factor = 1.0 / fmax(cos(out->bank.value), 0.2);
    /* What keeping this climb and this bank would need: easing off for a
     * moment lowers the stall speed only for that moment. */
    steady = (isnan(out->path_rad) ? 1.0 : cos(out->path_rad)) /
             fmax(cos(out->bank.value), 0.5);
    counted = fmax(out->load_factor, steady);
    out->stall_speed_mps =
        flight_stall_speed_mps(aircraft->stall_speed_mps, out->load_factor,
                               out->weight_kg, aircraft->stall_weight_kg);
    out->stall_excess_mps = out->cas.value - out->stall_speed_mps;
    out->stall_margin_mps =
        out->cas.value - flight_stall_speed_mps(aircraft->stall_speed_mps,
                                                counted, out->weight_kg,
                                                aircraft->stall_weight_kg);
    out->known |= FLIGHT_MARGIN;
}

/* The time between two values of the bank, or of the heading when there is
 * none: several kinds of datagrams may share the moments of a stream. */
static void follow_interval(struct flight_estimator *estimator,
                            const struct intake_sample *sample)
{
    enum trend which =
        sample->valid & CHANNEL_BIT(CHANNEL_BANK) ? BANK : HEADING;
    double dt_s = seconds(sample->t_ns - estimator->last_ns[which]);

    if (!(sample->fresh & CHANNEL_BIT(channel_of_trend[which])) ||
        estimator->fit[which].count == 0 || dt_s <= 0.0 ||
        dt_s >= channel_age_s)
        return;
    /* Smoothed, so that one lost packet does not change the memory. */
    if (estimator->interval_s <= 0.0)
        estimator->interval_s = dt_s;
    estimator->interval_s += 0.05 * (dt_s - estimator->interval_s);
}

int flight_update(struct flight_estimator *estimator,
                  const struct intake_sample *sample, struct flight_state *out)
{
    if (estimator->started && sample->t_ns < estimator->last_t_ns)
        return ERR_TIME;
    follow_interval(estimator, sample);
    take_channels(estimator, sample);
    estimator->started = true;
    estimator->last_t_ns = sample->t_ns;

    out->t_ns = sample->t_ns;
    out->known = 0;
    out->tas_mps = out->path_rad = out->load_factor = NAN;
    out->stall_speed_mps = out->stall_margin_mps = out->stall_excess_mps = NAN;
    fill_trends(estimator, out);
    fill_plain(sample, out);
    fill_airspeed(sample, out);
    fill_margin(estimator, sample, out);
    return 0;
}

double flight_time_to_reach_s(const struct flight_trend *trend, double value,
                              double horizon_s)
{
    double distance = value - trend->value;
    double discriminant =
        trend->rate * trend->rate + 2.0 * trend->accel * distance;
    double t_s;

    if (distance == 0.0)
        return 0.0;
    if (discriminant < 0.0)
        return NAN;
    /* The root of value + rate t + accel t^2 / 2 that is nearest in time, in
     * the form that does not cancel when the acceleration is small. */
    t_s = 2.0 * distance /
          (trend->rate + copysign(sqrt(discriminant),
                                  trend->rate != 0.0 ? trend->rate : distance));
    return t_s >= 0.0 && t_s <= horizon_s ? t_s : NAN;
}
