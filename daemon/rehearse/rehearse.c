/* rehearse.c - a plan made flyable, and what a simulator would tell of it. */
#include "quarterturn/rehearse.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "pilot.h"
#include "quarterturn/error.h"

/* The flight advances by this; a sample between two steps is a part of one. */
static const double step_s = 1.0 / 60.0;
static const double try_step_s = 0.1;
/* Ours: what the pilot aims at, near enough. */
static const double finish_margin_mps = 3.0 * UNITS_MPS_PER_KT;
static const double near_turn_rad = 0.3 * UNITS_RAD_PER_DEG;
static const double near_finish_mps = 0.4 * UNITS_MPS_PER_KT;
/* A degree of pitch more costs about so much of the speed at the finish. */
static const double pitch_for_speed =
    0.45 * UNITS_RAD_PER_DEG / UNITS_MPS_PER_KT;
/* The pitch limit is for a wandering hand too. */
/* Where the search begins. */
static const double first_roll_radps = 1.3 * UNITS_RAD_PER_DEG;
static const double below_limit_rad = 0.7 * UNITS_RAD_PER_DEG;

/* Where the samples place the airplane: somewhere over the middle of an
 * invented map, 47.5 degrees north and 9.5 east. */
static const double latitude_rad = 47.5 * UNITS_RAD_PER_DEG;
static const double longitude_rad = 9.5 * UNITS_RAD_PER_DEG;
static const double earth_m = 6371000.0;
/* A stall warning sounds with some margin left (common practice, no source: 5
 * to 10 kt). */
static const double warning_mps = 6.0 * UNITS_MPS_PER_KT;

const char *rehearse_phase_name(enum rehearse_phase phase)
{
    static const char *const name[] = {[REHEARSE_LEAD_IN] = "lead-in",
                                       [REHEARSE_FIRST_HALF] = "first half",
                                       [REHEARSE_SECOND_HALF] = "second half",
                                       [REHEARSE_FINISH] = "finish",
                                       [REHEARSE_RECOVERY] = "recovery",
                                       [REHEARSE_GIVEN_UP] = "given up",
                                       [REHEARSE_OVER] = "over"};

    return name[phase];
}

void rehearse_plan_init(struct rehearse_plan *plan,
                        const struct flight_aircraft *aircraft)
{
    memset(plan, 0, sizeof *plan);
    plan->aircraft = *aircraft;
    plan->conditions =
        (struct performance_conditions){.weight_kg = aircraft->weight_kg,
                                        .altitude_m = 3000.0 * UNITS_M_PER_FT,
                                        .temperature_k = NAN};
    plan->ground_m = 600.0 * UNITS_M_PER_FT;
    plan->direction = -1;
    plan->entry_heading_rad = 1.5 * UNITS_PI;
    plan->lead_in_s = 8.0;
    plan->level_bank_rad = 3.0 * UNITS_RAD_PER_DEG;
}

/* ---- finding out how to fly it ------------------------------------------ */

/* What one try came to. */
struct outcome {
    double turned_rad; /* in the second half */
    double to_turn_rad;
    double finish_mps;
    bool level;
};

static void try_it(struct rehearse *rehearse, struct outcome *out)
{
    const double *size = rehearse->plan.size;
    double wanted_rad =
        UNITS_PI - size[REHEARSE_LEVEL_SHORT] + size[REHEARSE_LEVEL_PAST];
    double begin_rad = 0.0;

    pilot_start(rehearse);
    while (rehearse->phase < REHEARSE_RECOVERY) {
        enum rehearse_phase before = rehearse->phase;

        pilot_step(rehearse, try_step_s);
        if (before != rehearse->phase &&
            rehearse->phase == REHEARSE_SECOND_HALF)
            begin_rad = rehearse->turn_rad;
    }
    out->level =
        !isnan(rehearse->truth.level_s) && isnan(rehearse->truth.stall_s);
    out->turned_rad = UNITS_PI + rehearse->truth.heading_error_rad - begin_rad;
    out->to_turn_rad = wanted_rad - begin_rad;
    out->finish_mps = rehearse->truth.finish_cas_mps;
}

