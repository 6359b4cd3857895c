/* test_control.c - the control socket and its answers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>
#include <uv.h>

#include "folder.h"
#include "quarterturn/control.h"
#include "quarterturn/error.h"

struct daemon {
    uv_loop_t loop;
    struct control *control;
    int stops;
};

static void give_status(void *context, struct control_status *out)
{
    (void)context;
    out->version = "1.2.3";
    out->layout = "plain-text";
    out->aircraft = "club-trainer";
    out->port = 52180;
    out->counts.datagrams = 12;
    out->counts.taken = 10;
    out->counts.rejected[INTAKE_TOO_SHORT] = 2;
    out->signal = true;
    out->attempts = 3;
    out->phase = PHASE_SECOND_HALF;
}

static void stop(void *context)
{
    struct daemon *daemon = context;

    daemon->stops++;
}

static const char *answer(struct daemon *daemon, const char *line)
{
    static char out[CONTROL_MAX_REPLY];
    struct control_handlers handlers = {daemon, give_status, stop};
    size_t size = control_answer(&handlers, line, strlen(line), out);

    assert_int_equal(size, strlen(out));
    assert_int_equal(out[size - 1], '\n');
    assert_null(memchr(out, '\n', size - 1));
    return out;
}

static void status_tells_the_state(void **state)
{
    struct daemon daemon = {0};
    json_t *reply =
        json_loads(answer(&daemon, "{\"ask\":\"status\"}"), 0, NULL);
    json_t *status = json_object_get(reply, "status");

    (void)state;
    assert_true(json_is_true(json_object_get(reply, "ok")));
    assert_int_equal(json_integer_value(json_object_get(status, "taken")), 10);
    assert_int_equal(json_integer_value(json_object_get(
                         json_object_get(status, "rejected"), "too short")),
                     2);
    assert_string_equal(json_string_value(json_object_get(status, "phase")),
                        "second half");
    assert_true(json_is_null(json_object_get(status, "sound")));
    json_decref(reply);
}

static void stop_stops(void **state)
{
    struct daemon daemon = {0};

    (void)state;
    assert_string_equal(answer(&daemon, "{\"ask\":\"stop\"}"),
                        "{\"ok\":true}\n");
    assert_int_equal(daemon.stops, 1);
}

static void wrong_input_gets_an_error_and_changes_nothing(void **state)
{
    static const char *const line[] = {"",
                                       "x",
                                       "[]",
                                       "{}",
                                       "{\"ask\":1}",
                                       "{\"ask\":\"reboot\"}",
                                       "{\"ask\":\"stop\"",
                                       "{\"ask\":\"stop\",\"ask\":\"stop\"}",
                                       "\"stop\"",
                                       "\xff\xfe"};
    struct daemon daemon = {0};

    (void)state;
    for (size_t i = 0; i < sizeof line / sizeof line[0]; i++)
        assert_non_null(strstr(answer(&daemon, line[i]), "\"ok\":false"));
    assert_int_equal(daemon.stops, 0);
}

/* ---- over a real socket
 * ------------------------------------------------------- */

struct asker {
    char path[FOLDER_PATH_SIZE];
    char reply[CONTROL_MAX_REPLY];
    int result[3];
    uv_async_t done;
};

/* Threads record; the test asserts. */
static void ask_and_stop(void *argument)
{
    struct asker *asker = argument;
    char why[256];

    asker->result[0] =
        control_ask(asker->path, "status", 5000, asker->reply, why, sizeof why);
    asker->result[1] = control_ask(asker->path, "nonsense", 5000, asker->reply,
                                   why, sizeof why);
    asker->result[2] =
        control_ask(asker->path, "stop", 5000, asker->reply, why, sizeof why);
    (void)uv_async_send(&asker->done);
}

static void on_done(uv_async_t *async)
{
    struct daemon *daemon = async->data;

    control_close(daemon->control);
    uv_close((uv_handle_t *)async, NULL);
}

