/* chandelle.c - the chandelle: when one has begun, and its phases.
 *
 * Source: Airplane Flying Handbook FAA-H-8083-3C, chapter 10, and
 * FAA-S-ACS-7B, task V.C: about 30 degrees of bank, set once and kept to the
 * 90-degree point while the pitch rises; then the pitch kept and the bank
 * taken off at a constant rate; wings level at 180 degrees just above the
 * stall. Numbers marked "ours" stand in neither. */
#include <math.h>

#include "machine.h"

/* A turn is taken as a chandelle (ours) when it is as steep as one and climbs
 * as one, or, with too little bank, when the nose goes higher than any normal
 * climbing turn would bring it. */
static const double begin_bank_rad = 24.0 * UNITS_RAD_PER_DEG;
#define BEGIN_BANK_MOST_RAD (42.0 * UNITS_RAD_PER_DEG)
static const double begin_pitch_rad = 6.0 * UNITS_RAD_PER_DEG;
static const double begin_climb_mps = 600.0 * UNITS_M_PER_FT / 60.0;
static const double shallow_bank_rad = 14.0 * UNITS_RAD_PER_DEG;
static const double shallow_pitch_rad = 11.0 * UNITS_RAD_PER_DEG;
static const double shallow_climb_mps = 700.0 * UNITS_M_PER_FT / 60.0;
static const double begin_speed_gain_mps = 3.0 * UNITS_MPS_PER_KT;
/* Ours: what a turn that is not taken as one must have come to before anybody
 * is told. */
static const double like_turn_rad = 45.0 * UNITS_RAD_PER_DEG;
static const double like_speed_loss_mps = 5.0 * UNITS_MPS_PER_KT;

/* Ours: when a change counts, and when an attempt is not one any more. */
static const double settled_roll_radps = 2.0 * UNITS_RAD_PER_DEG;
static const double rolled_in_rad = 14.0 * UNITS_RAD_PER_DEG;
/* Rolling faster than this is something the pilot means to do. */
static const double steady_roll_radps = 5.0 * UNITS_RAD_PER_DEG;
static const double drift_hold_s = 0.5;
static const double pitch_hold_s = 0.5;
static const double limit_hysteresis_rad = 2.0 * UNITS_RAD_PER_DEG;
static const double held_from_s = 1.0;
static const double held_until_s = 2.5;
static const double pitch_watch_until_rad = 170.0 * UNITS_RAD_PER_DEG;
static const double complete_turn_rad = 150.0 * UNITS_RAD_PER_DEG;
static const double nose_down_rad = 1.0 * UNITS_RAD_PER_DEG;
static const double level_certain_s = 3.0;
static const double turned_back_rad = 25.0 * UNITS_RAD_PER_DEG;
static const double turned_on_rad = 260.0 * UNITS_RAD_PER_DEG;
static const double descended_m = 100.0 * UNITS_M_PER_FT;
static const double too_long_s = 120.0;
static const double recovery_gain_mps = 5.0 * UNITS_MPS_PER_KT;
static const double recovery_longest_s = 30.0;
static const double next_turn_bank_rad = 15.0 * UNITS_RAD_PER_DEG;
static const double look_ahead_s = 3.0;
static const double pitch_ahead_s = 2.0;

static const double mark_rad[] = {
    45.0 * UNITS_RAD_PER_DEG, 90.0 * UNITS_RAD_PER_DEG,
    135.0 * UNITS_RAD_PER_DEG, 170.0 * UNITS_RAD_PER_DEG,
    180.0 * UNITS_RAD_PER_DEG};
enum { MARK_45, MARK_90, MARK_135, MARK_170, MARK_180, MARKS };

static double climb_mps(const struct flight_state *from,
                        const struct flight_state *now)
{
    /* Without an altitude the path is not known; the pitch has to do. */
    if (isnan(now->altitude.rate))
        return now->tas_mps * sin(now->pitch.value - from->pitch.value);
    return now->altitude.rate;
}

