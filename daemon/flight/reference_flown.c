/* reference_flown.c - the ideal line, flown in the performance model.
 *
 * Two things are not known beforehand: how high the nose must be at 90 degrees
 * for the speed to be just above the stall at 180, and how fast the bank must
 * come off to be level there. Both are found by flying it. */
#include <math.h>

#include "model.h"
#include "quarterturn/error.h"
#include "reference.h"

enum {
    MOST_STEPS = 1200,
    LEVEL_TRIES = 12,
    PITCH_TRIES = 24,
    FINAL_TRIES = 10
};

/* Of the line itself, and of the flights that look for it. */
static const double fine_step_s = 0.1;
static const double coarse_step_s = 0.25;
static const double quarter_rad = UNITS_PI / 2.0;
/* Ours: power goes up within this time once the bank is set. */
static const double power_time_s = 1.5;
/* Near enough to 180 degrees. */
static const double close_rad = 0.1 * UNITS_RAD_PER_DEG;
static const double first_guess_radps = 1.3 * UNITS_RAD_PER_DEG;
static const double most_pitch_rad = 40.0 * UNITS_RAD_PER_DEG;
/* Near enough to the speed wanted at the end, and as near as pitch goes. */
static const double close_mps = 0.02;
/* How pitch goes with the speed it ends at, near there, rad for m/s. Ours: it
 * only has to be about right. */
static const double pitch_for_speed = 0.0075;
static const double close_pitch_rad = 0.02 * UNITS_RAD_PER_DEG;

/* One moment of a flight, as the line keeps it. */
struct moment {
    struct performance_reference_point point;
    struct performance_state state;
    bool stalled;
};

struct flying {
    const struct performance_model *model;
    struct performance_state entry;
    double entry_power;
    double highest_rad; /* pitch at 90 degrees */
    double roll_radps;
    double step_s;
    uint32_t count; /* moments, the first at the roll-in */
    uint32_t ninety;
    struct moment moment[MOST_STEPS];
};

static void note(struct flying *flying, const struct performance_state *state)
{
    struct moment *moment = &flying->moment[flying->count++];
    struct model_glance glance;

    model_look_briefly(flying->model, state, &glance);
    moment->state = *state;
    moment->stalled = glance.stalled;
    moment->point = (struct performance_reference_point){
        .turn_rad = glance.heading_rad - flying->entry.course_rad,
        .t_s = state->t_s,
        .bank_rad = state->bank_rad,
        .pitch_rad = state->pitch_rad,
        .cas_mps = glance.cas_mps,
        .tas_mps = state->tas_mps,
        .gain_m = state->altitude_m - flying->entry.altitude_m};
}

static double power_at(const struct flying *flying, double t_s)
{
    double set_s = reference_bank_rad / reference_roll_in_radps;
    double share = fmax(0.0, fmin(1.0, (t_s - set_s) / power_time_s));

    return flying->entry_power + (1.0 - flying->entry_power) * share;
}

/* To the first moment at or beyond 90 degrees.
 * Returns: whether it got there without a stall. */
static bool fly_first_half(struct flying *flying)
{
    struct performance_state state = flying->entry;
    struct performance_controls controls = {.power = flying->entry_power};

    flying->count = 0;
    note(flying, &state);
    while (flying->count < MOST_STEPS / 2) {
        const struct moment *last = &flying->moment[flying->count - 1];
        double wanted_rad = flying->entry.pitch_rad +
                            (flying->highest_rad - flying->entry.pitch_rad) *
                                fmax(last->point.turn_rad, 0.0) / quarter_rad;

        controls.power = power_at(flying, state.t_s);
        controls.bank_rate_radps =
            fmin(reference_roll_in_radps,
                 (reference_bank_rad - state.bank_rad) / flying->step_s);
        controls.pitch_rate_radps =
            (wanted_rad - state.pitch_rad) / flying->step_s;
        performance_step(flying->model, &controls, flying->step_s, &state);
        note(flying, &state);
        if (flying->moment[flying->count - 1].stalled)
            return false;
        if (flying->moment[flying->count - 1].point.turn_rad >= quarter_rad)
            break;
    }
    flying->ninety = flying->count - 1;
    return flying->count < MOST_STEPS / 2;
}

/* From there on with a roll rate, to wings level.
 * Returns: the turn at which the wings are level; NaN after a stall. */
static double fly_second_half(struct flying *flying)
{
    struct performance_state state = flying->moment[flying->ninety].state;
    struct performance_controls controls = {.power = 1.0};

    flying->count = flying->ninety + 1;
    while (flying->count < MOST_STEPS && state.bank_rad > 0.0) {
        double left_s = state.bank_rad / flying->roll_radps;
        double dt_s = fmin(flying->step_s, left_s);

        controls.power = power_at(flying, state.t_s);
        controls.bank_rate_radps = -flying->roll_radps;
        performance_step(flying->model, &controls, dt_s, &state);
        if (left_s <= flying->step_s)
            state.bank_rad = 0.0;
        note(flying, &state);
        if (flying->moment[flying->count - 1].stalled)
            return NAN;
    }
    return flying->moment[flying->count - 1].point.turn_rad;
}

