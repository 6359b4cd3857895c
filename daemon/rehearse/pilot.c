/* pilot.c - the hands and feet: how each phase is flown, and how it is flown
 * wrongly when that is asked for. All numbers are ours unless a line says
 * otherwise: what a calm hand does. */
#include "pilot.h"

#include <math.h>

static const double entry_bank_rad = 30.0 * UNITS_RAD_PER_DEG;
static const double roll_in_radps = 30.0 / 3.5 * UNITS_RAD_PER_DEG;
static const double quick_radps = 12.0 * UNITS_RAD_PER_DEG;
static const double pitch_most_radps = 5.0 * UNITS_RAD_PER_DEG;
static const double gain_per_s = 3.0; /* of the hand on bank and pitch */
static const double power_time_s = 1.5;
/* The last of the bank is not drawn out: from here it comes off at once. */
static const double last_bank_rad = 2.8 * UNITS_RAD_PER_DEG;
static const double held_high_s = 0.8; /* nose high after level, for a moment */
static const double over_the_top_m = 7.0; /* gained while the nose comes down */
static const double ease_below_mps = 1.5 * UNITS_MPS_PER_KT;
static const double ease_radps = 2.0 * UNITS_RAD_PER_DEG;
/* How far an unsteady hand strays, root mean square, and for how long. */
static const double stray_bank_rad = 1.1 * UNITS_RAD_PER_DEG;
static const double stray_pitch_rad = 0.4 * UNITS_RAD_PER_DEG;
static const double stray_s = 1.5;
/* Roll of a gust from the side, rad/s for each m/s. */
static const double gust_roll = 0.02;
/* Climb or sink while an altitude is held, and when it is let go. */
static const double climb_mps = 2.5;
static const double sink_mps = 6.0;
static const double foot_s = 0.4;
static const double after_s = 15.0; /* flown on after giving up */
static const double safe = 1.35; /* of the stall speed, to fly away from it */
static const double longest_s = 180.0; /* behind the lead-in */

static double limited(double value, double most)
{
    return fmax(-most, fmin(most, value));
}

static double size_of(const struct rehearse *rehearse,
                      enum rehearse_error error)
{
    return rehearse->plan.size[error];
}

static void enter(struct rehearse *rehearse, enum rehearse_phase phase)
{
    rehearse->phase = phase;
    rehearse->phase_s = 0.0;
}

/* ---- holding ------------------------------------------------------------ */

/* aim_rad and rate_radps in the direction of the turn; rate: that of the aim
 * itself. */
static void hold_bank(struct rehearse *rehearse, double aim_rad,
                      double rate_radps, double most_radps)
{
    int direction = rehearse->plan.direction;
    double off_rad = direction * aim_rad + rehearse->hand_bank_rad -
                     rehearse->state.bank_rad;

    rehearse->controls.bank_rate_radps =
        limited(direction * rate_radps + gain_per_s * off_rad, most_radps) +
        gust_roll * rehearse->gusts.side_mps;
}

static void hold_pitch(struct rehearse *rehearse, double aim_rad)
{
    double off_rad =
        aim_rad + rehearse->hand_pitch_rad - rehearse->state.pitch_rad;

    rehearse->controls.pitch_rate_radps =
        limited(gain_per_s * off_rad, pitch_most_radps);
}

/* The nose follows the path, and is let ahead of it to bend it. */
static void hold_altitude(struct rehearse *rehearse, double altitude_m,
                          double most_mps, double dt_s)
{
    const struct performance_state *state = &rehearse->state;
    double wanted_mps =
        limited(0.25 * (altitude_m - state->altitude_m), most_mps);
    double path_rate = (state->path_rad - rehearse->path_before_rad) / dt_s;

    rehearse->controls.pitch_rate_radps =
        limited(0.9 * (wanted_mps / state->tas_mps - state->path_rad) -
                    0.7 * path_rate + 0.5 * rehearse->hand_pitch_rad,
                pitch_most_radps);
}

/* Wings level on a heading. */
static void hold_heading(struct rehearse *rehearse, double most_radps)
{
    double off_rad = rehearse->turn_rad;

    hold_bank(rehearse, limited(-0.8 * off_rad, units_rad(3.0)), 0.0,
              most_radps);
}

/* ---- the foot ----------------------------------------------------------- */

/* A point mass has no yaw of its own: the ball is put where feet that sleep
 * would leave it, to the right under power, and against a roll for the drag
 * of the aileron that goes down. */
