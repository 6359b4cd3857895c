/* check_flight.c - flights made for finding layouts out.
 *
 * The airplane flies coordinated: its path turns at g n sin(mu) / (V cos g),
 * its nose stands above the path by the angle of attack, in the plane of lift.
 * Lift that grows evenly with the angle of attack. Any text on flight
 * mechanics; the numbers of the airplane are made up. */
#include "check_flight.h"

#include <math.h>
#include <string.h>

#include "quarterturn/flight.h"

#define DEG UNITS_RAD_PER_DEG

/* Evenly spread, mean 0, standard deviation 1. */
static double noise(struct check_airplane *a)
{
    a->random = a->random * 1664525U + 1013904223U;
    return (a->random / 4294967296.0 - 0.5) * sqrt(12.0);
}

/* Noise that keeps its standard deviation at any step. */
static double wander(struct check_airplane *a, double now, double deviation,
                     double time_s, double step_s)
{
    double kept = exp(-step_s / time_s);

    return now * kept + deviation * sqrt(1.0 - kept * kept) * noise(a);
}

static double toward(double now, double wanted, double most)
{
    return now + fmax(-most, fmin(most, wanted - now));
}

void check_airplane_init(struct check_airplane *airplane,
                         const struct check_flight *flight)
{
    memset(airplane, 0, sizeof *airplane);
    airplane->flight = *flight;
    airplane->random = flight->seed;
    airplane->altitude_m = flight->altitude_m;
    airplane->tas_mps =
        flight_true_airspeed_mps(flight->airspeed_mps, flight->altitude_m);
    airplane->track_rad = 200.0 * DEG;
}

/* A quarter of the speed is given away in a climb, then it is held. */
static double climb_wanted(const struct check_airplane *a, enum check_leg leg)
{
    double cas = flight_calibrated_airspeed_mps(a->tas_mps, a->altitude_m);

    if (leg != CHECK_CLIMB && leg != CHECK_CLIMB_LEFT)
        return 0.02 * (a->flight.altitude_m - a->altitude_m) / 30.0;
    return 10.0 * DEG *
           fmax(0.0, fmin(1.0, (cas / a->flight.airspeed_mps - 0.70) / 0.08));
}

static double bank_wanted(const struct check_airplane *a, enum check_leg leg)
{
    switch (leg) {
    case CHECK_LEFT:
    case CHECK_CLIMB_LEFT: return -a->flight.bank_rad;
    case CHECK_RIGHT: return a->flight.bank_rad;
    default: return 0.0;
    }
}

void check_airplane_step(struct check_airplane *a, enum check_leg leg,
                         double step_s)
{
    double climb =
        toward(a->climb_rad, climb_wanted(a, leg), 2.5 * DEG * step_s);
    double mu;
    double pull = a->tas_mps * (climb - a->climb_rad) / step_s;
    double cas;

    a->bank_rad = toward(a->bank_rad, bank_wanted(a, leg), 12.0 * DEG * step_s);
    a->wobble_rad = wander(a, a->wobble_rad, a->flight.wobble_rad, 1.5, step_s);
    a->gust_up_mps = wander(a, a->gust_up_mps, a->flight.gust_mps, 2.0, step_s);
    a->gust_along_mps =
        wander(a, a->gust_along_mps, a->flight.gust_mps, 2.0, step_s);
    mu = a->bank_rad + a->wobble_rad;
    a->climb_rad = climb;
    a->track_rad += (UNITS_G0_MPS2 * cos(climb) + pull) * tan(mu) /
                    (a->tas_mps * cos(climb)) * step_s;
    a->altitude_m += (a->tas_mps * sin(climb) + a->gust_up_mps) * step_s;
    /* Power follows the speed that is wanted, slowly; climbing costs. */
    cas = flight_calibrated_airspeed_mps(a->tas_mps, a->altitude_m);
    a->power_mps2 = climb > 1.0 * DEG ? 0.35 * UNITS_G0_MPS2 * sin(climb)
                                      : 0.08 * (a->flight.airspeed_mps - cas);
    a->tas_mps += (a->power_mps2 - UNITS_G0_MPS2 * sin(climb)) * step_s;
    a->t_s += step_s;
}

/* Nose and right wing, north-east-down, from path, lift and angle of attack.
 */
