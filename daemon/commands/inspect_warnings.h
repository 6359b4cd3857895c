/* inspect_warnings.h - values that cannot be what their channel says.
 *
 * Pure. Wrong units and signs show when channels are held against each other:
 * a bank turns the heading, a pitch changes the altitude, level flight weighs
 * one g. Nothing is said on too little flying. */
#ifndef COMMANDS_INSPECT_WARNINGS_H
#define COMMANDS_INSPECT_WARNINGS_H

#include "quarterturn/intake.h"

enum { WARNINGS_MOST = 16, WARNING_TEXT_SIZE = 160, WARNING_FIX_SIZE = 80 };

struct inspect_warning {
    enum intake_channel channel;
    uint32_t line; /* of the layout's file, 0 not known */
    char text[WARNING_TEXT_SIZE];
    char fix[WARNING_FIX_SIZE]; /* what to write there; "" when nothing */
};

/* How y goes with x; about = without a constant, or with one. Private. */
struct warnings_trend {
    double n, x, y, xx, xy, yy, xxxx;
};

/* One second or so of flight. Private. */
struct warnings_leg {
    int64_t begin_ns;
    double count;
    double heading_rad;
    double altitude_m;
    double turn_sum; /* of g tan(bank) / V */
    double climb_sum;
    double sink_sum; /* of the vertical speed sent */
    double path_sum; /* of the pitch */
    uint32_t has;
};

struct warnings_extent {
    double least;
    double greatest;
    double sum;
    uint64_t count;
    uint64_t changes;
    int64_t since_ns; /* when it last changed, or began */
    int64_t begin_ns;
};

/* Values that were told and not taken, because out of range. Private. */
struct warnings_beyond {
    double least;
    double greatest;
    uint64_t count;
};

/* Embedded by its owner; fields are private. */
struct inspect_warnings {
    struct warnings_extent extent[CHANNEL_COUNT];
    struct warnings_beyond beyond[CHANNEL_COUNT];
    struct warnings_leg leg;
    struct warnings_trend turn;     /* heading rate over that of the bank */
    struct warnings_trend altitude; /* its rate over that of pitch, speed */
    struct warnings_trend vertical; /* vertical speed over the same */
    struct warnings_trend climb;    /* altitude's rate over vertical speed */
    int64_t now_ns;
    double last[CHANNEL_COUNT];
};

void inspect_warnings_init(struct inspect_warnings *warnings);
/* Take a sample of the stream. broken: a jump or a silence lies before it. */
void inspect_warnings_take(struct inspect_warnings *warnings,
                           const struct intake_sample *sample, bool broken);
/* Take what a datagram told out of range, as intake_decode left it. */
void inspect_warnings_take_beyond(struct inspect_warnings *warnings,
                                  const struct intake_sample *decoded);
/* What can be said by now.
 * layout: tells the units in use and the lines.
 * Returns: number of warnings in out. */
uint32_t inspect_warnings_find(const struct inspect_warnings *warnings,
                               const struct intake_layout *layout,
                               struct inspect_warning out[WARNINGS_MOST]);

#endif
