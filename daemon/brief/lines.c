/* lines.c - the figures of a plan, one line each, and where each is from. */
#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "quarterturn/brief.h"

static const char *const section_entry = "Entry";
static const char *const section_turn = "Turn";
static const char *const section_finish = "Finish";
static const char *const section_gain = "Altitude to be gained";
static const char *const section_wind = "Wind";

/* Common practice, no source. */
const char *const brief_setup[] = {
    "Look all round, above too: two turns of 90 degrees, or one of 180.",
    "Pick a point ahead, one off the wingtip on the side of the turn, and one",
    "  off the other wingtip: they are ahead at 0 and 90, and abeam at 180.",
    "Gear and flaps up; mixture and propeller set for the climb.",
    "Level at the entry altitude, trimmed, steady at the entry speed.",
    "Roll in, then full power and back pressure: the eyes stay outside.",
    NULL};

/* After the errors that the Airplane Flying Handbook, FAA-H-8083-3C, chapter
 * 10, lists for the chandelle; in words of our own. */
const char *const brief_watch[] = {
    "Bank too shallow runs out of speed before 180; too steep gains little.",
    "The bank wants to grow once it is set: a touch of opposite aileron.",
    "The highest pitch belongs at 90, no sooner; then it stays, with ever",
    "  more back pressure.",
    "The roll-out begins at 90 and goes on evenly, not faster toward the end.",
    "More and more right rudder as the speed falls.",
    "Level before 180, or nose low at 180 with speed to spare: both missed.",
    "Looking inside: a chandelle is flown by what is outside.",
    NULL};

/* Where the next line goes. */
struct card {
    struct brief_line *line;
    uint32_t count;
    const char *section;
};

static struct brief_line *add(struct card *card, enum brief_basis basis,
                              const char *label)
{
    struct brief_line *line = &card->line[card->count++];

    memset(line, 0, sizeof *line);
    line->section = card->section;
    line->label = label;
    line->basis = basis;
    return line;
}

__attribute__((format(printf, 2, 3))) static void
set_value(struct brief_line *line, const char *format, ...)
{
    va_list list;

    va_start(list, format);
    (void)vsnprintf(line->value, sizeof line->value, format, list);
    va_end(list);
}

__attribute__((format(printf, 2, 3))) static void
set_note(struct brief_line *line, const char *format, ...)
{
    va_list list;

    va_start(list, format);
    (void)vsnprintf(line->note, sizeof line->note, format, list);
    va_end(list);
}

static const char *side(int direction)
{
    return direction > 0 ? "right" : "left";
}

/* A heading as it is read off a compass: 001 to 360. */
static int compass(double rad)
{
    int deg = (int)lround(units_deg(rad)) % 360;

    return deg <= 0 ? deg + 360 : deg;
}

static void add_entry(const struct brief_plan *plan, struct card *card)
{
    static const char *const by[] = {
        [ENTRY_CONFIGURED] = "the configured entry speed",
        [ENTRY_MANEUVERING] = "maneuvering speed at this weight",
        [ENTRY_CRUISE] = "cruising speed"};
    const struct performance_conditions *day = &plan->wish.conditions;
    struct brief_line *line;

    card->section = section_entry;
    line = add(card, BASIS_COMPUTED, "speed");
    set_value(line, "%.0f kt", units_kt(plan->entry_mps));
    if (isnan(plan->cruise_mps))
        set_note(line, "%s; maneuvering speed %.0f kt", by[plan->entry_by],
                 units_kt(plan->maneuvering_mps));
    else
        set_note(line,
                 "%s, the slowest of: maneuvering %.0f, cruise %.0f, "
                 "configured %.0f kt",
                 by[plan->entry_by], units_kt(plan->maneuvering_mps),
                 units_kt(plan->cruise_mps),
                 units_kt(plan->aircraft.entry_speed_mps));
    line = add(card, BASIS_STANDARD, "altitude");
    set_value(line, "%.0f ft", units_ft(day->altitude_m));
    set_note(line, "%s%.0f ft keeps all of it 1,500 ft above ground at %.0f ft",
             plan->below_height ? "TOO LOW: " : "",
             units_ft(plan->least_altitude_m), units_ft(plan->wish.ground_m));
    line = add(card, BASIS_COMPUTED, "density altitude");
    set_value(line, "%.0f ft", units_ft(plan->density_altitude_m));
    set_note(
        line, "at %.0f degC (standard: %.0f)",
        units_from_internal(UNIT_DEG_C, day->temperature_k),
        units_from_internal(UNIT_DEG_C, flight_temperature_k(day->altitude_m)));
    line = add(card, BASIS_CONVENTION, "heading");
    set_value(line, "%03d", compass(plan->wish.heading_rad));
    set_note(line, "a point straight ahead");
}

