/* callout.c - which cue is said, and when.
 *
 * Cues wait in a short list, each with the instant its first sample should
 * sound. Shortly before that instant (the commit lead) a cue is handed over
 * and cannot be taken back; until then a planned one follows every new
 * prediction. One voice: a higher rank cuts in, an equal one waits, and what
 * can no longer help is dropped. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help.h"
#include "quarterturn/callout.h"
#include "quarterturn/error.h"
#include "speak.h"
#include "waiting.h"

/* What stays wrong is said again, ours: a stall before the airplane has fallen
 * far, the rest seldom enough to leave an ear for the flight. */
static const int64_t stall_again_ns = 5 * UNITS_NS_PER_S;
static const int64_t wrong_again_ns = 10 * UNITS_NS_PER_S;

/* Whoever asks for the last call again waits no longer for it. */
static const int64_t repeat_expiry_ns = 5 * UNITS_NS_PER_S;

void callout_defaults(struct callout_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    settings->commit_lead_ns = waiting_ns(0.12);
    settings->spacing_ns = waiting_ns(0.5);
    settings->repeat_ns = waiting_ns(3.0);
    settings->clip_gap_ns = waiting_ns(0.04);
    settings->numbers = NUMBERS_DIGITS;
    for (int i = 0; i < CLIP_COUNT; i++)
        settings->clip_s[i] = 0.5;
}

void callout_init(struct callout *callout,
                  const struct callout_settings *settings)
{
    memset(callout, 0, sizeof *callout);
    callout->settings = *settings;
    callout->busy_until_ns = INT64_MIN / 2;
    callout->now_ns = INT64_MIN / 2;
    for (int i = 0; i < CUE_COUNT; i++)
        callout->said_ns[i] = INT64_MIN / 2;
}

/* ---- the list of waiting cues ------------------------------------------- */

static uint32_t find_pending(const struct callout *callout,
                             enum callout_cue cue)
{
    uint32_t i = 0;

    while (i < callout->pending_count && callout->pending[i].cue != cue)
        i++;
    return i;
}

static void set_moment(struct callout_call *call, int64_t moment_ns,
                       int64_t onset_ns)
{
    call->moment_ns = moment_ns;
    call->onset_ns = onset_ns;
    call->expiry_ns =
        moment_ns + waiting_ns(callout_cue_info(call->cue)->expiry_s);
}

/* Cues that consist of the clip of the same name. */
static enum callout_clip clip_of_cue(enum callout_cue cue)
{
    static const enum callout_clip clip[CUE_COUNT] = {
        [CUE_STALL] = CLIP_STALL,
        [CUE_PITCH_LIMIT] = CLIP_PITCH_LIMIT,
        [CUE_MORE_BANK] = CLIP_MORE_BANK,
        [CUE_LESS_BANK] = CLIP_LESS_BANK,
        [CUE_LEFT_RUDDER] = CLIP_LEFT_RUDDER,
        [CUE_RIGHT_RUDDER] = CLIP_RIGHT_RUDDER,
        [CUE_HOLD_ALTITUDE] = CLIP_HOLD_ALTITUDE,
        [CUE_NINETY] = CLIP_NINETY,
        [CUE_TEN_TO_GO] = CLIP_TEN_TO_GO,
        [CUE_WINGS_LEVEL] = CLIP_WINGS_LEVEL,
        [CUE_HOLD_PITCH] = CLIP_HOLD_PITCH,
        [CUE_ROLL_FASTER] = CLIP_ROLL_FASTER,
        [CUE_ROLL_SLOWER] = CLIP_ROLL_SLOWER,
        [CUE_READY] = CLIP_READY};

    return clip[cue];
}

/* Put a cue on the list, or find the one that is there.
 * Returns: NULL when there is no room (counted). */