static void attitude_of(const struct check_airplane *a, double attack,
                        struct intake_sample *out)
{
    double mu = a->bank_rad + a->wobble_rad;
    double cg = cos(a->climb_rad);
    double sg = sin(a->climb_rad);
    double cx = cos(a->track_rad);
    double sx = sin(a->track_rad);
    double ahead[3] = {cg * cx, cg * sx, -sg};
    double belly[3] = {sin(mu) * sx + cos(mu) * sg * cx,
                       -sin(mu) * cx + cos(mu) * sg * sx, cos(mu) * cg};
    double right_down = sin(mu) * cg;
    double nose[3];

    for (int i = 0; i < 3; i++)
        nose[i] = cos(attack) * ahead[i] - sin(attack) * belly[i];
    out->value[CHANNEL_HEADING] = angle_wrap_circle(atan2(nose[1], nose[0]));
    out->value[CHANNEL_PITCH] = asin(-nose[2]);
    out->value[CHANNEL_BANK] =
        atan2(right_down, sin(attack) * ahead[2] + cos(attack) * belly[2]);
}

void check_airplane_tell(struct check_airplane *a, struct intake_sample *out)
{
    double air_mps = a->tas_mps + a->gust_along_mps;
    double cas = flight_calibrated_airspeed_mps(air_mps, a->altitude_m);
    double load = cos(a->climb_rad) / cos(a->bank_rad + a->wobble_rad);
    double slow = a->flight.airspeed_mps / cas;
    double attack = (-2.0 + 5.5 * load * slow * slow) * DEG;

    memset(out, 0, sizeof *out);
    attitude_of(a, attack, out);
    out->value[CHANNEL_HEADING] += a->flight.reading_rad * noise(a);
    out->value[CHANNEL_PITCH] += a->flight.reading_rad * noise(a);
    out->value[CHANNEL_BANK] += a->flight.reading_rad * noise(a);
    out->value[CHANNEL_SIM_TIME] = 300.0 + a->t_s;
    out->value[CHANNEL_AIRSPEED] = cas;
    out->value[CHANNEL_TRUE_AIRSPEED] = air_mps;
    out->value[CHANNEL_ALTITUDE] = a->altitude_m;
    out->value[CHANNEL_HEIGHT] = a->altitude_m - 180.0;
    out->value[CHANNEL_VERTICAL_SPEED] =
        a->tas_mps * sin(a->climb_rad) + a->gust_up_mps;
    out->value[CHANNEL_LOAD_FACTOR] = load;
    out->value[CHANNEL_ANGLE_OF_ATTACK] = attack;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (out->value[i] != 0.0)
            out->valid |= CHANNEL_BIT(i);
    }
    out->valid |= CHANNELS_REQUIRED | CHANNEL_BIT(CHANNEL_VERTICAL_SPEED);
    out->fresh = out->valid;
    out->t_ns = (int64_t)llround(a->t_s * 1e9);
}

/* Turns go through 110 degrees, whatever the speed. */
static double leg_s(const struct check_airplane *a, int leg)
{
    double turn_s =
        110.0 * DEG / flight_turn_rate_radps(a->flight.bank_rad, a->tas_mps);

    switch (leg) {
    case CHECK_STRAIGHT: return 12.0;
    case CHECK_LEFT:
    case CHECK_RIGHT: return turn_s + 5.0;
    case CHECK_CLIMB: return 25.0;
    default: return 20.0;
    }
}

void check_flight_fly(const struct check_flight *flight, double rate_hz,
                      struct stream *out)
{
    struct check_airplane airplane;
    double step_s = 1.0 / fmax(rate_hz, 20.0);
    double next_s = 0.0;

    memset(out, 0, sizeof *out);
    check_airplane_init(&airplane, flight);
    for (int leg = 0; leg < CHECK_LEGS; leg++) {
        double end_s = airplane.t_s + leg_s(&airplane, leg);

        while (airplane.t_s < end_s) {
            if (airplane.t_s >= next_s - 1e-9) {
                struct stream_packet packet;

                check_airplane_tell(&airplane, &packet.sample);
                packet.arrival_ns = packet.sample.t_ns;
                stream_append(out, &packet);
                next_s += 1.0 / rate_hz;
            }
            check_airplane_step(&airplane, (enum check_leg)leg, step_s);
        }
    }
}
