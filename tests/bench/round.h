/* round.h - who flies what in a round of the bench. */
#ifndef BENCH_ROUND_H
#define BENCH_ROUND_H

#include <stdbool.h>
#include <stdint.h>

#include "post.h"

enum {
    FLYING = 8,           /* lanes with a flight each */
    WARNED = FLYING,      /* one with the simulator's stall warning */
    DAEMONS = FLYING + 1, /* the script's lanes follow */
    SCRIPTS = 4,          /* beside the first daemons, on the same packets */
    LANES = DAEMONS + SCRIPTS,
    /* At the slowest rate a call is foreseen from few packets, and errors
     * depend on where they lie: so many rounds, for a 95 % that is one. */
    TURNS = 3
};

/* One flight of all lanes, or, alone, of the one with warnings. */
struct round {
    double rate_hz;
    int turn; /* of those at this rate */
    bool loaded;
    bool whole;
    bool alone;
    int64_t start_ns[LANES]; /* second 0 of the recording */
    struct post_flight flight[LANES];
    int script[SCRIPTS];
    struct post post;
};

/* Plan what is sent, from a second from now on. Of the round, rate_hz, turn,
 * loaded, whole and alone count; the rest is set. post_free ends it. */
void round_plan(struct round *round);
/* Returns: what the simulation that flew a recording says of it, s on the
 * recording's clock; NaN: nothing. */
double round_truth_s(const char *flight, const char *quantity);
/* Returns: whether a packet that was sent brings a warning whose sound nothing
 * else covers. */
bool round_listens(const struct round *round, const struct post_packet *packet);

#endif
