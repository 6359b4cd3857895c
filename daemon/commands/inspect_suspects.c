/* inspect_suspects.c - which unit or sign explains what does not agree.
 *
 * The physics: a coordinated turn's rate is g tan(bank) / V (FAA-H-8083-25,
 * chapter 5); the path's angle follows the pitch; level flight is one g. A
 * climbing turn is up to a sixth faster than that formula, so factors below
 * 1.5 are never said to be wrong. */
#include "inspect_suspects.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#define STUCK_NS (INT64_C(20) * UNITS_NS_PER_S)

static const double clear_factor = 1.5; /* nearer to 1 may be right */
static const double same_factor = 1.3;  /* around a unit's own factor */
static const double rad_in_deg = 6.3;   /* a turn in rad, as if degrees */
static const double least_turn_radps = 0.015;
static const double least_climb_mps = 1.0;
static const double agrees = 0.6; /* part of y that x explains */

enum { LEAST_LEGS = 8, LEAST_SAMPLES = 50 };

/* ---- the layout --------------------------------------------------------- */

const struct intake_field *suspects_field(const struct intake_layout *layout,
                                          enum intake_channel channel)
{
    for (uint32_t i = 0; i < layout->packet_count; i++) {
        const struct intake_packet *packet = &layout->packet[i];

        for (uint32_t k = 0; k < packet->field_count; k++) {
            if (packet->field[k].channel == channel)
                return &packet->field[k];
        }
    }
    return NULL;
}

static enum unit unit_of(const struct suspects *suspects,
                         enum intake_channel channel)
{
    const struct intake_field *field =
        suspects_field(suspects->layout, channel);

    return field != NULL ? field->unit : intake_channel_display_unit(channel);
}

struct inspect_warning *suspects_add(struct suspects *suspects,
                                     enum intake_channel channel,
                                     const char *format, ...)
{
    const struct intake_field *field =
        suspects_field(suspects->layout, channel);
    struct inspect_warning *warning;
    va_list list;

    for (uint32_t i = 0; i < suspects->count; i++) {
        if (suspects->out[i].channel == channel)
            return NULL;
    }
    if (suspects->count == WARNINGS_MOST)
        return NULL;
    warning = &suspects->out[suspects->count++];
    memset(warning, 0, sizeof *warning);
    warning->channel = channel;
    warning->line = field != NULL ? field->line : 0;
    va_start(list, format);
    (void)vsnprintf(warning->text, sizeof warning->text, format, list);
    va_end(list);
    return warning;
}

void suspects_fix_unit(struct inspect_warning *warning, enum unit unit)
{
    if (warning != NULL)
        (void)snprintf(warning->fix, sizeof warning->fix, "unit = \"%s\"",
                       units_name(unit));
}

static void fix_sign(const struct suspects *suspects,
                     struct inspect_warning *warning)
{
    const struct intake_field *field;

    if (warning == NULL)
        return;
    field = suspects_field(suspects->layout, warning->channel);
    (void)snprintf(warning->fix, sizeof warning->fix, "scale = %g",
                   field != NULL ? -field->scale : -1.0);
}

static bool is_suspected(const struct suspects *suspects,
                         enum intake_channel channel)
{
    for (uint32_t i = 0; i < suspects->count; i++) {
        if (suspects->out[i].channel == channel)
            return true;
    }
    return false;
}

/* ---- trends ------------------------------------------------------------- */

/* Whether enough was flown, and not all of it in one moment. */
static bool is_flown(const struct warnings_trend *t, double least)
{
    return t->n >= LEAST_LEGS && t->xx / t->n >= least * least &&
           t->xx * t->xx >= LEAST_LEGS * t->xxxx;
}

/* y over x where both are 0 together: a turn.
 * Returns: false when the two do not go together. */
static bool slope_through_zero(const struct warnings_trend *t, double *slope)
{
    *slope = t->xy / t->xx;
    return t->xy * t->xy > agrees * t->xx * t->yy;
}

/* y over x apart from a constant: pitch stands above the path by the angle of
 * attack. */
static bool slope_of(const struct warnings_trend *t, double least, double part,
                     double *slope)
{
    double xx = t->xx - t->x * t->x / fmax(t->n, 1.0);
    double yy = t->yy - t->y * t->y / fmax(t->n, 1.0);
    double xy = t->xy - t->x * t->y / fmax(t->n, 1.0);

    if (t->n < LEAST_LEGS || xx / t->n < least * least)
        return false;
    *slope = xy / xx;
    return xy * xy > part * xx * yy;
}

