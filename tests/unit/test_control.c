/* test_control.c - the control socket and its answers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
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
    int commands;
    int error; /* what a command gives back */
    enum control_verb verb;
    enum callout_help help;
    bool on;
    char value[256];
};

static void give_status(void *context, struct control_status *out)
{
    (void)context;
    out->version = "1.2.3";
    out->layout = "plain-text";
    out->aircraft = "club-trainer";
    out->standard = "training";
    out->maneuver = "chandelle";
    out->rate_hz = 59.75;
    out->sender = "127.0.0.1:4000";
    out->help = HELP_FADING;
    out->silent = UINT32_C(1) << TOPIC_BALL;
    out->muted = true;
    out->port = 52180;
    out->counts.datagrams = 12;
    out->counts.taken = 10;
    out->counts.rejected[INTAKE_TOO_SHORT] = 2;
    out->signal = true;
    out->attempts = 3;
    out->phase = PHASE_SECOND_HALF;
}

static int obey(void *context, const struct control_command *command,
                char said[CONTROL_SAID_SIZE])
{
    struct daemon *daemon = context;

    daemon->commands++;
    daemon->stops += command->verb == CONTROL_STOP;
    daemon->verb = command->verb;
    daemon->help = command->help;
    daemon->on = command->on;
    (void)snprintf(daemon->value, sizeof daemon->value, "%s",
                   command->value != NULL ? command->value : "(none)");
    if (daemon->error < 0 || command->verb == CONTROL_AGAIN)
        (void)snprintf(said, CONTROL_SAID_SIZE, "a \"line\" of words");
    return daemon->error;
}

static const char *answer(struct daemon *daemon, const char *line)
{
    static char out[CONTROL_MAX_REPLY];
    struct control_handlers handlers = {daemon, give_status, obey};
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
    assert_true(json_is_null(json_object_get(status, "recording")));
    assert_true(json_is_true(json_object_get(status, "muted")));
    assert_string_equal(json_string_value(json_object_get(status, "help")),
                        "fading");
    assert_string_equal(
        json_string_value(json_array_get(json_object_get(status, "silent"), 0)),
        "ball");
    assert_string_equal(json_string_value(json_object_get(status, "sender")),
                        "127.0.0.1:4000");
    assert_true(json_number_value(json_object_get(status, "rate_hz")) == 59.75);
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

static void every_verb_reaches_the_daemon_with_its_value(void **state)
{
    static const struct {
        const char *line;
        enum control_verb verb;
        const char *value;
    } row[] = {
        {"{\"ask\":\"mute\"}", CONTROL_MUTE, "(none)"},
        {"{\"ask\":\"unmute\"}", CONTROL_UNMUTE, "(none)"},
        {"{\"ask\":\"help-level\",\"value\":\"sparse\"}", CONTROL_HELP_LEVEL,
         "sparse"},
        {"{\"ask\":\"maneuver\",\"value\":\"chandelle\"}", CONTROL_MANEUVER,
         "chandelle"},
        {"{\"value\":\"two-seater\",\"ask\":\"aircraft\"}", CONTROL_AIRCRAFT,
         "two-seater"},
        {"{\"ask\":\"mark\",\"value\":\"too steep \\u00e9\"}", CONTROL_MARK,
         "too steep \xc3\xa9"},
        {"{\"ask\":\"again\"}", CONTROL_AGAIN, "(none)"},
        {"{\"ask\":\"new-attempt\"}", CONTROL_NEW_ATTEMPT, "(none)"},
        {"{\"ask\":\"reload\"}", CONTROL_RELOAD, "(none)"},
        {"{\"ask\":\"record\",\"value\":\"on\"}", CONTROL_RECORD, "on"},
        {"{\"ask\":\"record\",\"value\":\"off\"}", CONTROL_RECORD, "off"},
        {"{\"ask\":\"stop\"}", CONTROL_STOP, "(none)"},
    };
    struct daemon daemon = {0};
    uint32_t seen = 0;

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        assert_non_null(strstr(answer(&daemon, row[i].line), "\"ok\":true"));
        assert_int_equal(daemon.commands, i + 1);
        assert_int_equal(daemon.verb, row[i].verb);
        assert_string_equal(daemon.value, row[i].value);
        assert_int_equal(daemon.on, strcmp(row[i].value, "on") == 0);
        seen |= UINT32_C(1) << row[i].verb;
    }
    assert_int_equal(seen, (UINT32_C(1) << CONTROL_VERB_COUNT) - 1);
    (void)answer(&daemon, row[2].line);
    assert_int_equal(daemon.help, HELP_SPARSE);
}

