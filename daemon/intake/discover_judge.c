/* discover_judge.c - what of the search is certain, and what is missing. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "discover.h"

#define DEG UNITS_RAD_PER_DEG

/* How well the best must do, and how much worse a rival must be. Ours: the
 * best reaches 0.05 in recordings of good flying, and a wrong one 0.2. */
static const double most_turn_error = 0.15;
static const double most_ratio_error = 0.05;
static const double ratio_margin = 0.015;
static const double most_pitch_error = 0.2;
static const double rival_factor = 1.5;
static const double rival_floor = 0.03;

static const char steady_turns[] =
    "turn left and right at 3,000 ft or more, 30 degrees of bank, steadily "
    "and without slip";

static void ask(struct intake_discovered *out, const char *text)
{
    for (uint32_t i = 0; i < out->ask_count; i++) {
        if (strcmp(out->ask[i], text) == 0)
            return;
    }
    if (out->ask_count < INTAKE_MAX_ASKS)
        (void)snprintf(out->ask[out->ask_count++], INTAKE_FINDING_SIZE, "%s",
                       text);
}

static void doubt(struct intake_discovered *out, enum intake_channel channel,
                  const char *why)
{
    out->unsure |= CHANNEL_BIT(channel);
    (void)snprintf(out->finding[channel], INTAKE_FINDING_SIZE, "not sure: %s",
                   why);
}

/* ---- rivals ------------------------------------------------------------- */

typedef bool (*differs_fn)(struct intake_discovery *d,
                           const struct discover_choice *a,
                           const struct discover_choice *b);

/* Two numbers may differ by a constant and both be right: a true and a
 * magnetic heading, a height above the sea and one above the ground. The same
 * bytes read in two ways may not. */
static bool course_differs(struct intake_discovery *d,
                           const struct discover_reading *a,
                           const struct discover_reading *b, bool circle,
                           double most)
{
    bool shifted = !discover_overlap(d, a, b);

    return discover_difference(d, a, b, circle, shifted) > most;
}

static bool heading_differs(struct intake_discovery *d,
                            const struct discover_choice *a,
                            const struct discover_choice *b)
{
    return course_differs(d, &a->heading, &b->heading, true, 0.5 * DEG);
}

static bool bank_differs(struct intake_discovery *d,
                         const struct discover_choice *a,
                         const struct discover_choice *b)
{
    return discover_difference(d, &a->bank, &b->bank, false, false) > 0.5 * DEG;
}

static bool pitch_differs(struct intake_discovery *d,
                          const struct discover_choice *a,
                          const struct discover_choice *b)
{
    return discover_difference(d, &a->pitch, &b->pitch, false, false) >
           0.5 * DEG;
}

static double ratio_error(const struct discover_choice *choice)
{
    return fabs(log(choice->turn_ratio));
}

/* Only a reading that makes the turns come out nearly as well is a rival. The
 * same column read as calibrated and as true is a rival of itself. */
static bool speed_differs(struct intake_discovery *d,
                          const struct discover_choice *a,
                          const struct discover_choice *b)
{
    if (ratio_error(b) > ratio_error(a) + ratio_margin)
        return false;
    if (a->speed_is_true != b->speed_is_true)
        return a->speed.series == b->speed.series;
    return discover_difference(d, &a->speed, &b->speed, false, false) > 0.6;
}

static bool altitude_differs(struct intake_discovery *d,
                             const struct discover_choice *a,
                             const struct discover_choice *b)
{
    return course_differs(d, &a->climb, &b->climb, false, 2.0);
}

/* The best choice that reads a channel otherwise; NULL: there is none. */
static const struct discover_choice *
find_rival(struct intake_discovery *d, const struct discover_choice *best,
           differs_fn differs)
{
    for (uint32_t i = 0; i < d->choice_count; i++) {
        if (d->choice[i].cost > rival_factor * best->cost + rival_floor)
            return NULL;
        if (differs(d, best, &d->choice[i]))
            return &d->choice[i];
    }
    return NULL;
}

/* ---- naming a place ----------------------------------------------------- */

