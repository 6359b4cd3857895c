/* setup.c - arms itself in steady flight, and recognises a roll-in. */
#include <math.h>
#include <string.h>

#include "machine.h"

/* How long ago steady flight may have ended when the roll-in begins: some
 * pilots bring the nose or the power up a moment before the bank. */
static const int64_t armed_ns = 4 * UNITS_NS_PER_S;
/* A roll-in is looked at from this bank on, ... */
static const double candidate_bank_rad = 10.0 * UNITS_RAD_PER_DEG;
/* ... is dated back to where the bank left level, at most so far, ... */
static const double leave_bank_rad = 2.0 * UNITS_RAD_PER_DEG;
static const int64_t date_back_ns = 5 * UNITS_NS_PER_S;
/* ... and is given up when the wings come back or too much time or turn has
 * gone by without a climb. */
static const double drop_bank_rad = 5.0 * UNITS_RAD_PER_DEG;
static const double drop_turn_rad = 85.0 * UNITS_RAD_PER_DEG;
static const int64_t drop_ns = 20 * UNITS_NS_PER_S;
/* The signs of a climb must last, so that one gust is not a manoeuvre. */
static const double begins_hold_s = 0.5;
/* The entry heading is the mean of the time before the roll-in. */
static const int64_t entry_mean_ns = 2 * UNITS_NS_PER_S;
/* Rates are also judged by the change over so long: a heading in whole degrees
 * or an altitude in tens of feet makes one step look like a turn or a climb,
 * but over three seconds no more than 0.33 deg/s and 200 ft/min. */
static const int64_t drift_ns = 3 * UNITS_NS_PER_S;
/* States closer together are not kept. */
static const int64_t history_step_ns = UNITS_NS_PER_S / 41;

void setup_reset(struct maneuver *maneuver)
{
    maneuver->steady = false;
    maneuver->ready = false;
    maneuver->candidate = 0;
    maneuver->history_count = 0;
    maneuver->history_next = 0;
    memset(&maneuver->begins, 0, sizeof maneuver->begins);
}

const struct flight_state *setup_history(const struct maneuver *maneuver,
                                         uint32_t i)
{
    uint32_t first =
        maneuver->history_next + MANEUVER_HISTORY - maneuver->history_count;

    return &maneuver->history[(first + i) % MANEUVER_HISTORY];
}

static void keep(struct maneuver *maneuver, const struct flight_state *state)
{
    if (maneuver->history_count > 0) {
        const struct flight_state *newest =
            setup_history(maneuver, maneuver->history_count - 1);

        if (state->t_ns - newest->t_ns < history_step_ns)
            return;
    }
    maneuver->history[maneuver->history_next] = *state;
    maneuver->history_next = (maneuver->history_next + 1) % MANEUVER_HISTORY;
    if (maneuver->history_count < MANEUVER_HISTORY)
        maneuver->history_count++;
}

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

/* Whether a value changes slowly now, or has done so since an earlier state.
 */
static bool is_slow(double rate, double change, double span_s, double most)
{
    return fabs(rate) <= most || fabs(change) <= most * span_s;
}

static bool holds_level(const struct maneuver *maneuver,
                        const struct flight_state *now)
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
    /* Without any altitude a level flight is told by its steadiness. */
    return is_slow(now->heading.rate, turned_rad, span_s,
                   standard->ready_turn_radps) &&
           (isnan(now->altitude.rate) ||
            is_slow(now->altitude.rate, climbed_m, span_s,
                    standard->ready_climb_mps));
}

static bool is_steady(const struct maneuver *maneuver,
                      const struct flight_state *now)
{
    const struct maneuver_standard *standard = &maneuver->standard;
    const uint32_t needed =
        FLIGHT_HEADING | FLIGHT_PITCH | FLIGHT_BANK | FLIGHT_AIRSPEED;

    if ((now->known & needed) != needed || now->on_ground)
        return false;
    return fabs(now->bank.value) <= standard->ready_bank_rad &&
           fabs(now->cas.value - maneuver->aircraft.entry_speed_mps) <=
               standard->entry_speed_band_mps &&
           holds_level(maneuver, now);
}

