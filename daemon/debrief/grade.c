/* grade.c - an attempt against a standard. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "lessons.h"
#include "measure.h"

const char *debrief_verdict_name(enum debrief_verdict verdict)
{
    static const char *const name[] = {[VERDICT_IN_STANDARD] = "in standard",
                                       [VERDICT_MISSED] = "missed",
                                       [VERDICT_NOT_JUDGED] = "not judged"};

    return name[verdict];
}

const char *debrief_rule_name(enum debrief_rule rule)
{
    static const char *const name[] = {[RULE_WITHIN] = "within",
                                       [RULE_AT_MOST] = "at most",
                                       [RULE_AT_LEAST] = "at least",
                                       [RULE_INFORMATION] = "information"};

    return name[rule];
}

/* Ours: how much of the bank's tolerance still counts as the same bank. */
static const double set_tolerance = 0.5;

/* ---- one item ----------------------------------------------------------- */

/* What an item is judged by. Values in the internal unit. */
struct row {
    const char *item;
    enum unit unit;
    enum debrief_rule rule;
    double target;
    double tolerance;
    struct measure flown;
    enum lesson low; /* of a miss below the target, and above it */
    enum lesson high;
    bool whole; /* the part of the flight that it is about was all flown */
};

static bool holds(const struct row *row)
{
    double off = row->flown.value - (isnan(row->target) ? 0.0 : row->target);

    switch (row->rule) {
    case RULE_WITHIN: return fabs(off) <= row->tolerance;
    case RULE_AT_MOST: return off <= row->tolerance;
    case RULE_AT_LEAST: return off >= -row->tolerance;
    case RULE_INFORMATION: break;
    }
    return true;
}

/* A miss is one however little was flown; to be in standard takes the whole
 * part that an item is about. */
static enum debrief_verdict judge(const struct row *row)
{
    if (row->rule == RULE_INFORMATION || isnan(row->flown.value) ||
        isnan(row->tolerance))
        return VERDICT_NOT_JUDGED;
    if (!holds(row))
        return VERDICT_MISSED;
    return row->whole ? VERDICT_IN_STANDARD : VERDICT_NOT_JUDGED;
}

static void add(struct debrief_grade *grade, const struct row *row)
{
    struct debrief_item *to = &grade->item[grade->item_count++];
    bool low = row->flown.value < (isnan(row->target) ? 0.0 : row->target);

    *to = (struct debrief_item){
        .item = row->item,
        .unit = units_name(row->unit),
        .target = units_from_internal(row->unit, row->target),
        .tolerance = units_from_internal(row->unit, row->tolerance),
        .flown = units_from_internal(row->unit, row->flown.value),
        .rule = row->rule,
        .verdict = judge(row),
        .t_s = row->flown.t_s,
        .turn_rad = row->flown.turn_rad};
    if (to->verdict == VERDICT_MISSED)
        to->lesson = lesson_of(low ? row->low : row->high);
}

/* ---- the items ---------------------------------------------------------- */

static void grade_entry(const struct debrief_attempt *attempt,
                        struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    struct measure entry = {attempt->summary.entry_speed_mps, 0.0, 0.0};

    add(grade, &(struct row){.item = "entry speed",
                             .unit = UNIT_KT,
                             .rule = RULE_WITHIN,
                             .target = attempt->aircraft.entry_speed_mps,
                             .tolerance = standard->entry_speed_band_mps,
                             .flown = entry,
                             .low = LESSON_ENTRY_SLOW,
                             .high = LESSON_ENTRY_FAST,
                             .whole = true});
    add(grade,
        &(struct row){.item = "maneuvering speed",
                      .unit = UNIT_KT,
                      .rule = RULE_AT_MOST,
                      .target = attempt->conditions.maneuvering_speed_mps,
                      .tolerance = standard->entry_excess_mps,
                      .flown = entry,
                      .high = LESSON_ENTRY_LIMIT,
                      .whole = true});
    add(grade, &(struct row){.item = "least height",
                             .unit = UNIT_FT,
                             .rule = RULE_AT_LEAST,
                             .target = standard->least_height_m,
                             .flown = measure_height_least(attempt),
                             .low = LESSON_HEIGHT,
                             .whole = attempt->ending == ENDING_FINISHED});
}

/* What the bank is to be kept at: the standard's; where another one was set,
 * which is a miss of its own, anything from the standard's to that one. It is
 * then constant or corrected, and neither is a second fault. */
