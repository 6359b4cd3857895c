/* discover_legs.h - private to the commands: what flying is asked for, one
 * piece after the other, and what the turn that was asked for tells. Pure. */
#ifndef COMMANDS_DISCOVER_LEGS_H
#define COMMANDS_DISCOVER_LEGS_H

#include "quarterturn/callout.h"
#include "quarterturn/intake.h"

enum {
    DISCOVER_LEGS = 5,
    DISCOVER_TURN_PACKETS = 200,
    DISCOVER_TURN_BYTES = 1500
};

/* Packets of the time in which a left turn was asked for, evenly spaced: the
 * one thing that tells a mirrored compass from a true one. */
struct discover_turn {
    uint32_t count;
    size_t length[DISCOVER_TURN_PACKETS];
    uint8_t data[DISCOVER_TURN_PACKETS][DISCOVER_TURN_BYTES];
};

/* A piece of flying. */
struct discover_leg {
    const char *text;
    enum callout_clip clip;
    double seconds; /* how long it lasts */
};

/* Begun with seconds and turn alone. */
struct discover_legs {
    double seconds;             /* of all of them */
    struct discover_turn *turn; /* receives packets of the left turn */
    int asked;                  /* legs asked for; 0: nothing came yet */
    int64_t turn_next_ns;       /* when the next packet of it is kept */
};

/* What to ask for now.
 * Returns: false (out unchanged) when all has been flown. */
bool discover_legs_next(struct discover_legs *all, struct discover_leg *out);
/* Keep the datagram if it belongs to the left turn. t_ns: any clock that does
 * not go backwards. */
void discover_legs_keep(struct discover_legs *all,
                        const struct intake_datagram *datagram);

/* How far the heading went in the turn by a layout, rad, right positive; 0
 * when nothing tells. */
double discover_turn_rad(const struct discover_turn *turn,
                         const struct intake_layout *layout);
/* Turn heading and bank of a layout round when the left turn went right by it.
 * Returns: whether it did. */
bool discover_turn_settle(const struct discover_turn *turn,
                          struct intake_layout *layout);

#endif
