/* rollout.c - advice on the rate of the roll-out.
 *
 * The bank is to come off at a constant rate so that the wings are level at
 * 180 degrees (FAA-S-ACS-7B, task V.C). From the present bank and the rate at
 * which it comes off follows where the turn would end. That is the second half
 * of the ideal line (performance.h) laid through the present moment: a rate
 * constant in time, the speed falling, the turn as fast as it is measured to
 * be. Who is on the line is predicted to end on 180, and who is off it by how
 * much that will cost. */
#include <math.h>

#include "machine.h"

/* Ours: where advice can still help, how often it is worked out, how long an
 * error must last, and the pause between two advices. */
static const double from_turn_rad = 100.0 * UNITS_RAD_PER_DEG;
static const double until_turn_rad = 165.0 * UNITS_RAD_PER_DEG;
static const double from_s = 2.0;
static const int64_t every_ns = UNITS_NS_PER_S / 5;
static const double hold_s = 2.0;
static const double again_s = 8.0;
static const double least_bank_rad = 4.0 * UNITS_RAD_PER_DEG;
/* Half of the roll rate that counts is that of the last few seconds, half
 * the mean since the bank began to come off: a hand that wobbles gets no advice
 * for it, nor one that begins late but then as fast as it takes. */
static const double smooth_s = 3.0;
static const double least_smooth_s = 0.5;
static const double begun_rad = 1.0 * UNITS_RAD_PER_DEG;
static const double least_roll_radps = 0.1 * UNITS_RAD_PER_DEG;
/* Speed falls ever less with the pitch held: the slower, the more angle of
 * attack, the flatter the climb, the more thrust for the power. Ours: in
 * rehearsed flights of both airplanes that come with the program the fall fades
 * to 1/e in 8 to 11 s. */
static const double fade_s = 9.0;
/* Speed keeps falling during the roll-out, but not below the stall. */
static const double most_error_rad = UNITS_PI;

/* The even fall of speed that turns as far as one that fades: the heading to
 * go weighs a loss of speed with the bank, so with the time left. */
static double even_share(double total_s)
{
    double x = total_s / fade_s;

    if (x < 0.01)
        return 1.0;
    return 3.0 / x * (1.0 - 2.0 * (x - 1.0 + exp(-x)) / (x * x));
}

static double seconds_since(const struct flight_state *now, int64_t t_ns)
{
    return (double)(now->t_ns - t_ns) * 1e-9;
}

/* How fast the bank comes off. */
static void follow_roll(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    const struct flight_state *now = step->now;
    double bank_rad = attempt->direction * now->bank.value;
    double over_s;

    if (attempt->roll_from_ns < attempt->ninety_ns ||
        bank_rad > attempt->ninety_bank_rad - begun_rad) {
        attempt->roll_from_ns = now->t_ns;
        attempt->roll_from_rad = bank_rad;
    }
    over_s = fmax(least_smooth_s,
                  fmin(smooth_s, seconds_since(now, attempt->roll_from_ns)));
    attempt->roll_rate_radps +=
        (1.0 - exp(-step_seconds(step) / over_s)) *
        (-attempt->direction * now->bank.rate - attempt->roll_rate_radps);
}

static double roll_rate_radps(const struct maneuver_attempt *attempt,
                              const struct flight_state *now)
{
    double since_s = seconds_since(now, attempt->roll_from_ns);
    double bank_rad = attempt->direction * now->bank.value;
    double rate_radps = attempt->roll_rate_radps;

    if (since_s > least_smooth_s)
        rate_radps =
            (rate_radps + (attempt->roll_from_rad - bank_rad) / since_s) / 2.0;
    return fmax(rate_radps, least_roll_radps);
}

static double predicted_error_rad(const struct maneuver *maneuver,
                                  const struct flight_state *now)
{
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    double bank_rad = attempt->direction * now->bank.value;
    double level_radps = flight_turn_rate_radps(bank_rad, now->tas_mps);
    double factor = attempt->direction * now->heading.rate / level_radps;
    double ratio = now->cas.value > 1.0 ? now->tas_mps / now->cas.value : 1.0;
    double rate_radps = roll_rate_radps(attempt, now);
    double slowing_mps2 =
        now->cas.rate * ratio * even_share(bank_rad / rate_radps);
    double to_go_rad;

    factor = fmax(0.8, fmin(1.3, factor));
    to_go_rad = flight_rollout_heading_rad(
        bank_rad, rate_radps, now->tas_mps, slowing_mps2,
        maneuver->aircraft.stall_speed_mps * ratio, factor);
    return fmin(attempt->turn_rad + to_go_rad - UNITS_PI, most_error_rad);
}

void rollout_advise(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *now = step->now;
    double since_s = seconds_since(now, attempt->ninety_ns);
    double fraction;
    int sign = 0;

    follow_roll(step);
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