static struct callout_call *pend(struct callout *callout, enum callout_cue cue,
                                 bool planned)
{
    uint32_t i = find_pending(callout, cue);
    struct callout_call *call = &callout->pending[i];

    if (i == CALLOUT_MAX_PENDING) {
        callout->dropped++;
        return NULL;
    }
    if (i == callout->pending_count) {
        memset(call, 0, sizeof *call);
        call->cue = cue;
        call->rank = callout_cue_info(cue)->rank;
        if (callout_cue_info(cue)->text[0] != '\0') {
            call->clip[call->clip_count++] = clip_of_cue(cue);
            (void)snprintf(call->text, sizeof call->text, "%s",
                           callout_cue_info(cue)->text);
        }
        callout->pending_count++;
    }
    callout->planned[i] = planned;
    return call;
}

/* A cue about something that has just happened: to be said at once. */
static struct callout_call *say_now(struct callout *callout,
                                    enum callout_cue cue, int64_t now_ns,
                                    const struct maneuver_event *event)
{
    struct callout_call *call;

    if (!help_allows(callout, cue))
        return NULL;
    if (event->t_ns - callout->said_ns[cue] < callout->settings.repeat_ns)
        return NULL;
    if (event->t_ns + waiting_ns(callout_cue_info(cue)->expiry_s) < now_ns) {
        callout->dropped++;
        return NULL;
    }
    call = pend(callout, cue, false);
    if (call == NULL)
        return NULL;
    call->attempt = event->attempt;
    set_moment(call, event->t_ns, now_ns);
    return call;
}

/* A point of the turn that is said once in an attempt. When its planned call
 * has not been made by now, the prediction was off: say it at once. */
static void say_point(struct callout *callout, enum callout_cue cue,
                      int64_t now_ns, const struct maneuver_event *event)
{
    if (callout->said_attempt[cue] != event->attempt)
        (void)say_now(callout, cue, now_ns, event);
}

/* Sound the tone of the flight's band, if it may sound. */
static void set_tone(struct callout *callout, int64_t t_ns)
{
    int band = callout->band;

    if (callout->lost || callout->paused ||
        !callout_help_sounds_tone(callout->settings.help))
        band = 0;
    if (callout->tone.band == band)
        return;
    callout->tone.t_ns = t_ns;
    callout->tone.band = band;
    callout->tone_changed = true;
}

static void set_band(struct callout *callout, int64_t t_ns, int band)
{
    callout->band = band;
    set_tone(callout, t_ns);
}

/* Nothing is seen of the flight, or it stands still, or that is over: what it
 * was near to, it then still is. A flight may be lost while it is paused, and
 * is paused still when it is seen again. */
static void hush(struct callout *callout, int64_t t_ns,
                 enum maneuver_event_kind kind)
{
    if (kind == EVENT_SIGNAL_LOST || kind == EVENT_SIGNAL_BACK)
        callout->lost = kind == EVENT_SIGNAL_LOST;
    else
        callout->paused = kind == EVENT_PAUSED;
    set_tone(callout, t_ns);
}

/* judged: how the attempt was flown is still to be said. */
static void clear(struct callout *callout, bool judged)
{
    for (uint32_t i = callout->pending_count; i-- > 0;)
        if (!judged || (callout->pending[i].cue != CUE_RESULT &&
                        callout->pending[i].cue != CUE_VERDICT))
            waiting_remove(callout, i);
}

void callout_set_help(struct callout *callout, int64_t now_ns,
                      enum callout_help help)
{
    callout->settings.help = help;
    for (uint32_t i = callout->pending_count; i-- > 0;)
        if (!help_allows(callout, callout->pending[i].cue))
            waiting_remove(callout, i);
    set_tone(callout, now_ns);
}

void callout_change(struct callout *callout, int64_t now_ns,
                    const struct callout_settings *settings)
{
    callout->settings = *settings;
    callout_set_help(callout, now_ns, settings->help);
}

