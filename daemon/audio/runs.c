/* runs.c - sound worker processes, each from its start to its last word. */
#include "runs.h"

#include <stdlib.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/log.h"

enum { STARTING_PATIENCE_MS = 4000 /* until a worker sets its own */ };

/* Freed when both handles have closed. */
struct audio_run {
    struct audio_runs *runs;
    struct audio_child child;
    uv_work_t start; /* off the loop */
    int start_error;
    bool starting;
    bool unwanted; /* since it is being started */
    uv_poll_t end;
    uv_pipe_t words; /* its standard error */
    int open_handles;
    uint64_t started_ms;
    uint32_t heartbeat;
    uint64_t beat_ms;
    struct audio_words said;
};

/* ---- closing ------------------------------------------------------------ */

static void free_run(struct audio_run *run)
{
    struct audio_runs *runs = run->runs;

    if (runs->last == run)
        runs->last = NULL;
    free(run);
    runs->count--;
    runs->freed(runs->context);
}

static void on_closed(uv_handle_t *handle)
{
    struct audio_run *run = handle->data;

    run->open_handles--;
    if (run->open_handles == 0)
        free_run(run);
}

static void close_handle(uv_handle_t *handle)
{
    if (!uv_is_closing(handle))
        uv_close(handle, on_closed);
}

void audio_runs_forget_last(struct audio_runs *runs)
{
    if (runs->last != NULL)
        close_handle((uv_handle_t *)&runs->last->words);
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
    struct audio_run *run = stream->data;

    if (count < 0)
        close_handle((uv_handle_t *)stream);
    else
        audio_words_take(&run->said, run->runs->last_said, buffer->base,
                         (size_t)count);
}

/* ---- its end ------------------------------------------------------------ */

/* Its last words may still be in the pipe, and tell why it ended: they are
 * read up to their end, at the latest until the next worker starts. */
static void on_end(uv_poll_t *handle, int error, int events)
{
    struct audio_run *run = handle->data;
    struct audio_runs *runs = run->runs;
    uint64_t lived_ms = uv_now(runs->loop) - run->started_ms;
    int status;

    (void)error;
    (void)events;
    (void)uv_poll_stop(handle);
    audio_child_collect(&run->child, &status);
    log_line(LOG_LEVEL_DETAIL, "sound worker ended (status %d)", status);
    runs->now = NULL;
    runs->last = run;
    close_handle((uv_handle_t *)&run->end);
    runs->ended(runs->context, lived_ms);
}

bool audio_runs_is_up(const struct audio_runs *runs)
{
    return runs->now != NULL && !runs->now->starting;
}

bool audio_runs_check_heart(struct audio_runs *runs)
{
    struct audio_run *run = runs->now;
    uint64_t now_ms = uv_now(runs->loop);
    uint32_t heartbeat = atomic_load(&runs->share->heartbeat);

    if (heartbeat != run->heartbeat) {
        run->heartbeat = heartbeat;
        run->beat_ms = now_ms;
        return false;
    }
    if (now_ms - run->beat_ms <= atomic_load(&runs->share->patience_ms))
        return false;
    log_line(LOG_LEVEL_DETAIL, "sound worker is silent: ending it");
    audio_child_kill(&run->child);
    return true;
}

void audio_runs_let_go(struct audio_runs *runs)
{
    if (runs->now == NULL)
        return;
    if (runs->now->starting)
        runs->now->unwanted = true;
    else
        audio_child_release(&runs->now->child);
}

void audio_runs_kill(struct audio_runs *runs)
{
    if (audio_runs_is_up(runs))
        audio_child_kill(&runs->now->child);
}

/* ---- its start ---------------------------------------------------------- */

static struct audio_run *new_run(struct audio_runs *runs)
{
    struct audio_run *run = calloc(1, sizeof *run);

    if (run == NULL)
        return NULL;
    run->runs = runs;
    run->start.data = run;
    atomic_store(&runs->share->state, AUDIO_STARTING);
    atomic_store(&runs->share->sounding, 0);
    atomic_store(&runs->share->patience_ms, STARTING_PATIENCE_MS);
    run->heartbeat = atomic_load(&runs->share->heartbeat);
    runs->count++;
    return run;
}

static int drop_run(struct audio_run *run)
{
    log_line(LOG_LEVEL_WARNING, "%s: cannot be started (%s)",
             run->runs->program, strerror(run->start_error));
    run->runs->count--;
    free(run);
    return ERR_IO;
}

/* The process runs: watch it. */
static void follow(struct audio_run *run)
{
    uv_loop_t *loop = run->runs->loop;

    run->started_ms = uv_now(loop);
    run->beat_ms = run->started_ms;
    run->open_handles = 2;
    (void)uv_poll_init(loop, &run->end, run->child.end_fd);
    run->end.data = run;
    (void)uv_poll_start(&run->end, UV_READABLE, on_end);
    (void)uv_pipe_init(loop, &run->words, 0);
    run->words.data = run;
    (void)uv_pipe_open(&run->words, run->child.words_fd);
    (void)uv_read_start((uv_stream_t *)&run->words, on_alloc, on_words);
    run->runs->now = run;
}

int audio_runs_start(struct audio_runs *runs)
{
    struct audio_run *run = new_run(runs);

    if (run == NULL)
        return ERR_NO_MEMORY;
    run->start_error =
        audio_child_start(runs->program, runs->share_fd, &run->child);
    if (run->start_error != 0)
        return drop_run(run);
    follow(run);
    return 0;
}

static void start_off_loop(uv_work_t *request)
{
    struct audio_run *run = request->data;

    run->start_error =
        audio_child_start(run->runs->program, run->runs->share_fd, &run->child);
}

static void on_started(uv_work_t *request, int status)
{
    struct audio_run *run = request->data;
    struct audio_runs *runs = run->runs;

    (void)status; /* nothing cancels it */
    run->starting = false;
    runs->now = NULL;
    if (run->start_error != 0) {
        (void)drop_run(run);
        runs->ended(runs->context, 0);
        return;
    }
    follow(run);
    if (run->unwanted)
        audio_child_kill(&run->child);
}

int audio_runs_start_off_loop(struct audio_runs *runs)
{
    struct audio_run *run = new_run(runs);

    if (run == NULL)
        return ERR_NO_MEMORY;
    run->starting = true;
    runs->now = run;
    (void)uv_queue_work(runs->loop, &run->start, start_off_loop, on_started);
    return 0;
}
