/* collect.c - one attempt put together from what a session gives.
 *
 * An attempt is known only seconds after it began, so that the last moments
 * are always kept; and a whole one has a bound, so that a longer series is
 * thinned and whatever else is too much is left out and counted. */
#include "collect.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"

/* Closer points show nothing more: a hand does not move as fast. */
static const int64_t least_step_ns = UNITS_NS_PER_S / 41;

const char *debrief_ending_name(enum debrief_ending ending)
{
    static const char *const name[] = {[ENDING_FINISHED] = "finished",
                                       [ENDING_ABANDONED] = "given up",
                                       [ENDING_CUT_OFF] = "cut off"};

    return name[ending];
}

void debrief_collect_init(struct debrief_collector *collector,
                          const struct maneuver_standard *standard,
                          const struct flight_aircraft *aircraft,
                          const char *person)
{
    memset(collector, 0, sizeof *collector);
    collector->attempt.standard = *standard;
    collector->attempt.aircraft = *aircraft;
    debrief_copy_text(person, collector->attempt.person,
                      sizeof collector->attempt.person);
}

/* ---- before an attempt is known ----------------------------------------- */

/* A position that is only remembered from an earlier packet is none. */
static double fresh_value(const struct intake_sample *sample,
                          enum intake_channel channel)
{
    bool fresh = (sample->fresh & CHANNEL_BIT(channel)) != 0;

    return fresh ? sample->value[channel] : (double)NAN;
}

static void raw_of_state(const struct flight_state *state,
                         const struct intake_sample *sample,
                         struct debrief_raw *out)
{
    *out = (struct debrief_raw){
        .t_ns = state->t_ns,
        .latitude_rad = fresh_value(sample, CHANNEL_LATITUDE),
        .longitude_rad = fresh_value(sample, CHANNEL_LONGITUDE),
        .path_rad = state->path_rad,
        .weight_kg = state->weight_kg,
        .point = {.heading_rad = state->heading.value,
                  .bank_rad = state->bank.value,
                  .pitch_rad = state->pitch.value,
                  .roll_rate_radps = state->bank.rate,
                  .cas_mps = state->cas.value,
                  .tas_mps = state->tas_mps,
                  .altitude_m = state->altitude.value,
                  .height_m = state->height_m,
                  .vertical_speed_mps = state->altitude.rate,
                  .load_factor = state->load_factor,
                  .stall_speed_mps = state->stall_speed_mps,
                  .stall_margin_mps = state->stall_margin_mps,
                  .lateral_g = state->lateral_g,
                  .sideslip_rad = state->sideslip_rad,
                  .angle_of_attack_rad = state->angle_of_attack_rad}};
}

static struct debrief_raw *history_at(struct debrief_collector *collector,
                                      uint32_t i)
{
    uint32_t first =
        collector->history_next + DEBRIEF_HISTORY - collector->history_count;

    return &collector->history[(first + i) % DEBRIEF_HISTORY];
}

/* The position may come in a packet of its own. */
static void add_fix(struct debrief_raw *to, const struct debrief_raw *from)
{
    if (isnan(from->latitude_rad) || isnan(from->longitude_rad))
        return;
    to->latitude_rad = from->latitude_rad;
    to->longitude_rad = from->longitude_rad;
}

static void keep(struct debrief_collector *collector,
                 const struct debrief_raw *raw)
{
    if (collector->history_count > 0) {
        struct debrief_raw *newest =
            history_at(collector, collector->history_count - 1);

        if (raw->t_ns == newest->t_ns)
            add_fix(newest, raw);
        if (raw->t_ns - newest->t_ns < least_step_ns)
            return;
    }
    collector->history[collector->history_next] = *raw;
    collector->history_next = (collector->history_next + 1) % DEBRIEF_HISTORY;
    if (collector->history_count < DEBRIEF_HISTORY)
        collector->history_count++;
}

/* ---- the series --------------------------------------------------------- */

static double seconds_since_entry(const struct debrief_collector *collector,
                                  int64_t t_ns)
{
    return (double)(t_ns - collector->entry_ns) * 1e-9;
}

/* Leave out every second point; from now on they come half as often. */
static void thin(struct debrief_collector *collector)
{
    struct debrief_attempt *attempt = &collector->attempt;

    for (uint32_t i = 0; i < DEBRIEF_MAX_POINTS / 2; i++)
        attempt->point[i] = attempt->point[2 * i];
    attempt->point_count = DEBRIEF_MAX_POINTS / 2;
    collector->step_ns *= 2;
}

static void add_point(struct debrief_collector *collector,
                      const struct debrief_raw *raw)
{
    struct debrief_attempt *attempt = &collector->attempt;
    struct debrief_point point = raw->point;

    point.t_s = seconds_since_entry(collector, raw->t_ns);
    point.turn_rad = attempt->direction *
                     (point.heading_rad - attempt->summary.entry_heading_rad);
    place_set(collector, &collector->previous, raw, &point);
    collector->previous = *raw;
    if (attempt->point_count > 0 && raw->t_ns < collector->next_ns)
        return;
    if (attempt->point_count == DEBRIEF_MAX_POINTS)
        thin(collector);
    attempt->point[attempt->point_count++] = point;
    collector->next_ns = raw->t_ns + collector->step_ns;
}