/* Find the roll rate that ends at 180 degrees. What is turned in the second
 * half goes nearly with the time it takes, so a few corrections in proportion
 * do.
 * Returns: false after a stall on the way. */
static bool level_at_the_end(struct flying *flying)
{
    double at_ninety_rad = flying->moment[flying->ninety].point.turn_rad;

    for (int i = 0; i < LEVEL_TRIES; i++) {
        double turned_rad = fly_second_half(flying) - at_ninety_rad;

        if (!(turned_rad > 0.0))
            return false;
        if (fabs(turned_rad + at_ninety_rad - UNITS_PI) < close_rad)
            return true;
        flying->roll_radps *= turned_rad / (UNITS_PI - at_ninety_rad);
    }
    return false;
}

/* The speed at the end with a pitch at 90; 0 after a stall. The roll rate of
 * the flight before is near the one that is looked for. */
static double finish_cas_mps(struct flying *flying, double highest_rad)
{
    double before_radps = flying->roll_radps;

    flying->highest_rad = highest_rad;
    if (fly_first_half(flying) && level_at_the_end(flying))
        return flying->moment[flying->count - 1].point.cas_mps;
    flying->roll_radps = before_radps;
    return 0.0;
}

/* Two pitches at 90, and the speeds they end with; the steeper ends too slow,
 * or stalls. */
struct bracket {
    double low_rad;
    double low_mps;
    double high_rad;
    double high_mps; /* 0 after a stall */
};

/* Where between the two the wanted speed lies, as far as a line tells. */
static double between_rad(const struct bracket *b, double wanted_mps)
{
    double share = b->high_mps > 0.0
                       ? (b->low_mps - wanted_mps) / (b->low_mps - b->high_mps)
                       : 0.5;

    return b->low_rad +
           (b->high_rad - b->low_rad) * fmax(0.02, fmin(0.98, share));
}

/* Take an end nearer. kept: how often the same end has stayed; its speed is
 * then taken for half as far off (the Illinois rule). */
static void take_nearer(struct bracket *b, double pitch_rad, double speed_mps,
                        double wanted_mps, int *kept)
{
    if (speed_mps >= wanted_mps) {
        b->low_rad = pitch_rad;
        b->low_mps = speed_mps;
        *kept = *kept > 0 ? *kept + 1 : 1;
        if (*kept > 1 && b->high_mps > 0.0)
            b->high_mps = (b->high_mps + wanted_mps) / 2.0;
    } else {
        b->high_rad = pitch_rad;
        b->high_mps = speed_mps;
        *kept = *kept < 0 ? *kept - 1 : -1;
        if (*kept < -1)
            b->low_mps = (b->low_mps + wanted_mps) / 2.0;
    }
}

/* Find the highest pitch that leaves the speed that is wanted, no higher than
 * the airplane's limit.
 * Returns: a pitch that does not stall; NaN when even a shallow climb does. */
static double slow_enough_rad(struct flying *flying, double limit_rad,
                              double wanted_mps)
{
    double entry_rad = flying->entry.pitch_rad;
    struct bracket b = {.high_rad = fmin(limit_rad, most_pitch_rad)};
    int kept = 0;

    b.high_mps = finish_cas_mps(flying, b.high_rad);
    if (b.high_mps >= wanted_mps)
        return b.high_rad;
    b.low_rad = entry_rad + 0.75 * (b.high_rad - entry_rad);
    b.low_mps = finish_cas_mps(flying, b.low_rad);
    if (b.low_mps < wanted_mps) {
        b.high_rad = b.low_rad;
        b.high_mps = b.low_mps;
        b.low_rad = entry_rad;
        b.low_mps = finish_cas_mps(flying, b.low_rad);
    }
    if (!(b.low_mps > 0.0))
        return (double)NAN;
    for (int i = 0; i < PITCH_TRIES && b.high_rad - b.low_rad > close_pitch_rad;
         i++) {
        double middle_rad = between_rad(&b, wanted_mps);
        double middle_mps = finish_cas_mps(flying, middle_rad);

        if (fabs(middle_mps - wanted_mps) < close_mps)
            return middle_rad;
        take_nearer(&b, middle_rad, middle_mps, wanted_mps, &kept);
    }
    return b.low_rad;
}

/* Fly the line with the fine step: with the pitch that was found, with that
 * put right by how far off the speed then is, and lower where that stalls.
 * Returns: whether it was flown. */
static bool fly_finely(struct flying *flying, double highest_rad,
                       double limit_rad, double wanted_mps)
{
    double ended_mps;
    double mended_rad;

    flying->step_s = fine_step_s;
    ended_mps = finish_cas_mps(flying, highest_rad);
    if (fabs(ended_mps - wanted_mps) < 2.0 * close_mps ||
        (ended_mps > wanted_mps && highest_rad >= limit_rad))
        return true;
    mended_rad = highest_rad;
    if (ended_mps > 0.0)
        mended_rad += (ended_mps - wanted_mps) * pitch_for_speed;
    mended_rad = fmin(mended_rad, fmin(limit_rad, most_pitch_rad));
    for (int i = 0; i < FINAL_TRIES; i++)
        if (finish_cas_mps(flying, mended_rad - i * 5.0 * close_pitch_rad) >
            0.0)
            return true;
    return false;
}