static void use_feet(struct rehearse *rehearse, double dt_s)
{
    double out_g = size_of(rehearse, REHEARSE_BALL);
    double with_power =
        rehearse->controls.power > rehearse->cruise_power ? 1.0 : 0.0;
    double wanted_g =
        -out_g *
        (with_power + 0.5 * rehearse->controls.bank_rate_radps / quick_radps);

    if (rehearse->phase < REHEARSE_FIRST_HALF ||
        rehearse->phase > REHEARSE_FINISH)
        wanted_g = 0.0;
    rehearse->controls.sideslip_rad +=
        (1.0 - exp(-dt_s / foot_s)) *
        (performance_sideslip_rad(&rehearse->model, &rehearse->state,
                                  wanted_g) -
         rehearse->controls.sideslip_rad);
}

/* ---- the phases --------------------------------------------------------- */

static double power_of(const struct rehearse *rehearse)
{
    double share = limited(rehearse->settled_s / power_time_s, 1.0);

    return rehearse->cruise_power + (1.0 - rehearse->cruise_power) * share;
}

static void fly_lead_in(struct rehearse *rehearse, double dt_s)
{
    hold_heading(rehearse, quick_radps);
    hold_altitude(rehearse, rehearse->plan.conditions.altitude_m, climb_mps,
                  dt_s);
    rehearse->controls.power = rehearse->cruise_power;
    if (rehearse->phase_s >= rehearse->plan.lead_in_s)
        enter(rehearse, REHEARSE_FIRST_HALF);
}

static double first_bank_rad(const struct rehearse *rehearse)
{
    double turned =
        limited(fmax(rehearse->turn_rad, 0.0) / (UNITS_PI / 2.0), 1.0);

    return entry_bank_rad - size_of(rehearse, REHEARSE_BANK_SHALLOW) +
           size_of(rehearse, REHEARSE_BANK_STEEP) +
           size_of(rehearse, REHEARSE_BANK_GROWING) * turned;
}

/* Pitch rises evenly with the turn to its highest at 90 degrees; in error
 * before or after. */
static double climb_pitch_rad(const struct rehearse *rehearse)
{
    double stall_rad = size_of(rehearse, REHEARSE_STALL);
    double full_rad = UNITS_PI / 2.0 - size_of(rehearse, REHEARSE_PITCH_EARLY) +
                      size_of(rehearse, REHEARSE_PITCH_LATE);
    double highest_rad = rehearse->highest_rad + stall_rad;

    if (stall_rad > 0.0)
        full_rad = units_rad(55.0);
    return rehearse->cruise_pitch_rad +
           (highest_rad - rehearse->cruise_pitch_rad) *
               limited(fmax(rehearse->turn_rad, 0.0) / full_rad, 1.0) -
           rehearse->eased_rad;
}

/* Nobody who means to finish flies it into the stall: what is planted may have
 * cost more speed than there was. */
static void ease_before_stall(struct rehearse *rehearse, double dt_s)
{
    if (rehearse->trying || size_of(rehearse, REHEARSE_STALL) > 0.0)
        return;
    if (truth_margin_mps(rehearse) < ease_below_mps)
        rehearse->eased_rad += ease_radps * dt_s;
}

static void fly_first_half(struct rehearse *rehearse, double dt_s)
{
    double before_rad = rehearse->bank_aim_rad;
    double begin_rad = UNITS_PI / 2.0 -
                       size_of(rehearse, REHEARSE_ROLL_OUT_EARLY) +
                       size_of(rehearse, REHEARSE_ROLL_OUT_LATE);
    double give_up_rad = size_of(rehearse, REHEARSE_ABANDON);

    rehearse->bank_aim_rad =
        fmin(before_rad + roll_in_radps * dt_s, first_bank_rad(rehearse));
    if (rehearse->bank_aim_rad - before_rad < 0.5 * roll_in_radps * dt_s)
        rehearse->settled_s += dt_s;
    hold_bank(rehearse, rehearse->bank_aim_rad,
              (rehearse->bank_aim_rad - before_rad) / dt_s, quick_radps);
    ease_before_stall(rehearse, dt_s);
    hold_pitch(rehearse, climb_pitch_rad(rehearse));
    rehearse->controls.power = power_of(rehearse);
    if (give_up_rad > 0.0 && rehearse->turn_rad > give_up_rad) {
        enter(rehearse, REHEARSE_GIVEN_UP);
    } else if (rehearse->turn_rad >= begin_rad) {
        enter(rehearse, REHEARSE_SECOND_HALF);
        rehearse->roll_from_rad = rehearse->bank_aim_rad;
    }
}