static bool is_near(double factor, double to)
{
    double ratio = factor / to;

    return ratio > 1.0 / same_factor && ratio < same_factor;
}

static bool is_clear(double factor)
{
    return factor > clear_factor || factor < 1.0 / clear_factor;
}

/* The unit that makes values right which are factor times too large. */
static bool find_unit(enum unit declared, double factor, enum unit *out)
{
    double best = log(same_factor);
    double scale;
    double offset;
    bool found = false;

    units_factors(declared, &scale, &offset);
    for (int i = 0; i < UNIT_COUNT; i++) {
        enum unit unit = (enum unit)i;
        double other;
        double off;

        if (units_quantity(unit) != units_quantity(declared) ||
            unit == declared)
            continue;
        units_factors(unit, &other, &offset);
        off = fabs(log(scale / other / factor));
        if (off < best) {
            best = off;
            *out = unit;
            found = true;
        }
    }
    return found;
}

/* ---- angles ------------------------------------------------------------- */

static bool in_radians(const struct suspects *suspects,
                       enum intake_channel channel, double least, double most)
{
    const struct warnings_extent *extent = &suspects->seen->extent[channel];

    return unit_of(suspects, channel) == UNIT_DEG &&
           extent->count >= LEAST_SAMPLES &&
           units_deg(extent->least) >= least &&
           units_deg(extent->greatest) <= most;
}

static void say_radians(struct suspects *suspects, enum intake_channel channel)
{
    const struct warnings_extent *extent = &suspects->seen->extent[channel];

    suspects_fix_unit(
        suspects_add(suspects, channel,
                     "never beyond %.2f, and what the airplane does needs far "
                     "more degrees: looks like radians",
                     units_deg(fmax(extent->greatest, -extent->least))),
        UNIT_RAD);
}

/* Heading, bank and airspeed hang together in a turn. */
static void check_turn(struct suspects *suspects)
{
    const struct warnings_extent *heading =
        &suspects->seen->extent[CHANNEL_HEADING];
    const struct warnings_extent *bank = &suspects->seen->extent[CHANNEL_BANK];
    double swing_deg = units_deg(heading->greatest - heading->least);
    bool small_heading =
        in_radians(suspects, CHANNEL_HEADING, -rad_in_deg / 2, rad_in_deg);
    bool small_bank = in_radians(suspects, CHANNEL_BANK, -1.7, 1.7) &&
                      units_deg(bank->greatest - bank->least) > 0.15;
    double least = small_bank ? least_turn_radps / 60.0 : least_turn_radps;
    double factor;
    bool agree;

    if (is_suspected(suspects, CHANNEL_HEADING) ||
        is_suspected(suspects, CHANNEL_BANK) ||
        !is_flown(&suspects->seen->turn, least))
        return;
    agree = slope_through_zero(&suspects->seen->turn, &factor);
    /* In radians the heading's step at north looks like a turn of its own,
     * and nothing agrees. */
    if (!agree && small_heading && swing_deg > rad_in_deg / 2 &&
        (small_bank || fabs(factor) < 0.25)) {
        say_radians(suspects, CHANNEL_HEADING);
        if (small_bank)
            say_radians(suspects, CHANNEL_BANK);
    }
    if (!agree)
        return;
    /* Both in radians agree with each other; a bank this small does not turn
     * a heading that far. */
    if (small_heading &&
        (fabs(factor) < 1.0 / 15.0 || (small_bank && swing_deg > 1.0)))
        say_radians(suspects, CHANNEL_HEADING);
    if (small_bank &&
        (fabs(factor) > 15.0 || is_suspected(suspects, CHANNEL_HEADING)))
        say_radians(suspects, CHANNEL_BANK);
    if (!is_suspected(suspects, CHANNEL_HEADING) &&
        !is_suspected(suspects, CHANNEL_BANK))
        suspects->speed_factor = 1.0 / fabs(factor);
    if (factor < 0.0)
        fix_sign(suspects,
                 suspects_add(
                     suspects, CHANNEL_BANK,
                     "positive while the heading turns left: right wing down "
                     "must be positive"));
}

static void check_speed(struct suspects *suspects)
{
    enum intake_channel channel =
        suspects->seen->extent[CHANNEL_AIRSPEED].count > 0
            ? CHANNEL_AIRSPEED
            : CHANNEL_TRUE_AIRSPEED;
    enum unit declared = unit_of(suspects, channel);
    double too_large = 1.0 / suspects->speed_factor;
    enum unit unit;

    if (!is_clear(too_large)) {
        suspects->speed_factor = 1.0;
        return;
    }
    if (find_unit(declared, too_large, &unit))
        suspects_fix_unit(
            suspects_add(suspects, channel,
                         "turns at these banks are flown at %.2f times this "
                         "speed: looks like %s, not %s",
                         suspects->speed_factor, units_name(unit),
                         units_name(declared)),
            unit);
    else
        suspects->speed_factor = 1.0;
}