static void grade_bank_kept(const struct debrief_attempt *attempt,
                            struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    double wanted_rad = standard->entry_bank_rad;
    double tolerance_rad = standard->bank_tolerance_rad;
    double set_rad = measure_bank_set(attempt).value;
    bool set_wrongly = fabs(set_rad - wanted_rad) > tolerance_rad;
    struct bank_kept kept = measure_bank_kept(
        attempt, set_wrongly ? fmin(set_rad, wanted_rad) : wanted_rad,
        set_wrongly ? fmax(set_rad, wanted_rad) : wanted_rad);
    /* Set near the edge of the standard, and over it by less than a wobble: it
     * did not grow. Half of the tolerance is what a bank may be off the one
     * that was set and count as the same. */
    bool stayed =
        fabs(kept.worst.value - set_rad) <= set_tolerance * tolerance_rad;

    add(grade,
        &(struct row){.item = "bank to 90",
                      .unit = UNIT_DEG,
                      .rule = RULE_WITHIN,
                      .target = kept.wanted_rad,
                      .tolerance = tolerance_rad,
                      .flown = kept.worst,
                      .low = stayed ? LESSON_BANK_SHALLOW : LESSON_BANK_FELL,
                      .high = stayed ? LESSON_BANK_STEEP : LESSON_BANK_GREW,
                      .whole = true});
}

static void grade_bank(const struct debrief_attempt *attempt,
                       struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;

    add(grade, &(struct row){.item = "bank set",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = standard->entry_bank_rad,
                             .tolerance = standard->bank_tolerance_rad,
                             .flown = measure_bank_set(attempt),
                             .low = LESSON_BANK_SHALLOW,
                             .high = LESSON_BANK_STEEP,
                             .whole = true});
    add(grade, &(struct row){.item = "time to set bank",
                             .unit = UNIT_S,
                             .rule = RULE_AT_MOST,
                             .target = standard->bank_time_s,
                             .flown = measure_bank_time(attempt),
                             .high = LESSON_BANK_SLOW,
                             .whole = true});
    grade_bank_kept(attempt, grade);
}

static void grade_pitch(const struct debrief_attempt *attempt,
                        struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    bool level = !isnan(attempt->level_s);

    add(grade, &(struct row){.item = "pitch rise to 90",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->pitch_rise_tolerance_rad,
                             .flown = measure_pitch_rise(attempt),
                             .low = LESSON_RISE_BEHIND,
                             .high = LESSON_RISE_AHEAD,
                             .whole = true});
    add(grade, &(struct row){.item = "highest pitch reached at",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = UNITS_PI / 2.0,
                             .tolerance = standard->pitch_peak_tolerance_rad,
                             .flown = measure_pitch_peak(attempt),
                             .low = LESSON_PEAK_EARLY,
                             .high = LESSON_PEAK_LATE,
                             .whole = true});
    add(grade, &(struct row){.item = "highest pitch",
                             .unit = UNIT_DEG,
                             .rule = RULE_AT_MOST,
                             .target = attempt->aircraft.pitch_limit_rad,
                             .flown = measure_pitch_highest(attempt),
                             .high = LESSON_PITCH_HIGH,
                             .whole = level});
    add(grade, &(struct row){.item = "pitch kept from 90",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->pitch_tolerance_rad,
                             .flown = measure_pitch_kept(attempt),
                             .low = LESSON_PITCH_SAGGED,
                             .high = LESSON_PITCH_ROSE,
                             .whole = level});
}

static void grade_roll_out(const struct debrief_attempt *attempt,
                           struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    struct measure heading = {attempt->summary.heading_error_rad,
                              attempt->level_s,
                              UNITS_PI + attempt->summary.heading_error_rad};

    add(grade, &(struct row){.item = "roll-out begun at",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = UNITS_PI / 2.0,
                             .tolerance = standard->roll_out_begin_rad,
                             .flown = measure_roll_out_begin(attempt),
                             .low = LESSON_ROLL_OUT_EARLY,
                             .high = LESSON_ROLL_OUT_LATE,
                             .whole = true});
    add(grade, &(struct row){.item = "roll-out evenness",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->roll_out_tolerance_rad,
                             .flown = measure_roll_out_even(attempt),
                             .low = LESSON_ROLL_OUT_UNEVEN,
                             .high = LESSON_ROLL_OUT_UNEVEN,
                             .whole = true});
    add(grade, &(struct row){.item = "heading error at level",
                             .unit = UNIT_DEG,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->heading_tolerance_rad,
                             .flown = heading,
                             .low = LESSON_TURNED_SHORT,
                             .high = LESSON_TURNED_LONG,
                             .whole = true});
}

