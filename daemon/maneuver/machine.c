/* machine.c - the phase machine that every manoeuvre runs in. */
#include <math.h>
#include <string.h>

#include "machine.h"
#include "quarterturn/error.h"

/* An attempt survives a shorter silence of the signal. */
static const int64_t silence_most_ns = 4 * UNITS_NS_PER_S;

static void outlook_clear(struct maneuver_outlook *outlook, int64_t now_ns)
{
    outlook->now_ns = now_ns;
    outlook->attempt = 0;
    outlook->ninety_ns = INT64_MAX;
    outlook->ten_to_go_ns = INT64_MAX;
    outlook->pitch_limit_ns = INT64_MAX;
    outlook->bank_out = 0;
    outlook->ball_out = 0;
    outlook->stalled = false;
}

void maneuver_init(struct maneuver *maneuver, enum maneuver_kind kind,
                   const struct maneuver_standard *standard,
                   const struct flight_aircraft *aircraft)
{
    memset(maneuver, 0, sizeof *maneuver);
    maneuver->kind = kind;
    maneuver->standard = *standard;
    maneuver->aircraft = *aircraft;
    outlook_clear(&maneuver->outlook, 0);
}

static void summary_clear(struct maneuver_summary *summary)
{
    *summary = (struct maneuver_summary){
        .entry_heading_rad = NAN,
        .entry_speed_mps = NAN,
        .entry_altitude_m = NAN,
        .bank_least_rad = NAN,
        .bank_greatest_rad = NAN,
        .pitch_highest_rad = NAN,
        .pitch_highest_turn_rad = NAN,
        .pitch_held_rad = NAN,
        .heading_error_rad = NAN,
        .altitude_gain_m = NAN,
        .finish_speed_mps = NAN,
        .finish_margin_mps = NAN,
        .least_margin_mps = NAN,
        .roll_rate_mean_radps = NAN,
        .ball_out_s = NAN,
        .hold_low_m = NAN,
        .hold_high_m = NAN,
        .first_half_s = NAN,
        .second_half_s = NAN,
    };
}

/* Begin an attempt at the roll-in and catch up to the present: everything
 * since then goes through the same rules as if it had been known. */
static void attempt_begin(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *from = &maneuver->roll_in;
    const struct flight_state *now = step->now;
    const struct flight_state *before = from;

    memset(attempt, 0, sizeof *attempt);
    summary_clear(&attempt->summary);
    attempt->direction = maneuver->candidate;
    attempt->phase = PHASE_FIRST_HALF;
    attempt->entry_ns = from->t_ns;
    attempt->recognized_ns = now->t_ns;
    attempt->summary.entry_heading_rad = setup_entry_heading_rad(maneuver);
    attempt->summary.entry_speed_mps = from->cas.value;
    attempt->summary.entry_altitude_m = from->altitude.value;
    maneuver->attempts++;
    maneuver->in_attempt = true;
    maneuver->candidate = 0;
    memset(&maneuver->turn, 0, sizeof maneuver->turn);
    emit_state(step, EVENT_ENTRY, from);
    for (uint32_t i = 0; i < maneuver->history_count; i++) {
        const struct flight_state *state = setup_history(maneuver, i);

        if (state->t_ns <= from->t_ns || state->t_ns >= now->t_ns)
            continue;
        step->before = before;
        step->now = state;
        maneuver_rules_of(maneuver->kind)->follow(step);
        before = state;
        if (!maneuver->in_attempt)
            return;
    }
    step->before = before;
    step->now = now;
    maneuver_rules_of(maneuver->kind)->follow(step);
}

int maneuver_step(struct maneuver *maneuver, const struct flight_state *state,
                  struct maneuver_event out[MANEUVER_MAX_EVENTS])
{
    const struct maneuver_rules *rules = maneuver_rules_of(maneuver->kind);
    const uint32_t needed =
        FLIGHT_HEADING | FLIGHT_PITCH | FLIGHT_BANK | FLIGHT_AIRSPEED;
    struct step step = {maneuver, &maneuver->last, state, out, 0};

    if (maneuver->has_last && state->t_ns < maneuver->last.t_ns)
        return ERR_TIME;
    outlook_clear(&maneuver->outlook, state->t_ns);
    if ((state->known & needed) != needed)
        return 0;
    if (!maneuver->has_last)
        step.before = state;
    if (maneuver->in_attempt)
        rules->follow(&step);
    else if (setup_follow(&step, rules))
        attempt_begin(&step);
    else
        not_begun_follow(&step, rules);
    maneuver->last = *state;
    maneuver->has_last = true;
    if (maneuver->in_attempt) {
        maneuver->outlook.attempt = maneuver->attempts;
        maneuver->outlook.stalled =
            maneuver->attempt.stall.fired && attempt_is_certain(maneuver);
        rules->look_ahead(maneuver, &maneuver->outlook);
    }
    return step.count;
}

static enum maneuver_event_kind kind_of_notice(enum intake_notice_kind kind)
{
    static const enum maneuver_event_kind event[] = {
        [INTAKE_SIGNAL_LOST] = EVENT_SIGNAL_LOST,
        [INTAKE_SIGNAL_BACK] = EVENT_SIGNAL_BACK,
        [INTAKE_PAUSED] = EVENT_PAUSED,
        [INTAKE_RESUMED] = EVENT_RESUMED,
        [INTAKE_JUMPED] = EVENT_JUMPED};

    return event[kind];
}

int maneuver_notice(struct maneuver *maneuver,
                    const struct intake_notice *notice,
                    struct maneuver_event out[MANEUVER_MAX_EVENTS])
{
    struct flight_state at = maneuver->last;
    struct step step = {maneuver, &at, &at, out, 0};
    bool jumped = notice->kind == INTAKE_JUMPED;
    bool gone = notice->kind == INTAKE_SIGNAL_BACK && maneuver->has_last &&
                notice->t_ns - maneuver->last.t_ns > silence_most_ns;

    at.t_ns = notice->t_ns;
    outlook_clear(&maneuver->outlook, notice->t_ns);
    emit_state(&step, kind_of_notice(notice->kind), &at);
    if (maneuver->in_attempt && (jumped || gone))
        attempt_abandon(&step, jumped ? REASON_JUMPED : REASON_SIGNAL_LOST);
    if (jumped || gone) {
        setup_reset(maneuver);
        maneuver->has_last = false;
    }
    return step.count;
}

int maneuver_give_up(struct maneuver *maneuver, int64_t t_ns,
                     struct maneuver_event out[MANEUVER_MAX_EVENTS])
{
    struct flight_state at = maneuver->last;
    struct step step = {maneuver, &at, &at, out, 0};

    if (t_ns > at.t_ns)
        at.t_ns = t_ns;
    outlook_clear(&maneuver->outlook, at.t_ns);
    if (maneuver->in_attempt)
        attempt_abandon(&step, REASON_ASKED);
    setup_reset(maneuver);
    return step.count;
}

const struct maneuver_outlook *maneuver_outlook(const struct maneuver *maneuver)
{
    return &maneuver->outlook;
}

int64_t maneuver_settled_ns(const struct maneuver *maneuver)
{
    if (!maneuver->has_last)
        return INT64_MIN;
    if (!maneuver->in_attempt)
        return setup_settled_ns(maneuver);
    if (maneuver->attempt.level_pending &&
        maneuver->attempt.phase < PHASE_FINISH)
        return maneuver->attempt.level_state.t_ns - 1;
    return maneuver->last.t_ns;
}

const struct maneuver_summary *maneuver_summary(const struct maneuver *maneuver)
{
    return &maneuver->attempt.summary;
}