static void a_daemon_is_asked_over_its_socket(void **state)
{
    struct folder folder;
    struct daemon daemon = {0};
    struct asker asker;
    struct control_handlers handlers = {&daemon, give_status, stop};
    struct stat status;
    uv_thread_t thread;
    char why[256] = "";

    (void)state;
    folder_make(&folder);
    (void)folder_path(&folder, "s", asker.path);
    assert_int_equal(uv_loop_init(&daemon.loop), 0);
    assert_int_equal(uv_async_init(&daemon.loop, &asker.done, on_done), 0);
    asker.done.data = &daemon;
    assert_int_equal(control_open(&daemon.loop, asker.path, &handlers,
                                  &daemon.control, why, sizeof why),
                     0);
    /* Its owner's only. */
    assert_int_equal(stat(asker.path, &status), 0);
    assert_int_equal(status.st_mode & 0077, 0);
    assert_int_equal(uv_thread_create(&thread, ask_and_stop, &asker), 0);
    assert_int_equal(uv_run(&daemon.loop, UV_RUN_DEFAULT), 0);
    assert_int_equal(uv_thread_join(&thread), 0);
    assert_int_equal(uv_loop_close(&daemon.loop), 0);
    assert_int_equal(asker.result[0], 0);
    assert_int_equal(asker.result[1], 0);
    assert_int_equal(asker.result[2], 0);
    assert_string_equal(asker.reply, "{\"ok\":true}");
    assert_int_equal(daemon.stops, 1);
    assert_int_equal(folder_count(&folder), 0);
    folder_remove(&folder);
}

/* What a daemon leaves behind when it is killed. */
static void leave_stale_socket(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);

    assert_true(fd >= 0 && strlen(path) < sizeof address.sun_path);
    memcpy(address.sun_path, path, strlen(path) + 1);
    assert_int_equal(
        bind(fd, (const struct sockaddr *)&address, sizeof address), 0);
    (void)close(fd);
}

static void a_stale_socket_is_replaced_and_a_live_one_is_not(void **state)
{
    struct folder folder;
    struct daemon daemon = {0};
    struct control_handlers handlers = {&daemon, give_status, stop};
    struct control *second = NULL;
    char path[FOLDER_PATH_SIZE];
    char other[FOLDER_PATH_SIZE];
    char why[256] = "";

    (void)state;
    folder_make(&folder);
    (void)folder_path(&folder, "s", path);
    (void)folder_write(&folder, "file", "x", 1, other);
    leave_stale_socket(path);
    assert_int_equal(uv_loop_init(&daemon.loop), 0);
    assert_int_equal(control_open(&daemon.loop, path, &handlers,
                                  &daemon.control, why, sizeof why),
                     0);
    assert_int_equal(
        control_open(&daemon.loop, path, &handlers, &second, why, sizeof why),
        ERR_BUSY);
    assert_non_null(strstr(why, "another daemon"));
    /* Somebody's file is not a socket to be replaced. */
    assert_true(control_open(&daemon.loop, other, &handlers, &second, why,
                             sizeof why) < 0);
    control_close(daemon.control);
    (void)uv_run(&daemon.loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&daemon.loop), 0);
    assert_int_equal(folder_count(&folder), 1);
    folder_remove(&folder);
}

static void nobody_there_is_said(void **state)
{
    char reply[CONTROL_MAX_REPLY];
    char why[256] = "";

    (void)state;
    assert_int_equal(
        control_ask("/nonexistent/s", "status", 1000, reply, why, sizeof why),
        ERR_ABSENT);
    assert_non_null(strstr(why, "no daemon answers"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(status_tells_the_state),
        cmocka_unit_test(stop_stops),
        cmocka_unit_test(wrong_input_gets_an_error_and_changes_nothing),
        cmocka_unit_test(a_daemon_is_asked_over_its_socket),
        cmocka_unit_test(a_stale_socket_is_replaced_and_a_live_one_is_not),
        cmocka_unit_test(nobody_there_is_said),
    };

    return cmocka_run_group_tests_name("control", tests, NULL, NULL) != 0;
}
