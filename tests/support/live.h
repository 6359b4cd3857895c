/* live.h - flying at a running program over loopback. */
#ifndef SUPPORT_LIVE_H
#define SUPPORT_LIVE_H

#include <jansson.h>
#include <stddef.h>
#include <stdint.h>

#include "process.h"

/* The port that a program that was started said it listens on. */
uint16_t live_port(const struct process *process);
/* Ask a running program through its control socket; the test fails when no
 * answer comes. Owns: the caller calls json_decref. */
json_t *live_ask(const char *control, const char *request);
/* What a program with sound says of itself. */
struct live_told {
    char state[32]; /* of the sound */
    int64_t calls;
    int64_t buffers;
    int64_t restarts;
    int64_t dropped;
    double turn_ms; /* the longest of its loop, and what of it was held */
    double held_ms;
    double wait_ms; /* the longest turn that waited for something in between */
};

/* Ask for it; the test fails when no answer comes or something is missing. */
struct live_told live_tell(const char *control);
/* Send the datagrams of a recording from from_s to to_s of it, at the pace
 * they were recorded. Returns: how many. */
size_t live_fly(const char *path, uint16_t port, double from_s, double to_s);

#endif
