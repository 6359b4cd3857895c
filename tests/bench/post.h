/* post.h - recorded flights sent in real time, over a network that delays and
 * loses. */
#ifndef BENCH_POST_H
#define BENCH_POST_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { POST_BYTES = 96 };

/* How a flight is flown. */
struct post_flight {
    const char *name; /* of tests/replay, recorded as plain-binary */
    bool mirrored;
    bool warned;   /* with the simulator's stall warning, on and off */
    double from_s; /* part of the recording */
    double to_s;
    double rate_hz;
    double phase;    /* of the moments of its packets, 0 to 1 interval */
    double jitter_s; /* each packet is late by 0 to this */
    double loss;     /* part of the packets */
    unsigned seed;
};

struct post_packet {
    int64_t due_ns;  /* CLOCK_MONOTONIC */
    int64_t sent_ns; /* when it was */
    int lane;
    size_t length;
    bool warning; /* the first with the stall warning on */
    uint8_t bytes[POST_BYTES];
};

struct post {
    struct post_packet *packet; /* by due_ns once it is sent */
    size_t count;
    size_t capacity;
};

/* Add a flight to what is to be sent.
 * start_ns: when second 0 of the recording is, in the sender's clock. */
void post_add(struct post *post, const struct post_flight *flight, int lane,
              int64_t start_ns);
/* Send all, each at its time; returns when the last is gone.
 * ports: two for each lane; 0: nobody. Thread: any. */
void post_send(struct post *post, const uint16_t (*ports)[2]);
void post_free(struct post *post);

#endif
