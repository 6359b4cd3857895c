/* rig.h - a private sound server, an ear at it, and a loop that is timed. */
#ifndef SUPPORT_RIG_H
#define SUPPORT_RIG_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

#include "quarterturn/audio.h"

enum { RIG_SECONDS = 60, RIG_FRAMES = RIG_SECONDS * AUDIO_RATE_HZ };

/* A process that the rig started. */
struct rig_child {
    uv_process_t process;
    bool running;
};

struct rig_gap {
    int64_t frame;   /* the first one behind it */
    int64_t from_ns; /* when frame 0 would have been heard by its count */
};

enum { RIG_GAPS = 16 };

struct rig {
    uv_loop_t loop;
    uv_timer_t tick;
    uint64_t last_tick_ns;
    uint64_t worst_lag_ns; /* how late a tick came */
    uint32_t ticks;
    struct rig_child server;
    struct rig_child ear;
    uv_pipe_t sound;
    bool listening;
    float *raw; /* what the ear wrote, one channel */
    size_t raw_bytes;
    /* Where the recording goes on after the server stood still. */
    struct rig_gap gap[RIG_GAPS];
    int gaps;
    /* When the recording's first frame was heard: the least of (arrival of a
     * piece less its length), and the ear's own latency. */
    int64_t heard_from_ns;
};

/* Make the loop, and start the server. The folder named by $RIG holds the
 * server's settings (see tests/audio/run). */
void rig_open(struct rig *rig);
/* End both processes by their id, close the loop. */
void rig_close(struct rig *rig);

void rig_start_server(struct rig *rig);
/* Listen to what the server plays, from an empty recording on. */
void rig_listen(struct rig *rig);
void rig_stop_listening(struct rig *rig);
/* Send a signal to the server; after SIGKILL wait for its end. */
void rig_signal_server(struct rig *rig, int signal);

/* Run the loop until the condition holds. The test fails when that takes
 * longer than anything here can take. */
void rig_await(struct rig *rig, bool (*condition)(void *context), void *context,
               const char *what);

/* What was heard, and how much of it. */
const float *rig_heard(const struct rig *rig);
uint32_t rig_heard_frames(const struct rig *rig);
/* The instant at which a frame was heard; CLOCK_MONOTONIC. */
int64_t rig_heard_ns(const struct rig *rig, int64_t frame);

#endif