/* Both airspeeds differ by the thinness of the air, a third at 20,000 ft. */
static void check_true_airspeed(struct suspects *suspects)
{
    const struct warnings_extent *cas =
        &suspects->seen->extent[CHANNEL_AIRSPEED];
    const struct warnings_extent *tas =
        &suspects->seen->extent[CHANNEL_TRUE_AIRSPEED];
    enum unit declared = unit_of(suspects, CHANNEL_TRUE_AIRSPEED);
    double too_large;
    enum unit unit;

    if (cas->count < LEAST_SAMPLES || tas->count < LEAST_SAMPLES ||
        cas->sum <= 0.0 || tas->sum <= 0.0)
        return;
    too_large = (tas->sum / (double)tas->count) /
                (cas->sum / (double)cas->count * suspects->speed_factor);
    if (is_clear(too_large) && find_unit(declared, too_large, &unit))
        suspects_fix_unit(
            suspects_add(suspects, CHANNEL_TRUE_AIRSPEED,
                         "%.2f times the airspeed: looks like %s, not %s",
                         too_large, units_name(unit), units_name(declared)),
            unit);
}

/* ---- climbing ----------------------------------------------------------- */

static void say_unit(struct suspects *suspects, enum intake_channel channel,
                     double too_large, const char *against)
{
    enum unit declared = unit_of(suspects, channel);
    enum unit unit;

    if (!is_clear(too_large) || !find_unit(declared, too_large, &unit))
        return;
    suspects_fix_unit(
        suspects_add(suspects, channel,
                     "changes %.3g times as fast as %s: looks like %s, not %s",
                     too_large, against, units_name(unit),
                     units_name(declared)),
        unit);
}

static void check_pitch(struct suspects *suspects, double by_altitude,
                        double by_vertical)
{
    bool alone = isnan(by_altitude) || isnan(by_vertical);

    /* Both against the pitch: the pitch it is. */
    if ((by_altitude < 0.0 || isnan(by_altitude)) &&
        (by_vertical < 0.0 || isnan(by_vertical)) &&
        !(isnan(by_altitude) && isnan(by_vertical))) {
        fix_sign(suspects,
                 suspects_add(suspects, CHANNEL_PITCH,
                              "nose up goes with sinking: nose up must be "
                              "positive"));
        return;
    }
    if (in_radians(suspects, CHANNEL_PITCH, -1.6, 1.6) &&
        (by_altitude > 15.0 || by_vertical > 15.0) &&
        (alone || is_near(by_altitude, by_vertical)))
        say_radians(suspects, CHANNEL_PITCH);
}

/* Altitude, vertical speed, and what pitch and speed make of them. */
static void check_climb(struct suspects *suspects)
{
    const struct inspect_warnings *seen = suspects->seen;
    double least = in_radians(suspects, CHANNEL_PITCH, -1.6, 1.6)
                       ? least_climb_mps / 60.0
                       : least_climb_mps / 2.0;
    double altitude = NAN;
    double vertical = NAN;
    double between;
    bool agree;

    if (!slope_of(&seen->altitude, least, 0.3, &altitude))
        altitude = NAN;
    if (!slope_of(&seen->vertical, least, 0.3, &vertical))
        vertical = NAN;
    altitude /= suspects->speed_factor;
    vertical /= suspects->speed_factor;
    check_pitch(suspects, altitude, vertical);
    if (is_suspected(suspects, CHANNEL_PITCH))
        return;
    agree = slope_of(&seen->climb, 0.02, agrees, &between);
    if (vertical < 0.0 && (altitude > 0.0 || isnan(altitude)))
        fix_sign(suspects,
                 suspects_add(suspects, CHANNEL_VERTICAL_SPEED,
                              "falls while the airplane climbs: up must be "
                              "positive"));
    else if (!isnan(altitude) && is_clear(fabs(altitude)))
        /* The vertical speed, where it is sound, measures better. */
        say_unit(suspects, CHANNEL_ALTITUDE,
                 agree && !isnan(vertical) && !is_clear(vertical)
                     ? fabs(between)
                     : fabs(altitude),
                 agree && !isnan(vertical) && !is_clear(vertical)
                     ? "the vertical speed says"
                     : "pitch and airspeed say");
    if (!isnan(vertical) && is_clear(fabs(vertical)))
        say_unit(suspects, CHANNEL_VERTICAL_SPEED,
                 agree && !isnan(altitude) && !is_clear(altitude)
                     ? 1.0 / fabs(between)
                     : fabs(vertical),
                 agree && !isnan(altitude) && !is_clear(altitude)
                     ? "the altitude"
                     : "pitch and airspeed say");
}

