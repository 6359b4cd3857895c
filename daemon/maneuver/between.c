/* between.c - instants between two states, and events dated to them. */
#include <assert.h>
#include <math.h>
#include <string.h>

#include "machine.h"

double step_seconds(const struct step *step)
{
    return (double)(step->now->t_ns - step->before->t_ns) * 1e-9;
}

static double mix(double a, double b, double fraction)
{
    /* A value that only one side knows is better than none. */
    if (isnan(a))
        return b;
    if (isnan(b))
        return a;
    return a + (b - a) * fraction;
}

static void mix_trend(const struct flight_trend *a,
                      const struct flight_trend *b, double fraction,
                      struct flight_trend *out)
{
    out->value = mix(a->value, b->value, fraction);
    out->rate = mix(a->rate, b->rate, fraction);
    out->accel = mix(a->accel, b->accel, fraction);
}

void state_between(const struct flight_state *a, const struct flight_state *b,
                   double fraction, struct flight_state *out)
{
    double step_ns = (double)(b->t_ns - a->t_ns);

    *out = *b;
    if (fraction >= 1.0)
        return;
    out->t_ns = a->t_ns + (int64_t)llround(step_ns * fraction);
    mix_trend(&a->heading, &b->heading, fraction, &out->heading);
    mix_trend(&a->pitch, &b->pitch, fraction, &out->pitch);
    mix_trend(&a->bank, &b->bank, fraction, &out->bank);
    mix_trend(&a->cas, &b->cas, fraction, &out->cas);
    mix_trend(&a->altitude, &b->altitude, fraction, &out->altitude);
    out->tas_mps = mix(a->tas_mps, b->tas_mps, fraction);
    out->load_factor = mix(a->load_factor, b->load_factor, fraction);
    out->stall_margin_mps =
        mix(a->stall_margin_mps, b->stall_margin_mps, fraction);
    out->stall_excess_mps =
        mix(a->stall_excess_mps, b->stall_excess_mps, fraction);
}

double crossing_fraction(double a, double b, double level)
{
    double fraction;

    if (a == b || isnan(a) || isnan(b))
        return 1.0;
    fraction = (level - a) / (b - a);
    return fmax(0.0, fmin(1.0, fraction));
}

struct maneuver_event *emit_state(struct step *step,
                                  enum maneuver_event_kind kind,
                                  const struct flight_state *state)
{
    const struct maneuver *maneuver = step->maneuver;
    const struct maneuver_attempt *attempt = &maneuver->attempt;
    struct maneuver_event *event;

    assert(step->count < MANEUVER_MAX_EVENTS);
    event = &step->out[step->count];
    /* In a release build the last event gives way rather than overflow. */
    if (step->count < MANEUVER_MAX_EVENTS - 1)
        step->count++;
    memset(event, 0, sizeof *event);
    event->kind = kind;
    event->maneuver = maneuver->kind;
    event->t_ns = state->t_ns;
    event->turn_rad = NAN;
    event->angle_rad = NAN;
    event->length_m = NAN;
    if (maneuver->in_attempt) {
        event->attempt = maneuver->attempts;
        event->stalled = attempt->stall.fired;
        event->phase = attempt->phase;
        event->direction = attempt->direction;
        event->turn_rad =
            attempt->direction *
            (state->heading.value - attempt->summary.entry_heading_rad);
    }
    event->heading_rad = angle_wrap_circle(state->heading.value);
    event->pitch_rad = state->pitch.value;
    event->bank_rad = state->bank.value;
    event->cas_mps = state->cas.value;
    event->altitude_m = state->altitude.value;
    event->stall_margin_mps = state->stall_margin_mps;
    return event;
}

struct maneuver_event *emit(struct step *step, enum maneuver_event_kind kind,
                            double fraction)
{
    struct flight_state state;

    state_between(step->before, step->now, fraction, &state);
    return emit_state(step, kind, &state);
}

bool lasting(struct maneuver_lasting *lasting, const struct step *step,
             bool condition, double hold_s, double *fraction)
{
    int64_t hold_ns = (int64_t)(hold_s * 1e9);
    int64_t due_ns;
    int64_t step_ns = step->now->t_ns - step->before->t_ns;

    if (!condition) {
        lasting->active = lasting->fired = false;
        return false;
    }
    if (!lasting->active) {
        lasting->active = true;
        lasting->since_ns = step->now->t_ns;
    }
    due_ns = lasting->since_ns + hold_ns;
    if (lasting->fired || step->now->t_ns < due_ns)
        return false;
    lasting->fired = true;
    *fraction = step_ns > 0
                    ? (double)(due_ns - step->before->t_ns) / (double)step_ns
                    : 1.0;
    *fraction = fmax(0.0, fmin(1.0, *fraction));
    return true;
}
