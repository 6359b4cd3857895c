/* stream.h - private to the intake room: the clocks of a stream. */
#ifndef INTAKE_STREAM_H
#define INTAKE_STREAM_H

#include "quarterturn/intake.h"

/* How a datagram's simulator time stands to what was taken before. */
enum clock_order {
    CLOCK_NONE,  /* the datagram has none */
    CLOCK_FIRST, /* nothing to compare with */
    CLOCK_NEXT,
    CLOCK_SAME,     /* again, with nothing new beside it */
    CLOCK_LATE,     /* overtaken on the way */
    CLOCK_ELSEWHERE /* set back, or far ahead: another flight */
};

/* One datagram on its way through the stream. */
struct moment {
    int64_t arrival_ns;
    uint32_t brought; /* channels */
    int64_t sim_ns;   /* unwrapped; only with CHANNEL_SIM_TIME */
    enum clock_order order;
    bool moved; /* a value differs from the one known before */
};

/* Fill sim_ns and order. */
void clock_read(const struct intake_stream *stream, double sim_time_s,
                struct moment *moment);

/* Stream time of a datagram that is taken; anchor: the clocks begin anew. */
int64_t clock_stamp(struct intake_stream *stream, const struct moment *moment,
                    bool anchor);

/* When the simulator's clock began to run toward a datagram of t_ns, having
 * stood at that of the last one; t_ns where that cannot be told. */
int64_t clock_began_ns(const struct intake_stream *stream,
                       const struct moment *moment, int64_t t_ns);

/* Whether the simulator's clock ran on at its pace through a silence. */
bool clock_survived(const struct intake_stream *stream,
                    const struct moment *moment);

/* Whether it stood through a silence: the simulator was paused. */
bool clock_stood(const struct intake_stream *stream,
                 const struct moment *moment);

/* When a datagram without simulator time was sent, as far as that can be
 * told: never after its arrival. Depends on arrivals and channels alone. */
int64_t arrivals_stamp(struct intake_arrivals *arrivals,
                       const struct moment *moment);

/* Whether a datagram without simulator time is one that came already: the
 * same values again, much sooner than the sender's next is due. Ask before
 * arrivals_stamp. */
bool arrivals_again(const struct intake_arrivals *arrivals,
                    const struct moment *moment);

#endif