/* ---- alone -------------------------------------------------------------- */

static void check_load(struct suspects *suspects)
{
    const struct warnings_extent *extent =
        &suspects->seen->extent[CHANNEL_LOAD_FACTOR];
    double mean = extent->sum / (double)extent->count;
    struct inspect_warning *warning;

    if (extent->count < LEAST_SAMPLES)
        return;
    if (mean > 6.0 && mean < 20.0)
        suspects_fix_unit(
            suspects_add(suspects, CHANNEL_LOAD_FACTOR,
                         "%.1f in the mean, level flight is 1: looks like m/s2",
                         mean),
            UNIT_M_PER_S2);
    else if (mean < -0.5)
        fix_sign(suspects,
                 suspects_add(suspects, CHANNEL_LOAD_FACTOR,
                              "%.1f in the mean, level flight is 1", mean));
    else if (fabs(mean) < 0.4) {
        warning = suspects_add(
            suspects, CHANNEL_LOAD_FACTOR,
            "%.1f in the mean, level flight is 1: gravity seems to "
            "be left out",
            mean);
        if (warning != NULL)
            (void)snprintf(warning->fix, sizeof warning->fix, "offset = 1");
    }
}

/* A channel that stands while the airplane flies on. */
static void check_stuck(struct suspects *suspects)
{
    static const enum intake_channel lively[] = {
        CHANNEL_HEADING,        CHANNEL_PITCH,       CHANNEL_BANK,
        CHANNEL_AIRSPEED,       CHANNEL_ALTITUDE,    CHANNEL_TRUE_AIRSPEED,
        CHANNEL_VERTICAL_SPEED, CHANNEL_LOAD_FACTOR, CHANNEL_ANGLE_OF_ATTACK,
        CHANNEL_SIM_TIME};
    bool moves = false;

    for (size_t i = 0; i < sizeof lively / sizeof lively[0]; i++)
        moves |= suspects->seen->extent[lively[i]].changes >= LEAST_SAMPLES;
    if (!moves)
        return;
    for (size_t i = 0; i < sizeof lively / sizeof lively[0]; i++) {
        const struct warnings_extent *extent =
            &suspects->seen->extent[lively[i]];

        if (extent->count >= LEAST_SAMPLES && extent->changes == 0 &&
            suspects->seen->now_ns - extent->begin_ns >= STUCK_NS)
            (void)suspects_add(
                suspects, lively[i],
                "has not changed once in %.0f s while others did: "
                "another place in the packet?",
                (double)(suspects->seen->now_ns - extent->begin_ns) * 1e-9);
    }
}

static void check_clock(struct suspects *suspects)
{
    const struct warnings_extent *clock =
        &suspects->seen->extent[CHANNEL_SIM_TIME];
    double real_s = (double)(suspects->seen->now_ns - clock->begin_ns) * 1e-9;
    double sim_s = clock->greatest - clock->least;
    enum unit unit;

    if (clock->count < LEAST_SAMPLES || real_s < 5.0 || sim_s <= 0.0 ||
        (sim_s / real_s < 100.0 && sim_s / real_s > 0.01) ||
        !find_unit(unit_of(suspects, CHANNEL_SIM_TIME), sim_s / real_s, &unit))
        return;
    suspects_fix_unit(
        suspects_add(
            suspects, CHANNEL_SIM_TIME,
            "runs %.3g times as fast as real time: looks like %s, not %s",
            sim_s / real_s, units_name(unit),
            units_name(unit_of(suspects, CHANNEL_SIM_TIME))),
        unit);
}

void suspects_find(struct suspects *suspects)
{
    suspects_find_beyond(suspects);
    /* What is refused takes its datagram with it, and what is left is no
     * whole flight: the rest can wait until that is mended. */
    if (suspects->count > 0)
        return;
    check_stuck(suspects);
    check_turn(suspects);
    check_speed(suspects);
    check_true_airspeed(suspects);
    check_climb(suspects);
    check_load(suspects);
    check_clock(suspects);
}
