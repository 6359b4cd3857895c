/* discover_live.h - private to the commands: a stream collected in flight. */
#ifndef COMMANDS_DISCOVER_LIVE_H
#define COMMANDS_DISCOVER_LIVE_H

#include "discover_legs.h"
#include "quarterturn/audio.h"
#include "quarterturn/intake.h"

struct discover_live_wanted {
    const char *address;
    double port; /* below 0: not said */
    const struct intake_group *group;
    uint32_t group_count;
    double seconds;
    bool silent;         /* captions only */
    const char *program; /* this executable */
    const struct audio_settings *audio;
};

/* Listen, ask for one piece of flying after the other, and remember what
 * comes. The time counts from the first datagram, which is awaited as long.
 * turn: receives packets of the left turn; zeroed by the caller.
 * Returns: an exit status; 0 also when the user ends it early. */
int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted,
                  struct discover_turn *turn);

#endif
