/* machine.h - what the files of the maneuver room share. Private. */
#ifndef MANEUVER_MACHINE_H
#define MANEUVER_MACHINE_H

#include "quarterturn/maneuver.h"

/* One step of the machine: two states and where events go. */
struct step {
    struct maneuver *maneuver;
    const struct flight_state *before; /* never NULL */
    const struct flight_state *now;
    struct maneuver_event *out;
    int count;
};

/* What a manoeuvre of its own has to bring: three functions. */
struct maneuver_rules {
    const char *name;
    /* Whether the roll-in in maneuver->roll_in is going on to be this one. */
    bool (*begins)(const struct maneuver *maneuver,
                   const struct flight_state *now);
    /* Follow the attempt by one step; may end it with attempt_end. */
    void (*follow)(struct step *step);
    /* Fill the moments to come. */
    void (*look_ahead)(const struct maneuver *maneuver,
                       struct maneuver_outlook *outlook);
};

extern const struct maneuver_rules maneuver_chandelle;

const struct maneuver_rules *maneuver_rules_of(enum maneuver_kind kind);

/* ---- time and values between two states (between.c) --------------------- */

double step_seconds(const struct step *step);
/* The state a fraction (0..1) of the way from a to b. */
void state_between(const struct flight_state *a, const struct flight_state *b,
                   double fraction, struct flight_state *out);
/* Where, as a fraction of the way, a value going from a to b passes level;
 * 1 when it does not change. */
double crossing_fraction(double a, double b, double level);

/* ---- events (between.c) ------------------------------------------------- */

/* Put an event out, dated a fraction of the way from before to now.
 * Returns: the event, for its extra members. */
struct maneuver_event *emit(struct step *step, enum maneuver_event_kind kind,
                            double fraction);
/* The same for a state of its own. */
struct maneuver_event *emit_state(struct step *step,
                                  enum maneuver_event_kind kind,
                                  const struct flight_state *state);

/* A condition that must last: true once, in the step in which it has held for
 * hold_s. fraction receives where in the step that was. */
bool lasting(struct maneuver_lasting *lasting, const struct step *step,
             bool condition, double hold_s, double *fraction);

/* ---- setup (setup.c) ---------------------------------------------------- */

void setup_reset(struct maneuver *maneuver);
/* Watch for steady flight and for a roll-in out of it.
 * Returns: true when an attempt begins with this step. */
bool setup_follow(struct step *step, const struct maneuver_rules *rules);
/* Mean heading before the roll-in. */
double setup_entry_heading_rad(const struct maneuver *maneuver);
/* The i-th state kept, oldest first. */
const struct flight_state *setup_history(const struct maneuver *maneuver,
                                         uint32_t i);
int64_t setup_settled_ns(const struct maneuver *maneuver);

/* ---- attempt (attempt.c) ------------------------------------------------ */

/* Things that hold for every manoeuvre: near-stall bands, stall, ball. */
void attempt_watch_stall(struct step *step);
void attempt_watch_ball(struct step *step);
/* Whether it has been one for so long that what was wrong from its beginning
 * may be said: a stretch of chance may look like a beginning. */
bool attempt_is_certain(const struct maneuver *maneuver);
/* Give up at once: the flight is out of sight, or somebody asked. */
void attempt_abandon(struct step *step, enum maneuver_reason reason);
/* Give up, or finish (REASON_NONE); not before the airplane is clear of the
 * stall. */
void attempt_end(struct step *step, enum maneuver_reason reason);
/* While an attempt is ending, nothing else of it is followed. */
void attempt_follow_end(struct step *step);

/* ---- a straight line (line.c) ------------------------------------------- */

struct line_view {
    double end;        /* now */
    double slope;      /* per s */
    double off_square; /* mean square of the values off the line */
    double spread_s3;  /* of their times: what the slope rests on */
};

/* Begin with one value that stands for weight_s. */
void line_begin(struct maneuver_line *line, double value, double weight_s);
/* dt_s: since the value before; >= 0. memory_s: fades to 1/e in so long. */
void line_add(struct maneuver_line *line, double dt_s, double memory_s,
              double value);
void line_look(const struct maneuver_line *line, struct line_view *out);

/* ---- roll-out (rollout.c) ----------------------------------------------- */

/* Follow the bank, in both halves: how steady the hand is, and how the bank
 * comes off. */
void rollout_follow(struct step *step);
/* Advise "faster" or "slower" when the turn would end well off 180. */
void rollout_advise(struct step *step);

#endif
