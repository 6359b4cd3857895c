/* measure.c - figures of an attempt from its summary and series. */
#include "measure.h"

#include <math.h>
#include <stddef.h>

static const struct measure unknown = {(double)NAN, (double)NAN, (double)NAN};

static struct measure at_point(const struct debrief_point *point, double value)
{
    return (struct measure){value, point->t_s, point->turn_rad};
}

static double bank_of(const struct debrief_attempt *attempt,
                      const struct debrief_point *point)
{
    return attempt->direction * point->bank_rad;
}

static const struct debrief_event *
first_event(const struct debrief_attempt *attempt,
            enum maneuver_event_kind kind)
{
    for (uint32_t i = 0; i < attempt->event_count; i++)
        if (attempt->event[i].event.kind == kind)
            return &attempt->event[i];
    return NULL;
}

/* When the turning part ended: level, given up or cut off. */
static double turning_ended_s(const struct debrief_attempt *attempt)
{
    return isnan(attempt->level_s) ? attempt->ended_s : attempt->level_s;
}

/* ---- bank --------------------------------------------------------------- */

struct measure measure_bank_set(const struct debrief_attempt *attempt)
{
    const struct debrief_event *set = first_event(attempt, EVENT_BANK_SET);

    if (set == NULL)
        return unknown;
    return (struct measure){attempt->direction * set->event.bank_rad, set->t_s,
                            set->event.turn_rad};
}

struct measure measure_bank_time(const struct debrief_attempt *attempt)
{
    const struct debrief_event *set = first_event(attempt, EVENT_BANK_SET);

    if (set == NULL)
        return unknown;
    return (struct measure){set->t_s, set->t_s, set->event.turn_rad};
}

struct bank_kept measure_bank_kept(const struct debrief_attempt *attempt,
                                   double least_rad, double most_rad)
{
    const struct maneuver_summary *summary = &attempt->summary;
    bool above = summary->bank_greatest_rad - most_rad >
                 least_rad - summary->bank_least_rad;
    struct bank_kept kept = {unknown, above ? most_rad : least_rad};
    double from_s = measure_bank_time(attempt).t_s;
    double value = above ? summary->bank_greatest_rad : summary->bank_least_rad;

    /* Given up before it, the bank came off for another reason. */
    if (isnan(attempt->ninety_s))
        return kept;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double bank_rad = bank_of(attempt, point);

        if (point->t_s < from_s || point->t_s > attempt->ninety_s)
            continue;
        if (above ? !(bank_rad <= kept.worst.value)
                  : !(bank_rad >= kept.worst.value))
            kept.worst = at_point(point, bank_rad);
    }
    /* The summary has seen every state, the series not. */
    kept.worst.value = value;
    return kept;
}

/* ---- pitch -------------------------------------------------------------- */

/* So near its highest the nose is as good as there; ours. By whatever standard
 * a flight is judged, it was there at the same moment. */
static const double peak_near_rad = 1.5 * UNITS_RAD_PER_DEG;

struct measure measure_pitch_highest(const struct debrief_attempt *attempt)
{
    struct measure highest = unknown;

    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (point->t_s > turning_ended_s(attempt))
            break;
        if (!(point->pitch_rad <= highest.value))
            highest = at_point(point, point->pitch_rad);
    }
    return highest;
}

struct measure measure_pitch_peak(const struct debrief_attempt *attempt)
{
    double highest_rad = measure_pitch_highest(attempt).value;

    if (isnan(attempt->ninety_s))
        return unknown; /* it might have gone on rising */
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (point->pitch_rad >= highest_rad - peak_near_rad)
            return at_point(point, point->turn_rad);
    }
    return unknown;
}

struct measure measure_pitch_rise(const struct debrief_attempt *attempt)
{
    struct measure worst = unknown;
    struct debrief_point first;
    struct debrief_point ninety;