/* Pitch and roll rate are found by flying in calm air with a steady hand, the
 * planted errors in it: so each error stands alone, and what it leads to of
 * itself. Pitch too high or too low comes on top. */
static int find_controls(struct rehearse *rehearse)
{
    const struct rehearse_plan plan = rehearse->plan;
    double *size = rehearse->plan.size;
    double most_rad = plan.aircraft.pitch_limit_rad - below_limit_rad;
    double stall_mps = flight_stall_speed_mps(plan.aircraft.stall_speed_mps,
                                              1.0, rehearse->model.mass_kg,
                                              plan.aircraft.stall_weight_kg);
    double wanted_mps = stall_mps + finish_margin_mps;
    bool settled = false;

    rehearse->plan.hand = rehearse->plan.gusts_mps = 0.0;
    rehearse->plan.lead_in_s = 1.0;
    rehearse->trying = true;
    size[REHEARSE_STALL] = size[REHEARSE_ABANDON] = 0.0;
    rehearse->highest_rad = most_rad;
    rehearse->roll_radps = first_roll_radps;
    for (int i = 0; i < 16 && !settled; i++) {
        struct outcome outcome;
        double slow_mps;
        double step_rad;

        try_it(rehearse, &outcome);
        if (!outcome.level) {
            rehearse->highest_rad -= units_rad(1.0);
            continue;
        }
        slow_mps = outcome.finish_mps - wanted_mps;
        /* Never finished faster than it must be, if the limit allows. */
        step_rad = slow_mps * pitch_for_speed;
        settled =
            fabs(outcome.turned_rad - outcome.to_turn_rad) < near_turn_rad &&
            (fabs(slow_mps) < near_finish_mps ||
             (slow_mps > 0.0 && rehearse->highest_rad >= most_rad));
        if (settled)
            break;
        rehearse->roll_radps *= outcome.turned_rad / outcome.to_turn_rad;
        rehearse->highest_rad =
            fmin(rehearse->highest_rad +
                     fmax(-units_rad(1.5), fmin(units_rad(1.5), step_rad)),
                 most_rad);
    }
    rehearse->plan = plan;
    rehearse->trying = false;
    return settled ? 0 : ERR_RANGE;
}

/* With the pitch planted too high or low the turn still ends where it is
 * meant to. */
static void find_roll_again(struct rehearse *rehearse)
{
    const struct rehearse_plan plan = rehearse->plan;

    rehearse->plan.hand = rehearse->plan.gusts_mps = 0.0;
    rehearse->plan.lead_in_s = 1.0;
    for (int i = 0; i < 5; i++) {
        struct outcome outcome;

        try_it(rehearse, &outcome);
        if (outcome.level && outcome.turned_rad > 0.1)
            rehearse->roll_radps *= outcome.turned_rad / outcome.to_turn_rad;
    }
    rehearse->plan = plan;
}

int rehearse_begin(struct rehearse *rehearse, const struct rehearse_plan *plan,
                   char *why, size_t why_size)
{
    const struct performance_conditions day = plan->conditions;
    double power;
    int status;

    memset(rehearse, 0, sizeof *rehearse);
    rehearse->plan = *plan;
    status = performance_model_make(&plan->aircraft, &plan->conditions,
                                    &rehearse->model);
    if (status == ERR_ABSENT) {
        (void)snprintf(why, why_size,
                       "aircraft \"%s\" tells no performance: wing_area, "
                       "engine_power, propeller, cruise_speed, cruise_power, "
                       "cruise_altitude, climb_rate and climb_speed are needed",
                       plan->aircraft.name);
        return status;
    }
    if (status == 0)
        status = performance_trim(
            &rehearse->model, day.altitude_m,
            plan->aircraft.entry_speed_mps *
                performance_speed_ratio(day.altitude_m, day.temperature_k),
            0.0, &rehearse->state, &power);
    if (status == 0)
        status = find_controls(rehearse);
    if (status != 0) {
        (void)snprintf(why, why_size,
                       "aircraft \"%s\" cannot fly this chandelle: too heavy, "
                       "too high or too hot, or the errors are too large "
                       "together",
                       plan->aircraft.name);
        return ERR_RANGE;
    }
    if (plan->size[REHEARSE_PITCH_HIGH] > 0.0)
        rehearse->highest_rad =
            plan->aircraft.pitch_limit_rad + plan->size[REHEARSE_PITCH_HIGH];
    rehearse->highest_rad -= plan->size[REHEARSE_PITCH_LOW];
    if (plan->size[REHEARSE_PITCH_HIGH] > 0.0 ||
        plan->size[REHEARSE_PITCH_LOW] > 0.0)
        find_roll_again(rehearse);
    pilot_start(rehearse);
    return 0;
}

