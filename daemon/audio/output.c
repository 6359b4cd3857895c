/* output.c - keeps a sound worker running, on the loop, without waiting.
 *
 * A worker is started off the loop, which must not wait for it. Its own words
 * and all that the sound libraries print come back through a pipe; the block of
 * shared memory outlives every worker. While nobody needs sound there is no
 * worker at all: then nothing wakes the machine, and its device may sleep. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/units.h"
#include "runs.h"

enum {
    WATCH_MS = 250,
    FIRST_DELAY_MS = 250,
    LONGEST_DELAY_MS = 1000,
    STEADY_MS = 5000, /* a worker that lived this long was well */
    FAILURES_SAID = 3,
    DRAIN_LOOK_MS = 20,
    LEAVE_MS = 1000 /* given to a worker to end */
};

struct audio_output {
    struct audio_runs runs;
    uv_timer_t watch;
    uv_timer_t step; /* the next start, or how long one may take to end */
    int timers;      /* not closed yet */
    struct audio_share *share;
    enum audio_state state;
    void (*changed)(void *context, enum audio_state state);
    void *context;
    struct audio_command tone; /* the last one; action 0: none yet */
    bool tone_waits;           /* for room: without its end it would sound on */
    uint32_t delay_ms;
    uint32_t failures;
    uint32_t restarts;
    uint32_t dropped;
    bool resting;
    bool leaving; /* the worker there is was let go, to rest */
    bool closing;
    uint64_t close_by_ms;
    uint64_t silent_ms; /* since then nothing sounds, while closing */
    char program[AUDIO_PATH_SIZE];
};

static void push_tone(struct audio_output *output)
{
    if (output->tone_waits)
        output->tone_waits =
            !audio_ring_push(&output->share->ring, &output->tone);
}

static void set_state(struct audio_output *output, enum audio_state state)
{
    if (output->state == state)
        return;
    output->state = state;
    if (output->changed != NULL && !output->closing)
        output->changed(output->context, state);
}

static void free_if_done(void *context)
{
    struct audio_output *output = context;

    if (!output->closing || output->runs.count > 0 || output->timers > 0)
        return;
    audio_share_free(output->runs.share_fd, output->share);
    free(output);
}

static void on_timer_closed(uv_handle_t *handle)
{
    struct audio_output *output = handle->data;

    output->timers--;
    free_if_done(output);
}

static void close_timers(struct audio_output *output)
{
    if (!uv_is_closing((uv_handle_t *)&output->step))
        uv_close((uv_handle_t *)&output->step, on_timer_closed);
    if (!uv_is_closing((uv_handle_t *)&output->watch))
        uv_close((uv_handle_t *)&output->watch, on_timer_closed);
}

/* ---- one worker after the other ----------------------------------------- */

static void on_start_again(uv_timer_t *timer);

static void plan_restart(struct audio_output *output, bool was_steady)
{
    uint32_t delay_ms;

    if (was_steady) {
        output->failures = 0;
        output->delay_ms = FIRST_DELAY_MS;
    } else {
        output->failures++;
    }
    delay_ms = output->delay_ms;
    output->delay_ms *= 2;
    if (output->delay_ms > LONGEST_DELAY_MS)
        output->delay_ms = LONGEST_DELAY_MS;
    set_state(output, output->failures >= FAILURES_SAID ? AUDIO_FAILED
                                                        : AUDIO_STARTING);
    (void)uv_timer_start(&output->step, on_start_again, delay_ms, 0);
}

static void start_worker(struct audio_output *output)
{
    audio_runs_forget_last(&output->runs);
    /* Nobody else has the ring now, and a new mixer knows of no tone. */
    output->dropped +=
        audio_ring_drop_stale(&output->share->ring, audio_now_ns());
    output->tone_waits = output->tone.action == AUDIO_TONE;
    push_tone(output);
    if (audio_runs_start_off_loop(&output->runs) < 0)
        plan_restart(output, false);
}

static void on_start_again(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;

    output->restarts++;
    start_worker(output);
}

static void on_worker_ended(void *context, uint64_t lived_ms)
{
    struct audio_output *output = context;
    bool left = output->leaving;

    output->leaving = false;
    if (output->closing) {
        audio_runs_forget_last(&output->runs);
        close_timers(output);
    } else if (output->resting) {
        (void)uv_timer_stop(&output->step);
    } else if (left) {
        (void)uv_timer_stop(&output->step);
        start_worker(output);
    } else {
        plan_restart(output, lived_ms >= STEADY_MS);
    }
}

/* The worker's state, and whether its heart still beats. */
static void on_watch(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;
    enum audio_state state;

    push_tone(output);
    if (!audio_runs_is_up(&output->runs) || output->leaving ||
        audio_runs_check_heart(&output->runs))
        return;
    state = (enum audio_state)atomic_load(&output->share->state);
    if (state == AUDIO_PLAYING || state == AUDIO_NO_DEVICE)
        set_state(output, state);
}

static void on_left_too_long(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;

    audio_runs_kill(&output->runs);
}

static void let_worker_go(struct audio_output *output)
{
    audio_runs_let_go(&output->runs);
    (void)uv_timer_start(&output->step, on_left_too_long, LEAVE_MS, 0);
}

/* ---- for the daemon --------------------------------------------------- */

static void begin_timers(struct audio_output *output)
{
    output->timers = 2;
    (void)uv_timer_init(output->runs.loop, &output->watch);
    output->watch.data = output;
    (void)uv_timer_init(output->runs.loop, &output->step);
    output->step.data = output;
}