void debrief_collect_state(struct debrief_collector *collector,
                           const struct flight_state *state,
                           const struct intake_sample *sample,
                           int64_t unix_offset_ns)
{
    struct debrief_raw raw;

    if (isnan(state->heading.value))
        return;
    raw_of_state(state, sample, &raw);
    collector->last_ns = state->t_ns;
    collector->unix_offset_ns = unix_offset_ns;
    if (collector->collecting) {
        collector->states++;
        add_point(collector, &raw);
    }
    keep(collector, &raw);
}

/* ---- begin and end ------------------------------------------------------ */

static void clear(struct debrief_attempt *attempt)
{
    attempt->ending = ENDING_CUT_OFF;
    attempt->reason = REASON_NONE;
    attempt->ended_s = attempt->ninety_s = attempt->level_s = NAN;
    attempt->point_count = 0;
    attempt->event_count = attempt->events_left_out = 0;
    attempt->call_count = attempt->calls_left_out = 0;
    attempt->note_count = 0;
}

static void set_conditions(struct debrief_attempt *attempt,
                           const struct debrief_raw *entry)
{
    const struct flight_aircraft *aircraft = &attempt->aircraft;
    double weight_kg =
        isnan(entry->weight_kg) ? aircraft->weight_kg : entry->weight_kg;

    attempt->conditions = (struct debrief_conditions){
        .altitude_m = entry->point.altitude_m,
        .height_m = entry->point.height_m,
        .weight_kg = weight_kg,
        .maneuvering_speed_mps =
            performance_maneuvering_speed_mps(aircraft, weight_kg)};
}

static void add_note(struct debrief_collector *collector, int64_t t_ns,
                     const char *text)
{
    struct debrief_attempt *attempt = &collector->attempt;
    struct debrief_note *note = &attempt->note[attempt->note_count++];

    note->t_s = seconds_since_entry(collector, t_ns);
    debrief_copy_text(text, note->text, sizeof note->text);
}

/* Of more than there is room for, the last ones wait. */
static void let_wait(struct debrief_collector *collector, int64_t t_ns,
                     const char *text)
{
    struct debrief_waiting *note = &collector->waiting[collector->waiting_next];

    note->t_ns = t_ns;
    debrief_copy_text(text, note->text, sizeof note->text);
    collector->waiting_next = (collector->waiting_next + 1) % DEBRIEF_MAX_NOTES;
    if (collector->waiting_count < DEBRIEF_MAX_NOTES)
        collector->waiting_count++;
}

/* Notes made since the entry belong to the attempt that is now known. */
static void add_waiting_notes(struct debrief_collector *collector)
{
    uint32_t first =
        collector->waiting_next + DEBRIEF_MAX_NOTES - collector->waiting_count;

    for (uint32_t i = 0; i < collector->waiting_count; i++) {
        const struct debrief_waiting *note =
            &collector->waiting[(first + i) % DEBRIEF_MAX_NOTES];

        if (note->t_ns >= collector->entry_ns)
            add_note(collector, note->t_ns, note->text);
    }
    collector->waiting_count = 0;
}

static void begin(struct debrief_collector *collector,
                  const struct maneuver_event *event,
                  const struct maneuver_summary *summary)
{
    struct debrief_attempt *attempt = &collector->attempt;
    const struct debrief_raw *entry = NULL;
    uint32_t first = 0;

    clear(attempt);
    attempt->number = event->attempt;
    attempt->direction = event->direction;
    attempt->maneuver = event->maneuver;
    attempt->summary = *summary;
    attempt->begun_unix_ns = event->t_ns + collector->unix_offset_ns;
    collector->collecting = true;
    collector->complete = false;
    collector->entry_ns = event->t_ns;
    collector->begun_ns = collector->last_ns;
    collector->states = 0;
    collector->step_ns = least_step_ns;
    /* Begin with the last moment that is not after the entry. */
    for (uint32_t i = 0; i < collector->history_count; i++)
        if (history_at(collector, i)->t_ns <= event->t_ns)
            first = i;
    assert(collector->history_count > 0);
    entry = history_at(collector, first);
    place_begin(collector);
    set_conditions(attempt, entry);
    collector->previous = *entry;
    for (uint32_t i = first; i < collector->history_count; i++)
        add_point(collector, history_at(collector, i));
    add_waiting_notes(collector);
}

static void set_reference(struct debrief_attempt *attempt)
{
    bool no_altitude = isnan(attempt->conditions.altitude_m);
    /* Without an altitude the shape is as good as that at sea level. */
    const struct performance_conditions conditions = {
        .weight_kg = attempt->conditions.weight_kg,
        .altitude_m = no_altitude ? 0.0 : attempt->conditions.altitude_m,
        .temperature_k = (double)NAN};

    attempt->has_reference =
        performance_reference_make(
            &attempt->aircraft, &conditions, attempt->summary.entry_speed_mps,
            attempt->direction, &attempt->reference) == 0;
    if (no_altitude)
        attempt->reference.gain_m = NAN;
}