static void add_turn(const struct brief_plan *plan, struct card *card)
{
    const struct performance_reference *ideal = &plan->line;
    int direction = plan->wish.direction;
    struct performance_reference_point middle;
    struct brief_line *line;

    card->section = section_turn;
    line = add(card, BASIS_STANDARD, "bank to 90");
    set_value(line, "%.0f deg %s", units_deg(plan->standard.entry_bank_rad),
              side(direction));
    set_note(line, "set once, in about three seconds, and kept");
    line = add(card, BASIS_COMPUTED, "load factor there");
    set_value(line, "%.2f g", plan->load_factor);
    set_note(line, "in a level turn; the stall then comes at %.0f kt",
             units_kt(plan->turn_stall_mps));
    line = add(card, BASIS_COMPUTED, "the 90-degree point");
    set_value(line, "heading %03d", compass(plan->ninety_rad));
    set_note(line, "off the %s wingtip at the entry; %.0f s after the roll-in",
             side(direction), ideal->t_90_s);
    line = add(card, ideal->modelled ? BASIS_COMPUTED : BASIS_CONVENTION,
               "pitch there");
    set_value(line, "%.0f deg", units_deg(ideal->finish_pitch_rad));
    set_note(line, "the highest, risen to evenly; held from there; %.0f kt",
             units_kt(ideal->ninety_cas_mps));
    performance_reference_at(ideal, 135.0 * UNITS_RAD_PER_DEG, &middle);
    line = add(card, BASIS_COMPUTED, "roll-out from 90");
    set_value(line, "%.1f deg/s", units_deg(ideal->roll_out_rate_radps));
    set_note(line, "even in time, for %.0f s: still %.0f deg of bank at 135",
             ideal->t_180_s - ideal->t_90_s, units_deg(middle.bank_rad));
}

static void add_finish(const struct brief_plan *plan, struct card *card)
{
    struct brief_line *line;

    card->section = section_finish;
    line = add(card, BASIS_COMPUTED, "heading");
    set_value(line, "%03d", compass(plan->finish_rad));
    set_note(line,
             "behind you at the entry; the 90-degree point lies off "
             "the %s wingtip",
             side(-plan->wish.direction));
    line = add(card, BASIS_STANDARD, "tolerance");
    set_value(line, "%.0f deg",
              units_deg(plan->standard.heading_tolerance_rad));
    set_note(line, "either way, wings level");
    line = add(card, BASIS_COMPUTED, "speed");
    set_value(line, "%.0f to %.0f kt", units_kt(plan->stall_mps),
              units_kt(plan->finish_most_mps));
    set_note(line,
             "from the stall at this weight up to %.0f kt above it; the "
             "line aims at %.0f",
             units_kt(plan->standard.finish_margin_mps),
             units_kt(plan->line.finish_cas_mps));
    if (plan->misses_finish) {
        line = add(card, BASIS_COMPUTED, "they disagree");
        set_value(line, "%.1f kt", units_kt(plan->line.finish_cas_mps));
        set_note(line,
                 "where the ideal line ends misses the standard: see "
                 "pitch_limit of the airplane, finish_margin of the standard");
    }
    line = add(card, BASIS_CONVENTION, "then");
    set_value(line, "within %.0f ft", units_ft(plan->standard.hold_band_m));
    set_note(line, "hold the altitude while the speed builds, then reduce "
                   "power");
}

static void add_gain(const struct brief_plan *plan, struct card *card)
{
    struct brief_line *line;

    card->section = section_gain;
    line = add(card, BASIS_COMPUTED, "today");
    if (!plan->line.modelled) {
        set_value(line, "not known");
        set_note(line, "the airplane's wing, engine, cruise and climb figures "
                       "are not configured");
        return;
    }
    set_value(line, "%.0f ft", units_ft(plan->line.gain_m));
    set_note(line,
             "%.0f ft of it from the speed given up, the rest from "
             "power; the model is good to a fifth",
             units_ft(plan->line.gain_from_speed_m));
    for (uint32_t i = 0; i < plan->other_count; i++) {
        line = add(card, BASIS_COMPUTED, plan->other[i].what);
        if (isnan(plan->other[i].gain_m))
            set_value(line, "not flyable");
        else
            set_value(line, "%.0f ft", units_ft(plan->other[i].gain_m));
    }
}

static void add_wind(const struct brief_plan *plan, struct card *card)
{
    const struct performance_conditions *day = &plan->wish.conditions;
    double across_kt = units_kt(plan->wind_from_left_mps);
    struct brief_line *line;

    if (day->wind_mps <= 0.0)
        return;
    card->section = section_wind;
    line = add(card, BASIS_COMPUTED, "drift");
    set_value(line, "%.0f m toward %03d", plan->drift_m,
              compass(plan->drift_to_rad));
    set_note(line, "in the %.0f s of the turn, with %.0f kt from %03d",
             plan->line.t_180_s, units_kt(day->wind_mps),
             compass(day->wind_from_rad));
    if (fabs(across_kt) < 1.0)
        return;
    line = add(card, BASIS_CONVENTION, "across");
    set_value(line, "%.0f kt from the %s", fabs(across_kt),
              across_kt > 0.0 ? "left" : "right");
    set_note(line, "a turn to the %s goes into the wind and stays nearer",
             across_kt > 0.0 ? "left" : "right");
}

uint32_t brief_lines(const struct brief_plan *plan,
                     struct brief_line out[BRIEF_MAX_LINES])
{
    struct card card = {.line = out};

    add_entry(plan, &card);
    add_turn(plan, &card);
    add_finish(plan, &card);
    add_gain(plan, &card);
    add_wind(plan, &card);
    return card.count;
}