static bool chandelle_climbs(const struct flight_state *from, int direction,
                             const struct flight_state *now)
{
    double bank_rad = direction * now->bank.value;
    double pitch_rad = now->pitch.value - from->pitch.value;

    if (now->cas.value > from->cas.value + begin_speed_gain_mps)
        return false;
    if (bank_rad > begin_bank_rad)
        return pitch_rad > begin_pitch_rad &&
               climb_mps(from, now) > begin_climb_mps;
    return bank_rad > shallow_bank_rad && pitch_rad > shallow_pitch_rad &&
           climb_mps(from, now) > shallow_climb_mps &&
           now->cas.value < from->cas.value;
}

static bool chandelle_begins(const struct maneuver *maneuver,
                             const struct flight_state *now)
{
    return maneuver->candidate * now->bank.value < BEGIN_BANK_MOST_RAD &&
           chandelle_climbs(&maneuver->roll_in, maneuver->candidate, now);
}

/* Higher than any normal climbing turn, also when it began in a descent, and
 * slower and slower: what is taken for a chandelle at once would be one. */
static bool chandelle_resembles(const struct flight_state *from, int direction,
                                const struct flight_state *now)
{
    double turn_rad = direction * (now->heading.value - from->heading.value);
    double level_rad = fmax(from->pitch.value, 0.0);

    return turn_rad > like_turn_rad &&
           direction * now->bank.value > shallow_bank_rad &&
           now->pitch.value - level_rad > shallow_pitch_rad &&
           climb_mps(from, now) > shallow_climb_mps &&
           now->cas.value < from->cas.value - like_speed_loss_mps;
}

/* ---- first half --------------------------------------------------------- */

static void follow_bank_set(struct step *step, double bank_rad)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    double roll_radps = attempt->direction * step->now->bank.rate;

    if (bank_rad > rolled_in_rad)
        attempt->rolled_in = true;
    if (attempt->bank_set || !attempt->rolled_in ||
        roll_radps > settled_roll_radps)
        return;
    attempt->bank_set = true;
    emit(step, EVENT_BANK_SET, 1.0)->angle_rad =
        bank_rad - step->maneuver->standard.entry_bank_rad;
}

static void follow_bank(struct step *step, double bank_rad)
{
    const struct maneuver_standard *standard = &step->maneuver->standard;
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    struct maneuver_summary *summary = &attempt->summary;
    double error_rad = bank_rad - standard->entry_bank_rad;
    double roll_radps = step->now->bank.rate;
    double fraction;

    if (attempt->bank_set) {
        summary->bank_least_rad = fmin(summary->bank_least_rad, bank_rad);
        summary->bank_greatest_rad = fmax(summary->bank_greatest_rad, bank_rad);
    }
    if (lasting(&attempt->drift, step,
                attempt->bank_set && fabs(roll_radps) < steady_roll_radps &&
                    fabs(error_rad) > standard->bank_tolerance_rad,
                drift_hold_s, &fraction))
        emit(step, EVENT_BANK_DRIFT, fraction)->angle_rad = error_rad;
}

/* ---- second half -------------------------------------------------------- */

/* The pitch that is held is the mean over the second and a half after the
 * nose has had a moment to settle at the 90-degree point. */