int callout_repeat(struct callout *callout, int64_t now_ns)
{
    uint32_t i = find_pending(callout, callout->last.cue);
    struct callout_call *call = &callout->pending[i];

    if (callout->calls == 0)
        return ERR_ABSENT;
    /* If the same cue waits, it is about to be said anyway. */
    if (i < callout->pending_count)
        return 0;
    if (i == CALLOUT_MAX_PENDING)
        return ERR_FULL;
    *call = callout->last;
    call->again = true;
    call->moment_ns = call->onset_ns = now_ns;
    call->expiry_ns = now_ns + repeat_expiry_ns;
    callout->planned[i] = false;
    callout->pending_count++;
    return 0;
}

/* ---- what events ask for ------------------------------------------------ */

static void offer_mark(struct callout *callout, int64_t now_ns,
                       const struct maneuver_event *event)
{
    long mark_deg = lround(units_deg(event->angle_rad));

    if (mark_deg == 90)
        say_point(callout, CUE_NINETY, now_ns, event);
    else if (mark_deg == 170)
        say_point(callout, CUE_TEN_TO_GO, now_ns, event);
}

static void offer_level(struct callout *callout, int64_t now_ns,
                        const struct maneuver_event *event)
{
    struct callout_call *result;

    (void)say_now(callout, CUE_WINGS_LEVEL, now_ns, event);
    result = say_now(callout, CUE_RESULT, now_ns, event);
    if (result == NULL)
        return;
    result->clip_count = 0;
    result->text[0] = '\0';
    speak_result(event, callout->settings.numbers, result);
}

void callout_verdict(struct callout *callout, int64_t now_ns,
                     const struct maneuver_event *finished, bool in_standard,
                     enum callout_cue next)
{
    struct callout_call *call = say_now(callout, CUE_VERDICT, now_ns, finished);

    if (call != NULL)
        speak_verdict(in_standard,
                      next == CUE_COUNT ? CLIP_COUNT : clip_of_cue(next), call);
}

/* Of a wing that is stalled nothing else is said than what brings it back. */
static void offer_stall(struct callout *callout, int64_t now_ns,
                        const struct maneuver_event *event)
{
    for (uint32_t i = callout->pending_count; i-- > 0;)
        if (!callout->planned[i] && !callout->pending[i].again)
            waiting_remove(callout, i);
    (void)say_now(callout, CUE_STALL, now_ns, event);
}

static bool misleads(const struct maneuver_event *event)
{
    switch (event->kind) {
    case EVENT_PITCH_SAG:
    case EVENT_PITCH_RISE:
    case EVENT_BANK_DRIFT:
    case EVENT_ROLL_OUT_ADVICE:
    case EVENT_WINGS_LEVEL:
    case EVENT_HOLD_BROKEN: return event->stalled;
    default: return false;
    }
}

void callout_offer(struct callout *callout, int64_t now_ns,
                   const struct maneuver_event *event)
{
    if (misleads(event))
        return;
    switch (event->kind) {
    case EVENT_READY:
        if (callout->settings.say_ready)
            (void)say_now(callout, CUE_READY, now_ns, event);
        break;
    case EVENT_MARK: offer_mark(callout, now_ns, event); break;
    case EVENT_PITCH_LIMIT:
        (void)say_now(callout, CUE_PITCH_LIMIT, now_ns, event);
        break;
    case EVENT_PITCH_SAG:
    case EVENT_PITCH_RISE:
        (void)say_now(callout, CUE_HOLD_PITCH, now_ns, event);
        break;
    case EVENT_BANK_DRIFT:
        (void)say_now(callout,
                      event->angle_rad > 0.0 ? CUE_LESS_BANK : CUE_MORE_BANK,
                      now_ns, event);
        break;
    case EVENT_BALL:
        (void)say_now(callout,
                      event->side < 0 ? CUE_LEFT_RUDDER : CUE_RIGHT_RUDDER,
                      now_ns, event);
        break;
    case EVENT_ROLL_OUT_ADVICE:
        (void)say_now(callout,
                      event->side > 0 ? CUE_ROLL_FASTER : CUE_ROLL_SLOWER,
                      now_ns, event);
        break;
    case EVENT_NEAR_STALL: set_band(callout, now_ns, event->band); break;
    case EVENT_STALL: offer_stall(callout, now_ns, event); break;
    case EVENT_WINGS_LEVEL: offer_level(callout, now_ns, event); break;
    case EVENT_HOLD_BROKEN:
        (void)say_now(callout, CUE_HOLD_ALTITUDE, now_ns, event);
        break;
    case EVENT_FINISHED: set_band(callout, now_ns, 0); break;
    /* What was waiting is not true any more; but when the flight only went
     * out of sight, what it was like remains. */
    case EVENT_ABANDONED:
        clear(callout, false);
        set_band(callout, now_ns, 0);
        break;
    case EVENT_JUMPED:
        clear(callout, true);
        set_band(callout, now_ns, 0);
        break;
    case EVENT_SIGNAL_LOST:
    case EVENT_PAUSED:
        clear(callout, true);
        hush(callout, now_ns, event->kind);
        break;
    case EVENT_SIGNAL_BACK:
    case EVENT_RESUMED: hush(callout, now_ns, event->kind); break;
    case EVENT_ENTRY:
    case EVENT_BANK_SET:
    case EVENT_NOT_BEGUN:
    case EVENT_KIND_COUNT: break;
    }
}

