/* not_begun.c - a turn that must have been meant as an attempt, and why it
 * was not taken for one.
 *
 * Nothing of it is called: it is told when somebody asks why there was no
 * attempt. Whatever an ordinary flight holds must not come to it, so that it
 * takes more here than to begin an attempt out of steady flight. */
#include <math.h>
#include <string.h>

#include "machine.h"

/* Ours. What goes up for so long is no gust and no balloon. */
static const double resembles_hold_s = 1.0;
/* Who has turned so far has done something else before. */
static const double over_turn_rad = UNITS_PI;

static void turn_clear(struct maneuver_turn *turn)
{
    memset(turn, 0, sizeof *turn);
    turn->climb_turn_rad = NAN;
    turn->lack.kind = LACK_NONE;
}

static void turn_begin(struct maneuver *maneuver,
                       const struct flight_state *now)
{
    struct maneuver_turn *turn = &maneuver->turn;

    turn_clear(turn);
    turn->direction = now->bank.value > 0.0 ? 1 : -1;
    setup_date_back(maneuver, turn->direction, now, &turn->from);
    /* With a candidate it has become clear only in the turn. */
    if (maneuver->candidate == 0)
        steady_lack_before(maneuver, &turn->from, now->t_ns, &turn->lack);
}

/* Out of steady flight, and yet no attempt: too steep while it began to
 * climb, or climbing when nobody looked any more. */
static void lack_of_turn(const struct maneuver_turn *turn,
                         const struct maneuver_rules *rules,
                         struct maneuver_lack *out)
{
    double until_s = (double)(turn->climb_ns - turn->from.t_ns) * 1e-9;
    double drop_s = (double)setup_drop_ns * 1e-9;

    if (turn->climb_bank_rad < rules->bank_most_rad &&
        turn->climb_turn_rad > setup_drop_turn_rad)
        *out = (struct maneuver_lack){LACK_EARLY_CLIMB, turn->climb_turn_rad,
                                      NAN, setup_drop_turn_rad};
    else if (turn->climb_bank_rad < rules->bank_most_rad && until_s > drop_s)
        *out = (struct maneuver_lack){LACK_PROMPT_CLIMB, until_s, NAN, drop_s};
    else
        *out = (struct maneuver_lack){LACK_MEDIUM_BANK, turn->bank_greatest_rad,
                                      NAN, rules->bank_most_rad};
}

static void tell(struct step *step, const struct maneuver_rules *rules,
                 double turn_rad)
{
    struct maneuver_turn *turn = &step->maneuver->turn;
    struct maneuver_event *event = emit(step, EVENT_NOT_BEGUN, 1.0);

    if (turn->lack.kind == LACK_NONE)
        lack_of_turn(turn, rules, &turn->lack);
    event->direction = turn->direction;
    event->turn_rad = turn_rad;
    event->lack = turn->lack;
    turn->over = true;
}

static void turn_follow(struct step *step, const struct maneuver_rules *rules)
{
    struct maneuver_turn *turn = &step->maneuver->turn;
    const struct flight_state *now = step->now;
    double turn_rad =
        turn->direction * (now->heading.value - turn->from.heading.value);
    double fraction;

    turn->bank_greatest_rad =
        fmax(turn->bank_greatest_rad, turn->direction * now->bank.value);
    if (lasting(&turn->climbs, step,
                rules->climbs(&turn->from, turn->direction, now),
                setup_begins_hold_s, &fraction) &&
        isnan(turn->climb_turn_rad)) {
        turn->climb_turn_rad = turn_rad;
        turn->climb_bank_rad = turn->direction * now->bank.value;
        turn->climb_ns = now->t_ns;
    }
    if (lasting(&turn->resembles, step,
                rules->resembles(&turn->from, turn->direction, now),
                resembles_hold_s, &fraction))
        turn->like = true;
    /* While it is looked at, it may still become an attempt. */
    if (turn->like && step->maneuver->candidate == 0)
        tell(step, rules, turn_rad);
    else if (turn_rad > over_turn_rad)
        turn->over = true;
}

void not_begun_follow(struct step *step, const struct maneuver_rules *rules)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_turn *turn = &maneuver->turn;
    const struct flight_state *now = step->now;

    if (turn->direction != 0) {
        if (!turn->over)
            turn_follow(step, rules);
        if (turn->direction * now->bank.value < setup_drop_bank_rad ||
            now->on_ground)
            turn_clear(turn);
    }
    if (turn->direction == 0) {
        if (fabs(now->bank.value) < setup_drop_bank_rad)
            turn->level = true;
        else if (turn->level &&
                 fabs(now->bank.value) > setup_candidate_bank_rad)
            turn_begin(maneuver, now);
    }
}
