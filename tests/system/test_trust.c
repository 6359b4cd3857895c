/* test_trust.c - what a running daemon has open, who may speak to it, and
 * with how little privilege it runs. */
#include <dirent.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

#include "children.h"
#include "folder.h"
#include "live.h"
#include "ordinary.h"
#include "process.h"
#include "sockets.h"

/* ---- what is open -------------------------------------------------------- */

/* A daemon with its sound, control socket and recording. */
struct running {
    struct folder folder;
    char control[FOLDER_PATH_SIZE];
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    struct process process;
};

static int start(void **state)
{
    struct running *running = calloc(1, sizeof *running);

    assert_non_null(running);
    *state = running;
    folder_make(&running->folder);
    folder_path(&running->folder, "control", running->control);
    folder_path(&running->folder, "flight.pcap", running->recording);
    folder_path(&running->folder, "flight.events", running->events);
    const char *words[] = {"listen",
                           "--port",
                           "0",
                           "--control",
                           running->control,
                           "--record",
                           running->recording,
                           "--events",
                           running->events,
                           NULL};
    process_start(&running->process, words);
    process_await(&running->process, "listening on ");
    return 0;
}

static int stop(void **state)
{
    struct running *running = *state;

    process_signal(&running->process, SIGTERM);
    process_finish(&running->process);
    folder_remove(&running->folder);
    free(running);
    return 0;
}

static void listens_to_one_port_of_the_loopback_and_no_more(void **state)
{
    const struct running *running = *state;
    struct sockets open;

    sockets_find(&open, running->process.pid);
    assert_int_equal(open.udp, 1);
    assert_int_equal(open.other_inet, 0);
    assert_string_equal(open.udp_address, "127.0.0.1");
    assert_int_equal(open.udp_port, live_port(&running->process));
    assert_int_equal(open.unix_listening, 1);
    assert_string_equal(open.unix_path, running->control);
}

/* proc(5): one bit for each signal. */
static bool ignores(int pid, int signal)
{
    static const char name[] = "\nSigIgn:\t";
    char path[64];
    char *status;
    const char *at;
    unsigned long long bits;

    (void)snprintf(path, sizeof path, "/proc/%d/status", pid);
    status = folder_read_file(path, NULL);
    at = strstr(status, name);
    assert_non_null(at);
    bits = strtoull(at + strlen(name), NULL, 16);
    free(status);
    return (bits >> (signal - 1) & 1) != 0;
}

/* How many files in a folder a process has open. */
static int count_open(int pid, const char *folder)
{
    char path[64];
    const struct dirent *entry;
    int count = 0;
    DIR *all;

    (void)snprintf(path, sizeof path, "/proc/%d/fd", pid);
    all = opendir(path);
    assert_non_null(all);
    while ((entry = readdir(all)) != NULL) {
        char to[FOLDER_PATH_SIZE];
        ssize_t length = readlinkat(dirfd(all), entry->d_name, to, sizeof to);

        count += length > (ssize_t)strlen(folder) &&
                 strncmp(to, folder, strlen(folder)) == 0;
    }
    (void)closedir(all);
    return count;
}

static void starts_nothing_but_its_sound_worker(void **state)
{
    const struct running *running = *state;
    struct sockets open;
    char path[64];
    char *words;
    int child = children_one(running->process.pid);

    assert_int_not_equal(child, 0);
    (void)snprintf(path, sizeof path, "/proc/%d/cmdline", child);
    words = folder_read_file(path, NULL);
    assert_non_null(strstr(words, "quarterturn"));
    assert_string_equal(words + strlen(words) + 1, "sound-worker");
    free(words);
    /* It ends as others do when nobody reads it. */
    assert_false(ignores(child, SIGPIPE));
    /* What the daemon writes is none of its business. */
    assert_int_equal(count_open(running->process.pid, running->folder.path), 2);
    assert_int_equal(count_open(child, running->folder.path), 0);
    /* Nor does that one hear the network, or start anything. */
    sockets_find(&open, child);
    assert_int_equal(open.udp + open.other_inet + open.unix_listening, 0);
    assert_int_equal(children_one(child), 0);
}

