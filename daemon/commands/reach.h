/* reach.h - from where a daemon can be reached. */
#ifndef COMMANDS_REACH_H
#define COMMANDS_REACH_H

#include <stdint.h>

#include "quarterturn/settings.h"

/* Say where it listens and, when that is beyond the loopback, who may send. */
void reach_say(const struct settings *settings, uint16_t port);

#endif