static void what_the_daemon_says_comes_back(void **state)
{
    struct daemon daemon = {0};

    (void)state;
    assert_string_equal(answer(&daemon, "{\"ask\":\"again\"}"),
                        "{\"ok\":true,\"said\":\"a \\\"line\\\" of words\"}\n");
    daemon.error = ERR_BUSY;
    assert_string_equal(
        answer(&daemon, "{\"ask\":\"mute\"}"),
        "{\"ok\":false,\"error\":\"a \\\"line\\\" of words\"}\n");
}

static void wrong_input_gets_an_error_and_changes_nothing(void **state)
{
    static const struct {
        const char *line;
        const char *error; /* part of it */
    } row[] = {
        {"", "not a JSON object"},
        {"x", "not a JSON object"},
        {"[]", "not a JSON object"},
        {"\"stop\"", "not a JSON object"},
        {"\xff\xfe", "not a JSON object"},
        {"{\"ask\":\"stop\"", "not a JSON object"},
        {"{\"ask\":\"stop\"}{\"ask\":\"stop\"}", "not a JSON object"},
        {"{\"ask\":\"stop\",\"ask\":\"stop\"}", "not a JSON object"},
        {"{\"ask\":\"mark\",\"value\":\"a\\u0000b\"}", "not a JSON object"},
        {"{}", "no \\\"ask\\\"; accepted: status, mute, unmute, help-level, "
               "maneuver, aircraft, mark, again, new-attempt, reload, record, "
               "stop"},
        {"{\"ask\":1}", "no \\\"ask\\\""},
        {"{\"ask\":\"reboot\"}", "not known; accepted: status"},
        {"{\"ask\":\"Stop\"}", "not known"},
        {"{\"ask\":\"stop\",\"now\":true}", "accepted: ask, value"},
        {"{\"ask\":\"stop\",\"value\":\"now\"}", "stop takes no"},
        {"{\"ask\":\"stop\",\"value\":null}", "stop takes no"},
        {"{\"ask\":\"status\",\"value\":\"all\"}", "status takes no"},
        {"{\"ask\":\"mute\",\"value\":\"on\"}", "mute takes no"},
        {"{\"ask\":\"help-level\"}", "help-level needs a"},
        {"{\"ask\":\"help-level\",\"value\":3}", "help-level needs a"},
        {"{\"ask\":\"help-level\",\"value\":\"\"}", "help-level needs a"},
        {"{\"ask\":\"help-level\",\"value\":\"loud\"}",
         "there is: full, sparse, warnings, fading, summary"},
        {"{\"ask\":\"maneuver\"}", "maneuver needs a"},
        {"{\"ask\":\"aircraft\",\"value\":[]}", "aircraft needs a"},
        {"{\"ask\":\"mark\"}", "mark needs a"},
        {"{\"ask\":\"mark\",\"value\":\"a\\nb\"}", "control characters"},
        {"{\"ask\":\"mark\",\"value\":\"\\u001b[2J\"}", "control characters"},
        {"{\"ask\":\"record\"}", "record needs a"},
        {"{\"ask\":\"record\",\"value\":\"yes\"}", "on or off"},
        {"{\"ask\":\"again\",\"value\":\"twice\"}", "again takes no"},
        {"{\"ask\":\"new-attempt\",\"value\":1}", "new-attempt takes no"},
        {"{\"ask\":\"reload\",\"value\":\"x\"}", "reload takes no"},
    };
    struct daemon daemon = {0};
    char line[256];
    char note[CONTROL_MAX_NOTE + 2];

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const char *said = answer(&daemon, row[i].line);

        assert_non_null(strstr(said, "\"ok\":false"));
        if (strstr(said, row[i].error) == NULL)
            fail_msg("%s: %s", row[i].line, said);
    }
    memset(note, 'x', sizeof note - 1);
    note[sizeof note - 1] = '\0';
    (void)snprintf(line, sizeof line, "{\"ask\":\"mark\",\"value\":\"%s\"}",
                   note);
    assert_non_null(strstr(answer(&daemon, line), "at most 120 bytes"));
    assert_int_equal(daemon.commands, 0);
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

    asker->result[0] = control_ask(asker->path, "{\"ask\":\"status\"}", 5000,
                                   asker->reply, why, sizeof why);
    asker->result[1] = control_ask(asker->path, "nonsense", 5000, asker->reply,
                                   why, sizeof why);
    asker->result[2] = control_ask(asker->path, "{\"ask\":\"stop\"}", 5000,
                                   asker->reply, why, sizeof why);
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
    struct control_handlers handlers = {&daemon, give_status, obey};
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

/* ---- clients of other kinds --------------------------------------------- */

