/* grade.c - an attempt against a standard. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/debrief.h"

/* Ours: no standard gives a time for the ball. */
static const double ball_out_most_s = 2.0;

const char *debrief_verdict_name(enum debrief_verdict verdict)
{
    static const char *const name[] = {[VERDICT_IN_STANDARD] = "in standard",
                                       [VERDICT_MISSED] = "missed",
                                       [VERDICT_NOT_JUDGED] = "not judged"};

    return name[verdict];
}

static void add(struct debrief_grade *grade, const struct debrief_item *item)
{
    struct debrief_item *to = &grade->item[grade->item_count++];

    *to = *item;
    to->t_s = to->turn_rad = (double)NAN;
    if (isnan(to->flown) || isnan(to->tolerance))
        to->verdict = VERDICT_NOT_JUDGED;
    else
        to->verdict =
            fabs(to->flown - (isnan(to->target) ? 0.0 : to->target)) <=
                    to->tolerance
                ? VERDICT_IN_STANDARD
                : VERDICT_MISSED;
    if (to->verdict == VERDICT_MISSED)
        grade->verdict = VERDICT_MISSED;
}

/* The bank that was furthest from the one to hold. */
static double worst_bank_rad(const struct maneuver_standard *standard,
                             const struct maneuver_summary *summary)
{
    double low_rad = standard->entry_bank_rad - summary->bank_least_rad;
    double high_rad = summary->bank_greatest_rad - standard->entry_bank_rad;

    return low_rad > high_rad ? summary->bank_least_rad
                              : summary->bank_greatest_rad;
}

static void grade_turn(const struct maneuver_standard *standard,
                       const struct flight_aircraft *aircraft,
                       const struct maneuver_summary *summary,
                       struct debrief_grade *grade)
{
    double kept_rad = fmax(summary->pitch_sag_rad, summary->pitch_rise_rad);

    add(grade, &(struct debrief_item){
                   .item = "entry speed",
                   .unit = "kt",
                   .target = units_kt(aircraft->entry_speed_mps),
                   .tolerance = units_kt(standard->entry_speed_band_mps),
                   .flown = units_kt(summary->entry_speed_mps)});
    add(grade, &(struct debrief_item){
                   .item = "bank to 90",
                   .unit = "deg",
                   .target = units_deg(standard->entry_bank_rad),
                   .tolerance = units_deg(standard->bank_tolerance_rad),
                   .flown = units_deg(worst_bank_rad(standard, summary))});
    add(grade,
        &(struct debrief_item){
            .item = "pitch kept from 90",
            .unit = "deg",
            .target = 0.0,
            .tolerance = units_deg(standard->pitch_tolerance_rad),
            .flown = isnan(summary->pitch_held_rad) ? (double)NAN
                                                    : units_deg(kept_rad)});
    add(grade, &(struct debrief_item){
                   .item = "heading error at level",
                   .unit = "deg",
                   .target = 0.0,
                   .tolerance = units_deg(standard->heading_tolerance_rad),
                   .flown = units_deg(summary->heading_error_rad)});
}

static void grade_finish(const struct maneuver_standard *standard,
                         const struct maneuver_summary *summary,
                         struct debrief_grade *grade)
{
    double half_mps = standard->finish_margin_mps / 2.0;
    double hold_m = fmax(fabs(summary->hold_low_m), fabs(summary->hold_high_m));

    /* From the stall up to the margin allowed. */
    add(grade,
        &(struct debrief_item){.item = "speed above stall",
                               .unit = "kt",
                               .target = units_kt(half_mps),
                               .tolerance = units_kt(half_mps),
                               .flown = units_kt(summary->finish_margin_mps)});
    add(grade, &(struct debrief_item){.item = "time stalled",
                                      .unit = "s",
                                      .target = 0.0,
                                      .tolerance = 0.0,
                                      .flown = summary->stalled_s});
    add(grade, &(struct debrief_item){
                   .item = "altitude after level",
                   .unit = "ft",
                   .target = 0.0,
                   .tolerance = units_ft(standard->hold_band_m),
                   .flown = isnan(summary->hold_low_m) ? (double)NAN
                                                       : units_ft(hold_m)});
    add(grade, &(struct debrief_item){.item = "ball out",
                                      .unit = "s",
                                      .target = 0.0,
                                      .tolerance = ball_out_most_s,
                                      .flown = summary->ball_out_s});
    /* No standard gives these: for information. */
    add(grade,
        &(struct debrief_item){.item = "least stall margin",
                               .unit = "kt",
                               .target = (double)NAN,
                               .tolerance = (double)NAN,
                               .flown = units_kt(summary->least_margin_mps)});
    add(grade,
        &(struct debrief_item){.item = "altitude gained",
                               .unit = "ft",
                               .target = (double)NAN,
                               .tolerance = (double)NAN,
                               .flown = units_ft(summary->altitude_gain_m)});
}

void debrief_grade(const struct debrief_attempt *attempt,
                   struct debrief_grade *out)
{
    const struct maneuver_standard *standard = &attempt->standard;

    memset(out, 0, sizeof *out);
    (void)snprintf(out->standard, sizeof out->standard, "%s", standard->name);
    out->verdict = VERDICT_IN_STANDARD;
    grade_turn(standard, &attempt->aircraft, &attempt->summary, out);
    grade_finish(standard, &attempt->summary, out);
}
