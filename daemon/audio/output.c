/* output.c - keeps a sound worker running, on the loop, without waiting.
 *
 * A worker is started off the loop, which must not wait for it. Its own words
 * and all that the sound libraries print come back through a pipe; the block of
 * shared memory outlives every worker. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "quarterturn/units.h"
#include "share.h"
#include "words.h"

enum {
    WATCH_MS = 250,
    FIRST_DELAY_MS = 250,
    LONGEST_DELAY_MS = 1000,
    STEADY_MS = 5000, /* a worker that lived this long was well */
    FAILURES_SAID = 3,
    DRAIN_LOOK_MS = 20,
    LEAVE_MS = 1000,            /* given to a worker to end */
    STARTING_PATIENCE_MS = 4000 /* until a worker sets its own */
};

/* One worker process; freed when both handles have closed. */
struct run {
    struct audio_output *output;
    struct audio_child child;
    uv_work_t start; /* of a restart, off the loop */
    int start_error;
    bool starting;
    uv_poll_t end;
    uv_pipe_t words; /* its standard error */
    int open_handles;
    uint64_t started_ms;
    uint32_t heartbeat;
    uint64_t beat_ms;
    struct audio_words said;
};

struct audio_output {
    uv_loop_t *loop;
    uv_timer_t watch;
    uv_timer_t step;  /* the next start, or the next look while closing */
    struct run *run;  /* NULL between two workers */
    struct run *last; /* has ended, but its words may not have */
    int runs;         /* not freed yet */
    int timers;       /* not closed yet */
    int share_fd;
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
    bool closing;
    uint64_t close_by_ms;
    uint64_t silent_ms; /* since then nothing sounds, while closing */
    char last_said[AUDIO_WORDS_LINE];
    char program[AUDIO_PATH_SIZE];
};

static void restart_worker(struct audio_output *output);

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

static void free_if_done(struct audio_output *output)
{
    if (!output->closing || output->runs > 0 || output->timers > 0)
        return;
    audio_share_free(output->share_fd, output->share);
    free(output);
}

/* ---- closing handles ---------------------------------------------------- */

static void on_run_closed(uv_handle_t *handle)
{
    struct run *run = handle->data;
    struct audio_output *output = run->output;

    run->open_handles--;
    if (run->open_handles > 0)
        return;
    if (output->last == run)
        output->last = NULL;
    free(run);
    output->runs--;
    free_if_done(output);
}

static void close_handle(uv_handle_t *handle)
{
    if (!uv_is_closing(handle))
        uv_close(handle, on_run_closed);
}

/* ---- what a worker prints ----------------------------------------------- */

static void on_alloc(uv_handle_t *handle, size_t suggested, uv_buf_t *out)
{
    static char memory[4096];

    (void)handle;
    (void)suggested;
    *out = uv_buf_init(memory, sizeof memory);
}

static void on_words(uv_stream_t *stream, ssize_t count, const uv_buf_t *buffer)
{
    struct run *run = stream->data;

    if (count < 0)
        close_handle((uv_handle_t *)stream);
    else
        audio_words_take(&run->said, run->output->last_said, buffer->base,
                         (size_t)count);
}

/* ---- one worker's life -------------------------------------------------- */

/* Its last words may still be in the pipe, and tell why it ended: they are
 * read up to their end, at the latest until the next worker starts. */
static void close_run(struct run *run)
{
    run->output->last = run;
    close_handle((uv_handle_t *)&run->end);
}