/* ---- planned cues ------------------------------------------------------- */

static void plan_one(struct callout *callout, enum callout_cue cue,
                     const struct maneuver_outlook *outlook, int64_t moment_ns,
                     bool once)
{
    uint32_t i = find_pending(callout, cue);
    bool waiting = i < callout->pending_count;
    struct callout_call *call;

    if (waiting && !callout->planned[i])
        return; /* already due for what has happened */
    if (moment_ns == INT64_MAX || !help_allows(callout, cue) ||
        (once && callout->said_attempt[cue] == outlook->attempt) ||
        moment_ns - callout->said_ns[cue] < callout->settings.repeat_ns) {
        if (waiting)
            waiting_remove(callout, i);
        return;
    }
    call = pend(callout, cue, true);
    if (call == NULL)
        return;
    call->attempt = outlook->attempt;
    set_moment(call, moment_ns, moment_ns);
}

/* What is wrong and has not been said, or not for a while. An attempt is
 * recognized late: what was wrong from its beginning is said then. */
static void say_standing(struct callout *callout, enum callout_cue cue,
                         const struct maneuver_outlook *outlook,
                         int64_t again_ns)
{
    struct callout_call *call;

    if (!help_allows(callout, cue) ||
        outlook->now_ns - callout->said_ns[cue] < again_ns ||
        find_pending(callout, cue) < callout->pending_count)
        return;
    call = pend(callout, cue, false);
    if (call == NULL)
        return;
    call->attempt = outlook->attempt;
    set_moment(call, outlook->now_ns, outlook->now_ns);
}

static void say_all_standing(struct callout *callout,
                             const struct maneuver_outlook *outlook)
{
    if (outlook->stalled) {
        say_standing(callout, CUE_STALL, outlook, stall_again_ns);
        return;
    }
    if (outlook->bank_out != 0)
        say_standing(callout,
                     outlook->bank_out > 0 ? CUE_LESS_BANK : CUE_MORE_BANK,
                     outlook, wrong_again_ns);
    if (outlook->ball_out != 0)
        say_standing(callout,
                     outlook->ball_out < 0 ? CUE_LEFT_RUDDER : CUE_RIGHT_RUDDER,
                     outlook, wrong_again_ns);
}

void callout_plan(struct callout *callout,
                  const struct maneuver_outlook *outlook)
{
    plan_one(callout, CUE_NINETY, outlook, outlook->ninety_ns, true);
    plan_one(callout, CUE_TEN_TO_GO, outlook, outlook->ten_to_go_ns, true);
    plan_one(callout, CUE_PITCH_LIMIT, outlook, outlook->pitch_limit_ns, false);
    say_all_standing(callout, outlook);
}

bool callout_take_tone(struct callout *callout, struct callout_tone *out)
{
    if (!callout->tone_changed)
        return false;
    callout->tone_changed = false;
    *out = callout->tone;
    return true;
}
