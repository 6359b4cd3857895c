/* rig_linux.c - a private sound server, an ear at it, a timed loop. */
#include "rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { TICK_MS = 5, PATIENCE_S = 60, EAR_MS = 2 /* --latency-msec */ };

static const int64_t gap_ns = 150000000;

static void on_tick(uv_timer_t *timer)
{
    struct rig *rig = timer->data;
    uint64_t now_ns = uv_hrtime();
    uint64_t since_ns = now_ns - rig->last_tick_ns;

    if (rig->ticks > 0 && since_ns > TICK_MS * UINT64_C(1000000) &&
        since_ns - TICK_MS * UINT64_C(1000000) > rig->worst_lag_ns)
        rig->worst_lag_ns = since_ns - TICK_MS * UINT64_C(1000000);
    rig->last_tick_ns = now_ns;
    rig->ticks++;
}

void rig_await(struct rig *rig, bool (*condition)(void *context), void *context,
               const char *what)
{
    uint64_t give_up_ns = uv_hrtime() + PATIENCE_S * UINT64_C(1000000000);

    while (!condition(context)) {
        if (uv_hrtime() > give_up_ns)
            fail_msg("nothing came of: %s", what);
        (void)uv_run(&rig->loop, UV_RUN_ONCE);
    }
}

/* ---- processes ---------------------------------------------------------- */

static void on_child_exit(uv_process_t *process, int64_t status, int signal)
{
    struct rig_child *child = process->data;

    (void)status;
    (void)signal;
    child->running = false;
    uv_close((uv_handle_t *)process, NULL);
}

static void start_child(struct rig *rig, struct rig_child *child, char **words,
                        uv_stdio_container_t *stdio)
{
    uv_process_options_t options = {
        .file = words[0],
        .args = words,
        .exit_cb = on_child_exit,
        .stdio = stdio,
        .stdio_count = 3,
    };

    child->process.data = child;
    assert_int_equal(uv_spawn(&rig->loop, &child->process, &options), 0);
    child->running = true;
}

static bool has_ended(void *context)
{
    return !((struct rig_child *)context)->running;
}

static void end_child(struct rig *rig, struct rig_child *child)
{
    if (!child->running)
        return;
    (void)uv_process_kill(&child->process, SIGKILL);
    rig_await(rig, has_ended, child, "a child that was killed ends");
}

static const char *folder(void)
{
    const char *path = getenv("RIG");

    assert_non_null(path);
    return path;
}

static bool server_listens(void *context)
{
    const char *path = context;
    struct stat info;

    return stat(path, &info) == 0 && S_ISSOCK(info.st_mode);
}

void rig_start_server(struct rig *rig)
{
    char socket[200];
    char protocol[300];
    char *words[] = {
        "pulseaudio",
        "-n",
        "--daemonize=no",
        "--use-pid-file=no",
        "--exit-idle-time=15",
        "--disable-shm=yes",
        "--high-priority=no",
        "--realtime=no",
        "-L",
        "module-null-sink sink_name=cap rate=48000 format=float32le "
        "channels=2 norewinds=1",
        "-L",
        protocol,
        NULL,
    };
    uv_stdio_container_t stdio[3] = {
        {.flags = UV_IGNORE}, {.flags = UV_IGNORE}, {.flags = UV_IGNORE}};

    (void)snprintf(socket, sizeof socket, "%s/pa.sock", folder());
    (void)snprintf(protocol, sizeof protocol,
                   "module-native-protocol-unix auth-anonymous=1 socket=%s",
                   socket);
    (void)unlink(socket);
    start_child(rig, &rig->server, words, stdio);
    rig_await(rig, server_listens, socket, "the server makes its socket");
}

void rig_signal_server(struct rig *rig, int signal)
{
    assert_true(rig->server.running);
    assert_int_equal(uv_process_kill(&rig->server.process, signal), 0);
    if (signal == SIGKILL)
        rig_await(rig, has_ended, &rig->server, "the server ends");
}

/* ---- the ear ------------------------------------------------------------ */

static void on_room(uv_handle_t *handle, size_t suggested, uv_buf_t *out)
{
    struct rig *rig = handle->data;
    size_t left = RIG_FRAMES * sizeof(float) - rig->raw_bytes;

    (void)suggested;
    *out = uv_buf_init((char *)rig->raw + rig->raw_bytes,
                       (unsigned)(left < 65536 ? left : 65536));
}

/* After a silence of the server its frames come later than their count says,
 * and stay so. */
