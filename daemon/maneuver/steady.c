/* steady.c - steady flight at entry speed, and what it lacks. */
#include <math.h>

#include "machine.h"

const int64_t steady_armed_ns = 4 * UNITS_NS_PER_S;
/* Rates are also judged by the change over so long: a heading in whole degrees
 * or an altitude in tens of feet makes one step look like a turn or a climb,
 * but over three seconds no more than 0.33 deg/s and 200 ft/min. */
static const int64_t drift_ns = 3 * UNITS_NS_PER_S;

/* The newest state kept that is drift_ns old, or NULL. They lie in the order
 * of time. */
static const struct flight_state *drifted_from(const struct maneuver *maneuver,
                                               int64_t now_ns)
{
    uint32_t older = 0;
    uint32_t end = maneuver->history_count;

    while (older < end) {
        uint32_t middle = older + (end - older) / 2;

        if (now_ns - setup_history(maneuver, middle)->t_ns >= drift_ns)
            older = middle + 1;
        else
            end = middle;
    }
    return older > 0 ? setup_history(maneuver, older - 1) : NULL;
}

/* Whether a value changes slowly now, or has done so since an earlier state. */
static bool is_slow(double rate, double change, double span_s, double most)
{
    return fabs(rate) <= most || fabs(change) <= most * span_s;
}

static void lack_about(enum maneuver_lack_kind kind, double flown,
                       double target, double within, struct maneuver_lack *out)
{
    *out =
        (struct maneuver_lack){kind, flown, target - within, target + within};
}

/* Both are too fast: the slower one is the fairer figure. */
static double slower(double rate, double change, double span_s)
{
    double mean = change / span_s;

    return fabs(mean) < fabs(rate) ? mean : rate;
}

static void lack_of_level(const struct maneuver *maneuver,
                          const struct flight_state *now,
                          struct maneuver_lack *out)
{
    const struct maneuver_standard *standard = &maneuver->standard;
    const struct flight_state *from = drifted_from(maneuver, now->t_ns);
    double turned_rad = (double)NAN;
    double climbed_m = (double)NAN;
    double span_s = 0.0;

    if (from != NULL) {
        turned_rad = now->heading.value - from->heading.value;
        climbed_m = now->altitude.value - from->altitude.value;
        span_s = (double)(now->t_ns - from->t_ns) * 1e-9;
    }
    if (!is_slow(now->heading.rate, turned_rad, span_s,
                 standard->ready_turn_radps))
        lack_about(LACK_STRAIGHT, slower(now->heading.rate, turned_rad, span_s),
                   0.0, standard->ready_turn_radps, out);
    /* Without any altitude a level flight is told by its steadiness. */
    else if (!isnan(now->altitude.rate) &&
             !is_slow(now->altitude.rate, climbed_m, span_s,
                      standard->ready_climb_mps))
        lack_about(LACK_LEVEL_FLIGHT,
                   slower(now->altitude.rate, climbed_m, span_s), 0.0,
                   standard->ready_climb_mps, out);
}

void steady_lack(const struct maneuver *maneuver,
                 const struct flight_state *state, struct maneuver_lack *out)
{
    const struct maneuver_standard *standard = &maneuver->standard;
    double entry_mps = maneuver->aircraft.entry_speed_mps;

    *out = (struct maneuver_lack){LACK_NONE, NAN, NAN, NAN};
    if (state->on_ground)
        out->kind = LACK_AIR;
    else if (!(fabs(state->cas.value - entry_mps) <=
               standard->entry_speed_band_mps))
        lack_about(LACK_SPEED, state->cas.value, entry_mps,
                   standard->entry_speed_band_mps, out);
    else if (!(fabs(state->bank.value) <= standard->ready_bank_rad))
        lack_about(LACK_LEVEL_WINGS, state->bank.value, 0.0,
                   standard->ready_bank_rad, out);
    else
        lack_of_level(maneuver, state, out);
}

void steady_lack_before(const struct maneuver *maneuver,
                        const struct flight_state *from, int64_t now_ns,
                        struct maneuver_lack *out)
{
    int64_t last_ns = maneuver->steady_last_ns;
    double held_s;

    steady_lack(maneuver, from, out);
    if (out->kind != LACK_NONE)
        return;
    if (last_ns > from->t_ns)
        last_ns = from->t_ns;
    held_s = fmax(0.0, (double)(last_ns - maneuver->steady_since_ns) * 1e-9);
    if (held_s < maneuver->standard.ready_time_s)
        *out = (struct maneuver_lack){LACK_TIME, held_s,
                                      maneuver->standard.ready_time_s, NAN};
    else
        *out = (struct maneuver_lack){
            LACK_BRISK_ROLL, (double)(now_ns - maneuver->steady_last_ns) * 1e-9,
            NAN, (double)steady_armed_ns * 1e-9};
}

void steady_follow(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    const struct flight_state *now = step->now;
    int64_t needed_ns = (int64_t)(maneuver->standard.ready_time_s * 1e9);
    struct maneuver_lack lack;

    steady_lack(maneuver, now, &lack);
    if (lack.kind != LACK_NONE) {
        maneuver->steady = false;
        if (maneuver->ready &&
            now->t_ns - maneuver->steady_until_ns > steady_armed_ns)
            maneuver->ready = false;
        return;
    }
    if (!maneuver->steady) {
        maneuver->steady = true;
        maneuver->steady_since_ns = now->t_ns;
    }
    maneuver->steady_last_ns = now->t_ns;
    if (now->t_ns - maneuver->steady_since_ns < needed_ns)
        return;
    maneuver->steady_until_ns = now->t_ns;
    if (!maneuver->ready) {
        maneuver->ready = true;
        emit(step, EVENT_READY, 1.0);
    }
}

void steady_reset(struct maneuver *maneuver)
{
    maneuver->steady = false;
    maneuver->ready = false;
    maneuver->steady_since_ns = maneuver->steady_last_ns;
}

void maneuver_readiness(const struct maneuver *maneuver,
                        struct maneuver_lack *out)
{
    const struct flight_state *last = &maneuver->last;

    *out = (struct maneuver_lack){LACK_NONE, NAN, NAN, NAN};
    if (maneuver->in_attempt || maneuver->ready)
        return;
    if (!maneuver->has_last) {
        out->kind = LACK_DATA;
        return;
    }
    steady_lack(maneuver, last, out);
    if (out->kind == LACK_NONE)
        *out = (struct maneuver_lack){
            LACK_TIME,
            maneuver->steady
                ? (double)(last->t_ns - maneuver->steady_since_ns) * 1e-9
                : 0.0,
            maneuver->standard.ready_time_s, NAN};
}
