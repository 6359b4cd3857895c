/* path.c - the flight path where no load factor is sent.
 *
 * The load factor hangs on the second rate of the altitude, and altitude may
 * come in steps of ten feet. So the climb that the pitch alone would give is
 * summed up, and only what the altitude does beyond that is fitted: it changes
 * slowly, and a fit of it may remember long. A push or a pull is seen in the
 * pitch without that delay.
 *
 * The path follows the pitch as a wing makes it follow: what the nose is above
 * it beyond the angle of attack of steady flight is lift that turns it. With
 * lift that grows evenly with the angle of attack that is a first-order lag of
 * V attack / (g n), attack from the angle of no lift on; any text on the short
 * period of an airplane.
 *
 * How long a fit remembers follows from how rough its readings are: the
 * distance of each from the line between its neighbours. Steps, noise and the
 * jitter of arrivals all show there; a flight that is flown hardly does. */
#include "path.h"

#include <math.h>
#include <string.h>

#include "fit.h"

/* Ours: an acceleration that the roughness may leave, 0.05 g: at 60 kt a knot
 * and a half of margin. */
static const double accel_left_mps2 = 0.5;
/* Longer would take a stall for a climb. */
static const double memory_most_s = 2.0;
/* A reading silent for longer begins anew. */
static const double reading_age_s = 1.5;
/* Ours: how fast roughness is forgotten, in time during which the reading
 * changes: one that stands still may be fine or coarse. */
static const double roughness_fades_s = 2.0;
/* What is assumed to begin with, and a single wild sample counts for: 1 kt,
 * 10 ft, 100 ft/min. */
static const double roughness_most[FLIGHT_PATH_READINGS] = {
    [PATH_CAS] = 1.0 * UNITS_MPS_PER_KT,
    [PATH_ALTITUDE] = 10.0 * UNITS_M_PER_FT,
    [PATH_CLIMB] = 100.0 * UNITS_M_PER_FT / 60.0};

/* Ours: from no lift to the stall, a light airplane without flaps; half or
 * twice of it would still do. */
static const double lift_range_rad = 18.0 * UNITS_RAD_PER_DEG;
static const double lag_least_s = 0.2;
static const double lag_most_s = 1.5;

static const double attack_most_rad = 25.0 * UNITS_RAD_PER_DEG;

static double seconds(int64_t ns)
{
    return (double)ns * 1e-9;
}

void path_init(struct flight_path *path)
{
    memset(path, 0, sizeof *path);
    for (int i = 0; i < FLIGHT_PATH_READINGS; i++)
        path->reading[i].roughness = roughness_most[i];
}

void path_rest(struct flight_path *path)
{
    for (int i = 0; i < FLIGHT_PATH_READINGS; i++) {
        fit_reset(&path->reading[i].fit);
        path->reading[i].count = 0;
    }
    path->summed = false;
}

/* How far the value before lies off the line between its neighbours. */
static double off_line(const struct flight_reading *reading, int64_t t_ns,
                       double value)
{
    double span_s = seconds(t_ns - reading->t_ns[1]);
    double part;

    if (reading->count < 2 || span_s <= 0.0)
        return 0.0;
    part = seconds(reading->t_ns[0] - reading->t_ns[1]) / span_s;
    return fabs(reading->value[0] - reading->value[1] -
                part * (value - reading->value[1]));
}

static void follow_roughness(struct flight_reading *reading, int64_t t_ns,
                             double value, double most)
{
    double off = fmin(most, off_line(reading, t_ns, value));

    if (reading->count > 0 && value != reading->value[0])
        reading->roughness /=
            1.0 + seconds(t_ns - reading->t_ns[0]) / roughness_fades_s;
    reading->roughness = fmax(reading->roughness, off);
    reading->value[1] = reading->value[0];
    reading->t_ns[1] = reading->t_ns[0];
    reading->value[0] = value;
    reading->t_ns[0] = t_ns;
    if (reading->count < 2)
        reading->count++;
}

/* How long the roughness of each must be averaged so that no more than
 * accel_left_mps2 is left of it: a step of twice the roughness makes a first
 * rate of step / memory, a second of about a third of step / memory^2. */
static void choose_memories(struct flight_path *path, double least_s)
{
    struct flight_reading *reading = path->reading;
    double per_accel = 2.0 / accel_left_mps2;
    /* Speed counts by the sine of pitch and of the angle of attack. */
    double wanted_s[FLIGHT_PATH_READINGS] = {
        [PATH_CAS] = per_accel * 0.4 * reading[PATH_CAS].roughness,
        [PATH_ALTITUDE] =
            sqrt(per_accel / 3.0 * reading[PATH_ALTITUDE].roughness),
        [PATH_CLIMB] = per_accel * reading[PATH_CLIMB].roughness};

    for (int i = 0; i < FLIGHT_PATH_READINGS; i++)
        reading[i].memory_s = fmax(least_s, fmin(memory_most_s, wanted_s[i]));
}

/* value: as it was read. fitted: what of it is fitted. */
static void take(struct flight_path *path, enum path_reading which,
                 int64_t t_ns, double value, double fitted)
{
    struct flight_reading *reading = &path->reading[which];
    double dt_s = reading->count > 0 ? seconds(t_ns - reading->t_ns[0]) : 0.0;

    if (dt_s > reading_age_s) {
        fit_reset(&reading->fit);
        reading->count = 0;
        dt_s = 0.0;
    }
    follow_roughness(reading, t_ns, value, roughness_most[which]);
    fit_add(&reading->fit, dt_s, exp(-dt_s / reading->memory_s), fitted);
}

