/* test_tell.c - a running daemon and what it is told. */
#include <jansson.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "live.h"
#include "process.h"

static const char flight[] = "tests/replay/demo.pcap";
static const char good[] = "callout { help = \"full\" }\n";
static const char sparse[] = "callout { help = \"sparse\" }\n";
static const char broken[] = "callout {\n    help = \"loud\"\n}\n";

struct daemon {
    struct folder folder;
    char config[FOLDER_PATH_SIZE];
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    struct process process;
    uint16_t port;
};

static void write_config(struct daemon *daemon, const char *text)
{
    folder_write(&daemon->folder, "my.conf", text, strlen(text),
                 daemon->config);
}

static void start(struct daemon *daemon)
{
    const char *words[] = {
        "listen",   "--no-sound",   "--port",    "0",
        "--config", daemon->config, "--record",  daemon->recording,
        "--events", daemon->events, "--control", daemon->control,
        "--layout", "plain-text",   NULL};

    memset(daemon, 0, sizeof *daemon);
    folder_make(&daemon->folder);
    folder_path(&daemon->folder, "live.pcap", daemon->recording);
    folder_path(&daemon->folder, "live.events", daemon->events);
    folder_path(&daemon->folder, "control", daemon->control);
    write_config(daemon, good);
    process_start(&daemon->process, words);
    process_await(&daemon->process, "listening on ");
    daemon->port = live_port(&daemon->process);
}

/* Tell the daemon one or two words. Returns: what was printed. */
static const char *tell(const struct daemon *daemon, const char *verb,
                        const char *value, int status)
{
    static struct process told;
    const char *words[] = {"tell", "--control", daemon->control,
                           verb,   value,       NULL};

    memset(&told, 0, sizeof told);
    process_run(&told, words);
    if (told.status != status)
        fail_msg("%s: status %d, %s%s", verb, told.status, told.out, told.err);
    return status == 0 ? told.out : told.err;
}

static json_t *status_of(const struct daemon *daemon)
{
    struct process told;
    const char *words[] = {"tell",          "--json", "--control",
                           daemon->control, "status", NULL};
    json_t *answer;
    json_t *status;

    memset(&told, 0, sizeof told);
    process_run(&told, words);
    answer = json_loads(told.out, 0, NULL);
    status = json_incref(json_object_get(answer, "status"));
    assert_non_null(status);
    json_decref(answer);
    return status;
}

static void expect_status(const struct daemon *daemon, const char *name,
                          const char *text)
{
    json_t *status = status_of(daemon);

    assert_string_equal(json_string_value(json_object_get(status, name)), text);
    json_decref(status);
}

static void finish(struct daemon *daemon)
{
    assert_string_equal(tell(daemon, "stop", NULL, 0), "done\n");
    process_finish(&daemon->process);
    assert_int_equal(daemon->process.status, 0);
}

static void expect_line(const char *text, const char *line)
{
    if (strstr(text, line) == NULL)
        fail_msg("no \"%s\" in\n%s", line, text);
}

