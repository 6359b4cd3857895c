/* inspect_beyond.c - values that are refused because no airplane has them, or
 * because the layout's own least and most keep them out: which unit would
 * make them right. */
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "inspect_suspects.h"

enum { LEAST_REFUSED = 20, SUGGESTED_SIZE = 48 };

/* A sound stream has next to none of them; damage is rarer than this. */
static const double least_part = 0.1;

/* What is seen in ordinary flying: narrower than what is accepted, so that
 * among several units the likely one is told. Internal units. Common practice,
 * no source. */
struct ordinary {
    double least;
    double most;
};

static struct ordinary ordinary_of(enum intake_channel channel)
{
    switch (channel) {
    case CHANNEL_PITCH:
    case CHANNEL_LATITUDE:
        return (struct ordinary){-UNITS_PI / 2.0, UNITS_PI / 2.0};
    case CHANNEL_HEADING:
    case CHANNEL_TRACK:
    case CHANNEL_BANK:
    case CHANNEL_SIDESLIP:
    case CHANNEL_ANGLE_OF_ATTACK:
    case CHANNEL_LONGITUDE: return (struct ordinary){-UNITS_PI, 2.0 * UNITS_PI};
    case CHANNEL_AIRSPEED:
    case CHANNEL_TRUE_AIRSPEED:
    case CHANNEL_GROUND_SPEED: return (struct ordinary){-2.0, 400.0};
    case CHANNEL_VERTICAL_SPEED: return (struct ordinary){-60.0, 60.0};
    case CHANNEL_ALTITUDE:
    case CHANNEL_HEIGHT: return (struct ordinary){-500.0, 20000.0};
    case CHANNEL_LOAD_FACTOR:
    case CHANNEL_LATERAL_G: return (struct ordinary){-12.0, 12.0};
    case CHANNEL_THROTTLE:
    case CHANNEL_FLAPS:
    case CHANNEL_GEAR: return (struct ordinary){-1.0, 1.1};
    case CHANNEL_WEIGHT: return (struct ordinary){50.0, 5e5};
    case CHANNEL_SIM_TIME: return (struct ordinary){-4e9, 4e9};
    case CHANNEL_STALL_WARNING:
    case CHANNEL_ON_GROUND:
    case CHANNEL_PAUSED:
    case CHANNEL_COUNT: break;
    }
    return (struct ordinary){-HUGE_VAL, HUGE_VAL};
}

static double in_other_unit(double value, enum unit declared, enum unit other)
{
    return units_to_internal(other, units_from_internal(declared, value));
}

/* Whether all that was refused would be ordinary in that unit. */
static bool explains(const struct warnings_beyond *beyond,
                     const struct ordinary *ordinary, enum unit declared,
                     enum unit unit)
{
    return in_other_unit(beyond->least, declared, unit) >= ordinary->least &&
           in_other_unit(beyond->greatest, declared, unit) <= ordinary->most;
}

/* The units that explain them, "ft or m".
 * Returns: how many; one: the only one. */
static int suggest(const struct warnings_beyond *beyond,
                   const struct ordinary *ordinary, enum unit declared,
                   enum unit *one, char text[SUGGESTED_SIZE])
{
    size_t used = 0;
    int count = 0;

    text[0] = '\0';
    for (int i = 0; i < UNIT_COUNT; i++) {
        enum unit unit = (enum unit)i;

        if (unit == declared || unit == UNIT_BOOL ||
            units_quantity(unit) != units_quantity(declared) ||
            !explains(beyond, ordinary, declared, unit))
            continue;
        count++;
        *one = unit;
        if (used < SUGGESTED_SIZE)
            used += (size_t)snprintf(text + used, SUGGESTED_SIZE - used, "%s%s",
                                     count > 1 ? " or " : "",
                                     unit == UNIT_NONE ? "a plain number"
                                                       : units_name(unit));
    }
    return count;
}

/* Always the same number: it hardly is a value. */
static void say_always_same(struct suspects *suspects,
                            enum intake_channel channel, enum unit declared,
                            const struct intake_field *field)
{
    double shown =
        units_from_internal(declared, suspects->seen->beyond[channel].greatest);
    struct inspect_warning *warning = suspects_add(
        suspects, channel,
        "refused %" PRIu64 " times, and always as %.9g: if that means \"not "
        "known\", say so",
        suspects->seen->beyond[channel].count, shown);

    if (warning != NULL && field != NULL && field->scale != 0.0)
        (void)snprintf(warning->fix, sizeof warning->fix, "missing = %.9g",
                       (shown - field->offset) / field->scale);
}

static void say_beyond(struct suspects *suspects, enum intake_channel channel)
{
    const struct warnings_beyond *beyond = &suspects->seen->beyond[channel];
    const struct intake_field *field =
        suspects_field(suspects->layout, channel);
    enum unit declared =
        field != NULL ? field->unit : intake_channel_display_unit(channel);
    struct ordinary ordinary = ordinary_of(channel);
    bool low = fabs(beyond->least) > fabs(beyond->greatest);
    double worst =
        units_from_internal(declared, low ? beyond->least : beyond->greatest);
    double told =
        (double)(beyond->count + suspects->seen->extent[channel].count);
    char suggested[SUGGESTED_SIZE];
    enum unit unit = declared;
    struct inspect_warning *warning;
    int units;

    if (field != NULL && field->has_range)
        ordinary = (struct ordinary){field->least, field->most};
    units = suggest(beyond, &ordinary, declared, &unit, suggested);
    if (units == 0 && beyond->least == beyond->greatest) {
        say_always_same(suspects, channel, declared, field);
        return;
    }
    warning = suspects_add(
        suspects, channel,
        "%" PRIu64 " of %.0f values refused, as %.6g%s%s: %s%s", beyond->count,
        told, worst, declared != UNIT_NONE ? " " : "", units_name(declared),
        units > 0 ? "looks like " : "is its place in the packet right?",
        suggested);
    if (units == 1)
        suspects_fix_unit(warning, unit);
}

void suspects_find_beyond(struct suspects *suspects)
{
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        const struct warnings_beyond *beyond = &suspects->seen->beyond[i];
        uint64_t told = beyond->count + suspects->seen->extent[i].count;

        if (beyond->count >= LEAST_REFUSED &&
            (double)beyond->count >= least_part * (double)told)
            say_beyond(suspects, (enum intake_channel)i);
    }
}