static void follow_held_pitch(struct step *step)
{
    const struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    struct maneuver_summary *summary = &attempt->summary;
    double since_s = (double)(step->now->t_ns - attempt->ninety_ns) * 1e-9;
    double tolerance_rad = maneuver->standard.pitch_tolerance_rad;
    double change_rad;
    double fraction;

    if (since_s < held_from_s)
        return;
    if (since_s < held_until_s || attempt->held_weight_s <= 0.0) {
        double dt_s = fmax(step_seconds(step), 1e-6);

        attempt->held_sum += dt_s * step->now->pitch.value;
        attempt->held_weight_s += dt_s;
        summary->pitch_held_rad = attempt->held_sum / attempt->held_weight_s;
        return;
    }
    if (attempt->turn_rad > pitch_watch_until_rad || attempt->level_pending ||
        summary->stalled)
        return;
    change_rad = step->now->pitch.value - summary->pitch_held_rad;
    summary->pitch_sag_rad = fmax(summary->pitch_sag_rad, -change_rad);
    summary->pitch_rise_rad = fmax(summary->pitch_rise_rad, change_rad);
    if (lasting(&attempt->sag, step, change_rad < -tolerance_rad, pitch_hold_s,
                &fraction))
        emit(step, EVENT_PITCH_SAG, fraction)->angle_rad =
            summary->pitch_held_rad;
    if (lasting(&attempt->rise, step, change_rad > tolerance_rad, pitch_hold_s,
                &fraction))
        emit(step, EVENT_PITCH_RISE, fraction)->angle_rad =
            summary->pitch_held_rad;
}

/* ---- both halves -------------------------------------------------------- */

static void follow_pitch(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    struct maneuver_summary *summary = &attempt->summary;
    double limit_rad = maneuver->aircraft.pitch_limit_rad;
    double pitch_rad = step->now->pitch.value;

    if (!(pitch_rad <= summary->pitch_highest_rad)) {
        summary->pitch_highest_rad = pitch_rad;
        summary->pitch_highest_turn_rad = attempt->turn_rad;
    }
    if (attempt->limit_called) {
        if (pitch_rad < limit_rad - limit_hysteresis_rad)
            attempt->limit_called = false;
        return;
    }
    if (pitch_rad < limit_rad)
        return;
    attempt->limit_called = true;
    emit(step, EVENT_PITCH_LIMIT,
         crossing_fraction(step->before->pitch.value, pitch_rad, limit_rad))
        ->angle_rad = limit_rad;
}

static void pass_mark(struct step *step, uint32_t mark)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    double fraction = crossing_fraction(attempt->turn_previous_rad,
                                        attempt->turn_rad, mark_rad[mark]);
    struct maneuver_event *event;

    if (mark == MARK_90)
        attempt->phase = PHASE_SECOND_HALF;
    event = emit(step, EVENT_MARK, fraction);
    event->angle_rad = mark_rad[mark];
    if (mark == MARK_90) {
        attempt->ninety_ns = event->t_ns;
        attempt->ninety_bank_rad = attempt->direction * event->bank_rad;
        attempt->summary.first_half_s =
            (double)(event->t_ns - attempt->entry_ns) * 1e-9;
    }
}

static void follow_turn(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;

    attempt->turn_previous_rad = attempt->turn_rad;
    attempt->turn_rad =
        attempt->direction *
        (step->now->heading.value - attempt->summary.entry_heading_rad);
    attempt->turn_greatest_rad =
        fmax(attempt->turn_greatest_rad, attempt->turn_rad);
    while (attempt->marks_passed < MARKS &&
           attempt->turn_rad >= mark_rad[attempt->marks_passed])
        pass_mark(step, attempt->marks_passed++);
}

/* ---- finish ------------------------------------------------------------- */

static void wings_level(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    struct maneuver_summary *summary = &attempt->summary;
    const struct flight_state *level = &attempt->level_state;
    struct maneuver_event *event;

    attempt->phase = PHASE_FINISH;
    summary->heading_error_rad = attempt->level_turn_rad - UNITS_PI;
    summary->altitude_gain_m =
        level->altitude.value - summary->entry_altitude_m;
    summary->finish_speed_mps = level->cas.value;
    summary->finish_margin_mps = level->stall_margin_mps;
    summary->second_half_s = (double)(level->t_ns - attempt->ninety_ns) * 1e-9;
    summary->roll_rate_mean_radps =
        (attempt->ninety_bank_rad - attempt->direction * level->bank.value) /
        fmax(summary->second_half_s, 0.1);
    event = emit_state(step, EVENT_WINGS_LEVEL, level);
    event->angle_rad = summary->heading_error_rad;
    event->length_m = summary->altitude_gain_m;
}