static void fly_second_half(struct rehearse *rehearse, double dt_s)
{
    double share =
        rehearse->phase_s * rehearse->roll_radps / rehearse->roll_from_rad;
    double before_rad = rehearse->bank_aim_rad;
    double sag_rad =
        size_of(rehearse, REHEARSE_PITCH_SAG) * limited(share, 1.0);
    double give_up_rad = size_of(rehearse, REHEARSE_ABANDON);

    rehearse->settled_s += dt_s;
    /* In error: first too fast, then too slow. */
    rehearse->bank_aim_rad = rehearse->roll_from_rad * (1.0 - share) -
                             size_of(rehearse, REHEARSE_ROLL_OUT_UNEVEN) *
                                 sin(2.0 * UNITS_PI * share);
    hold_bank(rehearse, rehearse->bank_aim_rad,
              (rehearse->bank_aim_rad - before_rad) / dt_s, quick_radps);
    ease_before_stall(rehearse, dt_s);
    hold_pitch(rehearse, climb_pitch_rad(rehearse) - sag_rad);
    rehearse->controls.power = power_of(rehearse);
    if (give_up_rad > 0.0 && rehearse->turn_rad > give_up_rad)
        enter(rehearse, REHEARSE_GIVEN_UP);
    else if (share > 0.5 && rehearse->bank_aim_rad <= last_bank_rad)
        enter(rehearse, REHEARSE_FINISH);
}

/* The altitude to hold after the finish. */
static double held_altitude_m(const struct rehearse *rehearse)
{
    double sink_m = size_of(rehearse, REHEARSE_SINK);

    return rehearse->level_altitude_m +
           (sink_m > 0.0 ? -sink_m : over_the_top_m);
}

static void fly_finish(struct rehearse *rehearse, double dt_s)
{
    rehearse->bank_aim_rad =
        fmax(rehearse->bank_aim_rad - units_rad(5.0) * dt_s, 0.0);
    hold_bank(rehearse, rehearse->bank_aim_rad, 0.0, quick_radps);
    ease_before_stall(rehearse, dt_s);
    hold_pitch(rehearse, rehearse->state.pitch_rad - rehearse->hand_pitch_rad);
    if (isnan(rehearse->level_altitude_m))
        rehearse->level_altitude_m = rehearse->state.altitude_m;
    if (rehearse->phase_s >= held_high_s)
        enter(rehearse, REHEARSE_RECOVERY);
}

static void fly_recovery(struct rehearse *rehearse, double dt_s)
{
    double entry_mps = rehearse->plan.aircraft.entry_speed_mps;
    bool fast = rehearse->view.cas_mps > entry_mps - 1.0 * UNITS_MPS_PER_KT;

    hold_bank(rehearse, 0.0, 0.0, quick_radps);
    hold_altitude(rehearse, held_altitude_m(rehearse),
                  size_of(rehearse, REHEARSE_SINK) > 0.0 ? sink_mps : climb_mps,
                  dt_s);
    if (fast)
        rehearse->controls.power = rehearse->cruise_power;
    if (rehearse->controls.power <= rehearse->cruise_power)
        rehearse->stalled_s += dt_s; /* counts the seconds at entry speed */
    if (rehearse->stalled_s > 4.0 || rehearse->phase_s > 60.0)
        enter(rehearse, REHEARSE_OVER);
}

/* Straight and level from wherever it is; out of a stall with the nose down
 * first. */
static void fly_given_up(struct rehearse *rehearse, double dt_s)
{
    bool stalled = size_of(rehearse, REHEARSE_STALL) > 0.0;

    rehearse->bank_aim_rad =
        fmax(rehearse->bank_aim_rad - quick_radps * dt_s, 0.0);
    hold_bank(rehearse, rehearse->bank_aim_rad, 0.0, 2.0 * quick_radps);
    if (stalled && rehearse->view.cas_mps <
                       safe * rehearse->plan.aircraft.stall_speed_mps) {
        hold_pitch(rehearse, units_rad(-6.0));
        rehearse->level_altitude_m = rehearse->state.altitude_m;
        rehearse->controls.power = 1.0;
    } else {
        if (isnan(rehearse->level_altitude_m))
            rehearse->level_altitude_m =
                rehearse->state.altitude_m + over_the_top_m;
        hold_altitude(rehearse, rehearse->level_altitude_m, climb_mps, dt_s);
        rehearse->controls.power =
            rehearse->view.cas_mps < rehearse->plan.aircraft.entry_speed_mps -
                                         2.0 * UNITS_MPS_PER_KT
                ? 1.0
                : rehearse->cruise_power;
    }
    if (rehearse->phase_s > after_s)
        enter(rehearse, REHEARSE_OVER);
}

