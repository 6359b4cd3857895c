/* runs.h - sound worker processes, each from its start to its last word.
 *
 * One at a time; of the one before, words may still be in the pipe. All of it
 * on the loop's thread. */
#ifndef QUARTERTURN_AUDIO_RUNS_H
#define QUARTERTURN_AUDIO_RUNS_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

#include "share.h"
#include "words.h"

struct audio_run;

struct audio_runs {
    uv_loop_t *loop;
    const char *program; /* borrowed */
    int share_fd;
    struct audio_share *share; /* outlives every worker */
    /* A worker has ended after so long, or could not be started: 0. */
    void (*ended)(void *context, uint64_t lived_ms);
    /* The memory of one has been given back. */
    void (*freed)(void *context);
    void *context;

    struct audio_run *now;  /* NULL between two workers */
    struct audio_run *last; /* has ended, but its words may not have */
    uint32_t count;         /* not freed yet */
    char last_said[AUDIO_WORDS_LINE];
};

/* Start one, before the loop runs: waits for it.
 * Returns: 0, ERR_IO (said) or ERR_NO_MEMORY; ended is not called then. */
int audio_runs_start(struct audio_runs *runs);
/* Start one off the loop, which must not wait for it; there is none now.
 * Returns: 0 or ERR_NO_MEMORY; what goes wrong later is told by ended. */
int audio_runs_start_off_loop(struct audio_runs *runs);
/* Whether one is there, past its start. */
bool audio_runs_is_up(const struct audio_runs *runs);
/* End the one that is up when its heart stands still. Returns: whether it
 * does. */
bool audio_runs_check_heart(struct audio_runs *runs);
/* Let the one there is end by itself, if there is one; one that is still being
 * started is killed when it is. */
void audio_runs_let_go(struct audio_runs *runs);
void audio_runs_kill(struct audio_runs *runs);
/* Wait no longer for what the one before said. */
void audio_runs_forget_last(struct audio_runs *runs);

#endif