static void only_its_owner_may_tell_it_anything(void **state)
{
    const struct running *running = *state;
    struct stat about;

    assert_int_equal(stat(running->control, &about), 0);
    assert_true(S_ISSOCK(about.st_mode));
    assert_int_equal(about.st_mode & 07777, 0600);
    assert_int_equal(about.st_uid, geteuid());
}

/* ---- those who go early ---------------------------------------------------
 */

/* Waits for a place among those who are answered. Returns: the socket. */
static int connect_and_ask(const char *control)
{
    static const char ask[] = "{\"ask\":\"status\"}\n";
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);

    (void)snprintf(at.sun_path, sizeof at.sun_path, "%.100s", control);
    assert_int_equal(connect(fd, (const struct sockaddr *)&at, sizeof at), 0);
    assert_int_equal(write(fd, ask, strlen(ask)), strlen(ask));
    return fd;
}

static void outlives_who_does_not_wait_for_an_answer(void **state)
{
    static const char good[] = "{\"ok\":true";
    const struct running *running = *state;
    char answer[sizeof good] = "";
    int fd;

    for (int i = 0; i < 50; i++)
        (void)close(connect_and_ask(running->control));
    fd = connect_and_ask(running->control);
    assert_int_equal(recv(fd, answer, sizeof good - 1, MSG_WAITALL),
                     sizeof good - 1);
    assert_string_equal(answer, good);
    (void)close(fd);
}

static void flies_on_when_its_captions_are_read_no_more(void **state)
{
    const struct folder *folder = *state;
    char control[FOLDER_PATH_SIZE];
    struct process process;
    const char *words[] = {"listen",    "--port",
                           "0",         "--no-sound",
                           "--control", folder_path(folder, "control", control),
                           NULL};

    process_start(&process, words);
    process_await(&process, "listening on ");
    (void)close(process.out_fd);
    process.out_fd = -1;
    /* Up to "ready", the entry and a second of silence: three captions. */
    assert_true(live_fly("tests/replay/demo.pcap", live_port(&process), 0.0,
                         11.0) > 100);
    process_await(&process, "captions cannot be written any more");
    json_decref(live_ask(control, "{\"ask\":\"status\"}"));
    process_signal(&process, SIGTERM);
    process_finish(&process);
    assert_int_equal(process.status, 1);
    assert_int_equal(process_times_said(process.err, "captions cannot be"), 1);
}

/* Behind a gate that opens when its reader has gone. */
static void a_replay_ends_quietly_with_its_reader(void **state)
{
    static const char script[] = "cat \"$1\" && exec \"$0\" replay "
                                 "tests/replay/demo.pcap --speed max";
    const struct folder *folder = *state;
    char gate[FOLDER_PATH_SIZE];
    struct process process;
    const char *words[] = {"-c", script, process_program(),
                           folder_path(folder, "gate", gate), NULL};
    int fd;

    assert_int_equal(mkfifo(gate, 0600), 0);
    process_start_other(&process, "sh", words);
    (void)close(process.out_fd);
    process.out_fd = -1;
    fd = open(gate, O_WRONLY | O_CLOEXEC);
    assert_true(fd >= 0);
    (void)close(fd);
    process_finish(&process);
    assert_int_equal(process.status, 128 + SIGPIPE);
    assert_null(strstr(process.err, "captions"));
}

/* ---- beyond the loopback --------------------------------------------------
 */

static void says_when_others_can_reach_it(void **state)
{
    static const char *const beyond[] = {"0.0.0.0", "::"};

    (void)state;
    for (size_t i = 0; i < sizeof beyond / sizeof beyond[0]; i++) {
        const char *words[] = {
            "listen",     "--address", beyond[i],   "--port",       "0",
            "--no-sound", "--quiet",   "--control", "/nonexistent", NULL};
        const char *near[] = {"listen",     "--port",    "0",
                              "--no-sound", "--seconds", "0.1",
                              "--control",  "",          NULL};
        struct folder folder;
        char control[FOLDER_PATH_SIZE];
        struct process process;

        folder_make(&folder);
        words[8] = near[7] = folder_path(&folder, "control", control);
        process_start(&process, words);
        process_await(&process, "can be reached from outside this machine");
        process_signal(&process, SIGTERM);
        process_finish(&process);
        assert_int_equal(process.status, 0);
        process_run(&process, near);
        assert_int_equal(process.status, 0);
        assert_null(strstr(process.err, "outside this machine"));
        folder_remove(&folder);
    }
}