static void place_text(const struct intake_discovery *d,
                       const struct discover_reading *reading, char *out,
                       size_t size)
{
    const struct discover_place *place = &d->series[reading->series].place;

    if (place->name[0] != '\0')
        (void)snprintf(out, size, "\"%.40s\"", place->name);
    else if (place->column > 0)
        (void)snprintf(out, size, "column %u", place->column);
    else if (d->form.form == INTAKE_FORM_RECORDS)
        (void)snprintf(out, size, "record %lld byte %u", (long long)place->key,
                       place->at);
    else
        (void)snprintf(out, size, "byte %u", place->at);
}

static void say_rival(const struct intake_discovery *d,
                      const struct discover_reading *a,
                      const struct discover_reading *b,
                      struct intake_discovered *out,
                      enum intake_channel channel)
{
    char first[64];
    char second[64];
    char why[INTAKE_FINDING_SIZE - 12];

    place_text(d, a, first, sizeof first);
    place_text(d, b, second, sizeof second);
    (void)snprintf(why, sizeof why, "%s in %s and %s in %s do about as well",
                   first, units_name(a->unit), second, units_name(b->unit));
    doubt(out, channel, why);
}

/* ---- the verdicts ------------------------------------------------------- */

static double percent(double part)
{
    return 100.0 * part;
}

static void judge_heading(struct intake_discovery *d,
                          const struct discover_choice *best,
                          struct intake_discovered *out)
{
    const struct discover_choice *rival = find_rival(d, best, heading_differs);

    if (rival != NULL) {
        say_rival(d, &best->heading, &rival->heading, out, CHANNEL_HEADING);
        ask(out, "turn left and right by 90 degrees or more, wings level "
                 "between");
        return;
    }
    discover_settle(d, CHANNEL_HEADING, &best->heading, out);
    (void)snprintf(out->finding[CHANNEL_HEADING], INTAKE_FINDING_SIZE,
                   "sure: turns as bank and speed want it, within %.0f %%; "
                   "taken to grow to the right, as on a compass",
                   percent(best->turn_error));
}

static void judge_bank(struct intake_discovery *d,
                       const struct discover_choice *best,
                       struct intake_discovered *out)
{
    const struct discover_choice *rival = find_rival(d, best, bank_differs);

    if (rival != NULL) {
        say_rival(d, &best->bank, &rival->bank, out, CHANNEL_BANK);
        ask(out, "roll in and out of turns of 30 degrees of bank, both ways");
        return;
    }
    discover_settle(d, CHANNEL_BANK, &best->bank, out);
    (void)snprintf(out->finding[CHANNEL_BANK], INTAKE_FINDING_SIZE,
                   "sure: heading rate is %.2f of g tan(bank) / airspeed, "
                   "%.0f %% left over",
                   best->turn_ratio, percent(best->turn_error));
}

static void judge_pitch(struct intake_discovery *d,
                        const struct discover_choice *best,
                        struct intake_discovered *out)
{
    const struct discover_choice *rival = find_rival(d, best, pitch_differs);

    if (rival != NULL || best->pitch_error > most_pitch_error) {
        if (rival != NULL)
            say_rival(d, &best->pitch, &rival->pitch, out, CHANNEL_PITCH);
        else
            doubt(out, CHANNEL_PITCH, "nothing follows the climb well enough");
        ask(out, "climb with the nose up 10 degrees, level off, descend");
        return;
    }
    discover_settle(d, CHANNEL_PITCH, &best->pitch, out);
    (void)snprintf(out->finding[CHANNEL_PITCH], INTAKE_FINDING_SIZE,
                   "sure: climb angle and angle of attack make it up, %.0f %% "
                   "left over",
                   percent(best->pitch_error));
}

/* The choice whose speed, a true one or not, makes the turns come out best;
 * NULL: none does. */
static const struct discover_choice *
best_speed(const struct intake_discovery *d, const struct discover_choice *best,
           bool is_true)
{
    const struct discover_choice *found = NULL;

    for (uint32_t i = 0; i < d->choice_count; i++) {
        const struct discover_choice *choice = &d->choice[i];

        if (choice->cost < rival_factor * best->cost + rival_floor &&
            choice->speed_is_true == is_true &&
            ratio_error(choice) < most_ratio_error &&
            (found == NULL || choice->cost < found->cost))
            found = choice;
    }
    return found;
}

