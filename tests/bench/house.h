/* house.h - the processes a bench starts, and what they take. */
#ifndef BENCH_HOUSE_H
#define BENCH_HOUSE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct house_use {
    double cpu_s;    /* processor time since it was started */
    double pss_kib;  /* memory, what it shares counted in parts */
    double shm_kib;  /* of that, memory made to be shared: a server's */
    double rss_kib;  /* memory, what it shares counted whole */
    double most_kib; /* the most of the latter yet */
};

/* Fork; the child ends with its parent at the latest.
 * Returns: its id; 0 in the child. */
int house_fork(void);
/* Start a program; it ends with the bench at the latest.
 * words: looked for in the path; NULL behind the last.
 * said: file that takes all it prints, or NULL.
 * alsa: sound configuration for it, or NULL: as everybody's.
 * Returns: its id. */
int house_start(const char *const *words, const char *said, const char *alsa);
/* Ask it to end, and wait for that. */
void house_end(int pid);
/* Keep a processor busy, for a quarter of an hour at most. Returns: its id. */
int house_load(void);
/* The first child of a process; 0: none. */
int house_child(int pid);
/* Returns: whether the process is there and has not ended. */
bool house_look(int pid, struct house_use *out);

/* A port of the loopback address that nobody uses. */
uint16_t house_free_port(void);
/* Ask a running daemon for its state.
 * Returns: whether the answer came, cut to size. */
bool house_ask(const char *program, const char *control, char *out,
               size_t size);

/* What a short script would do: compare each packet's heading with where the
 * turn began, and start a player when it has changed by 90 degrees; once.
 * port: of the loopback address. player: as house_start's words.
 * Returns: its id. */
int naive_start(uint16_t port, const char *const *player);

#endif
