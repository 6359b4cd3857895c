/* setup.c - recognises a roll-in out of steady flight. */
#include <math.h>
#include <string.h>

#include "machine.h"

/* A roll-in is looked at from this bank on, ... */
const double setup_candidate_bank_rad = 10.0 * UNITS_RAD_PER_DEG;
/* ... is dated back to where the bank left level, at most so far, ... */
static const double leave_bank_rad = 2.0 * UNITS_RAD_PER_DEG;
static const int64_t date_back_ns = 5 * UNITS_NS_PER_S;
/* ... and is given up when the wings come back or too much time or turn has
 * gone by without a climb. */
const double setup_drop_bank_rad = 5.0 * UNITS_RAD_PER_DEG;
const double setup_drop_turn_rad = 85.0 * UNITS_RAD_PER_DEG;
const int64_t setup_drop_ns = 20 * UNITS_NS_PER_S;
/* The signs of a climb must last, so that one gust is not a manoeuvre. */
const double setup_begins_hold_s = 0.5;
/* The entry heading is the mean of the time before the roll-in. */
static const int64_t entry_mean_ns = 2 * UNITS_NS_PER_S;
/* States closer together are not kept. */
static const int64_t history_step_ns = UNITS_NS_PER_S / 41;

void setup_reset(struct maneuver *maneuver)
{
    steady_reset(maneuver);
    maneuver->candidate = 0;
    maneuver->history_count = 0;
    maneuver->history_next = 0;
    memset(&maneuver->begins, 0, sizeof maneuver->begins);
    memset(&maneuver->turn, 0, sizeof maneuver->turn);
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

void setup_date_back(const struct maneuver *maneuver, int direction,
                     const struct flight_state *now, struct flight_state *out)
{
    const struct flight_state *later = now;

    *out = *now;
    for (uint32_t i = maneuver->history_count; i-- > 0;) {
        const struct flight_state *earlier = setup_history(maneuver, i);

        if (now->t_ns - earlier->t_ns > date_back_ns)
            return;
        if (direction * earlier->bank.value <= leave_bank_rad) {
            double fraction = crossing_fraction(direction * earlier->bank.value,
                                                direction * later->bank.value,
                                                leave_bank_rad);

            state_between(earlier, later, fraction, out);
            return;
        }
        *out = *earlier;
        later = earlier;
    }
}

static void watch_roll_in(struct maneuver *maneuver,
                          const struct flight_state *now)
{
    if (!maneuver->ready || !(fabs(now->bank.value) > setup_candidate_bank_rad))
        return;
    maneuver->candidate = now->bank.value > 0.0 ? 1 : -1;
    setup_date_back(maneuver, maneuver->candidate, now, &maneuver->roll_in);
    memset(&maneuver->begins, 0, sizeof maneuver->begins);
    if (maneuver->roll_in.t_ns - maneuver->steady_until_ns > steady_armed_ns)
        maneuver->candidate = 0;
}

static bool dropped(const struct maneuver *maneuver,
                    const struct flight_state *now)
{
    int direction = maneuver->candidate;
    double turn_rad =
        direction * (now->heading.value - maneuver->roll_in.heading.value);

    return direction * now->bank.value < setup_drop_bank_rad ||
           turn_rad > setup_drop_turn_rad || now->on_ground ||
           now->t_ns - maneuver->roll_in.t_ns > setup_drop_ns;
}

bool setup_follow(struct step *step, const struct maneuver_rules *rules)
{
    struct maneuver *maneuver = step->maneuver;
    const struct flight_state *now = step->now;
    double fraction;

    steady_follow(step);
    if (maneuver->candidate == 0)
        watch_roll_in(maneuver, now);
    keep(maneuver, now);
    if (maneuver->candidate == 0)
        return false;
    if (dropped(maneuver, now)) {
        /* Not looked at again before the next steady flight. */
        maneuver->candidate = 0;
        steady_reset(maneuver);
        return false;
    }
    return lasting(&maneuver->begins, step, rules->begins(maneuver, now),
                   setup_begins_hold_s, &fraction);
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
