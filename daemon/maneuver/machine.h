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

/* What a manoeuvre of its own has to bring. */
struct maneuver_rules {
    const char *name;
    /* Whether the roll-in in maneuver->roll_in is going on to be this one. */
    bool (*begins)(const struct maneuver *maneuver,
                   const struct flight_state *now);
    /* Whether a turn out of from goes up as this one does, at any bank. */
    bool (*climbs)(const struct flight_state *from, int direction,
                   const struct flight_state *now);
    /* Whether it has come so far that this one must have been meant. */
    bool (*resembles)(const struct flight_state *from, int direction,
                      const struct flight_state *now);
    double bank_most_rad; /* steeper, a turn does not begin this one */
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

/* ---- steady flight (steady.c) ------------------------------------------- */

/* The first thing that a state lacks to be steady flight at entry speed;
 * LACK_NONE: it is. */
void steady_lack(const struct maneuver *maneuver,
                 const struct flight_state *state, struct maneuver_lack *out);
/* The same for the whole of the flight up to an instant that is past: it may
 * have been steady, but not for long enough, or not lately enough for a roll-in
 * that is seen now. */
void steady_lack_before(const struct maneuver *maneuver,
                        const struct flight_state *from, int64_t now_ns,
                        struct maneuver_lack *out);
/* Follow it; EVENT_READY once it has lasted. */
void steady_follow(struct step *step);
/* It does not count any more. */
void steady_reset(struct maneuver *maneuver);
/* How long ago it may have ended when a roll-in begins: some pilots bring the
 * nose or the power up a moment before the bank. */
extern const int64_t steady_armed_ns;

/* ---- setup (setup.c) ---------------------------------------------------- */

/* A roll-in is looked at from this bank on, and given up below that, or when
 * so much turn or time has gone by without a climb. */
extern const double setup_candidate_bank_rad;
extern const double setup_drop_bank_rad;
extern const double setup_drop_turn_rad;
extern const int64_t setup_drop_ns;
/* The signs of a climb must last, so that one gust is not a manoeuvre. */
extern const double setup_begins_hold_s;

void setup_reset(struct maneuver *maneuver);
/* Watch for steady flight and for a roll-in out of it.
 * Returns: true when an attempt begins with this step. */
bool setup_follow(struct step *step, const struct maneuver_rules *rules);
/* Go back from now to the instant at which the bank left level. */
void setup_date_back(const struct maneuver *maneuver, int direction,
                     const struct flight_state *now, struct flight_state *out);
/* Mean heading before the roll-in. */
double setup_entry_heading_rad(const struct maneuver *maneuver);
/* The i-th state kept, oldest first. */
const struct flight_state *setup_history(const struct maneuver *maneuver,
                                         uint32_t i);
int64_t setup_settled_ns(const struct maneuver *maneuver);

/* ---- a turn that is not taken (not_begun.c) ------------------------------ */

/* Follow turns outside an attempt; EVENT_NOT_BEGUN for one that must have been
 * meant as one and cannot be. After setup_follow. */
void not_begun_follow(struct step *step, const struct maneuver_rules *rules);

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
