/* reference.c - the line an ideal chandelle follows. */
#include "reference.h"

#include <math.h>
#include <string.h>

#include "quarterturn/error.h"

/* About 30 degrees: FAA-S-ACS-7B, task V.C. */
const double reference_bank_rad = 30.0 * UNITS_RAD_PER_DEG;
/* Ours: a calm roll-in of three seconds and a half. */
const double reference_roll_in_radps = 30.0 / 3.5 * UNITS_RAD_PER_DEG;
/* "Just above a stall airspeed" (FAA-S-ACS-7B, task V.C); common practice, no
 * source, is within 5 kt: this is near the middle. */
static const double finish_margin_mps = 3.0 * UNITS_MPS_PER_KT;
/* Ours: slower than this there is no speed to give. */
static const double least_entry = 1.1;

/* ---- by turning flight alone -------------------------------------------- */

/* The bank a time into the first half. */
static double entry_bank_rad(double t_s)
{
    return fmin(reference_roll_in_radps * t_s, reference_bank_rad);
}

/* Turn by a time into a first half that takes total_s, by Simpson's rule. */
static double first_turn_rad(double t_s, double total_s, double from_mps,
                             double to_mps)
{
    enum { STEPS = 64 };
    double step_s = t_s / STEPS;
    double sum = 0.0;

    for (int i = 0; i <= STEPS; i++) {
        double at_s = step_s * i;
        double v_mps = from_mps + (to_mps - from_mps) * at_s / total_s;
        double weight = i == 0 || i == STEPS ? 1.0 : (i % 2 ? 4.0 : 2.0);

        sum += weight * flight_turn_rate_radps(entry_bank_rad(at_s), v_mps);
    }
    return sum * step_s / 3.0;
}

/* The turn that a half of total_s comes to, less a quarter circle. */
static double excess_rad(int half, double total_s, double from_mps,
                         double to_mps)
{
    double turn_rad =
        half == 0 ? first_turn_rad(total_s, total_s, from_mps, to_mps)
                  : flight_rollout_heading_rad(
                        reference_bank_rad, reference_bank_rad / total_s,
                        from_mps, (to_mps - from_mps) / total_s, 0.0, 1.0);

    return turn_rad - UNITS_PI / 2.0;
}

/* The time in which a half turns a quarter circle: it turns more the longer
 * it takes. */
static double half_time_s(int half, double from_mps, double to_mps)
{
    double least_s = 1.0;
    double most_s = 400.0;

    for (int i = 0; i < 60; i++) {
        double middle_s = (least_s + most_s) / 2.0;

        if (excess_rad(half, middle_s, from_mps, to_mps) < 0.0)
            least_s = middle_s;
        else
            most_s = middle_s;
    }
    return (least_s + most_s) / 2.0;
}

static void put_first_half(double highest_rad, double speed_ratio,
                           struct performance_reference *out)
{
    double from_mps = out->entry_cas_mps * speed_ratio;
    double to_mps = out->ninety_cas_mps * speed_ratio;

    out->t_90_s = half_time_s(0, from_mps, to_mps);
    for (int i = 0; i <= REFERENCE_HALF; i++) {
        struct performance_reference_point *point = &out->point[i];
        double share = (double)i / REFERENCE_HALF;

        point->t_s = out->t_90_s * share;
        point->turn_rad =
            first_turn_rad(point->t_s, out->t_90_s, from_mps, to_mps);
        point->bank_rad = entry_bank_rad(point->t_s);
        point->pitch_rad = highest_rad * point->turn_rad / (UNITS_PI / 2.0);
        point->tas_mps = from_mps + (to_mps - from_mps) * share;
    }
}

static void put_second_half(double highest_rad, double speed_ratio,
                            struct performance_reference *out)
{
    double from_mps = out->ninety_cas_mps * speed_ratio;
    double to_mps = out->finish_cas_mps * speed_ratio;
    double total_s = half_time_s(1, from_mps, to_mps);

    out->t_180_s = out->t_90_s + total_s;
    out->roll_out_rate_radps = reference_bank_rad / total_s;
    for (int i = 1; i <= REFERENCE_HALF; i++) {
        struct performance_reference_point *point =
            &out->point[REFERENCE_HALF + i];
        double share = (double)i / REFERENCE_HALF;

        point->t_s = out->t_90_s + total_s * share;
        point->bank_rad = reference_bank_rad * (1.0 - share);
        point->pitch_rad = highest_rad;
        point->tas_mps = from_mps + (to_mps - from_mps) * share;
        /* What is left to turn from here, off the half circle. */
        point->turn_rad =
            UNITS_PI -
            flight_rollout_heading_rad(point->bank_rad,
                                       out->roll_out_rate_radps, point->tas_mps,
                                       (to_mps - from_mps) / total_s, 0.0, 1.0);
    }
}

