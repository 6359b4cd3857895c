/* share.h - what the daemon and its sound worker see of each other.
 *
 * One block of shared memory that outlives the worker: a new worker goes on
 * with the same ring. Beside it, the few calls that differ by system. */
#ifndef QUARTERTURN_AUDIO_SHARE_H
#define QUARTERTURN_AUDIO_SHARE_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/audio.h"
#include "ring.h"

/* The descriptor under which a worker finds the block. */
enum { AUDIO_SHARE_FD = 3 };

struct audio_share {
    uint64_t kind; /* tells this block from any other */
    struct audio_settings settings;
    struct audio_ring ring; /* written by the daemon, read by the worker */

    /* Written by the worker. */
    _Atomic uint32_t heartbeat;
    _Atomic uint32_t patience_ms; /* how long that may stand still */
    _Atomic uint32_t state;       /* enum audio_state */
    _Atomic uint32_t sounding;    /* not 0: something sounds or waits */
    _Atomic uint32_t callbacks;
    _Atomic uint32_t underruns;
    _Atomic uint32_t dropped;
    _Atomic int64_t latency_ns; /* -1: not known yet */
    /* Not 0: the callbacks measure it; else it is what the device states. */
    _Atomic uint32_t latency_measured;
    char device[128]; /* valid in AUDIO_PLAYING */
};

/* Make a block that a child can inherit.
 * fd: its descriptor, closed on exec unless handed over.
 * Owns: both until audio_share_free.
 * Returns: 0, ERR_NO_MEMORY or ERR_IO. */
int audio_share_create(int *fd, struct audio_share **out);
void audio_share_free(int fd, struct audio_share *share);
/* In the worker: the block behind an inherited descriptor.
 * Returns: NULL if it is not such a block. */
struct audio_share *audio_share_map(int fd);

/* CLOCK_MONOTONIC. Does not enter the kernel on usual machines: fit for the
 * sound callback. */
int64_t audio_now_ns(void);

/* Give back to the system what the C library keeps of freed memory.
 * Thread: any, but not one that must not wait. */
void audio_heap_trim(void);

/* A worker process, and the near ends of its pipes. */
struct audio_child {
    int pid;
    int end_fd;   /* can be read from when it has ended */
    int life_fd;  /* closes: the worker ends */
    int words_fd; /* its standard error */
};

/* Start "PROGRAM sound-worker" with the block at AUDIO_SHARE_FD. Waits until
 * the program runs: on a busy machine for too long to be called on a loop that
 * hears packets.
 * Owns: the descriptors of *out; the process until audio_child_collect.
 * Returns: 0, or what errno says.   Thread: one that lasts as long as the
 *    process does: the worker ends with it. */
int audio_child_start(const char *program, int share_fd,
                      struct audio_child *out);
void audio_child_kill(const struct audio_child *child);
/* Close its life_fd: it ends by itself. */
void audio_child_release(struct audio_child *child);
/* Take leave of a process that has ended, and close both but words_fd.
 * status: exit status, or 128 + the signal. */
void audio_child_collect(struct audio_child *child, int *status);

/* In the worker: end with the process that started it, and leave the
 * terminal's signals to it. */
void audio_worker_tie(void);
/* In the worker: wait.
 * Returns: false as soon as the pipe at descriptor 0 has closed. */
bool audio_worker_wait(int timeout_ms);

#endif