static void
notes_and_commands_are_among_the_events_and_in_a_replay(void **state)
{
    struct daemon daemon;
    char notes[FOLDER_PATH_SIZE];
    char again[FOLDER_PATH_SIZE];
    const char *words[] = {
        "replay", daemon.recording, "--layout", "plain-text", "--speed",
        "max",    "--events",       again,      NULL};
    struct process replay;
    char *text;

    (void)state;
    start(&daemon);
    expect_line(tell(&daemon, "mark", "too early", 1), "no packet has arrived");
    (void)live_fly(flight, daemon.port, 0.0, 1.0);
    assert_string_equal(tell(&daemon, "mark", "a fine \"entry\"", 0), "done\n");
    assert_string_equal(tell(&daemon, "help-level", "sparse", 0), "done\n");
    assert_string_equal(tell(&daemon, "new-attempt", NULL, 0),
                        "no attempt was running\n");
    expect_line(tell(&daemon, "again", NULL, 1), "nothing has been said yet");
    (void)live_fly(flight, daemon.port, 1.0, 1.5);
    finish(&daemon);
    text = folder_read_file(daemon.events, NULL);
    expect_line(text, "\"event\":\"note\",\"text\":\"a fine \\\"entry\\\"\"}");
    expect_line(text, "\"event\":\"command\",\"ask\":\"help-level\",\"value\":"
                      "\"sparse\"}");
    expect_line(text, "\"event\":\"command\",\"ask\":\"new-attempt\"}");
    free(text);
    folder_path(&daemon.folder, "live.pcap.notes.jsonl", notes);
    text = folder_read_file(notes, NULL);
    expect_line(text, "\"text\":\"a fine \\\"entry\\\"\"}\n");
    free(text);
    folder_path(&daemon.folder, "again.events", again);
    process_run(&replay, words);
    assert_int_equal(replay.status, 0);
    text = folder_read_file(again, NULL);
    expect_line(text, "\"event\":\"note\",\"text\":\"a fine \\\"entry\\\"\"}");
    free(text);
    folder_remove(&daemon.folder);
}

static void a_broken_configuration_keeps_the_one_in_use(void **state)
{
    struct daemon daemon;

    (void)state;
    start(&daemon);
    expect_status(&daemon, "help", "full");
    write_config(&daemon, broken);
    expect_line(tell(&daemon, "reload", NULL, 1),
                "my.conf:2:5: no amount of help \"loud\"; there is: full");
    expect_status(&daemon, "help", "full");
    process_signal(&daemon.process, SIGHUP);
    process_await(&daemon.process, "my.conf:2:5: no amount of help");
    expect_status(&daemon, "help", "full");
    write_config(&daemon, sparse);
    assert_string_equal(tell(&daemon, "reload", NULL, 0), "done\n");
    expect_status(&daemon, "help", "sparse");
    write_config(&daemon, good);
    process_signal(&daemon.process, SIGHUP);
    process_await(&daemon.process, "configuration read again: done");
    expect_status(&daemon, "help", "full");
    /* What only a new start can bring is said. */
    write_config(&daemon, "network { signal_timeout = \"2 s\" }\n");
    expect_line(tell(&daemon, "reload", NULL, 0), "at the next start");
    finish(&daemon);
    folder_remove(&daemon.folder);
}

static void the_airplane_and_the_sound_are_changed_in_flight(void **state)
{
    struct daemon daemon;
    json_t *status;

    (void)state;
    start(&daemon);
    (void)live_fly(flight, daemon.port, 0.0, 2.5);
    status = status_of(&daemon);
    assert_true(json_number_value(json_object_get(status, "rate_hz")) > 5.0);
    /* Level at entry speed, for half a second too short. */
    assert_string_equal(json_string_value(json_object_get(
                            json_object_get(status, "lacks"), "reason")),
                        "steady time");
    json_decref(status);
    assert_string_equal(tell(&daemon, "aircraft", "two-seater", 0), "done\n");
    expect_status(&daemon, "aircraft", "two-seater");
    expect_line(tell(&daemon, "aircraft", "glider", 1),
                "no aircraft \"glider\"; there is: club-trainer, two-seater");
    expect_status(&daemon, "aircraft", "two-seater");
    assert_string_equal(tell(&daemon, "maneuver", "chandelle", 0), "done\n");
    expect_line(tell(&daemon, "maneuver", "spin", 1), "no maneuver \"spin\"");
    expect_status(&daemon, "aircraft", "two-seater");
    assert_string_equal(tell(&daemon, "mute", NULL, 0), "done\n");
    status = status_of(&daemon);
    assert_true(json_is_true(json_object_get(status, "muted")));
    json_decref(status);
    assert_string_equal(tell(&daemon, "unmute", NULL, 0), "done\n");
    expect_line(tell(&daemon, "status", NULL, 0), "flight     setup");
    expect_line(tell(&daemon, "status", NULL, 0),
                "ready      no: nothing is known of the flight\n");
    finish(&daemon);
    folder_remove(&daemon.folder);
}

