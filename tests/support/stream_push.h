/* stream_push.h - a stream for tests that takes moments instead of bytes. */
#ifndef SUPPORT_STREAM_PUSH_H
#define SUPPORT_STREAM_PUSH_H

#include "quarterturn/intake.h"

/* What a packet tells. */
enum push_kind {
    PUSH_CLOCKED,   /* simulator time, heading, bank, altitude */
    PUSH_UNCLOCKED, /* the same without the time */
    PUSH_SAYING,    /* the same with the time and "paused" */
    PUSH_CRUISING,  /* without the time, with pitch and vertical speed */
    PUSH_PLACED,    /* the same with a latitude */
    PUSH_SPLIT      /* packet 0: time, heading, bank; 1: time, altitude */
};

struct moment {
    double sim_time_s;
    double heading_deg;
    double bank_deg;
    double altitude_ft;
    double pitch_deg;
    double climb_fpm;
    bool paused;
};

struct pushed {
    struct intake_layout layout;
    struct intake_stream stream;
    struct intake_result result; /* of the last push */
};

/* Must not move: the stream points into it. */
void push_begin(struct pushed *pushed, enum push_kind kind,
                int64_t signal_timeout_ns);
/* Encode a moment and push it. */
void push(struct pushed *pushed, int64_t arrival_ns,
          const struct moment *moment);
/* The same as another packet of the layout. */
void push_kind(struct pushed *pushed, int64_t arrival_ns,
               const struct moment *moment, uint32_t packet);

/* Push; expect that it is taken, gives a sample, and no notice. */
void push_expect_taken(struct pushed *pushed, int64_t arrival_ns,
                       const struct moment *moment);
/* Push; expect the reason, no sample and no notice. */
void push_expect_rejected(struct pushed *pushed, int64_t arrival_ns,
                          const struct moment *moment,
                          enum intake_reject reject);
/* Expect a notice of the last push, by its place among them. */
void push_expect_notice(const struct pushed *pushed, uint32_t index,
                        enum intake_notice_kind kind, int64_t t_ns);

/* A moment of level flight whose values never stand still. */
struct moment push_moment_at(double sim_time_s);
/* Ten such moments a second, each arriving at its own time; all are expected
 * to be taken. */
void push_flight(struct pushed *pushed, int64_t from_ns, int64_t to_ns);

#endif