/* ---- taking it down ----------------------------------------------------- */

/* In a bank the nose stands inside the path, and as the wings come level the
 * heading even goes back by a tenth of a degree. The line takes the turn of
 * the path, which only grows, spread from the nose at 90 degrees to 180. */
static void spread_second_half(struct flying *flying)
{
    const struct moment *ninety = &flying->moment[flying->ninety];
    double from_rad = ninety->point.turn_rad;
    double course_rad = ninety->state.course_rad;
    double stretch =
        (UNITS_PI - from_rad) /
        (flying->moment[flying->count - 1].state.course_rad - course_rad);

    for (uint32_t i = flying->ninety; i < flying->count; i++) {
        struct moment *moment = &flying->moment[i];

        moment->point.turn_rad =
            from_rad + (moment->state.course_rad - course_rad) * stretch;
    }
}

static double mix(double a, double b, double share)
{
    return a + (b - a) * share;
}

/* The moment at which the turn, or else the time, is passed. */
static struct performance_reference_point point_at(const struct flying *flying,
                                                   bool by_turn, double wanted)
{
    const struct performance_reference_point *a;
    const struct performance_reference_point *b;
    uint32_t next = 1;
    double share;

    while (next + 1 < flying->count &&
           (by_turn ? flying->moment[next].point.turn_rad
                    : flying->moment[next].point.t_s) < wanted)
        next++;
    a = &flying->moment[next - 1].point;
    b = &flying->moment[next].point;
    share = by_turn ? (wanted - a->turn_rad) / (b->turn_rad - a->turn_rad)
                    : (wanted - a->t_s) / (b->t_s - a->t_s);
    share = fmax(0.0, fmin(1.0, share));
    return (struct performance_reference_point){
        .turn_rad = mix(a->turn_rad, b->turn_rad, share),
        .t_s = mix(a->t_s, b->t_s, share),
        .bank_rad = mix(a->bank_rad, b->bank_rad, share),
        .pitch_rad = mix(a->pitch_rad, b->pitch_rad, share),
        .cas_mps = mix(a->cas_mps, b->cas_mps, share),
        .tas_mps = mix(a->tas_mps, b->tas_mps, share),
        .gain_m = mix(a->gain_m, b->gain_m, share)};
}

static void take_down(const struct flying *flying,
                      struct performance_reference *out)
{
    const struct performance_reference_point *last;
    double entry_tas_mps = flying->entry.tas_mps;

    out->t_90_s = point_at(flying, true, quarter_rad).t_s;
    out->t_180_s = flying->moment[flying->count - 1].point.t_s;
    for (int i = 0; i <= REFERENCE_HALF; i++) {
        double share = (double)i / REFERENCE_HALF;

        out->point[i] = point_at(flying, false, out->t_90_s * share);
        out->point[REFERENCE_HALF + i] =
            point_at(flying, false, mix(out->t_90_s, out->t_180_s, share));
    }
    out->count = PERFORMANCE_POINTS;
    last = &out->point[out->count - 1];
    out->modelled = true;
    out->roll_out_rate_radps = flying->roll_radps;
    out->ninety_cas_mps = out->point[REFERENCE_HALF].cas_mps;
    out->finish_cas_mps = last->cas_mps;
    out->finish_pitch_rad = last->pitch_rad;
    out->gain_m = last->gain_m;
    out->gain_from_speed_m =
        (entry_tas_mps * entry_tas_mps - last->tas_mps * last->tas_mps) /
        (2.0 * UNITS_G0_MPS2);
}

int reference_from_model(const struct performance_model *model,
                         const struct performance_conditions *conditions,
                         double pitch_limit_rad,
                         struct performance_reference *out)
{
    struct flying flying = {.roll_radps = first_guess_radps,
                            .step_s = coarse_step_s};
    struct performance_model calm = *model;
    double density = performance_density_kgpm3(model, conditions->altitude_m);
    double tas_mps =
        out->entry_cas_mps * sqrt(model->sea_level_kgpm3 / density);
    double highest_rad;

    /* The line is one through the air. */
    calm.wind_north_mps = calm.wind_east_mps = 0.0;
    flying.model = &calm;
    if (performance_trim(&calm, conditions->altitude_m, tas_mps, 0.0,
                         &flying.entry, &flying.entry_power) != 0)
        return ERR_RANGE;
    highest_rad =
        slow_enough_rad(&flying, pitch_limit_rad, out->finish_cas_mps);
    if (isnan(highest_rad) ||
        !fly_finely(&flying, highest_rad, pitch_limit_rad, out->finish_cas_mps))
        return ERR_RANGE;
    spread_second_half(&flying);
    take_down(&flying, out);
    return 0;
}