/* Held into the stall for a while, as if not noticed. */
static void watch_stall(struct rehearse *rehearse, double dt_s)
{
    if (size_of(rehearse, REHEARSE_STALL) <= 0.0 ||
        rehearse->phase >= REHEARSE_GIVEN_UP)
        return;
    if (rehearse->view.stalled)
        rehearse->stalled_s += dt_s;
    if (rehearse->stalled_s > 1.5)
        enter(rehearse, REHEARSE_GIVEN_UP);
}

static void decide(struct rehearse *rehearse, double dt_s)
{
    switch (rehearse->phase) {
    case REHEARSE_LEAD_IN: fly_lead_in(rehearse, dt_s); break;
    case REHEARSE_FIRST_HALF: fly_first_half(rehearse, dt_s); break;
    case REHEARSE_SECOND_HALF: fly_second_half(rehearse, dt_s); break;
    case REHEARSE_FINISH: fly_finish(rehearse, dt_s); break;
    case REHEARSE_RECOVERY: fly_recovery(rehearse, dt_s); break;
    case REHEARSE_GIVEN_UP: fly_given_up(rehearse, dt_s); break;
    case REHEARSE_OVER: break;
    }
}

/* ---- a step ------------------------------------------------------------- */

static void stray(struct rehearse *rehearse, double dt_s)
{
    double keep = exp(-dt_s / stray_s);
    double fresh = rehearse->plan.hand * sqrt(1.0 - keep * keep);

    if (rehearse->plan.hand <= 0.0)
        return;
    rehearse->hand_bank_rad =
        keep * rehearse->hand_bank_rad +
        fresh * stray_bank_rad * performance_random_normal(&rehearse->chance);
    rehearse->hand_pitch_rad =
        keep * rehearse->hand_pitch_rad +
        fresh * stray_pitch_rad * performance_random_normal(&rehearse->chance);
}

void pilot_step(struct rehearse *rehearse, double dt_s)
{
    struct performance_state *state = &rehearse->state;

    stray(rehearse, dt_s);
    if (rehearse->plan.gusts_mps > 0.0)
        performance_gusts_step(&rehearse->gusts, state->tas_mps, dt_s);
    rehearse->controls.gust_along_mps = rehearse->gusts.along_mps;
    rehearse->controls.gust_up_mps = rehearse->gusts.up_mps;
    decide(rehearse, dt_s);
    watch_stall(rehearse, dt_s);
    use_feet(rehearse, dt_s);
    rehearse->path_before_rad = state->path_rad;
    rehearse->turn_before_rad = rehearse->turn_rad;
    performance_step(&rehearse->model, &rehearse->controls, dt_s, state);
    performance_look(&rehearse->model, state, &rehearse->controls,
                     &rehearse->view);
    rehearse->turn_rad =
        rehearse->plan.direction *
        (rehearse->view.heading_rad - rehearse->plan.entry_heading_rad);
    rehearse->phase_s += dt_s;
    truth_note(rehearse, dt_s);
    if (state->t_s > rehearse->plan.lead_in_s + longest_s)
        enter(rehearse, REHEARSE_OVER);
}

void pilot_start(struct rehearse *rehearse)
{
    const struct rehearse_plan *plan = &rehearse->plan;
    double tas_mps = plan->aircraft.entry_speed_mps *
                     performance_speed_ratio(plan->conditions.altitude_m,
                                             plan->conditions.temperature_k);

    (void)performance_trim(&rehearse->model, plan->conditions.altitude_m,
                           tas_mps, plan->entry_heading_rad, &rehearse->state,
                           &rehearse->cruise_power);
    rehearse->cruise_pitch_rad = rehearse->state.pitch_rad;
    rehearse->controls =
        (struct performance_controls){.power = rehearse->cruise_power};
    performance_look(&rehearse->model, &rehearse->state, &rehearse->controls,
                     &rehearse->view);
    performance_gusts_init(&rehearse->gusts, plan->gusts_mps, plan->seed);
    rehearse->chance = plan->seed ^ UINT64_C(0x5851f42d4c957f2d);
    rehearse->hand_bank_rad = rehearse->hand_pitch_rad = 0.0;
    rehearse->bank_aim_rad = rehearse->roll_from_rad = 0.0;
    rehearse->eased_rad = rehearse->settled_s = rehearse->stalled_s = 0.0;
    rehearse->turn_rad = rehearse->turn_before_rad = 0.0;
    rehearse->path_before_rad = 0.0;
    rehearse->level_altitude_m = NAN;
    rehearse->phase = REHEARSE_LEAD_IN;
    rehearse->phase_s = 0.0;
    truth_begin(rehearse);
}
