/* test_read_only.c - folders that cannot be written to any more while a flight
 * is flown, and can again.
 *
 * On a file system in memory that only the test sees. */
#include <jansson.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "folder.h"
#include "live.h"
#include "process.h"
#include "quarterturn/logbook.h"
#include "sample.h"
#include "spaces.h"

enum { PLACES = 3 };
static const char *const place_name[PLACES] = {"pages", "logbook", "flights"};

static struct folder folder;
static bool has_folder;
static char place[PLACES][FOLDER_PATH_SIZE];
static char book[FOLDER_PATH_SIZE];
static char recording[FOLDER_PATH_SIZE];
static char part[FOLDER_PATH_SIZE];
static char events[FOLDER_PATH_SIZE];
static char control[FOLDER_PATH_SIZE];
static struct process daemon_run;

static int set_up(void **state)
{
    (void)state;
    folder_make(&folder);
    has_folder = spaces_own_folder(folder.path);
    if (!has_folder)
        return 0;
    for (int i = 0; i < PLACES; i++) {
        folder_path(&folder, place_name[i], place[i]);
        assert_int_equal(mkdir(place[i], 0700), 0);
    }
    folder_path(&folder, "logbook/log.csv", book);
    folder_path(&folder, "flights/flight.pcap", recording);
    folder_path(&folder, "flights/flight.pcap.part", part);
    folder_path(&folder, "flights/flight.events", events);
    folder_path(&folder, "control", control);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    if (has_folder)
        spaces_unmount(folder.path);
    folder_remove(&folder);
    return 0;
}

/* ---- speaking to it ----------------------------------------------------- */

static void expect_done(const char *request)
{
    json_t *root = live_ask(control, request);

    if (!json_is_true(json_object_get(root, "ok")))
        fail_msg("%s: %s", request,
                 json_string_value(json_object_get(root, "error")));
    json_decref(root);
}

static void expect_refused(const char *request, const char *said)
{
    json_t *root = live_ask(control, request);
    const char *error = json_string_value(json_object_get(root, "error"));

    if (error == NULL || strstr(error, said) == NULL)
        fail_msg("%s: %s", request, error != NULL ? error : "done");
    json_decref(root);
}

static bool is_past_ninety(void)
{
    json_t *root = live_ask(control, "{\"ask\":\"status\"}");
    const char *phase = json_string_value(
        json_object_get(json_object_get(root, "status"), "phase"));
    bool past = strcmp(phase, "second half") == 0;

    json_decref(root);
    return past;
}

/* ---- flying ------------------------------------------------------------- */

/* Fly a chandelle in time lapse past its 90-degree point and give it up: it is
 * worth a debrief then. However long a busy machine takes. */
static void fly_an_attempt(void)
{
    const struct timespec moment = {.tv_nsec = 50000000};
    char port[8];
    const char *const words[] = {"rehearse", "--speed", "8",
                                 "--port",   port,      NULL};
    struct process pilot;

    (void)snprintf(port, sizeof port, "%u", live_port(&daemon_run));
    process_start(&pilot, words);
    for (int i = 0; !is_past_ninety(); i++) {
        if (i == 1200)
            fail_msg("not past 90 degrees in a minute: %s", daemon_run.err);
        (void)nanosleep(&moment, NULL);
    }
    expect_done("{\"ask\":\"new-attempt\"}");
    process_signal(&pilot, SIGTERM);
    process_finish(&pilot);
}

static void start(void)
{
    char config[FOLDER_PATH_SIZE];
    char text[3 * FOLDER_PATH_SIZE];
    const char *const words[] = {
        "--config", config,       "--events", events,    "listen",
        "--port",   "0",          "--record", recording, "--control",
        control,    "--no-sound", NULL};

    (void)snprintf(text, sizeof text,
                   "debrief {\n    pages = \"%s\"\n    logbook = \"%s\"\n}\n",
                   place[0], book);
    folder_write(&folder, "my.conf", text, strlen(text), config);
    process_start(&daemon_run, words);
    process_await(&daemon_run, "listening on ");
}

/* ---- the test ----------------------------------------------------------- */

static void flies_two_attempts_that_cannot_be_written(void)
{
    for (int i = 0; i < PLACES; i++)
        spaces_forbid_writing(place[i]);
    fly_an_attempt();
    process_await(&daemon_run, "the page cannot be written: Read-only file "
                               "system");
    process_await(&daemon_run, "log.csv: cannot be written: Read-only file "
                               "system; tried again with each attempt");
    expect_refused("{\"ask\":\"record\",\"value\":\"off\"}",
                   "flight.pcap.part: the recording stays here and cannot "
                   "take its name: Read-only file system");
    expect_refused("{\"ask\":\"record\",\"value\":\"on\"}",
                   "Read-only file system");
    fly_an_attempt();
}

static void flies_a_third_one_that_can(void)
{
    for (int i = 0; i < PLACES; i++)
        spaces_unmount(place[i]);
    expect_done("{\"ask\":\"record\",\"value\":\"on\"}");
    fly_an_attempt();
    process_await(&daemon_run, "the page of attempt 3 is ");
}

/* All attempts, the calls of each, in their events. */
static void expect_events(void)
{
    char *lines = folder_read_file(events, NULL);
    int abandoned = 0;
    int calls = 0;

    for (const char *at = lines; (at = strstr(at, "\"event\":\"")) != NULL;
         at++) {
        abandoned += strncmp(at + 9, "abandoned", 9) == 0;
        calls += strncmp(at + 9, "callout", 7) == 0;
    }
    assert_int_equal(abandoned, 3);
    assert_true(calls >= 3);
    free(lines);
}

static void expect_kept(void)
{
    char why[LOGBOOK_WHY_SIZE];
    struct sample_recording kept;
    struct logbook *rows;
    struct folder pages;
    size_t count;

    assert_int_equal(logbook_read(book, &rows, why), 0);
    assert_int_equal(rows->count, 3);
    logbook_free(rows);
    /* The second page is written beside the flight and, on a busy machine, so
     * late that it finds its folder open again; the first was awaited. */
    (void)snprintf(pages.path, sizeof pages.path, "%s", place[0]);
    count = folder_count(&pages);
    assert_in_range(count, 1, 2);
    assert_int_equal(folder_count(&folder) - count, 8);
    sample_recording_load(part, &kept);
    assert_true(kept.count > 100);
    sample_recording_free(&kept);
}

static void a_folder_is_written_to_again_when_it_can_be(void **state)
{
    (void)state;
    if (!has_folder) {
        print_message("           skipped: no file system can be mounted here "
                      "(root may, and who is allowed user namespaces)\n");
        skip();
    }
    start();
    flies_two_attempts_that_cannot_be_written();
    flies_a_third_one_that_can();
    process_signal(&daemon_run, SIGTERM);
    process_finish(&daemon_run);
    assert_int_equal(process_times_said(daemon_run.err, "cannot be written: "),
                     2);
    /* A page is missing. */
    assert_int_equal(daemon_run.status, 1);
    expect_events();
    expect_kept();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(
            a_folder_is_written_to_again_when_it_can_be, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("system: folders that are read-only",
                                       tests, NULL, NULL) != 0;
}