/* Let the path follow the pitch, and sum up what it climbs. The angle of
 * attack at a load factor n is lift_range_rad n (Vs / V)^2. */
static void follow_pitch(struct flight_path *path,
                         const struct flight_state *now, double pitch_rad,
                         double stall_mps)
{
    double dt_s = seconds(now->t_ns - path->summed_ns);
    double sin_followed;
    double climb_mps;

    path->lag_s =
        fmax(lag_least_s,
             fmin(lag_most_s, lift_range_rad * stall_mps * stall_mps /
                                  (UNITS_G0_MPS2 * fmax(now->tas_mps, 1.0))));
    if (!path->summed || dt_s > reading_age_s) {
        path->followed_rad = pitch_rad;
        dt_s = 0.0;
    }
    path->followed_rad += (pitch_rad - path->followed_rad) *
                          fmin(1.0, dt_s / (path->lag_s + 0.5 * dt_s));
    path->behind_rad = pitch_rad - path->followed_rad;
    sin_followed = sin(path->followed_rad);
    climb_mps = now->tas_mps * sin_followed;
    if (path->summed)
        path->summed_m += 0.5 * (path->climb_mps + climb_mps) * dt_s;
    path->climb_mps = climb_mps;
    path->sin_followed = sin_followed;
    path->summed_ns = now->t_ns;
    path->summed = true;
}

void path_follow(struct flight_path *path, const struct intake_sample *sample,
                 const struct flight_state *now, double stall_mps,
                 double least_memory_s)
{
    if (!(now->known & FLIGHT_PITCH) || isnan(now->tas_mps))
        return;
    follow_pitch(path, now, sample->value[CHANNEL_PITCH], stall_mps);
    choose_memories(path, least_memory_s);
    if (sample->fresh & CHANNEL_BIT(CHANNEL_AIRSPEED))
        take(path, PATH_CAS, now->t_ns, sample->value[CHANNEL_AIRSPEED],
             sample->value[CHANNEL_AIRSPEED]);
    else if (!(sample->valid & CHANNEL_BIT(CHANNEL_AIRSPEED)))
        take(path, PATH_CAS, now->t_ns, now->cas.value, now->cas.value);
    if (sample->fresh & CHANNEL_BIT(CHANNEL_VERTICAL_SPEED)) {
        double told_mps = sample->value[CHANNEL_VERTICAL_SPEED];

        take(path, PATH_CLIMB, now->t_ns, told_mps, told_mps - path->climb_mps);
    }
    if (sample->fresh & CHANNEL_BIT(CHANNEL_ALTITUDE)) {
        double told_m = sample->value[CHANNEL_ALTITUDE];

        take(path, PATH_ALTITUDE, now->t_ns, told_m, told_m - path->summed_m);
    }
}

static bool trend_of(const struct flight_path *path, enum path_reading which,
                     int64_t t_ns, struct flight_trend *out)
{
    const struct flight_reading *reading = &path->reading[which];

    if (reading->count == 0 || seconds(t_ns - reading->t_ns[0]) > reading_age_s)
        return false;
    fit_trend(&reading->fit, reading->memory_s, out);
    return true;
}

bool path_look(const struct flight_path *path, const struct flight_state *now,
               struct path_view *out)
{
    struct flight_trend cas;
    struct flight_trend beyond;
    double sin_path;
    double climb_mps2;

    if (!path->summed || !trend_of(path, PATH_CAS, now->t_ns, &cas) ||
        !(now->tas_mps > 1.0) || !(now->cas.value > 1.0))
        return false;
    /* A vertical speed that is sent is better than one from altitudes. */
    if (trend_of(path, PATH_CLIMB, now->t_ns, &beyond)) {
        beyond.accel = beyond.rate;
        beyond.rate = beyond.value;
    } else if (!trend_of(path, PATH_ALTITUDE, now->t_ns, &beyond)) {
        return false;
    }
    out->tas_rate_mps2 = cas.rate * now->tas_mps / now->cas.value;
    sin_path = path->sin_followed + beyond.rate / now->tas_mps;
    sin_path = fmax(-1.0, fmin(1.0, sin_path));
    out->path_rad = asin(sin_path);
    out->sin_path = sin_path;
    out->cos_path = sqrt(1.0 - sin_path * sin_path);
    climb_mps2 =
        beyond.accel + out->tas_rate_mps2 * path->sin_followed +
        now->tas_mps * cos(path->followed_rad) * path->behind_rad / path->lag_s;
    out->path_rate_radps = (climb_mps2 - sin_path * out->tas_rate_mps2) /
                           (now->tas_mps * fmax(out->cos_path, 0.1));
    return true;
}

/* Across the path (V dgamma/dt / g + cos gamma) / cos bank, along it sin gamma
 * + dV/dt / g, turned by the angle of attack that pitch and path leave between
 * them. Any flight mechanics text; what the propeller lifts near the stall
 * would count as lift without the turn. */
double path_load_factor(const struct path_view *view,
                        const struct flight_state *now)
{
    double cos_bank = fmax(cos(now->bank.value), 0.2);
    double across = (now->tas_mps * view->path_rate_radps / UNITS_G0_MPS2 +
                     view->cos_path) /
                    cos_bank;
    double along = view->sin_path + view->tas_rate_mps2 / UNITS_G0_MPS2;
    double attack_rad = (now->pitch.value - view->path_rad) / cos_bank;

    attack_rad = fmax(-attack_most_rad, fmin(attack_most_rad, attack_rad));
    return fmax(0.0, across * cos(attack_rad) - along * sin(attack_rad));
}
