/* attempt.c - what is watched in every attempt, and how one ends. */
#include <math.h>

#include "machine.h"

/* Ours: long enough that a single wild sample is no stall and no skid. */
static const double stall_hold_s = 0.15;
/* A load factor that was not sent is made up of readings and their noise. */
static const double stall_derived_hold_s = 0.5;
static const double ball_hold_s = 1.0;
static const double certain_s = 1.0;
/* A stall is over when this much is back. */
static const double stall_over_mps = 2.0 * UNITS_MPS_PER_KT;
static const double stall_over_rad = 1.0 * UNITS_RAD_PER_DEG;

static int band_of_margin(const struct maneuver_standard *standard, int band,
                          double margin_mps)
{
    int inner = 0;

    for (int i = 0; i < 3; i++) {
        double edge_mps = standard->stall_band_mps[i];

        /* Leaving a band takes a little more than entering it. */
        if (band > i)
            edge_mps += standard->stall_hysteresis_mps;
        if (margin_mps < edge_mps)
            inner = i + 1;
    }
    return inner;
}

static void watch_band(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct maneuver_standard *standard = &maneuver->standard;
    double before_mps = step->before->stall_margin_mps;
    double now_mps = step->now->stall_margin_mps;
    double fraction = 1.0;
    int band;

    if (!(step->now->known & FLIGHT_MARGIN))
        return;
    if (!(now_mps >= attempt->summary.least_margin_mps))
        attempt->summary.least_margin_mps = now_mps;
    band = band_of_margin(standard, attempt->band, now_mps);
    /* The simulator's own warning sounds with some margin left (common
     * practice, no source: 5 to 10 kt), so it is at least the first band. */
    if (step->now->stall_warning && band == 0)
        band = 1;
    if (band == attempt->band)
        return;
    if (band > attempt->band && !step->now->stall_warning)
        fraction = crossing_fraction(before_mps, now_mps,
                                     standard->stall_band_mps[band - 1]);
    attempt->band = band;
    emit(step, EVENT_NEAR_STALL, fraction)->band = band;
}

static bool stalled_now(const struct maneuver *maneuver,
                        const struct flight_state *state)
{
    double stall_rad = maneuver->aircraft.stall_angle_of_attack_rad;
    bool active = maneuver->attempt.stall.active;

    /* A stall is over only when there is a margin again that does not come
     * from the nose falling through. */
    if (active && state->stall_margin_mps < stall_over_mps)
        return true;
    if ((state->known & FLIGHT_ANGLE_OF_ATTACK) && !isnan(stall_rad))
        return state->angle_of_attack_rad >
               stall_rad - (active ? stall_over_rad : 0.0);
    if (!(state->known & FLIGHT_MARGIN))
        return false;
    /* At the stall the wing gives all the lift it can, so the load factor it
     * still makes tells the speed: below the stall speed for that, it has
     * stalled. */
    return state->stall_excess_mps < 0.0;
}

/* How long a stall must last to be one. */
static double hold_of_stall_s(const struct maneuver *maneuver,
                              const struct flight_state *state)
{
    bool measured = (state->known & FLIGHT_LOAD_MEASURED) ||
                    ((state->known & FLIGHT_ANGLE_OF_ATTACK) &&
                     !isnan(maneuver->aircraft.stall_angle_of_attack_rad));

    return measured ? stall_hold_s : stall_derived_hold_s;
}

void attempt_watch_stall(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    bool stalled = stalled_now(step->maneuver, step->now);
    double hold_s = hold_of_stall_s(step->maneuver, step->now);
    double fraction;

    watch_band(step);
    if (lasting(&attempt->stall, step, stalled, hold_s, &fraction)) {
        attempt->summary.stalled = true;
        emit(step, EVENT_STALL, fraction);
    }
    if (stalled)
        attempt->summary.stalled_s += step_seconds(step);
}

void attempt_watch_ball(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *now = step->now;
    double fraction;
    bool out;
    int side;

    /* Specific force toward the right wing drives the ball to the left; wind
     * from the right, on an airplane that sideslips, to the right. */
    if (now->known & FLIGHT_LATERAL_G) {
        out = fabs(now->lateral_g) > maneuver->standard.ball_tolerance_g;
        side = now->lateral_g > 0.0 ? -1 : 1;
    } else if (now->known & FLIGHT_SIDESLIP) {
        out = fabs(now->sideslip_rad) > maneuver->standard.slip_tolerance_rad;
        side = now->sideslip_rad > 0.0 ? 1 : -1;
    } else {
        return;
    }
    if (isnan(attempt->summary.ball_out_s))
        attempt->summary.ball_out_s = 0.0;
    if (out)
        attempt->summary.ball_out_s += step_seconds(step);
    attempt->ball_side = side;
    if (lasting(&attempt->ball, step, out, ball_hold_s, &fraction))
        emit(step, EVENT_BALL, fraction)->side = side;
}

bool attempt_is_certain(const struct maneuver *maneuver)
{
    int64_t seen_ns = maneuver->last.t_ns - maneuver->attempt.recognized_ns;

    return (double)seen_ns * 1e-9 >= certain_s;
}

void attempt_abandon(struct step *step, enum maneuver_reason reason)
{
    if (step->maneuver->attempt.summary.stalled &&
        attempt_is_certain(step->maneuver))
        reason = REASON_STALLED;
    emit(step, EVENT_ABANDONED, 1.0)->reason = reason;
    step->maneuver->in_attempt = false;
    setup_reset(step->maneuver);
}

static void attempt_finish(struct step *step)
{
    emit(step, EVENT_FINISHED, 1.0);
    step->maneuver->in_attempt = false;
    setup_reset(step->maneuver);
}

/* What is not told any more cannot hold an attempt open. */
static bool is_clear_of_the_stall(const struct step *step)
{
    const struct maneuver_attempt *attempt = &step->maneuver->attempt;
    uint32_t known = step->now->known;

    if (step->now->on_ground)
        return true;
    if ((known & FLIGHT_MARGIN) && attempt->band > 0)
        return false;
    return !attempt->stall.active ||
           (known & (FLIGHT_MARGIN | FLIGHT_ANGLE_OF_ATTACK)) == 0;
}

/* A warning lasts until what it warns of is over: MIL-STD-411F, 5.3.6. A tone
 * that fell silent with the attempt would say that all is well again. */
static void conclude(struct step *step)
{
    enum maneuver_reason reason = step->maneuver->attempt.end_reason;

    if (attempt_is_certain(step->maneuver) && !is_clear_of_the_stall(step))
        return;
    if (reason == REASON_NONE)
        attempt_finish(step);
    else
        attempt_abandon(step, reason);
}

void attempt_end(struct step *step, enum maneuver_reason reason)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;

    attempt->ending = true;
    attempt->end_reason = reason;
    attempt->level_pending = false;
    conclude(step);
}

void attempt_follow_end(struct step *step)
{
    attempt_watch_stall(step);
    conclude(step);
}
