/* test_recording_faults.c - the disk fails, the flight goes on. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>
#include <uv.h>

#include "endless.h"
#include "folder.h"
#include "live.h"
#include "process.h"
#include "quarterturn/callout.h"
#include "sample.h"

/* Ready, rolled in and called three times. */
static const double flown_s = 13.0;

static uv_loop_t loop;
static struct folder folder;
static char config[FOLDER_PATH_SIZE];
static char recording[FOLDER_PATH_SIZE];
static char part[FOLDER_PATH_SIZE];
static char events[FOLDER_PATH_SIZE];
static char wav[FOLDER_PATH_SIZE];
static char control[FOLDER_PATH_SIZE];
static struct endless flight;
static struct process daemon_run;

static int set_up(void **state)
{
    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    folder_make(&folder);
    folder_path(&folder, "flight.pcap", recording);
    folder_path(&folder, "flight.pcap.part", part);
    folder_path(&folder, "flight.events", events);
    folder_path(&folder, "flight.wav", wav);
    folder_path(&folder, "control", control);
    folder_write(&folder, "busy.conf", endless_config, strlen(endless_config),
                 config);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    assert_int_equal(uv_loop_close(&loop), 0);
    folder_remove(&folder);
    return 0;
}

static void start(void)
{
    const char *const words[] = {
        "--config", config,       "--events", events,    "listen",
        "--port",   "0",          "--record", recording, "--control",
        control,    "--no-sound", "--wav",    wav,       NULL};
    const char *said;

    process_start(&daemon_run, words);
    process_await(&daemon_run, "listening on ");
    said = strstr(daemon_run.err, " port ");
    assert_non_null(said);
    endless_begin(&flight, &loop,
                  (uint16_t)strtoul(said + strlen(" port "), NULL, 10));
}

static void end(int signal)
{
    endless_end(&flight);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    process_signal(&daemon_run, signal);
    process_finish(&daemon_run);
}

static int64_t told(const char *what)
{
    json_t *root = live_ask(control, "{\"ask\":\"status\"}");
    json_int_t value;

    assert_int_equal(json_unpack(root, "{s:{s:I}}", "status", what, &value), 0);
    json_decref(root);
    return value;
}

static void loses_at_most_the_last_second_when_it_is_killed(void **state)
{
    struct sample_recording kept;
    struct process tcpdump;
    const char *words[] = {"-n", "-q", "-r", part, NULL};
    int64_t taken;

    (void)state;
    start();
    endless_wait(&loop, 3.3);
    taken = told("datagrams");
    end(SIGKILL);
    sample_recording_load(part, &kept);
    print_message("           %zu of %d packets kept\n", kept.count,
                  (int)taken);
    assert_in_range(kept.count, taken - ENDLESS_RATE_HZ, taken + 2);
    sample_recording_free(&kept);
    /* tcpdump, the reference reader of the format, complains of a record that
     * is not whole. */
    process_run_other(&tcpdump, "tcpdump", words);
    assert_int_equal(tcpdump.status, 0);
    assert_null(strstr(tcpdump.err, "truncated"));
}

/* However long a busy machine takes: until more than a header is on the disk.
 */
static void fly_until_kept(void)
{
    struct stat now;

    do
        endless_wait(&loop, 0.1);
    while (stat(part, &now) != 0 || now.st_size <= 24);
}

/* What is left of a killed session outlives the next one of that name, with its
 * notes; so does what is left of that one. */
static void what_a_killed_session_left_is_kept(void **state)
{
    static const char *const kept[] = {"flight.pcap.torn",
                                       "flight.pcap.torn.2"};
    static const char *const noted[] = {"flight.pcap.torn.notes.jsonl",
                                        "flight.pcap.torn.2.notes.jsonl"};
    struct folder files;
    char torn[FOLDER_PATH_SIZE], notes[FOLDER_PATH_SIZE];
    char said[2 * FOLDER_PATH_SIZE];
    struct sample_recording packets;
    size_t left;
    char *text;

    (void)state;
    files = folder;
    for (int i = 0; i < 2; i++) {
        start();
        fly_until_kept();
        json_decref(live_ask(control, "{\"ask\":\"mark\",\"value\":\"a\"}"));
        end(SIGKILL);
        sample_recording_load(part, &packets);
        left = packets.count;
        sample_recording_free(&packets);
        start();
        (void)snprintf(said, sizeof said,
                       "%s: left by a session that was killed: kept as %s",
                       part, folder_path(&files, kept[i], torn));
        assert_non_null(strstr(daemon_run.err, said));
        fly_until_kept();
        end(SIGTERM);
        assert_int_equal(daemon_run.status, 0);
        sample_recording_load(torn, &packets);
        assert_int_equal(packets.count, left);
        sample_recording_free(&packets);
        text = folder_read_file(folder_path(&files, noted[i], notes), NULL);
        assert_non_null(strstr(text, "\"text\":\"a\""));
        free(text);
        /* The notes are not those of the recording that has the name now. */
        sample_recording_load(recording, &packets);
        sample_recording_free(&packets);
        folder_path(&files, "flight.pcap.notes.jsonl", notes);
        assert_int_not_equal(access(notes, F_OK), 0);
        assert_int_equal(unlink(recording), 0);
    }
}

/* What a session that still flies has recorded is neither emptied nor taken
 * for that of a killed one. */
