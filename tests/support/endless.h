/* endless.h - a flight that never ends and keeps the caller busy.
 *
 * A climbing turn whose pitch swings about the limit, so that "pitch limit"
 * is due every 1.5 s, and that is flown again after
 * ENDLESS_ATTEMPT_S; in packets of the layout plain-text. Needs a
 * configuration without a pause between two calls: endless_config. */
#ifndef SUPPORT_ENDLESS_H
#define SUPPORT_ENDLESS_H

#include <stdint.h>
#include <uv.h>

enum { ENDLESS_ATTEMPT_S = 100, ENDLESS_RATE_HZ = 60 };

/* The text of a configuration; more sections may follow it. */
extern const char endless_config[];

struct endless {
    uv_timer_t timer;
    int socket;
    int64_t origin_ns; /* CLOCK_MONOTONIC of the first packet */
    int64_t sent;
    double heading_deg;
    double altitude_ft;
};

/* Fly on the loop, to a port of 127.0.0.1, until it is ended. */
void endless_begin(struct endless *endless, uv_loop_t *loop, uint16_t port);
/* The same through a connected socket, which is closed at the end. What cannot
 * be sent is lost. */
void endless_begin_through(struct endless *endless, uv_loop_t *loop,
                           int socket);
void endless_end(struct endless *endless);
/* Let the loop turn for so long. */
void endless_wait(uv_loop_t *loop, double seconds);

#endif
