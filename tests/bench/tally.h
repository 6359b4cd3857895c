/* tally.h - what was heard against what was true. */
#ifndef BENCH_TALLY_H
#define BENCH_TALLY_H

#include <stdbool.h>
#include <stddef.h>

enum { TALLY_MOST = 4096 };

/* One call that was listened for. */
struct tally_trial {
    const char *what;   /* "ninety", "stall warning", ... */
    const char *player; /* "quarterturn", "script" */
    const char *flight;
    bool mirrored;
    bool loaded;
    double rate_hz;
    bool heard;
    double error_ms;   /* after the true moment, or after the packet */
    double planned_ms; /* what the daemon meant it to be; NaN: not known */
    double likeness;
};

struct tally {
    const char *server;
    struct tally_trial trial[TALLY_MOST];
    size_t count;
};

/* That of the output, as the daemon tells it. */
struct tally_latency {
    double sum_ms;
    int count;
};

/* Keep a trial, and write its line. */
void tally_add(struct tally *tally, const struct tally_trial *trial);
/* Print the tables of a server. latency: idle, loaded. */
void tally_print(const struct tally *tally,
                 const struct tally_latency latency[2]);

#endif