static void end(struct debrief_collector *collector, int64_t t_ns,
                enum debrief_ending ending,
                const struct maneuver_summary *summary)
{
    struct debrief_attempt *attempt = &collector->attempt;
    double known_s = (double)(collector->last_ns - collector->begun_ns) * 1e-9;

    attempt->ending = ending;
    attempt->ended_s = seconds_since_entry(collector, t_ns);
    attempt->summary = *summary;
    attempt->conditions.rate_hz =
        known_s > 0.0 ? (double)collector->states / known_s : (double)NAN;
    collector->collecting = false;
    collector->complete = true;
    set_reference(attempt);
    debrief_grade(attempt, &attempt->grade);
}

/* ---- what happened ------------------------------------------------------ */

static void add_event(struct debrief_collector *collector,
                      const struct maneuver_event *event)
{
    struct debrief_attempt *attempt = &collector->attempt;
    double t_s = seconds_since_entry(collector, event->t_ns);
    uint32_t at = attempt->event_count;

    if (at == DEBRIEF_MAX_EVENTS) {
        attempt->events_left_out++;
        return;
    }
    attempt->event_count++;
    /* The silence was a pause: the flight's time stood when it fell silent. */
    if (event->kind == EVENT_SIGNAL_BACK && at > 0 &&
        attempt->event[at - 1].event.kind == EVENT_SIGNAL_LOST)
        attempt->event[at - 1].t_s = fmin(attempt->event[at - 1].t_s, t_s);
    for (; at > 0 && attempt->event[at - 1].t_s > t_s; at--)
        attempt->event[at] = attempt->event[at - 1];
    attempt->event[at] = (struct debrief_event){t_s, *event};
}

void debrief_collect_event(struct debrief_collector *collector,
                           const struct maneuver_event *event,
                           const struct maneuver_summary *summary)
{
    struct debrief_attempt *attempt = &collector->attempt;

    if (event->kind == EVENT_ENTRY)
        begin(collector, event, summary);
    if (!collector->collecting)
        return;
    add_event(collector, event);
    if (event->kind == EVENT_MARK && lround(units_deg(event->angle_rad)) == 90)
        attempt->ninety_s = seconds_since_entry(collector, event->t_ns);
    if (event->kind == EVENT_WINGS_LEVEL)
        attempt->level_s = seconds_since_entry(collector, event->t_ns);
    attempt->reason = event->reason;
    if (event->kind == EVENT_FINISHED)
        end(collector, event->t_ns, ENDING_FINISHED, summary);
    else if (event->kind == EVENT_ABANDONED)
        end(collector, event->t_ns, ENDING_ABANDONED, summary);
}

void debrief_collect_call(struct debrief_collector *collector,
                          const struct callout_call *call, int64_t onset_ns,
                          int64_t moment_ns)
{
    struct debrief_attempt *attempt = &collector->attempt;
    double onset_s = seconds_since_entry(collector, onset_ns);
    uint32_t at = attempt->call_count;

    if (!(collector->collecting || collector->complete) ||
        call->attempt != attempt->number)
        return;
    if (at == DEBRIEF_MAX_CALLS) {
        attempt->calls_left_out++;
        return;
    }
    attempt->call_count++;
    for (; at > 0 && attempt->call[at - 1].onset_s > onset_s; at--)
        attempt->call[at] = attempt->call[at - 1];
    attempt->call[at] = (struct debrief_call){
        .onset_s = onset_s,
        .moment_s = seconds_since_entry(collector, moment_ns),
        .cue = call->cue,
        .rank = call->rank};
    memcpy(attempt->call[at].text, call->text, sizeof call->text);
}

int debrief_collect_note(struct debrief_collector *collector, int64_t t_ns,
                         const char *text)
{
    if (!(collector->collecting || collector->complete)) {
        let_wait(collector, t_ns, text);
        return ERR_ABSENT;
    }
    if (collector->attempt.note_count == DEBRIEF_MAX_NOTES)
        return ERR_FULL;
    add_note(collector, t_ns, text);
    return 0;
}

/* ---- handing over ------------------------------------------------------- */

void debrief_collect_end(struct debrief_collector *collector,
                         const struct maneuver_summary *summary)
{
    if (collector->collecting)
        end(collector, collector->last_ns, ENDING_CUT_OFF, summary);
}

static double turn_at(const struct debrief_attempt *attempt, double t_s)
{
    struct debrief_point point;

    debrief_point_at(attempt, t_s, &point);
    return point.turn_rad;
}

const struct debrief_attempt *
debrief_collect_take(struct debrief_collector *collector)
{
    struct debrief_attempt *attempt = &collector->attempt;

    if (!collector->complete)
        return NULL;
    /* Not before: a call is handed over some time ahead of its onset. */
    for (uint32_t i = 0; i < attempt->call_count; i++)
        attempt->call[i].turn_rad = turn_at(attempt, attempt->call[i].onset_s);
    for (uint32_t i = 0; i < attempt->note_count; i++)
        attempt->note[i].turn_rad = turn_at(attempt, attempt->note[i].t_s);
    collector->complete = false;
    return attempt;
}