static void grade_finish(const struct debrief_attempt *attempt,
                         struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    double half_mps = standard->finish_margin_mps / 2.0;
    double held_s = attempt->ended_s - attempt->level_s;
    struct measure margin = {attempt->summary.finish_margin_mps,
                             attempt->level_s,
                             UNITS_PI + attempt->summary.heading_error_rad};

    /* From the stall up to the margin allowed. */
    add(grade, &(struct row){.item = "speed above stall",
                             .unit = UNIT_KT,
                             .rule = RULE_WITHIN,
                             .target = half_mps,
                             .tolerance = half_mps,
                             .flown = margin,
                             .low = LESSON_FINISH_SLOW,
                             .high = LESSON_FINISH_FAST,
                             .whole = true});
    add(grade, &(struct row){.item = "altitude after level",
                             .unit = UNIT_FT,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->hold_band_m,
                             .flown = measure_hold(attempt),
                             .low = LESSON_SANK,
                             .high = LESSON_ROSE,
                             .whole = held_s >= standard->hold_time_s});
}

/* To which side the ball is out at a point: -1, 0, +1. */
static int ball_side(const struct maneuver_standard *standard,
                     const struct debrief_point *point)
{
    if (!isnan(point->lateral_g))
        return fabs(point->lateral_g) <= standard->ball_tolerance_g ? 0
               : point->lateral_g > 0.0                             ? -1
                                                                    : 1;
    if (!(fabs(point->sideslip_rad) > standard->slip_tolerance_rad))
        return 0;
    return point->sideslip_rad > 0.0 ? 1 : -1;
}

/* Of the side on which it was out for longer: a kick in the roll-in is not
 * what the rest of the turn has to teach. */
static enum lesson ball_lesson(const struct debrief_attempt *attempt)
{
    double right_s = 0.0;

    for (uint32_t i = 1; i < attempt->point_count; i++)
        right_s += ball_side(&attempt->standard, &attempt->point[i]) *
                   (attempt->point[i].t_s - attempt->point[i - 1].t_s);
    return right_s < 0.0 ? LESSON_BALL_LEFT : LESSON_BALL_RIGHT;
}

static void grade_whole(const struct debrief_attempt *attempt,
                        struct debrief_grade *grade)
{
    const struct maneuver_standard *standard = &attempt->standard;
    bool finished = attempt->ending == ENDING_FINISHED;
    bool level = !isnan(attempt->level_s);

    add(grade, &(struct row){.item = "time stalled",
                             .unit = UNIT_S,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = 0.0,
                             .flown = measure_stalled(attempt),
                             .high = LESSON_STALLED,
                             .whole = finished});
    add(grade, &(struct row){.item = "ball out",
                             .unit = UNIT_S,
                             .rule = RULE_WITHIN,
                             .target = 0.0,
                             .tolerance = standard->ball_time_s,
                             .flown = measure_ball(attempt),
                             .high = ball_lesson(attempt),
                             .whole = level});
    add(grade, &(struct row){.item = "least stall margin",
                             .unit = UNIT_KT,
                             .rule = RULE_INFORMATION,
                             .target = (double)NAN,
                             .tolerance = (double)NAN,
                             .flown = measure_margin_least(attempt)});
}

/* How much of the gain that the airplane could have made; no standard asks for
 * it, so that a standard of ours may leave it for information. */
static void grade_gain(const struct debrief_attempt *attempt,
                       struct debrief_grade *grade)
{
    double could_m =
        attempt->has_reference ? attempt->reference.gain_m : (double)NAN;
    double part = attempt->standard.least_gain;
    bool judged = part > 0.0 && !isnan(could_m);
    struct measure gain = {attempt->summary.altitude_gain_m, attempt->level_s,
                           UNITS_PI + attempt->summary.heading_error_rad};

    add(grade, &(struct row){.item = "altitude gained",
                             .unit = UNIT_FT,
                             .rule = judged ? RULE_AT_LEAST : RULE_INFORMATION,
                             .target = could_m,
                             .tolerance =
                                 judged ? (1.0 - part) * could_m : (double)NAN,
                             .flown = gain,
                             .low = LESSON_GAIN,
                             .whole = true});
}

/* ---- the whole ---------------------------------------------------------- */

/* In standard is an attempt that was finished and missed nothing. */
static enum debrief_verdict verdict_of(const struct debrief_attempt *attempt,
                                       const struct debrief_grade *grade)
{
    for (uint32_t i = 0; i < grade->item_count; i++)
        if (grade->item[i].verdict == VERDICT_MISSED)
            return VERDICT_MISSED;
    return attempt->ending == ENDING_FINISHED ? VERDICT_IN_STANDARD
                                              : VERDICT_NOT_JUDGED;
}

void debrief_grade(const struct debrief_attempt *attempt,
                   struct debrief_grade *out)
{
    memset(out, 0, sizeof *out);
    (void)snprintf(out->standard, sizeof out->standard, "%s",
                   attempt->standard.name);
    grade_entry(attempt, out);
    grade_bank(attempt, out);
    grade_pitch(attempt, out);
    grade_roll_out(attempt, out);
    grade_finish(attempt, out);
    grade_whole(attempt, out);
    grade_gain(attempt, out);
    out->verdict = verdict_of(attempt, out);
}
