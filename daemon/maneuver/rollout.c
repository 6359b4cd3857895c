/* rollout.c - advice on the rate of the roll-out.
 *
 * The bank is to come off at a constant rate so that the wings are level at
 * 180 degrees (FAA-S-ACS-7B, task V.C). From the present bank and the rate at
 * which it comes off follows where the turn would end. That is the second half
 * of the ideal line (performance.h) laid through the present moment: a rate
 * constant in time, the speed falling, the turn as fast as it is measured to
 * be. Who is on the line is predicted to end on 180, and who is off it by how
 * much that will cost.
 *
 * A hand that wobbles makes a good rate look wrong for a while. So the hand is
 * measured too, from the bank set on, and advice is given only when the turn
 * would end too far off whatever part of the rate is wobble: to a steady hand
 * at once, to an unsteady one when the bank has come off for long enough to
 * tell. */
#include <math.h>

#include "machine.h"

/* Ours: where advice can still help, how often it is worked out, how long an
 * error must last, and the pause between two advices. */
static const double from_turn_rad = 100.0 * UNITS_RAD_PER_DEG;
static const double until_turn_rad = 165.0 * UNITS_RAD_PER_DEG;
static const double from_s = 2.0;
static const int64_t every_ns = UNITS_NS_PER_S / 10;
static const double hold_s = 2.0;
static const double again_s = 8.0;
static const double least_bank_rad = 4.0 * UNITS_RAD_PER_DEG;
/* Ours, as are the next: chosen on rehearsed flights and judged on others
 * (tests/replay/test_advice.c). The wobble is what the bank strays from a line
 * through its last seconds; the end of the roll-in is not part of it, and so
 * little is none. */
static const double settle_s = 1.5;
static const double hand_memory_s = 3.0;
static const double hand_begin_s = 0.3;
static const double no_wobble_rad = 0.04 * UNITS_RAD_PER_DEG;
/* For how long a hand strays to one side, and how many standard deviations of
 * the rate its wobble may make. */
static const double stray_s = 1.5;
static const double doubt = 3.0;
/* The roll-out begins where the bank is less by so much, and by the wobble;
 * the rate is that of the last few seconds. */
static const double begun_rad = 1.0 * UNITS_RAD_PER_DEG;
static const double roll_memory_s = 5.0;
static const double roll_begin_s = 0.5;
static const double least_roll_s = 0.5;
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

/* ---- the hand ----------------------------------------------------------- */

static void follow_hand(struct step *step, double bank_rad)
{
    struct maneuver_rollout *rollout = &step->maneuver->attempt.rollout;
    double dt_s = step_seconds(step);
    struct line_view view;

    if (rollout->settled_s < settle_s) {
        rollout->settled_s += dt_s;
        line_begin(&rollout->hand, bank_rad, hand_begin_s);
        return;
    }
    line_add(&rollout->hand, dt_s, hand_memory_s, bank_rad);
    rollout->hand_s += dt_s;
    if (rollout->hand_s < hand_memory_s)
        return;
    line_look(&rollout->hand, &view);
    rollout->wobble_sum += dt_s * view.off_square;
    rollout->wobble_s += dt_s;
}

/* How far the bank strays, root mean square. Not before it was measured. */
static double wobble_rad(const struct maneuver_rollout *rollout)
{
    return fmax(0.0,
                sqrt(rollout->wobble_sum / rollout->wobble_s) - no_wobble_rad);
}

/* ---- the roll-out ------------------------------------------------------- */

static void follow_roll(struct step *step, double bank_rad)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    struct maneuver_rollout *rollout = &attempt->rollout;

    if (rollout->from_ns < attempt->ninety_ns) {
        struct line_view view;

        line_look(&rollout->hand, &view);
        rollout->held_rad = view.end;
        rollout->from_ns = attempt->ninety_ns;
    }
    if (bank_rad > rollout->held_rad - begun_rad - wobble_rad(rollout)) {
        rollout->from_ns = step->now->t_ns;
        rollout->hand_s = 0.0;
        line_begin(&rollout->hand, bank_rad, hand_begin_s);
        line_begin(&rollout->roll, bank_rad, roll_begin_s);
    } else {
        line_add(&rollout->roll, step_seconds(step), roll_memory_s, bank_rad);
    }
}