static void settle_speed(struct intake_discovery *d,
                         const struct discover_choice *choice,
                         struct intake_discovered *out)
{
    enum intake_channel channel =
        choice->speed_is_true ? CHANNEL_TRUE_AIRSPEED : CHANNEL_AIRSPEED;

    discover_settle(d, channel, &choice->speed, out);
    (void)snprintf(out->finding[channel], INTAKE_FINDING_SIZE,
                   "sure: as %s airspeed in %s the turns come out at %.3f of "
                   "what they should be",
                   choice->speed_is_true ? "true" : "calibrated",
                   units_name(choice->speed.unit), choice->turn_ratio);
}

/* Whether a speed that never changed would do as well. */
static bool speed_varies(struct intake_discovery *d,
                         const struct discover_choice *best)
{
    uint32_t count = 0;
    double low;
    double high;

    discover_values(d, &best->speed, false, d->scratch);
    for (uint32_t i = 0; i < d->grid_count; i++) {
        if (isfinite(d->scratch[i]))
            d->sorted[count++] = d->scratch[i];
    }
    if (count == 0)
        return false;
    (void)discover_median(d->sorted, count);
    low = d->sorted[count / 20];
    high = d->sorted[count - 1 - count / 20];
    return high > 1.1 * low;
}

/* Two columns that agree as calibrated and true airspeed, all the way. */
static bool tell_each_other(struct intake_discovery *d,
                            const struct discover_choice *calibrated,
                            const struct discover_choice *genuine)
{
    double worst = 0.0;

    if (genuine == NULL || genuine->speed.series == calibrated->speed.series)
        return false;
    discover_motion(d, calibrated);
    memcpy(d->load, d->speed, sizeof d->load);
    discover_motion(d, genuine);
    for (uint32_t i = 0; i < d->grid_count; i++) {
        double error = fabs(d->load[i] / d->speed[i] - 1.0);

        if (isfinite(error))
            worst = fmax(worst, error);
    }
    return worst < 0.015;
}

static void judge_speed(struct intake_discovery *d,
                        const struct discover_choice *best,
                        struct intake_discovered *out)
{
    const struct discover_choice *calibrated = best_speed(d, best, false);
    const struct discover_choice *genuine = best_speed(d, best, true);
    const struct discover_choice *rival;

    if (!speed_varies(d, best)) {
        doubt(out, CHANNEL_AIRSPEED, "the speed hardly changed");
        ask(out, "slow down and speed up by a quarter, and turn at both "
                 "speeds");
        return;
    }
    if (d->climb_source != CLIMB_ALTITUDE) {
        doubt(out, CHANNEL_AIRSPEED,
              "without altitude a calibrated speed and a true one look alike");
        ask(out, "switch on the altitude in what is sent");
        return;
    }
    if (calibrated == NULL) {
        doubt(out, CHANNEL_AIRSPEED,
              genuine != NULL ? "the only speed found is a true one"
                              : "the turns do not settle its unit");
        ask(out, genuine != NULL ? "switch on the indicated airspeed in what "
                                   "is sent"
                                 : steady_turns);
        return;
    }
    rival = find_rival(d, calibrated, speed_differs);
    if (rival != NULL && !tell_each_other(d, calibrated, genuine)) {
        if (rival->speed.series == calibrated->speed.series &&
            rival->speed.unit == calibrated->speed.unit)
            doubt(out, CHANNEL_AIRSPEED,
                  "it may be a calibrated or a true one");
        else
            say_rival(d, &calibrated->speed, &rival->speed, out,
                      CHANNEL_AIRSPEED);
        ask(out, steady_turns);
        return;
    }
    settle_speed(d, calibrated, out);
    /* One that suits the turns may still be the speed over ground: only what
     * says the same as the calibrated one is the true one. */
    if (tell_each_other(d, calibrated, genuine) &&
        find_rival(d, genuine, speed_differs) == NULL)
        settle_speed(d, genuine, out);
}

static bool altitude_is_better(struct intake_discovery *d,
                               const struct discover_choice *a,
                               const struct discover_choice *b)
{
    const struct discover_series *x = &d->series[a->climb.series];
    const struct discover_series *y = &d->series[b->climb.series];

    return x->least * a->climb.factor > y->least * b->climb.factor + 1.0;
}

