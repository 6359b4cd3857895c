/* discover_live.h - private to the commands: a stream collected in flight. */
#ifndef COMMANDS_DISCOVER_LIVE_H
#define COMMANDS_DISCOVER_LIVE_H

#include "quarterturn/audio.h"
#include "quarterturn/intake.h"

enum { DISCOVER_TURN_PACKETS = 200, DISCOVER_TURN_BYTES = 1500 };

/* Packets of the time in which a left turn was asked for, evenly spaced: the
 * one thing that tells a mirrored compass from a true one. */
struct discover_turn {
    uint32_t count;
    size_t length[DISCOVER_TURN_PACKETS];
    uint8_t data[DISCOVER_TURN_PACKETS][DISCOVER_TURN_BYTES];
};

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

/* How far the heading went in that turn by a layout, rad, right positive; 0
 * when nothing tells. */
double discover_turn_rad(const struct discover_turn *turn,
                         const struct intake_layout *layout);

/* Listen, ask for one piece of flying after the other, and remember what
 * comes. The time counts from the first datagram.
 * turn: receives packets of the left turn; zeroed by the caller.
 * Returns: an exit status; 0 also when the user ends it early. */
int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted,
                  struct discover_turn *turn);

#endif
