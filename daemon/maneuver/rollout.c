/* rollout.c - advice on the rate of the roll-out.
 *
 * The bank is to come off at a constant rate so that the wings are level at
 * 180 degrees (FAA-S-ACS-7B, task V.C). From the present bank and the rate at
 * which it has come off so far follows where the turn would end. */
#include <math.h>

#include "machine.h"

/* Ours: where advice can still help, how often it is worked out, how long an
 * error must last, and the pause between two advices. */
static const double from_turn_rad = 105.0 * UNITS_RAD_PER_DEG;
static const double until_turn_rad = 165.0 * UNITS_RAD_PER_DEG;
static const double from_s = 3.0;
static const int64_t every_ns = UNITS_NS_PER_S / 5;
static const double hold_s = 2.0;
static const double again_s = 8.0;
static const double least_bank_rad = 4.0 * UNITS_RAD_PER_DEG;
/* Half of the roll rate that counts is that of the last few seconds, half
 * the mean since 90 degrees: a hand that wobbles gets no advice for it. */
static const double smooth_s = 3.0;
static const double least_roll_radps = 0.1 * UNITS_RAD_PER_DEG;
/* Speed keeps falling during the roll-out, but not below the stall. */
static const double most_error_rad = UNITS_PI;

static double predicted_error_rad(const struct maneuver *maneuver,
                                  const struct flight_state *now)
{
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    double bank_rad = attempt->direction * now->bank.value;
    double level_radps = flight_turn_rate_radps(bank_rad, now->tas_mps);
    double factor = attempt->direction * now->heading.rate / level_radps;
    double ratio = now->cas.value > 1.0 ? now->tas_mps / now->cas.value : 1.0;
    double since_s = (double)(now->t_ns - attempt->ninety_ns) * 1e-9;
    double mean_radps = (attempt->ninety_bank_rad - bank_rad) / since_s;
    double rate_radps =
        fmax((attempt->roll_rate_radps + mean_radps) / 2.0, least_roll_radps);
    double to_go_rad;

    factor = fmax(0.8, fmin(1.3, factor));
    to_go_rad = flight_rollout_heading_rad(
        bank_rad, rate_radps, now->tas_mps, now->cas.rate * ratio,
        maneuver->aircraft.stall_speed_mps * ratio, factor);
    return fmin(attempt->turn_rad + to_go_rad - UNITS_PI, most_error_rad);
}

void rollout_advise(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *now = step->now;
    double dt_s = step_seconds(step);
    double since_s = (double)(now->t_ns - attempt->ninety_ns) * 1e-9;
    double fraction;
    int sign = 0;

    attempt->roll_rate_radps +=
        (1.0 - exp(-dt_s / fmin(smooth_s, fmax(since_s, 0.1)))) *
        (-attempt->direction * now->bank.rate - attempt->roll_rate_radps);
    if (since_s < from_s || attempt->summary.stalled ||
        attempt->turn_rad < from_turn_rad ||
        attempt->turn_rad > until_turn_rad || isnan(now->tas_mps) ||
        attempt->direction * now->bank.value < least_bank_rad) {
        attempt->advice.active = attempt->advice.fired = false;
        return;
    }
    if (now->t_ns < attempt->advice_due_ns)
        return;
    attempt->advice_due_ns = now->t_ns + every_ns;
    attempt->advice_error_rad = predicted_error_rad(maneuver, now);
    if (fabs(attempt->advice_error_rad) > maneuver->standard.advice_error_rad)
        sign = attempt->advice_error_rad > 0.0 ? 1 : -1;
    if (sign != attempt->advice_sign)
        attempt->advice.active = attempt->advice.fired = false;
    attempt->advice_sign = sign;
    if (lasting(&attempt->advice, step, sign != 0, hold_s, &fraction)) {
        struct maneuver_event *event =
            emit(step, EVENT_ROLL_OUT_ADVICE, fraction);

        event->angle_rad = attempt->advice_error_rad;
        event->side = sign;
        /* Give the hand time to act on it. */
        attempt->advice_due_ns = now->t_ns + (int64_t)(again_s * 1e9);
        attempt->advice.active = attempt->advice.fired = false;
    }
}
