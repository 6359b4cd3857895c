/* control.c - the control socket on the loop. */
#include "quarterturn/control.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/error.h"
#include "socket.h"

struct client {
    uv_pipe_t pipe;
    uv_write_t write;
    struct control *control;
    bool open;
    bool writing;
    bool last; /* to be let go when the answer is out */
    size_t used;
    char line[CONTROL_MAX_LINE];
    char reply[CONTROL_MAX_REPLY];
};

struct control {
    uv_pipe_t pipe;
    struct control_handlers handlers;
    struct client client[CONTROL_MAX_CLIENTS];
    int handles;  /* open or closing */
    bool waiting; /* somebody connected while every place was taken */
    bool closing;
};

static void free_when_last(struct control *control)
{
    if (control->closing && control->handles == 0)
        free(control);
}

/* ---- one client --------------------------------------------------------- */

static void on_connection(uv_stream_t *server, int status);

static void on_client_closed(uv_handle_t *handle)
{
    struct client *client = handle->data;
    struct control *control = client->control;

    client->open = false;
    control->handles--;
    if (control->waiting && !control->closing) {
        control->waiting = false;
        on_connection((uv_stream_t *)&control->pipe, 0);
    }
    free_when_last(control);
}

static void close_client(struct client *client)
{
    if (!uv_is_closing((uv_handle_t *)&client->pipe))
        uv_close((uv_handle_t *)&client->pipe, on_client_closed);
}

static void answer_next(struct client *client);
static void read_more(struct client *client);

static void on_written(uv_write_t *write, int status)
{
    struct client *client = write->data;

    client->writing = false;
    if (status < 0 || client->last) {
        close_client(client);
        return;
    }
    answer_next(client);
    if (!client->writing)
        read_more(client);
}

/* Nothing more is read until the answer is out: who asks without reading
 * answers waits for himself. */
static void write_reply(struct client *client, size_t size)
{
    uv_buf_t buffer = uv_buf_init(client->reply, (unsigned)size);

    (void)uv_read_stop((uv_stream_t *)&client->pipe);
    client->write.data = client;
    client->writing = true;
    if (uv_write(&client->write, (uv_stream_t *)&client->pipe, &buffer, 1,
                 on_written) < 0)
        close_client(client);
}

static void refuse_long_line(struct client *client)
{
    int size = snprintf(client->reply, sizeof client->reply,
                        "{\"ok\":false,\"error\":\"a line has at most %d "
                        "bytes\"}\n",
                        CONTROL_MAX_LINE - 1);

    client->last = true;
    write_reply(client, (size_t)size);
}

static void answer_next(struct client *client)
{
    char *newline = memchr(client->line, '\n', client->used);
    size_t taken;
    size_t size;

    if (newline == NULL) {
        if (client->used == sizeof client->line)
            refuse_long_line(client);
        return;
    }
    taken = (size_t)(newline - client->line) + 1;
    size = control_answer(&client->control->handlers, client->line, taken - 1,
                          client->reply);
    client->used -= taken;
    memmove(client->line, client->line + taken, client->used);
    write_reply(client, size);
}

static void on_alloc(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    struct client *client = handle->data;

    (void)suggested;
    *buffer = uv_buf_init(client->line + client->used,
                          (unsigned)(sizeof client->line - client->used));
}

static void on_read(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    struct client *client = stream->data;

    (void)buffer;
    if (length < 0) {
        close_client(client);
        return;
    }
    client->used += (size_t)length;
    if (length > 0)
        answer_next(client);
}

static void read_more(struct client *client)
{
    if (uv_read_start((uv_stream_t *)&client->pipe, on_alloc, on_read) < 0)
        close_client(client);
}

static void on_connection(uv_stream_t *server, int status)
{
    struct control *control = server->data;
    struct client *client = control->client;
    int i = 0;

    if (status < 0 || control->closing)
        return;
    while (i < CONTROL_MAX_CLIENTS && control->client[i].open)
        i++;
    if (i == CONTROL_MAX_CLIENTS) {
        control->waiting = true; /* until one goes */
        return;
    }
    client += i;
    memset(client, 0, sizeof *client);
    if (uv_pipe_init(server->loop, &client->pipe, 0) < 0)
        return;
    client->control = control;
    client->open = true;
    client->pipe.data = client;
    control->handles++;
    if (uv_accept(server, (uv_stream_t *)&client->pipe) < 0)
        close_client(client);
    else
        read_more(client);
}

/* ---- the socket
 * -------------------------------------------------------------- */

int control_default_path(char *out, size_t size)
{
    size_t used = size;
    size_t rest;

    if (uv_os_getenv("XDG_RUNTIME_DIR", out, &used) != 0 || used == 0)
        return ERR_ABSENT;
    rest = size - used;
    return snprintf(out + used, rest, "/quarterturn.sock") < (int)rest
               ? 0
               : ERR_ABSENT;
}

static int bind_private(struct control *control, const char *path)
{
    unsigned mask = control_socket_private();
    int error = uv_pipe_bind(&control->pipe, path);

    control_socket_restore(mask);
    return error;
}

/* Bind, in the place of a socket that a daemon left behind when it was
 * killed. */
static int bind_path(struct control *control, const char *path)
{
    int error = bind_private(control, path);

    if (error != UV_EADDRINUSE || !control_socket_exists(path) ||
        control_socket_answers(path))
        return error;
    (void)remove(path);
    return bind_private(control, path);
}

static void on_closed(uv_handle_t *handle)
{
    struct control *control = handle->data;

    control->handles--;
    free_when_last(control);
}

int control_open(struct uv_loop_s *loop, const char *path,
                 const struct control_handlers *handlers, struct control **out,
                 char *why, size_t why_size)
{
    struct control *control = calloc(1, sizeof *control);
    int error;

    if (control == NULL)
        return ERR_NO_MEMORY;
    if (strlen(path) >= CONTROL_MAX_PATH) {
        (void)snprintf(why, why_size, "%s: too long for a socket's path", path);
        free(control);
        return ERR_IO;
    }
    control->handlers = *handlers;
    error = uv_pipe_init(loop, &control->pipe, 0);
    if (error < 0) {
        (void)snprintf(why, why_size, "%s: %s", path, uv_strerror(error));
        free(control);
        return ERR_IO;
    }
    control->pipe.data = control;
    control->handles = 1;
    error = bind_path(control, path);
    if (error == 0)
        error = uv_listen((uv_stream_t *)&control->pipe, CONTROL_MAX_CLIENTS,
                          on_connection);
    if (error < 0) {
        (void)snprintf(why, why_size, "%s: %s", path,
                       error == UV_EADDRINUSE ? "another daemon answers there"
                                              : uv_strerror(error));
        control->closing = true;
        uv_close((uv_handle_t *)&control->pipe, on_closed);
        return error == UV_EADDRINUSE ? ERR_BUSY : ERR_IO;
    }
    *out = control;
    return 0;
}

void control_close(struct control *control)
{
    control->closing = true;
    for (int i = 0; i < CONTROL_MAX_CLIENTS; i++)
        if (control->client[i].open)
            close_client(&control->client[i]);
    /* libuv removes the socket's file with the handle. */
    uv_close((uv_handle_t *)&control->pipe, on_closed);
}