/* ---- without privilege ----------------------------------------------------
 */

static void needs_no_privilege(void **state)
{
    const struct folder *folder = *state;
    char control[FOLDER_PATH_SIZE];
    char path[64];
    struct process process;
    char *status;
    const char *words[] = {"listen", "--port", "0", "--control", control, NULL};

    folder_path(folder, "control", control);
    ordinary_start(folder, words, &process);
    process_await(&process, "listening on ");
    (void)snprintf(path, sizeof path, "/proc/%d/status", process.pid);
    status = folder_read_file(path, NULL);
    if (geteuid() == 0)
        assert_non_null(strstr(status, "\nUid:\t65534\t65534\t65534\t65534\n"));
    assert_non_null(strstr(status, "\nCapEff:\t0000000000000000\n"));
    assert_non_null(strstr(status, "\nCapPrm:\t0000000000000000\n"));
    free(status);
    assert_true(
        live_fly("tests/replay/demo.pcap", live_port(&process), 0.0, 0.5) > 5);
    process_await(&process, "packets arrive from 127.0.0.1");
    process_signal(&process, SIGTERM);
    process_finish(&process);
    assert_int_equal(process.status, 0);
}

/* ---- the service manager ---------------------------------------------------
 */

static void expect_told(int fd, const char *expected)
{
    char text[256];
    ssize_t length = recv(fd, text, sizeof text - 1, 0);

    assert_true(length > 0);
    text[length] = '\0';
    if (strncmp(text, expected, strlen(expected)) != 0)
        fail_msg("the service manager was told \"%s\", not \"%s\"", text,
                 expected);
}

/* sd_notify(3): READY=1 once it serves, RELOADING=1 with the time while it
 * reads its configuration again, READY=1 behind that, STOPPING=1. */
static void tells_the_service_manager_how_it_fares(void **state)
{
    const struct folder *folder = *state;
    const struct timeval patience = {.tv_sec = 60};
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    char path[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    struct process process;
    int fd = socket(AF_UNIX, SOCK_DGRAM, 0);
    const char *words[] = {"listen",    "--port",
                           "0",         "--no-sound",
                           "--control", folder_path(folder, "control", control),
                           NULL};

    (void)snprintf(at.sun_path, sizeof at.sun_path, "%.100s",
                   folder_path(folder, "notify", path));
    assert_int_equal(bind(fd, (const struct sockaddr *)&at, sizeof at), 0);
    assert_int_equal(
        setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
    assert_int_equal(setenv("NOTIFY_SOCKET", path, 1), 0);
    process_start(&process, words);
    assert_int_equal(unsetenv("NOTIFY_SOCKET"), 0);
    expect_told(fd, "READY=1");
    process_signal(&process, SIGHUP);
    expect_told(fd, "RELOADING=1\nMONOTONIC_USEC=");
    expect_told(fd, "READY=1");
    process_signal(&process, SIGTERM);
    expect_told(fd, "STOPPING=1");
    process_finish(&process);
    assert_int_equal(process.status, 0);
    (void)close(fd);
}

int main(void)
{
    const struct CMUnitTest with_daemon[] = {
        cmocka_unit_test(listens_to_one_port_of_the_loopback_and_no_more),
        cmocka_unit_test(starts_nothing_but_its_sound_worker),
        cmocka_unit_test(only_its_owner_may_tell_it_anything),
        cmocka_unit_test(outlives_who_does_not_wait_for_an_answer),
    };
    const struct CMUnitTest alone[] = {
        in_folder(flies_on_when_its_captions_are_read_no_more),
        in_folder(a_replay_ends_quietly_with_its_reader),
        cmocka_unit_test(says_when_others_can_reach_it),
        in_folder(needs_no_privilege),
        in_folder(tells_the_service_manager_how_it_fares),
    };
    int failures = cmocka_run_group_tests(with_daemon, start, stop);

    return failures + cmocka_run_group_tests(alone, NULL, NULL) != 0;
}