static void begin_level(struct step *step)
{
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    double edge_rad = step->maneuver->standard.level_bank_rad;
    double before_rad = fabs(step->before->bank.value);
    double fraction =
        crossing_fraction(before_rad, fabs(step->now->bank.value), edge_rad);

    attempt->level_pending = true;
    state_between(step->before, step->now, fraction, &attempt->level_state);
    attempt->level_turn_rad =
        attempt->direction * (attempt->level_state.heading.value -
                              attempt->summary.entry_heading_rad);
    attempt->level_low_m = attempt->level_high_m =
        attempt->level_state.altitude.value;
}

/* Wings level counts only when they stay level. A wobbling hand touches level
 * seconds before it is done; what tells the end is that the nose is let down,
 * or that nothing more happens for a while. */
static void follow_level(struct step *step)
{
    const struct maneuver_standard *standard = &step->maneuver->standard;
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    const struct flight_state *now = step->now;
    double since_s;

    if (!attempt->rolled_in ||
        fabs(now->bank.value) >= standard->level_bank_rad) {
        attempt->level_pending = false;
        return;
    }
    if (!attempt->level_pending)
        begin_level(step);
    attempt->level_low_m = fmin(attempt->level_low_m, now->altitude.value);
    attempt->level_high_m = fmax(attempt->level_high_m, now->altitude.value);
    since_s = (double)(now->t_ns - attempt->level_state.t_ns) * 1e-9;
    if (since_s < standard->level_time_s)
        return;
    if (attempt->level_turn_rad < complete_turn_rad)
        attempt_end(step, REASON_LEVEL_EARLY);
    else if (now->pitch.value <
                 attempt->level_state.pitch.value - nose_down_rad ||
             since_s > level_certain_s)
        wings_level(step);
}

static void follow_hold(struct step *step)
{
    const struct maneuver *maneuver = step->maneuver;
    const struct maneuver_standard *standard = &maneuver->standard;
    struct maneuver_attempt *attempt = &step->maneuver->attempt;
    const struct flight_state *now = step->now;
    double reference_m = attempt->level_state.altitude.value;
    double since_s = (double)(now->t_ns - attempt->level_state.t_ns) * 1e-9;
    double deviation_m = now->altitude.value - reference_m;
    double regained_mps =
        maneuver->aircraft.entry_speed_mps - standard->entry_speed_band_mps;

    if (since_s <= standard->hold_time_s && !isnan(deviation_m)) {
        bool out = fabs(deviation_m) > standard->hold_band_m;

        attempt->level_low_m = fmin(attempt->level_low_m, now->altitude.value);
        attempt->level_high_m =
            fmax(attempt->level_high_m, now->altitude.value);
        attempt->summary.hold_low_m = attempt->level_low_m - reference_m;
        attempt->summary.hold_high_m = attempt->level_high_m - reference_m;
        if (out && !attempt->hold_out)
            emit(step, EVENT_HOLD_BROKEN,
                 crossing_fraction(step->before->altitude.value,
                                   now->altitude.value,
                                   reference_m + copysign(standard->hold_band_m,
                                                          deviation_m)))
                ->length_m = deviation_m;
        attempt->hold_out = out;
    }
    if (attempt->phase == PHASE_FINISH &&
        now->cas.value > attempt->summary.finish_speed_mps + recovery_gain_mps)
        attempt->phase = PHASE_RECOVERY;
    if ((since_s > standard->hold_time_s && now->cas.value > regained_mps) ||
        since_s > recovery_longest_s ||
        fabs(now->bank.value) > next_turn_bank_rad)
        attempt_end(step, REASON_NONE);
}

/* ---- giving up ---------------------------------------------------------- */

static enum maneuver_reason reason_to_give_up(const struct step *step)
{
    const struct maneuver_attempt *attempt = &step->maneuver->attempt;
    const struct flight_state *now = step->now;