void reference_from_turning(const struct flight_aircraft *aircraft,
                            double speed_ratio,
                            struct performance_reference *out)
{
    /* Common practice, no source: the highest pitch is the airplane's limit
     * or a little below, and half of the speed is gone at 90 degrees. */
    double highest_rad = aircraft->pitch_limit_rad;

    out->ninety_cas_mps = (out->entry_cas_mps + out->finish_cas_mps) / 2.0;
    out->finish_pitch_rad = highest_rad;
    put_first_half(highest_rad, speed_ratio, out);
    put_second_half(highest_rad, speed_ratio, out);
    out->count = PERFORMANCE_POINTS;
    for (uint32_t i = 0; i < out->count; i++) {
        out->point[i].cas_mps = out->point[i].tas_mps / speed_ratio;
        out->point[i].gain_m = NAN;
    }
    out->gain_m = NAN;
    out->gain_from_speed_m = (out->entry_cas_mps * out->entry_cas_mps -
                              out->finish_cas_mps * out->finish_cas_mps) *
                             speed_ratio * speed_ratio / (2.0 * UNITS_G0_MPS2);
}

/* ---- making it ---------------------------------------------------------- */

int performance_reference_make(const struct flight_aircraft *aircraft,
                               const struct performance_conditions *conditions,
                               double entry_cas_mps, int direction,
                               struct performance_reference *out)
{
    double weight_kg = isnan(conditions->weight_kg) ? aircraft->weight_kg
                                                    : conditions->weight_kg;
    double stall_mps = flight_stall_speed_mps(
        aircraft->stall_speed_mps, 1.0, weight_kg, aircraft->stall_weight_kg);
    struct performance_model model;
    double ratio;

    memset(out, 0, sizeof *out);
    if (!(weight_kg > 0.0) || !(stall_mps > 0.0) ||
        !(entry_cas_mps >= least_entry * stall_mps) ||
        !(entry_cas_mps < 200.0) || !(conditions->altitude_m >= -500.0) ||
        !(conditions->altitude_m <= 6000.0))
        return ERR_RANGE;
    ratio = performance_speed_ratio(conditions->altitude_m,
                                    conditions->temperature_k);
    out->direction = direction;
    out->roll_in_rate_radps = reference_roll_in_radps;
    out->entry_cas_mps = entry_cas_mps;
    out->stall_cas_mps = stall_mps;
    out->finish_cas_mps =
        fmin(stall_mps + finish_margin_mps, (stall_mps + entry_cas_mps) / 2.0);
    if (performance_model_make(aircraft, conditions, &model) == 0)
        return reference_from_model(&model, conditions,
                                    aircraft->pitch_limit_rad, out);
    reference_from_turning(aircraft, ratio, out);
    return 0;
}

/* ---- reading it --------------------------------------------------------- */

static double between(double a, double b, double share)
{
    return a + (b - a) * share;
}

void performance_reference_at(const struct performance_reference *reference,
                              double turn_rad,
                              struct performance_reference_point *out)
{
    const struct performance_reference_point *point = reference->point;
    uint32_t next = 1;
    double share;

    while (next + 1 < reference->count && point[next].turn_rad < turn_rad)
        next++;
    point += next - 1;
    share = (turn_rad - point[0].turn_rad) /
            (point[1].turn_rad - point[0].turn_rad);
    share = fmax(0.0, fmin(1.0, share));
    out->turn_rad = between(point[0].turn_rad, point[1].turn_rad, share);
    out->t_s = between(point[0].t_s, point[1].t_s, share);
    out->bank_rad = between(point[0].bank_rad, point[1].bank_rad, share);
    out->pitch_rad = between(point[0].pitch_rad, point[1].pitch_rad, share);
    out->cas_mps = between(point[0].cas_mps, point[1].cas_mps, share);
    out->tas_mps = between(point[0].tas_mps, point[1].tas_mps, share);
    out->gain_m = between(point[0].gain_m, point[1].gain_m, share);
}