static void follow_gap(struct rig *rig, int64_t from_ns)
{
    struct rig_gap *last = rig->gaps > 0 ? &rig->gap[rig->gaps - 1] : NULL;
    int64_t base_ns = last != NULL ? last->from_ns : rig->heard_from_ns;

    if (base_ns != INT64_MAX && from_ns - base_ns > gap_ns &&
        rig->gaps < RIG_GAPS)
        rig->gap[rig->gaps++] =
            (struct rig_gap){rig_heard_frames(rig), from_ns};
    else if (last != NULL && from_ns < last->from_ns)
        last->from_ns = from_ns;
}

int64_t rig_heard_ns(const struct rig *rig, int64_t frame)
{
    int64_t from_ns = rig->heard_from_ns;

    for (int i = 0; i < rig->gaps && rig->gap[i].frame <= frame; i++)
        from_ns = rig->gap[i].from_ns;
    return from_ns + frame * INT64_C(1000000000) / AUDIO_RATE_HZ;
}

static void on_sound(uv_stream_t *stream, ssize_t count, const uv_buf_t *buffer)
{
    struct rig *rig = stream->data;
    int64_t from_ns;

    (void)buffer;
    if (count < 0) {
        (void)uv_read_stop(stream);
        return;
    }
    rig->raw_bytes += (size_t)count;
    /* The server hands a monitor its sound as it mixes it, ahead of playing
     * it by the latency that the ear asked for. */
    from_ns =
        (int64_t)uv_hrtime() + EAR_MS * INT64_C(1000000) -
        (int64_t)rig_heard_frames(rig) * INT64_C(1000000000) / AUDIO_RATE_HZ;
    follow_gap(rig, from_ns);
    if (from_ns < rig->heard_from_ns)
        rig->heard_from_ns = from_ns;
}

static bool hears(void *context)
{
    return rig_heard_frames(context) > 0;
}

void rig_listen(struct rig *rig)
{
    char *words[] = {"parec",
                     "-d",
                     "cap.monitor",
                     "--rate=48000",
                     "--format=float32le",
                     "--channels=1",
                     "--latency-msec=2",
                     NULL};
    uv_stdio_container_t stdio[3] = {
        {.flags = UV_IGNORE},
        {.flags = UV_CREATE_PIPE | UV_WRITABLE_PIPE,
         .data.stream = (uv_stream_t *)&rig->sound},
        {.flags = UV_IGNORE}};

    rig_stop_listening(rig);
    rig->raw_bytes = 0;
    rig->heard_from_ns = INT64_MAX;
    rig->gaps = 0;
    (void)uv_pipe_init(&rig->loop, &rig->sound, 0);
    rig->sound.data = rig;
    rig->listening = true;
    start_child(rig, &rig->ear, words, stdio);
    (void)uv_read_start((uv_stream_t *)&rig->sound, on_room, on_sound);
    rig_await(rig, hears, rig, "the ear hears");
}

static bool pipe_is_closed(void *context)
{
    return !((struct rig *)context)->listening;
}

static void on_sound_closed(uv_handle_t *handle)
{
    struct rig *rig = handle->data;

    rig->listening = false;
}

void rig_stop_listening(struct rig *rig)
{
    if (!rig->listening)
        return;
    end_child(rig, &rig->ear);
    uv_close((uv_handle_t *)&rig->sound, on_sound_closed);
    rig_await(rig, pipe_is_closed, rig, "the ear's pipe closes");
}

const float *rig_heard(const struct rig *rig)
{
    return rig->raw;
}

uint32_t rig_heard_frames(const struct rig *rig)
{
    return (uint32_t)(rig->raw_bytes / sizeof(float));
}

/* ---- the whole ---------------------------------------------------------- */

void rig_open(struct rig *rig)
{
    memset(rig, 0, sizeof *rig);
    rig->raw = malloc(RIG_FRAMES * sizeof *rig->raw);
    assert_non_null(rig->raw);
    assert_int_equal(uv_loop_init(&rig->loop), 0);
    (void)uv_timer_init(&rig->loop, &rig->tick);
    rig->tick.data = rig;
    (void)uv_timer_start(&rig->tick, on_tick, TICK_MS, TICK_MS);
    rig_start_server(rig);
}

void rig_close(struct rig *rig)
{
    rig_stop_listening(rig);
    end_child(rig, &rig->server);
    uv_close((uv_handle_t *)&rig->tick, NULL);
    while (uv_run(&rig->loop, UV_RUN_DEFAULT) != 0)
        continue;
    assert_int_equal(uv_loop_close(&rig->loop), 0);
    free(rig->raw);
}