static void a_session_that_still_records_is_left_alone(void **state)
{
    const char *const words[] = {
        "listen",  "--port",     "0",         "--record", recording,
        "--force", "--no-sound", "--seconds", "1",        NULL};
    struct folder files = folder;
    struct sample_recording packets;
    struct process other;
    char torn[FOLDER_PATH_SIZE];
    int64_t taken;

    (void)state;
    start();
    fly_until_kept();
    process_run(&other, words);
    assert_int_equal(other.status, 1);
    assert_non_null(strstr(other.err, "flight.pcap: another session is "
                                      "recording there"));
    endless_wait(&loop, 0.5);
    taken = told("datagrams");
    end(SIGTERM);
    assert_int_equal(daemon_run.status, 0);
    sample_recording_load(recording, &packets);
    assert_true((int64_t)packets.count >= taken);
    sample_recording_free(&packets);
    assert_int_not_equal(
        access(folder_path(&files, "flight.pcap.torn", torn), F_OK), 0);
}

/* A disk with room for the first part of the recording and the sound, and none
 * at all for the events. */
static void flies_on_when_the_disk_is_full(void **state)
{
    struct rlimit before;
    struct rlimit small;

    (void)state;
    assert_int_equal(symlink("/dev/full", events), 0);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 40000;
    /* Both are inherited: a write past the limit fails as on a full disk. */
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    start();
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    (void)signal(SIGXFSZ, SIG_DFL);
    endless_wait(&loop, flown_s);
    assert_true(told("calls") >= 2);
    end(SIGTERM);
    assert_int_equal(
        process_times_said(daemon_run.err,
                           "the recording cannot be written any more"),
        1);
    assert_int_equal(
        process_times_said(daemon_run.err, "events cannot be written any more"),
        1);
    assert_int_equal(process_times_said(daemon_run.err,
                                        "the sound cannot be written any more"),
                     1);
    assert_int_equal(daemon_run.status, 1);
    assert_non_null(strstr(daemon_run.out, "> pitch limit"));
}

/* Event lines of an earlier replay are worth more than some of a new one. */
static void a_cut_events_file_replaces_none(void **state)
{
    static const char before_text[] = "what was there\n";
    const char *const words[] = {"replay",   "tests/replay/demo.pcap",
                                 "--speed",  "max",
                                 "--events", events,
                                 NULL};
    struct rlimit before, small;
    struct process replay;
    char *text;

    (void)state;
    folder_write(&folder, "flight.events", before_text, strlen(before_text),
                 events);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 1000;
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    process_run(&replay, words);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    (void)signal(SIGXFSZ, SIG_DFL);
    assert_int_equal(replay.status, 1);
    assert_int_equal(
        process_times_said(replay.err, "the event lines are not whole"), 1);
    text = folder_read_file(events, NULL);
    assert_string_equal(text, before_text);
    free(text);
    /* Nor does the part lie about; the configuration does. */
    assert_int_equal(folder_count(&folder), 2);
}

static void flies_on_when_the_recording_is_removed(void)
{
    assert_int_equal(unlink(part), 0);
    endless_wait(&loop, flown_s);
    assert_true(told("calls") >= 2);
}

/* However long a busy machine takes. */
static void fly_until_called(int64_t calls)
{
    for (int i = 0; told("calls") < calls; i++) {
        if (i == 120)
            fail_msg("no %d calls within a minute", (int)calls);
        endless_wait(&loop, 0.5);
    }
}

/* Stopped for three seconds as a machine that sleeps, with the packets of that
 * time waiting behind it. */
static void goes_on_after_it_was_stopped(void)
{
    process_signal(&daemon_run, SIGSTOP);
    endless_wait(&loop, 3.0);
    process_signal(&daemon_run, SIGCONT);
    fly_until_called(told("calls") + 2);
}

/* Nothing is said longer after its moment than it helps: what fell due while
 * it was stopped makes no burst of calls. Nor does the pause go unsaid. */
static void check_events(void)
{
    char *lines = folder_read_file(events, NULL);
    char *rest = NULL;
    int calls = 0;
    int lost = 0;
    int back = 0;

    for (char *line = strtok_r(lines, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *event = json_loads(line, 0, NULL);
        const char *name;
        double onset_s, moment_s;

        assert_int_equal(json_unpack(event, "{s:s}", "event", &name), 0);
        lost += strcmp(name, "signal-lost") == 0;
        back += strcmp(name, "signal-back") == 0;
        assert_in_range(lost - back, 0, 1);
        if (json_unpack(event, "{s:F, s:F}", "onset_t", &onset_s, "moment_t",
                        &moment_s) == 0) {
            assert_true(onset_s - moment_s <=
                        callout_cue_info(CUE_PITCH_LIMIT)->expiry_s + 0.01);
            calls++;
        }
        json_decref(event);
    }
    free(lines);
    assert_true(calls >= 4);
    assert_true(lost >= 1);
    assert_true(back >= 1);
}

static void flies_on_without_its_recording_and_after_a_sleep(void **state)
{
    (void)state;
    start();
    flies_on_when_the_recording_is_removed();
    goes_on_after_it_was_stopped();
    end(SIGTERM);
    assert_int_equal(
        process_times_said(daemon_run.err, "the recording is not whole"), 1);
    assert_int_equal(daemon_run.status, 1);
    check_events();
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(loses_at_most_the_last_second_when_it_is_killed),
        CASE(what_a_killed_session_left_is_kept),
        CASE(a_session_that_still_records_is_left_alone),
        CASE(flies_on_when_the_disk_is_full),
        CASE(a_cut_events_file_replaces_none),
        CASE(flies_on_without_its_recording_and_after_a_sleep),
    };

    return cmocka_run_group_tests_name("disk and clock faults", tests, NULL,
                                       NULL) != 0;
}