/* tcpdump, the reference reader of the capture format, is the oracle. */
static void expect_packets(const char *recording, uint16_t port)
{
    const char *words[] = {"-n", "-q", "-r", recording, NULL};
    struct process tcpdump;
    char to[64];

    process_run_other(&tcpdump, "tcpdump", words);
    assert_int_equal(tcpdump.status, 0);
    /* The port that was bound, not the 0 that was asked for. */
    (void)snprintf(to, sizeof to, " > 127.0.0.1.%u: UDP", port);
    expect_line(tcpdump.out, to);
}

static void recording_is_turned_off_and_on(void **state)
{
    struct daemon daemon;
    char name[FOLDER_PATH_SIZE];

    (void)state;
    start(&daemon);
    expect_status(&daemon, "recording", daemon.recording);
    expect_line(tell(&daemon, "record", "on", 1), "a recording is going on");
    (void)live_fly(flight, daemon.port, 0.0, 0.5);
    expect_line(tell(&daemon, "record", "off", 0), daemon.recording);
    expect_line(tell(&daemon, "record", "off", 1), "nothing is recorded");
    (void)snprintf(name, sizeof name, "%s", tell(&daemon, "record", "on", 0));
    name[strcspn(name, "\n")] = '\0';
    (void)live_fly(flight, daemon.port, 0.5, 1.0);
    finish(&daemon);
    assert_non_null(strstr(name, "/quarterturn-2"));
    expect_packets(daemon.recording, daemon.port);
    expect_packets(name, daemon.port);
    folder_remove(&daemon.folder);
}

/* Said before anybody is asked: no daemon runs. */
static void wrong_words_are_refused_with_what_is_accepted(void **state)
{
    static const struct {
        const char *verb;
        const char *value;
        const char *says;
    } row[] = {
        {"sing", NULL, "\"sing\" is not known; there is: status, mute, "},
        {"help-level", NULL,
         "help-level wants LEVEL: full, sparse, warnings, fading, summary\n"},
        {"help-level", "", "help-level wants LEVEL: full"},
        {"record", NULL, "record wants on|off\n"},
        {"mark", NULL, "mark wants TEXT of up to 120 bytes\n"},
        {"maneuver", NULL, "maneuver wants NAME: chandelle\n"},
        {"aircraft", NULL, "aircraft wants NAME|FILE\n"},
        {"mute", "now", "nothing belongs behind mute\n"},
        {"status", "now", "nothing belongs behind status\n"},
    };
    struct daemon none = {.control = "/nonexistent/control"};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        expect_line(tell(&none, row[i].verb, row[i].value, 2), row[i].says);
}

/* A service manager, cron or a login without a session may leave the folder
 * of sockets out. */
static void who_cannot_be_told_says_how(void **state)
{
    const char *const words[] = {
        "-u", "XDG_RUNTIME_DIR", process_program(), "listen", "--port",
        "0",  "--no-sound",      "--seconds",       "0.1",    NULL};
    struct process run;

    (void)state;
    process_run_other(&run, "env", words);
    assert_int_equal(run.status, 0);
    assert_int_equal(process_times_said(run.err, "XDG_RUNTIME_DIR"), 1);
    expect_line(run.err, "--control PATH");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            notes_and_commands_are_among_the_events_and_in_a_replay),
        cmocka_unit_test(a_broken_configuration_keeps_the_one_in_use),
        cmocka_unit_test(the_airplane_and_the_sound_are_changed_in_flight),
        cmocka_unit_test(recording_is_turned_off_and_on),
        cmocka_unit_test(wrong_words_are_refused_with_what_is_accepted),
        cmocka_unit_test(who_cannot_be_told_says_how),
    };

    return cmocka_run_group_tests_name("tell", tests, NULL, NULL) != 0;
}
