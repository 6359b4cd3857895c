/* discover_live.h - private to the commands: a stream collected in flight. */
#ifndef COMMANDS_DISCOVER_LIVE_H
#define COMMANDS_DISCOVER_LIVE_H

#include "quarterturn/intake.h"

struct discover_live_wanted {
    const char *address;
    double port; /* below 0: not said */
    const struct intake_group *group;
    uint32_t group_count;
    double seconds;
};

/* Listen, ask for one piece of flying after the other, and remember what
 * comes. The time counts from the first datagram.
 * Returns: an exit status; 0 also when the user ends it early. */
int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted);

#endif