void rollout_follow(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    double bank_rad = attempt->direction * step->now->bank.value;

    if (!attempt->bank_set || isnan(step->now->tas_mps))
        return;
    follow_hand(step, bank_rad);
    if (attempt->phase == PHASE_SECOND_HALF && attempt->rollout.wobble_s > 0.0)
        follow_roll(step, bank_rad);
}

/* ---- where it would end ------------------------------------------------- */

/* The roll-out as it is seen, and how far its rate can be otherwise. */
struct roll {
    double bank_rad;
    double rate_radps;
    double doubt_radps;
};

static void look_at_roll(const struct maneuver_attempt *attempt,
                         const struct flight_state *now, struct roll *out)
{
    const struct maneuver_rollout *rollout = &attempt->rollout;
    double off_rad = wobble_rad(rollout);
    struct line_view view;

    if (seconds_since(now, rollout->from_ns) < least_roll_s) {
        /* Not begun: what came off until now can be hidden in the wobble. */
        out->bank_rad = attempt->direction * now->bank.value;
        out->rate_radps = 0.0;
        out->doubt_radps = (begun_rad + (1.0 + doubt) * off_rad) /
                           seconds_since(now, attempt->ninety_ns);
        return;
    }
    /* The slope of a line through values that stray together for stray_s to
     * either side. */
    line_look(&rollout->roll, &view);
    out->bank_rad = view.end;
    out->rate_radps = -view.slope;
    out->doubt_radps =
        doubt * off_rad * sqrt(2.0 * stray_s / fmax(view.spread_s3, 1e-3));
}

static double predicted_error_rad(const struct maneuver *maneuver,
                                  const struct flight_state *now,
                                  double bank_rad, double rate_radps)
{
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    double level_radps = flight_turn_rate_radps(
        attempt->direction * now->bank.value, now->tas_mps);
    double factor = attempt->direction * now->heading.rate / level_radps;
    double ratio = now->cas.value > 1.0 ? now->tas_mps / now->cas.value : 1.0;
    double slowing_mps2;
    double to_go_rad;

    factor = fmax(0.8, fmin(1.3, factor));
    rate_radps = fmax(rate_radps, least_roll_radps);
    slowing_mps2 = now->cas.rate * ratio * even_share(bank_rad / rate_radps);
    to_go_rad = flight_rollout_heading_rad(
        bank_rad, rate_radps, now->tas_mps, slowing_mps2,
        maneuver->aircraft.stall_speed_mps * ratio, factor);
    return fmin(attempt->turn_rad + to_go_rad - UNITS_PI, most_error_rad);
}

/* Returns: the advice that holds in spite of the wobble: +1 faster, -1 slower,
 * 0 none. */
static int advice_now(struct maneuver *maneuver, const struct flight_state *now)
{
    struct maneuver_attempt *attempt = &maneuver->attempt;
    double limit_rad = maneuver->standard.advice_error_rad;
    struct roll roll;

    look_at_roll(attempt, now, &roll);
    attempt->advice_error_rad =
        predicted_error_rad(maneuver, now, roll.bank_rad, roll.rate_radps);
    if (predicted_error_rad(maneuver, now, roll.bank_rad,
                            roll.rate_radps + roll.doubt_radps) > limit_rad)
        return 1;
    if (predicted_error_rad(maneuver, now, roll.bank_rad,
                            roll.rate_radps - roll.doubt_radps) < -limit_rad)
        return -1;
    return 0;
}

void rollout_advise(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *now = step->now;
    double fraction;
    int sign;

    if (seconds_since(now, attempt->ninety_ns) < from_s ||
        attempt->summary.stalled || attempt->rollout.wobble_s <= 0.0 ||
        attempt->turn_rad < from_turn_rad ||
        attempt->turn_rad > until_turn_rad || isnan(now->tas_mps) ||
        attempt->direction * now->bank.value < least_bank_rad) {
        attempt->advice.active = attempt->advice.fired = false;
        return;
    }
    if (now->t_ns < attempt->advice_due_ns)
        return;
    /* Counted from the 90-degree point: the same moments at every rate. */
    attempt->advice_due_ns =
        now->t_ns + every_ns - (now->t_ns - attempt->ninety_ns) % every_ns;
    sign = advice_now(maneuver, now);
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