static void watch_steady(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    const struct flight_state *now = step->now;
    int64_t needed_ns = (int64_t)(maneuver->standard.ready_time_s * 1e9);

    if (!is_steady(maneuver, now)) {
        maneuver->steady = false;
        if (maneuver->ready && now->t_ns - maneuver->steady_until_ns > armed_ns)
            maneuver->ready = false;
        return;
    }
    if (!maneuver->steady) {
        maneuver->steady = true;
        maneuver->steady_since_ns = now->t_ns;
    }
    if (now->t_ns - maneuver->steady_since_ns < needed_ns)
        return;
    maneuver->steady_until_ns = now->t_ns;
    if (!maneuver->ready) {
        maneuver->ready = true;
        emit(step, EVENT_READY, 1.0);
    }
}

/* Go back from now to the instant at which the bank left level. */
static void date_back(struct maneuver *maneuver, const struct flight_state *now)
{
    int direction = maneuver->candidate;
    const struct flight_state *later = now;

    maneuver->roll_in = *now;
    for (uint32_t i = maneuver->history_count; i-- > 0;) {
        const struct flight_state *earlier = setup_history(maneuver, i);

        if (now->t_ns - earlier->t_ns > date_back_ns)
            return;
        if (direction * earlier->bank.value <= leave_bank_rad) {
            double fraction = crossing_fraction(direction * earlier->bank.value,
                                                direction * later->bank.value,
                                                leave_bank_rad);

            state_between(earlier, later, fraction, &maneuver->roll_in);
            return;
        }
        maneuver->roll_in = *earlier;
        later = earlier;
    }
}

static void watch_roll_in(struct maneuver *maneuver,
                          const struct flight_state *now)
{
    if (!maneuver->ready || !(fabs(now->bank.value) > candidate_bank_rad))
        return;
    maneuver->candidate = now->bank.value > 0.0 ? 1 : -1;
    date_back(maneuver, now);
    memset(&maneuver->begins, 0, sizeof maneuver->begins);
    if (maneuver->roll_in.t_ns - maneuver->steady_until_ns > armed_ns)
        maneuver->candidate = 0;
}

static bool dropped(const struct maneuver *maneuver,
                    const struct flight_state *now)
{
    int direction = maneuver->candidate;
    double turn_rad =
        direction * (now->heading.value - maneuver->roll_in.heading.value);

    return direction * now->bank.value < drop_bank_rad ||
           turn_rad > drop_turn_rad || now->on_ground ||
           now->t_ns - maneuver->roll_in.t_ns > drop_ns;
}

bool setup_follow(struct step *step, const struct maneuver_rules *rules)
{
    struct maneuver *maneuver = step->maneuver;
    const struct flight_state *now = step->now;
    double fraction;

    watch_steady(step);
    if (maneuver->candidate == 0)
        watch_roll_in(maneuver, now);
    keep(maneuver, now);
    if (maneuver->candidate == 0)
        return false;
    if (dropped(maneuver, now)) {
        /* Not looked at again before the next steady flight. */
        maneuver->candidate = 0;
        maneuver->ready = false;
        maneuver->steady = false;
        return false;
    }
    return lasting(&maneuver->begins, step, rules->begins(maneuver, now),
                   begins_hold_s, &fraction);
}

double setup_entry_heading_rad(const struct maneuver *maneuver)
{
    int64_t until_ns = maneuver->roll_in.t_ns;
    double sum = 0.0;
    uint32_t count = 0;

    /* The heading is unwrapped here, so the plain mean is the circular one. */
    for (uint32_t i = 0; i < maneuver->history_count; i++) {
        const struct flight_state *state = setup_history(maneuver, i);

        if (state->t_ns > until_ns)
            break;
        if (until_ns - state->t_ns <= entry_mean_ns) {
            sum += state->heading.value;
            count++;
        }
    }
    return count > 0 ? sum / count : maneuver->roll_in.heading.value;
}

int64_t setup_settled_ns(const struct maneuver *maneuver)
{
    if (maneuver->candidate != 0)
        return maneuver->roll_in.t_ns - 1;
    return maneuver->last.t_ns - date_back_ns;
}