static void judge_altitude(struct intake_discovery *d,
                           const struct discover_choice *best,
                           struct intake_discovered *out)
{
    const struct discover_choice *chosen = best;
    const struct discover_choice *rival;

    if (d->climb_source != CLIMB_ALTITUDE ||
        (out->found & CHANNEL_BIT(CHANNEL_PITCH)) == 0)
        return;
    if (fabs(log(best->pitch_slope)) > 0.15) {
        doubt(out, CHANNEL_ALTITUDE, "the climb does not settle its unit");
        return;
    }
    rival = find_rival(d, best, altitude_differs);
    if (rival != NULL) {
        say_rival(d, &best->climb, &rival->climb, out, CHANNEL_ALTITUDE);
        ask(out, "climb and descend by 500 ft or more");
        return;
    }
    /* Of several that differ by a constant the greatest is above the sea. */
    for (uint32_t i = 0; i < d->choice_count; i++) {
        if (d->choice[i].cost < rival_factor * best->cost + rival_floor &&
            altitude_is_better(d, &d->choice[i], chosen))
            chosen = &d->choice[i];
    }
    discover_settle(d, CHANNEL_ALTITUDE, &chosen->climb, out);
    (void)snprintf(out->finding[CHANNEL_ALTITUDE], INTAKE_FINDING_SIZE,
                   "sure: its slope over airspeed is %.2f of the climb angle "
                   "that the pitch wants%s",
                   best->pitch_slope,
                   chosen == best ? ""
                                  : "; the greater of two that climb alike");
}

/* ---- what is missing ---------------------------------------------------- */

static void judge_nothing(struct intake_discovery *d,
                          struct intake_discovered *out)
{
    if (d->pair_count == 0) {
        doubt(out, CHANNEL_HEADING, "no number turns with another as bank");
        doubt(out, CHANNEL_BANK, "no turn with 10 degrees of bank in it");
        doubt(out, CHANNEL_PITCH, "it is looked for once turns are found");
        doubt(out, CHANNEL_AIRSPEED, "turns tell a speed's unit");
        ask(out, "turn left and right by 90 degrees or more at 20 to 40 "
                 "degrees of bank, wings level between");
    } else {
        doubt(out, CHANNEL_HEADING,
              "there are turns, but no airspeed to "
              "check them by");
        doubt(out, CHANNEL_BANK, "as heading");
        doubt(out, CHANNEL_PITCH,
              "nothing goes with climb and speed as it "
              "does");
        doubt(out, CHANNEL_AIRSPEED, "as pitch");
    }
    ask(out, "climb with the nose up 10 degrees until the speed has fallen by "
             "a quarter, level off, descend");
}

static void judge_crowd(struct intake_discovered *out)
{
    static const char why[] = "too many numbers look alike to try them all";

    doubt(out, CHANNEL_HEADING, why);
    doubt(out, CHANNEL_PITCH, why);
    doubt(out, CHANNEL_BANK, why);
    doubt(out, CHANNEL_AIRSPEED, why);
    ask(out, "switch off some of what is sent");
}

void discover_judge(struct intake_discovery *d, struct intake_discovered *out)
{
    const struct discover_choice *best = &d->choice[0];

    if (d->exhausted) {
        judge_crowd(out);
        return;
    }
    if (d->choice_count == 0) {
        judge_nothing(d, out);
        return;
    }
    if (best->turn_error > most_turn_error) {
        doubt(out, CHANNEL_HEADING, "the turns fit nothing well enough");
        doubt(out, CHANNEL_BANK, "the turns fit nothing well enough");
        doubt(out, CHANNEL_AIRSPEED, "the turns fit nothing well enough");
        ask(out, "turn left and right, 30 degrees of bank, steadily and "
                 "without slip");
        judge_pitch(d, best, out);
        return;
    }
    judge_heading(d, best, out);
    judge_bank(d, best, out);
    judge_pitch(d, best, out);
    judge_speed(d, best, out);
    judge_altitude(d, best, out);
    discover_more(d, best, out);
}