void rehearse_fly(struct rehearse *rehearse, double t_s)
{
    while (rehearse->phase != REHEARSE_OVER &&
           rehearse->state.t_s + step_s <= t_s)
        pilot_step(rehearse, step_s);
}

/* ---- what a simulator would tell ---------------------------------------- */

static void put(struct intake_sample *out, enum intake_channel channel,
                double value)
{
    out->value[channel] = value;
    out->valid |= CHANNEL_BIT(channel);
}

static void put_place(const struct performance_state *state,
                      struct intake_sample *out)
{
    put(out, CHANNEL_LATITUDE, latitude_rad + state->north_m / earth_m);
    put(out, CHANNEL_LONGITUDE,
        longitude_rad + state->east_m / (earth_m * cos(latitude_rad)));
}

void rehearse_sample(const struct rehearse *rehearse, double t_s,
                     struct intake_sample *out)
{
    struct rehearse now = *rehearse;
    const struct performance_view *view = &now.view;
    const struct performance_state *state = &now.state;
    double ahead_s = t_s - state->t_s;

    if (ahead_s > 0.0) {
        performance_step(&now.model, &now.controls, ahead_s, &now.state);
        performance_look(&now.model, state, &now.controls, &now.view);
    }
    memset(out, 0, sizeof *out);
    out->t_ns = (int64_t)llround(t_s * 1e9);
    out->pace = 1.0;
    put(out, CHANNEL_SIM_TIME, t_s);
    put(out, CHANNEL_HEADING, angle_wrap_circle(view->heading_rad));
    put(out, CHANNEL_PITCH, state->pitch_rad);
    put(out, CHANNEL_BANK, state->bank_rad);
    put(out, CHANNEL_AIRSPEED, view->cas_mps);
    put(out, CHANNEL_TRUE_AIRSPEED, view->tas_mps);
    put(out, CHANNEL_ALTITUDE, state->altitude_m);
    put(out, CHANNEL_HEIGHT, state->altitude_m - now.plan.ground_m);
    put(out, CHANNEL_VERTICAL_SPEED, view->climb_mps);
    put(out, CHANNEL_LOAD_FACTOR, view->load_factor);
    put(out, CHANNEL_LATERAL_G, view->lateral_g);
    put(out, CHANNEL_SIDESLIP, now.controls.sideslip_rad);
    put(out, CHANNEL_ANGLE_OF_ATTACK, view->alpha_rad);
    put(out, CHANNEL_GROUND_SPEED, view->ground_mps);
    put(out, CHANNEL_TRACK, view->track_rad);
    put_place(state, out);
    put(out, CHANNEL_STALL_WARNING, truth_margin_mps(&now) < warning_mps);
    put(out, CHANNEL_ON_GROUND, 0.0);
    put(out, CHANNEL_PAUSED, 0.0);
    put(out, CHANNEL_THROTTLE, now.controls.power);
    put(out, CHANNEL_FLAPS, 0.0);
    put(out, CHANNEL_GEAR, 0.0);
    put(out, CHANNEL_WEIGHT, now.model.mass_kg);
    out->fresh = out->valid;
}
