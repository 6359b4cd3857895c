/* needs.c - what a missing channel turns off. */
#include "needs.h"

#include <stddef.h>

#include "commands.h"
#include "quarterturn/log.h"

struct need {
    uint32_t any_of; /* CHANNEL_BITs */
    const char *without;
};

static const struct need needs[] = {
    {CHANNEL_BIT(CHANNEL_HEADING), "heading: a chandelle cannot be followed"},
    {CHANNEL_BIT(CHANNEL_PITCH), "pitch: a chandelle cannot be followed"},
    {CHANNEL_BIT(CHANNEL_BANK), "bank: a chandelle cannot be followed"},
    {CHANNEL_BIT(CHANNEL_AIRSPEED) | CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED),
     "airspeed: a chandelle cannot be followed"},
    {CHANNEL_BIT(CHANNEL_ALTITUDE),
     "altitude: altitude gained and \"hold altitude\" are off"},
    {CHANNEL_BIT(CHANNEL_LATERAL_G) | CHANNEL_BIT(CHANNEL_SIDESLIP),
     "lateral g or sideslip: \"left rudder\", \"right rudder\" are off"},
    {CHANNEL_BIT(CHANNEL_LOAD_FACTOR),
     "load factor: taken from the flight path"},
    {CHANNEL_BIT(CHANNEL_SIM_TIME), "sim_time: the arrival time counts"},
};

bool needs_tell_missing(uint32_t given,
                        void (*say)(void *context, const char *text,
                                    bool required),
                        void *context)
{
    bool any_required = false;

    for (size_t i = 0; i < sizeof needs / sizeof needs[0]; i++) {
        bool required = (needs[i].any_of & CHANNELS_REQUIRED) != 0;

        if ((given & needs[i].any_of) != 0)
            continue;
        any_required |= required;
        say(context, needs[i].without, required);
    }
    return any_required;
}

static void say_in_log(void *context, const char *text, bool required)
{
    const char *const *name = context;

    log_line(required ? LOG_LEVEL_ERROR : LOG_LEVEL_NOTE,
             "layout \"%s\" has no %s", *name, text);
}

int needs_explain_layout(const struct intake_layout *layout)
{
    const char *name = layout->name;

    return needs_tell_missing(intake_layout_channels(layout), say_in_log, &name)
               ? EXIT_WRONG_USAGE
               : 0;
}