    if (now->on_ground)
        return REASON_ON_GROUND;
    if (attempt->turn_rad < attempt->turn_greatest_rad - turned_back_rad)
        return REASON_TURNED_BACK;
    if (now->altitude.value < attempt->summary.entry_altitude_m - descended_m)
        return REASON_DESCENDED;
    if (attempt->turn_rad > turned_on_rad)
        return REASON_TURNED_ON;
    if ((double)(now->t_ns - attempt->entry_ns) * 1e-9 > too_long_s)
        return REASON_TOO_LONG;
    return REASON_NONE;
}

/* ---- the whole ---------------------------------------------------------- */

static void chandelle_follow(struct step *step)
{
    struct maneuver *maneuver = step->maneuver;
    struct maneuver_attempt *attempt = &maneuver->attempt;
    double bank_rad = attempt->direction * step->now->bank.value;
    enum maneuver_reason reason;

    if (attempt->ending) {
        attempt_follow_end(step);
        return;
    }
    attempt_watch_stall(step);
    if (attempt->phase == PHASE_FINISH || attempt->phase == PHASE_RECOVERY) {
        follow_hold(step);
        return;
    }
    follow_turn(step);
    follow_pitch(step);
    attempt_watch_ball(step);
    follow_bank_set(step, bank_rad);
    rollout_follow(step);
    if (attempt->phase == PHASE_FIRST_HALF) {
        follow_bank(step, bank_rad);
    } else {
        follow_held_pitch(step);
        rollout_advise(step);
    }
    follow_level(step);
    reason = reason_to_give_up(step);
    if (maneuver->in_attempt && !attempt->ending && reason != REASON_NONE)
        attempt_end(step, reason);
}

static int64_t moment(const struct maneuver *maneuver,
                      const struct flight_trend *trend, double value,
                      double horizon_s)
{
    double in_s = flight_time_to_reach_s(trend, value, horizon_s);

    if (isnan(in_s))
        return INT64_MAX;
    return maneuver->last.t_ns + (int64_t)llround(in_s * 1e9);
}

static void tell_what_is_wrong(const struct maneuver *maneuver,
                               struct maneuver_outlook *outlook)
{
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    double bank_rad = attempt->direction * maneuver->last.bank.value;

    if (!attempt_is_certain(maneuver))
        return;
    if (attempt->phase == PHASE_FIRST_HALF && attempt->drift.fired)
        outlook->bank_out =
            bank_rad > maneuver->standard.entry_bank_rad ? 1 : -1;
    if (attempt->ball.fired)
        outlook->ball_out = attempt->ball_side;
}

static void chandelle_look_ahead(const struct maneuver *maneuver,
                                 struct maneuver_outlook *outlook)
{
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    const struct flight_state *last = &maneuver->last;
    struct flight_trend turn = {attempt->turn_rad,
                                attempt->direction * last->heading.rate,
                                attempt->direction * last->heading.accel};

    if (attempt->ending || (attempt->phase != PHASE_FIRST_HALF &&
                            attempt->phase != PHASE_SECOND_HALF))
        return;
    tell_what_is_wrong(maneuver, outlook);
    if (attempt->marks_passed <= MARK_90)
        outlook->ninety_ns =
            moment(maneuver, &turn, mark_rad[MARK_90], look_ahead_s);
    if (attempt->marks_passed <= MARK_170)
        outlook->ten_to_go_ns =
            moment(maneuver, &turn, mark_rad[MARK_170], look_ahead_s);
    if (!attempt->limit_called && last->pitch.rate > 0.0)
        outlook->pitch_limit_ns =
            moment(maneuver, &last->pitch, maneuver->aircraft.pitch_limit_rad,
                   pitch_ahead_s);
}

const struct maneuver_rules maneuver_chandelle = {
    .name = "chandelle",
    .begins = chandelle_begins,
    .climbs = chandelle_climbs,
    .resembles = chandelle_resembles,
    .bank_most_rad = BEGIN_BANK_MOST_RAD,
    .follow = chandelle_follow,
    .look_ahead = chandelle_look_ahead};