    if (isnan(attempt->ninety_s))
        return unknown;
    debrief_point_at(attempt, 0.0, &first);
    debrief_point_at(attempt, attempt->ninety_s, &ninety);
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double part = (point->turn_rad - first.turn_rad) /
                      (ninety.turn_rad - first.turn_rad);
        double even_rad =
            first.pitch_rad + part * (ninety.pitch_rad - first.pitch_rad);
        double ahead_rad = point->pitch_rad - even_rad;

        if (point->t_s < 0.0 || point->t_s > attempt->ninety_s)
            continue;
        if (!(fabs(ahead_rad) <= fabs(worst.value)))
            worst = at_point(point, ahead_rad);
    }
    return worst;
}

struct measure measure_pitch_kept(const struct debrief_attempt *attempt)
{
    const struct maneuver_summary *summary = &attempt->summary;
    bool rose = summary->pitch_rise_rad > summary->pitch_sag_rad;
    double value = rose ? summary->pitch_rise_rad : -summary->pitch_sag_rad;
    double nearest = (double)NAN;
    struct measure kept = unknown;

    if (isnan(summary->pitch_held_rad) || isnan(attempt->ninety_s))
        return unknown;
    /* The instant of the figure that the machine found. */
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double off_rad =
            fabs(point->pitch_rad - summary->pitch_held_rad - value);

        if (point->t_s > attempt->ninety_s &&
            point->t_s < turning_ended_s(attempt) && !(off_rad >= nearest)) {
            nearest = off_rad;
            kept = at_point(point, value);
        }
    }
    return kept;
}

/* ---- roll-out ----------------------------------------------------------- */

/* The straight line through the bank as it comes off. Its first and last part
 * are left out: there a hand begins and ends what it means to do. */
static const double line_from = 0.8; /* of the bank that was kept, ours */
static const double line_until = 0.15;
static const double line_from_turn_rad = 45.0 * UNITS_RAD_PER_DEG;
static const double line_before_rad = 10.0 * UNITS_RAD_PER_DEG;
enum { LINE_LEAST_POINTS = 10, LINE_ROUNDS = 6 };

struct line {
    double bank_rad; /* that was kept up to it */
    double mean_s;
    double mean_rad;
    double slope_radps; /* negative as the bank comes off */
    bool known;
};

/* Mean bank from the bank set on, between two angles of turn. */
static double mean_bank_rad(const struct debrief_attempt *attempt,
                            double from_rad, double until_rad)
{
    double from_s = measure_bank_time(attempt).t_s;
    double sum = 0.0;
    uint32_t count = 0;

    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (point->t_s < from_s || point->turn_rad < from_rad ||
            point->turn_rad > until_rad)
            continue;
        sum += bank_of(attempt, point);
        count++;
    }
    return count > 0 ? sum / count : (double)NAN;
}

static bool on_line(const struct debrief_attempt *attempt,
                    const struct line *line, const struct debrief_point *point)
{
    double bank_rad = bank_of(attempt, point);

    return point->turn_rad > line_from_turn_rad &&
           point->t_s < attempt->level_s &&
           bank_rad < line_from * line->bank_rad &&
           bank_rad > line_until * line->bank_rad;
}

static struct line fit_roll_out(const struct debrief_attempt *attempt)
{
    struct line line = {.bank_rad =
                            mean_bank_rad(attempt, 0.0, UNITS_PI / 2.0)};
    double count = 0.0;
    double spread = 0.0;
    double slant = 0.0;

    if (isnan(attempt->level_s))
        return line;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (!on_line(attempt, &line, point))
            continue;
        count += 1.0;
        line.mean_s += point->t_s;
        line.mean_rad += bank_of(attempt, point);
    }
    if (count < LINE_LEAST_POINTS)
        return line;
    line.mean_s /= count;
    line.mean_rad /= count;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double since_s = point->t_s - line.mean_s;

        if (!on_line(attempt, &line, point))
            continue;
        spread += since_s * since_s;
        slant += since_s * (bank_of(attempt, point) - line.mean_rad);
    }
    line.slope_radps = slant / spread;
    line.known = line.slope_radps < 0.0;
    return line;
}

struct measure measure_roll_out_even(const struct debrief_attempt *attempt)
{
    struct line line = fit_roll_out(attempt);
    struct measure worst = unknown;

