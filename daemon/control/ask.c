/* ask.c - asking a running daemon. */
#include <stdio.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/control.h"
#include "quarterturn/error.h"

struct asking {
    uv_loop_t loop;
    uv_pipe_t pipe;
    uv_timer_t timer;
    uv_connect_t connect;
    uv_write_t write;
    char request[CONTROL_MAX_LINE];
    char *reply;
    size_t used;
    int result; /* ERR_TIME while nothing is known */
};

static void finish(struct asking *asking, int result)
{
    if (uv_is_closing((uv_handle_t *)&asking->pipe))
        return;
    asking->result = result;
    uv_close((uv_handle_t *)&asking->pipe, NULL);
    uv_close((uv_handle_t *)&asking->timer, NULL);
}

static void on_alloc(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    struct asking *asking = handle->data;

    (void)suggested;
    *buffer = uv_buf_init(asking->reply + asking->used,
                          (unsigned)(CONTROL_MAX_REPLY - 1 - asking->used));
}

static void on_read(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    struct asking *asking = stream->data;
    char *newline;

    (void)buffer;
    if (length == 0)
        return;
    if (length < 0) {
        finish(asking, ERR_IO);
        return;
    }
    asking->used += (size_t)length;
    asking->reply[asking->used] = '\0';
    newline = strchr(asking->reply, '\n');
    if (newline == NULL)
        return;
    *newline = '\0';
    finish(asking, 0);
}

static void on_written(uv_write_t *write, int status)
{
    if (status < 0)
        finish(write->data, ERR_IO);
}

static void on_connected(uv_connect_t *connect, int status)
{
    struct asking *asking = connect->data;
    uv_buf_t buffer =
        uv_buf_init(asking->request, (unsigned)strlen(asking->request));

    if (status < 0) {
        finish(asking, ERR_ABSENT);
        return;
    }
    if (uv_write(&asking->write, (uv_stream_t *)&asking->pipe, &buffer, 1,
                 on_written) < 0 ||
        uv_read_start((uv_stream_t *)&asking->pipe, on_alloc, on_read) < 0)
        finish(asking, ERR_IO);
}

static void on_timeout(uv_timer_t *timer)
{
    finish(timer->data, ERR_TIME);
}

int control_ask(const char *path, const char *request, uint32_t timeout_ms,
                char reply[CONTROL_MAX_REPLY], char *why, size_t why_size)
{
    struct asking asking = {.reply = reply, .result = ERR_TIME};

    if (strlen(request) > CONTROL_MAX_LINE - 2) {
        (void)snprintf(why, why_size, "more than %d bytes cannot be asked",
                       CONTROL_MAX_LINE - 2);
        return ERR_RANGE;
    }
    (void)snprintf(asking.request, sizeof asking.request, "%s\n", request);
    if (uv_loop_init(&asking.loop) < 0) {
        (void)snprintf(why, why_size, "out of memory");
        return ERR_NO_MEMORY;
    }
    (void)uv_pipe_init(&asking.loop, &asking.pipe, 0);
    (void)uv_timer_init(&asking.loop, &asking.timer);
    asking.pipe.data = asking.timer.data = &asking;
    asking.connect.data = asking.write.data = &asking;
    (void)uv_timer_start(&asking.timer, on_timeout, timeout_ms, 0);
    uv_pipe_connect(&asking.connect, &asking.pipe, path, on_connected);
    (void)uv_run(&asking.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&asking.loop);
    if (asking.result == ERR_ABSENT)
        (void)snprintf(why, why_size, "%s: no daemon answers there", path);
    else if (asking.result < 0)
        (void)snprintf(why, why_size, "%s: the daemon gave no answer", path);
    return asking.result == ERR_TIME ? ERR_IO : asking.result;
}