static int connect_to(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);

    memcpy(address.sun_path, path, strlen(path) + 1);
    if (fd >= 0 &&
        connect(fd, (const struct sockaddr *)&address, sizeof address) == 0)
        return fd;
    return -1;
}

/* Read until so many lines or the end. Returns: lines. */
static int read_lines(int fd, int lines, char *out, size_t size)
{
    size_t used = 0;
    int seen = 0;

    while (seen < lines && used + 1 < size && read(fd, out + used, 1) == 1)
        seen += out[used++] == '\n';
    out[used] = '\0';
    return seen;
}

struct crowd {
    char path[FOLDER_PATH_SIZE];
    char both[512];
    char too_long[512];
    char ninth[512];
    int lines[3];
    bool ended; /* after the line that was too long */
    uv_async_t done;
};

static void be_a_crowd(void *argument)
{
    static const char two[] = "{\"ask\":\"again\"}\n{\"ask\":\"reload\"}\n";
    static const char one[] = "{\"ask\":\"mute\"}\n";
    struct crowd *crowd = argument;
    char much[CONTROL_MAX_LINE];
    int fd[CONTROL_MAX_CLIENTS + 1];
    char byte;

    for (int i = 0; i <= CONTROL_MAX_CLIENTS; i++)
        fd[i] = connect_to(crowd->path);
    (void)!write(fd[0], two, sizeof two - 1);
    crowd->lines[0] = read_lines(fd[0], 2, crowd->both, sizeof crowd->both);
    memset(much, ' ', sizeof much);
    (void)!write(fd[1], much, sizeof much);
    crowd->lines[1] =
        read_lines(fd[1], 1, crowd->too_long, sizeof crowd->too_long);
    crowd->ended = read(fd[1], &byte, 1) == 0;
    /* Now there is a place for the one that was one too many. */
    (void)!write(fd[CONTROL_MAX_CLIENTS], one, sizeof one - 1);
    crowd->lines[2] = read_lines(fd[CONTROL_MAX_CLIENTS], 1, crowd->ninth,
                                 sizeof crowd->ninth);
    for (int i = 0; i <= CONTROL_MAX_CLIENTS; i++)
        (void)close(fd[i]);
    (void)uv_async_send(&crowd->done);
}

static void a_crowd_is_answered_one_after_the_other(void **state)
{
    struct folder folder;
    struct daemon daemon = {0};
    struct crowd crowd = {0};
    struct control_handlers handlers = {&daemon, give_status, obey};
    uv_thread_t thread;
    char why[256] = "";

    (void)state;
    folder_make(&folder);
    (void)folder_path(&folder, "s", crowd.path);
    assert_int_equal(uv_loop_init(&daemon.loop), 0);
    assert_int_equal(uv_async_init(&daemon.loop, &crowd.done, on_done), 0);
    crowd.done.data = &daemon;
    assert_int_equal(control_open(&daemon.loop, crowd.path, &handlers,
                                  &daemon.control, why, sizeof why),
                     0);
    assert_int_equal(uv_thread_create(&thread, be_a_crowd, &crowd), 0);
    assert_int_equal(uv_run(&daemon.loop, UV_RUN_DEFAULT), 0);
    assert_int_equal(uv_thread_join(&thread), 0);
    assert_int_equal(uv_loop_close(&daemon.loop), 0);
    assert_int_equal(crowd.lines[0], 2);
    assert_string_equal(crowd.both,
                        "{\"ok\":true,\"said\":\"a \\\"line\\\" of words\"}\n"
                        "{\"ok\":true}\n");
    assert_int_equal(crowd.lines[1], 1);
    assert_string_equal(
        crowd.too_long,
        "{\"ok\":false,\"error\":\"a line has at most 1023 bytes\"}\n");
    assert_true(crowd.ended);
    assert_int_equal(crowd.lines[2], 1);
    assert_string_equal(crowd.ninth, "{\"ok\":true}\n");
    assert_int_equal(daemon.commands, 3);
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
    struct control_handlers handlers = {&daemon, give_status, obey};
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
        cmocka_unit_test(every_verb_reaches_the_daemon_with_its_value),
        cmocka_unit_test(what_the_daemon_says_comes_back),
        cmocka_unit_test(wrong_input_gets_an_error_and_changes_nothing),
        cmocka_unit_test(a_daemon_is_asked_over_its_socket),
        cmocka_unit_test(a_crowd_is_answered_one_after_the_other),
        cmocka_unit_test(a_stale_socket_is_replaced_and_a_live_one_is_not),
        cmocka_unit_test(nobody_there_is_said),
    };

    return cmocka_run_group_tests_name("control", tests, NULL, NULL) != 0;
}
