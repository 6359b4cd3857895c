/* truth.c - what really happened, as the model knows it. */
#include <math.h>
#include <stddef.h>

#include "pilot.h"

const double rehearse_mark_rad[REHEARSE_MARKS] = {
    45.0 * UNITS_RAD_PER_DEG, 90.0 * UNITS_RAD_PER_DEG,
    135.0 * UNITS_RAD_PER_DEG, 170.0 * UNITS_RAD_PER_DEG, UNITS_PI};

/* The entry heading is the mean of so long before the roll-in. */
static const double mean_s = 2.0;
static const double hold_s = 10.0;

double truth_margin_mps(const struct rehearse *rehearse)
{
    const struct flight_aircraft *aircraft = &rehearse->plan.aircraft;
    const struct performance_state *state = &rehearse->state;
    double steady = cos(state->path_rad) / fmax(cos(state->bank_rad), 0.5);

    return rehearse->view.cas_mps -
           flight_stall_speed_mps(aircraft->stall_speed_mps,
                                  fmax(rehearse->view.load_factor, steady),
                                  rehearse->model.mass_kg,
                                  aircraft->stall_weight_kg);
}

void truth_begin(struct rehearse *rehearse)
{
    rehearse->heading_sum_rad = 0.0;
    rehearse->heading_count = 0;
    rehearse->truth = (struct rehearse_truth){
        .entry_s = NAN,
        .mark_s = {NAN, NAN, NAN, NAN, NAN},
        .level_s = NAN,
        .stall_s = NAN,
        .given_up_s = NAN,
        .entry_heading_rad = rehearse->plan.entry_heading_rad,
        .entry_cas_mps = NAN,
        .entry_altitude_m = NAN,
        .ninety_cas_mps = NAN,
        .pitch_highest_rad = NAN,
        .heading_error_rad = NAN,
        .gain_m = NAN,
        .finish_cas_mps = NAN,
        .finish_margin_mps = NAN,
        .least_margin_mps = NAN,
        .hold_low_m = NAN,
        .hold_high_m = NAN};
}

static void note_entry(struct rehearse *rehearse)
{
    struct rehearse_truth *truth = &rehearse->truth;

    if (rehearse->phase == REHEARSE_LEAD_IN) {
        if (rehearse->phase_s > rehearse->plan.lead_in_s - mean_s) {
            rehearse->heading_sum_rad += rehearse->view.heading_rad;
            rehearse->heading_count++;
        }
        return;
    }
    if (!isnan(truth->entry_s))
        return;
    truth->entry_s = rehearse->state.t_s;
    truth->entry_cas_mps = rehearse->view.cas_mps;
    truth->entry_altitude_m = rehearse->state.altitude_m;
    if (rehearse->heading_count > 0)
        truth->entry_heading_rad =
            rehearse->heading_sum_rad / rehearse->heading_count;
}

/* Turn against the mean heading before the entry, as a pilot sees it. */
static double turn_of(const struct rehearse *rehearse, double turn_rad)
{
    return turn_rad -
           rehearse->plan.direction * (rehearse->truth.entry_heading_rad -
                                       rehearse->plan.entry_heading_rad);
}

static void note_marks(struct rehearse *rehearse, double dt_s)
{
    double before_rad = turn_of(rehearse, rehearse->turn_before_rad);
    double now_rad = turn_of(rehearse, rehearse->turn_rad);

    for (int i = 0; i < REHEARSE_MARKS; i++) {
        double part =
            (rehearse_mark_rad[i] - before_rad) / (now_rad - before_rad);

        if (!isnan(rehearse->truth.mark_s[i]) || now_rad < rehearse_mark_rad[i])
            continue;
        rehearse->truth.mark_s[i] =
            rehearse->state.t_s - dt_s * (1.0 - fmax(0.0, fmin(1.0, part)));
        if (i == 1)
            rehearse->truth.ninety_cas_mps = rehearse->view.cas_mps;
    }
}

/* The last time the bank came below what counts as level. */
static void note_level(struct rehearse *rehearse)
{
    struct rehearse_truth *truth = &rehearse->truth;

    if (fabs(rehearse->state.bank_rad) >= rehearse->plan.level_bank_rad) {
        truth->level_s = NAN;
        return;
    }
    if (!isnan(truth->level_s) ||
        turn_of(rehearse, rehearse->turn_rad) < UNITS_PI / 2.0)
        return;
    truth->level_s = rehearse->state.t_s;
    truth->heading_error_rad = turn_of(rehearse, rehearse->turn_rad) - UNITS_PI;
    truth->gain_m = rehearse->state.altitude_m - truth->entry_altitude_m;
    truth->finish_cas_mps = rehearse->view.cas_mps;
    truth->finish_margin_mps = truth_margin_mps(rehearse);
    truth->hold_low_m = truth->hold_high_m = 0.0;
}

static void note_hold(struct rehearse *rehearse)
{
    struct rehearse_truth *truth = &rehearse->truth;
    double off_m =
        rehearse->state.altitude_m - truth->entry_altitude_m - truth->gain_m;

    if (isnan(truth->level_s) || rehearse->state.t_s > truth->level_s + hold_s)
        return;
    truth->hold_low_m = fmin(truth->hold_low_m, off_m);
    truth->hold_high_m = fmax(truth->hold_high_m, off_m);
}

void truth_note(struct rehearse *rehearse, double dt_s)
{
    struct rehearse_truth *truth = &rehearse->truth;

    note_entry(rehearse);
    if (isnan(truth->entry_s))
        return;
    note_marks(rehearse, dt_s);
    if (rehearse->view.stalled && isnan(truth->stall_s))
        truth->stall_s = rehearse->state.t_s;
    if (rehearse->phase == REHEARSE_GIVEN_UP) {
        if (isnan(truth->given_up_s))
            truth->given_up_s = rehearse->state.t_s;
        return;
    }
    truth->pitch_highest_rad =
        fmax(truth->pitch_highest_rad, rehearse->state.pitch_rad);
    if (isnan(truth->level_s) || rehearse->phase < REHEARSE_RECOVERY)
        truth->least_margin_mps =
            fmin(truth->least_margin_mps, truth_margin_mps(rehearse));
    if (rehearse->phase >= REHEARSE_SECOND_HALF &&
        rehearse->phase < REHEARSE_GIVEN_UP) {
        note_level(rehearse);
        note_hold(rehearse);
    }
}