int audio_output_open(struct uv_loop_s *loop, const char *program,
                      const struct audio_settings *settings,
                      void (*changed)(void *context, enum audio_state state),
                      void *context, struct audio_output **out)
{
    struct audio_output *output;
    int error;

    if (strlen(program) >= AUDIO_PATH_SIZE)
        return ERR_IO;
    output = calloc(1, sizeof *output);
    if (output == NULL)
        return ERR_NO_MEMORY;
    error = audio_share_create(&output->runs.share_fd, &output->share);
    if (error != 0) {
        free(output);
        return error;
    }
    output->share->settings = *settings;
    memcpy(output->program, program, strlen(program) + 1);
    output->runs.loop = loop;
    output->runs.program = output->program;
    output->runs.share = output->share;
    output->runs.ended = on_worker_ended;
    output->runs.freed = free_if_done;
    output->runs.context = output;
    output->changed = changed;
    output->context = context;
    output->delay_ms = FIRST_DELAY_MS;
    begin_timers(output);
    error = audio_runs_start(&output->runs);
    if (error != 0) {
        output->closing = true;
        close_timers(output);
        return error;
    }
    (void)uv_timer_start(&output->watch, on_watch, WATCH_MS, WATCH_MS);
    *out = output;
    return 0;
}

void audio_output_rest(struct audio_output *output)
{
    if (output->resting || output->closing)
        return;
    output->resting = true;
    (void)uv_timer_stop(&output->watch);
    (void)uv_timer_stop(&output->step);
    if (output->runs.now != NULL) {
        output->leaving = true;
        let_worker_go(output);
    }
    set_state(output, AUDIO_RESTING);
}

void audio_output_wake(struct audio_output *output)
{
    if (!output->resting || output->closing)
        return;
    output->resting = false;
    output->failures = 0;
    output->delay_ms = FIRST_DELAY_MS;
    (void)uv_timer_start(&output->watch, on_watch, WATCH_MS, WATCH_MS);
    set_state(output, AUDIO_STARTING);
    if (!output->leaving)
        start_worker(output);
}

static bool sounds(const struct audio_command *command)
{
    return command->action == AUDIO_PLAY ||
           (command->action == AUDIO_TONE && command->argument != 0);
}

int audio_output_submit(struct audio_output *output,
                        const struct audio_command *command)
{
    bool taken = true;

    if (sounds(command))
        audio_output_wake(output);
    /* A worker that is to come begins in silence. */
    if (!output->resting)
        taken = audio_ring_submit(&output->share->ring, command);
    if (command->action == AUDIO_TONE) {
        output->tone = *command;
        output->tone_waits = !taken;
    }
    output->dropped += !taken;
    return taken ? 0 : ERR_FULL;
}

void audio_output_status(const struct audio_output *output,
                         struct audio_status *out)
{
    struct audio_share *share = output->share;
    int64_t latency_ns = atomic_load(&share->latency_ns);

    memset(out, 0, sizeof *out);
    out->state = output->state;
    out->latency_s = latency_ns < 0 || output->state != AUDIO_PLAYING
                         ? (double)NAN
                         : (double)latency_ns / (double)UNITS_NS_PER_S;
    out->latency_measured = atomic_load(&share->latency_measured) != 0;
    out->callbacks = atomic_load(&share->callbacks);
    out->underruns = atomic_load(&share->underruns);
    out->dropped = output->dropped + atomic_load(&share->dropped);
    out->restarts = output->restarts;
    if (output->state == AUDIO_PLAYING)
        (void)snprintf(out->device, sizeof out->device, "%s", share->device);
}

/* ---- closing ---------------------------------------------------------- */

static void end_worker(struct audio_output *output)
{
    (void)uv_timer_stop(&output->step);
    if (output->runs.now == NULL)
        close_timers(output);
    else
        let_worker_go(output);
}

/* What the mixer has given away still has to pass the device. */
static uint64_t device_ms(const struct audio_output *output)
{
    int64_t latency_ns = atomic_load(&output->share->latency_ns);

    return (uint64_t)((latency_ns > 0 ? latency_ns : 0) / 1000000) +
           DRAIN_LOOK_MS;
}

static void on_drain(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;
    uint64_t now_ms = uv_now(output->runs.loop);

    if (audio_ring_count(&output->share->ring) > 0 ||
        atomic_load(&output->share->sounding) != 0)
        output->silent_ms = now_ms;
    if (!audio_runs_is_up(&output->runs) || now_ms >= output->close_by_ms ||
        now_ms - output->silent_ms >= device_ms(output))
        end_worker(output);
}

void audio_output_close(struct audio_output *output, uint32_t drain_ms)
{
    struct audio_command silence = {.start_ns = audio_now_ns(),
                                    .action = AUDIO_TONE};

    output->closing = true;
    audio_runs_forget_last(&output->runs);
    (void)uv_timer_stop(&output->watch);
    (void)uv_timer_stop(&output->step);
    (void)audio_ring_push(&output->share->ring, &silence);
    if (output->state != AUDIO_PLAYING || drain_ms == 0) {
        end_worker(output);
        return;
    }
    uv_update_time(output->runs.loop);
    output->silent_ms = uv_now(output->runs.loop);
    output->close_by_ms = output->silent_ms + drain_ms;
    (void)uv_timer_start(&output->step, on_drain, DRAIN_LOOK_MS, DRAIN_LOOK_MS);
}