    if (!line.known)
        return unknown;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double left_rad = bank_of(attempt, point) - line.mean_rad -
                          line.slope_radps * (point->t_s - line.mean_s);

        if (on_line(attempt, &line, point) &&
            !(fabs(left_rad) <= fabs(worst.value)))
            worst = at_point(point, left_rad);
    }
    return worst;
}

/* Where the line meets the bank that was kept just before it: a bank that
 * grew or fell on the way to 90 degrees is not the one that comes off. */
struct measure measure_roll_out_begin(const struct debrief_attempt *attempt)
{
    struct line line = fit_roll_out(attempt);
    double bank_rad = line.bank_rad;
    struct debrief_point point;

    /* What came off in steps did not begin anywhere. */
    if (!line.known || !(fabs(measure_roll_out_even(attempt).value) <=
                         attempt->standard.roll_out_tolerance_rad))
        return unknown;
    for (int i = 0; i < LINE_ROUNDS; i++) {
        double t_s =
            line.mean_s + (bank_rad - line.mean_rad) / line.slope_radps;
        double just_before_rad;

        debrief_point_at(attempt, t_s, &point);
        just_before_rad = mean_bank_rad(
            attempt, point.turn_rad - line_before_rad, point.turn_rad);
        if (!isnan(just_before_rad))
            bank_rad = just_before_rad;
    }
    return at_point(&point, point.turn_rad);
}

/* ---- finish, stall, ball, height ---------------------------------------- */

struct measure measure_hold(const struct debrief_attempt *attempt)
{
    const struct maneuver_summary *summary = &attempt->summary;
    struct measure worst = unknown;
    struct debrief_point level;

    if (isnan(attempt->level_s) || isnan(summary->hold_low_m))
        return unknown;
    debrief_point_at(attempt, attempt->level_s, &level);
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double off_m = point->altitude_m - level.altitude_m;

        if (point->t_s >= attempt->level_s &&
            point->t_s <= attempt->level_s + attempt->standard.hold_time_s &&
            !(fabs(off_m) <= fabs(worst.value)))
            worst = at_point(point, off_m);
    }
    worst.value = summary->hold_high_m > -summary->hold_low_m
                      ? summary->hold_high_m
                      : summary->hold_low_m;
    return worst;
}

static struct measure least_of(const struct debrief_attempt *attempt,
                               size_t offset)
{
    struct measure least = unknown;

    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];
        double value =
            *(const double *)(const void *)((const char *)point + offset);

        if (point->t_s >= 0.0 && !isnan(value) && !(value >= least.value))
            least = at_point(point, value);
    }
    return least;
}

struct measure measure_height_least(const struct debrief_attempt *attempt)
{
    return least_of(attempt, offsetof(struct debrief_point, height_m));
}

struct measure measure_margin_least(const struct debrief_attempt *attempt)
{
    struct measure least =
        least_of(attempt, offsetof(struct debrief_point, stall_margin_mps));

    if (!isnan(attempt->summary.least_margin_mps))
        least.value = attempt->summary.least_margin_mps;
    return least;
}

struct measure measure_stalled(const struct debrief_attempt *attempt)
{
    const struct debrief_event *stall = first_event(attempt, EVENT_STALL);
    bool seen = !isnan(measure_margin_least(attempt).value) ||
                !isnan(least_of(attempt, offsetof(struct debrief_point,
                                                  angle_of_attack_rad))
                           .value);
    struct measure stalled = unknown;

    if (stall != NULL)
        stalled =
            (struct measure){(double)NAN, stall->t_s, stall->event.turn_rad};
    if (seen)
        stalled.value = attempt->summary.stalled_s;
    return stalled;
}

struct measure measure_ball(const struct debrief_attempt *attempt)
{
    const struct debrief_event *ball = first_event(attempt, EVENT_BALL);
    struct measure out = unknown;

    if (ball != NULL)
        out = (struct measure){(double)NAN, ball->t_s, ball->event.turn_rad};
    out.value = attempt->summary.ball_out_s;
    return out;
}