static void forget_last(struct audio_output *output)
{
    if (output->last != NULL)
        close_handle((uv_handle_t *)&output->last->words);
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

static void on_start_again(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;

    forget_last(output);
    output->restarts++;
    restart_worker(output);
}

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

static void after_worker(struct audio_output *output, bool was_steady)
{
    if (output->closing) {
        forget_last(output);
        close_timers(output);
    } else {
        plan_restart(output, was_steady);
    }
}

static void on_worker_end(uv_poll_t *handle, int error, int events)
{
    struct run *run = handle->data;
    struct audio_output *output = run->output;
    uint64_t lived_ms = uv_now(output->loop) - run->started_ms;
    int status;

    (void)error;
    (void)events;
    (void)uv_poll_stop(handle);
    audio_child_collect(&run->child, &status);
    log_line(LOG_LEVEL_DETAIL, "sound worker ended (status %d)", status);
    output->run = NULL;
    close_run(run);
    after_worker(output, lived_ms >= STEADY_MS);
}

/* The worker's state, and whether its heart still beats. */
static void on_watch(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;
    struct audio_share *share = output->share;
    struct run *run = output->run;
    uint64_t now_ms = uv_now(output->loop);
    uint32_t heartbeat = atomic_load(&share->heartbeat);
    enum audio_state state;

    push_tone(output);
    if (run == NULL || run->starting)
        return;
    if (heartbeat != run->heartbeat) {
        run->heartbeat = heartbeat;
        run->beat_ms = now_ms;
    } else if (now_ms - run->beat_ms > atomic_load(&share->patience_ms)) {
        log_line(LOG_LEVEL_DETAIL, "sound worker is silent: ending it");
        audio_child_kill(&run->child);
        return;
    }
    state = (enum audio_state)atomic_load(&share->state);
    if (state == AUDIO_PLAYING || state == AUDIO_NO_DEVICE)
        set_state(output, state);
}

static struct run *new_run(struct audio_output *output)
{
    struct run *run = calloc(1, sizeof *run);

    if (run == NULL)
        return NULL;
    run->output = output;
    run->start.data = run;
    atomic_store(&output->share->state, AUDIO_STARTING);
    atomic_store(&output->share->sounding, 0);
    atomic_store(&output->share->patience_ms, STARTING_PATIENCE_MS);
    run->heartbeat = atomic_load(&output->share->heartbeat);
    output->runs++;
    return run;
}

static int drop_run(struct run *run)
{
    struct audio_output *output = run->output;

    log_line(LOG_LEVEL_WARNING, "%s: cannot be started (%s)", output->program,
             strerror(run->start_error));
    free(run);
    output->runs--;
    return ERR_IO;
}

/* The process runs: watch it. */
static void follow_run(struct run *run)
{
    struct audio_output *output = run->output;

    run->started_ms = uv_now(output->loop);
    run->beat_ms = run->started_ms;
    run->open_handles = 2;
    (void)uv_poll_init(output->loop, &run->end, run->child.end_fd);
    run->end.data = run;
    (void)uv_poll_start(&run->end, UV_READABLE, on_worker_end);
    (void)uv_pipe_init(output->loop, &run->words, 0);
    run->words.data = run;
    (void)uv_pipe_open(&run->words, run->child.words_fd);
    (void)uv_read_start((uv_stream_t *)&run->words, on_alloc, on_words);
    output->run = run;
}

static void start_off_loop(uv_work_t *request)
{
    struct run *run = request->data;

    run->start_error = audio_child_start(run->output->program,
                                         run->output->share_fd, &run->child);
}

static void on_started(uv_work_t *request, int status)
{
    struct run *run = request->data;
    struct audio_output *output = run->output;

    (void)status; /* nothing cancels it */
    run->starting = false;
    output->run = NULL;
    if (run->start_error != 0) {
        (void)drop_run(run);
        after_worker(output, false);
        return;
    }
    follow_run(run);
    if (output->closing)
        audio_child_kill(&run->child);
}

static void restart_worker(struct audio_output *output)
{
    struct run *run = new_run(output);

    if (run == NULL) {
        plan_restart(output, false);
        return;
    }
    /* Nobody else has the ring now, and a new mixer knows of no tone. */
    output->dropped +=
        audio_ring_drop_stale(&output->share->ring, audio_now_ns());
    output->tone_waits = output->tone.action == AUDIO_TONE;
    push_tone(output);
    run->starting = true;
    output->run = run;
    (void)uv_queue_work(output->loop, &run->start, start_off_loop, on_started);
}

/* The first one, before the loop runs. */
static int start_worker(struct audio_output *output)
{
    struct run *run = new_run(output);

    if (run == NULL)
        return ERR_NO_MEMORY;
    run->start_error =
        audio_child_start(output->program, output->share_fd, &run->child);
    if (run->start_error != 0)
        return drop_run(run);
    follow_run(run);
    return 0;
}

/* ---- for the daemon --------------------------------------------------- */

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
    error = audio_share_create(&output->share_fd, &output->share);
    if (error != 0) {
        free(output);
        return error;
    }
    output->share->settings = *settings;
    memcpy(output->program, program, strlen(program) + 1);
    output->loop = loop;
    output->changed = changed;
    output->context = context;
    output->delay_ms = FIRST_DELAY_MS;
    output->timers = 2;
    (void)uv_timer_init(loop, &output->watch);
    output->watch.data = output;
    (void)uv_timer_init(loop, &output->step);
    output->step.data = output;
    error = start_worker(output);
    if (error != 0) {
        output->closing = true;
        close_timers(output);
        return error;
    }
    (void)uv_timer_start(&output->watch, on_watch, WATCH_MS, WATCH_MS);
    *out = output;
    return 0;
}

int audio_output_submit(struct audio_output *output,
                        const struct audio_command *command)
{
    bool taken = audio_ring_submit(&output->share->ring, command);

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
    out->latency_s = latency_ns < 0
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

static void on_left_too_long(uv_timer_t *timer)
{
    struct audio_output *output = timer->data;

    if (output->run != NULL)
        audio_child_kill(&output->run->child);
}

static void end_worker(struct audio_output *output)
{
    (void)uv_timer_stop(&output->step);
    if (output->run == NULL) {
        close_timers(output);
        return;
    }
    /* One that is being started is ended as soon as it is. */
    if (output->run->starting)
        return;
    audio_child_release(&output->run->child);
    (void)uv_timer_start(&output->step, on_left_too_long, LEAVE_MS, 0);
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
    uint64_t now_ms = uv_now(output->loop);
    bool sounds = audio_ring_count(&output->share->ring) > 0 ||
                  atomic_load(&output->share->sounding) != 0;

    if (sounds)
        output->silent_ms = now_ms;
    if (output->run == NULL || now_ms >= output->close_by_ms ||
        now_ms - output->silent_ms >= device_ms(output))
        end_worker(output);
}

void audio_output_close(struct audio_output *output, uint32_t drain_ms)
{
    struct audio_command silence = {.start_ns = audio_now_ns(),
                                    .action = AUDIO_TONE};

    output->closing = true;
    forget_last(output);
    (void)uv_timer_stop(&output->watch);
    (void)uv_timer_stop(&output->step);
    (void)audio_ring_push(&output->share->ring, &silence);
    if (output->state != AUDIO_PLAYING || drain_ms == 0) {
        end_worker(output);
        return;
    }
    uv_update_time(output->loop);
    output->silent_ms = uv_now(output->loop);
    output->close_by_ms = output->silent_ms + drain_ms;
    (void)uv_timer_start(&output->step, on_drain, DRAIN_LOOK_MS, DRAIN_LOOK_MS);
}
