/* test_wall_clock.c - the time of day is set while a flight is flown. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "folder.h"
#include "live.h"
#include "process.h"
#include "sample.h"
#include "sanitized.h"

static const char demo[] = "tests/replay/demo.pcap";

/* An hour forward, and two back. */
static const struct leg {
    double from_s;
    double to_s;
    int64_t step_s;
} legs[] = {{0.0, 9.0, 0}, {9.01, 12.0, 3600}, {12.01, 15.0, -3600}};

enum { LEGS = sizeof legs / sizeof legs[0] };

static void set_clock(const struct folder *folder, int64_t step_s,
                      char path[FOLDER_PATH_SIZE])
{
    (void)folder_write(folder, "step", &step_s, sizeof step_s, path);
}

static void build_library(const struct folder *folder,
                          char library[FOLDER_PATH_SIZE])
{
    const char *words[] = {"-shared",
                           "-fPIC",
                           "-o",
                           folder_path(folder, "clock.so", library),
                           "tests/system/stepped_clock.c",
                           NULL};
    struct process compiler;

    process_run_other(&compiler, "cc", words);
    if (compiler.status != 0)
        fail_msg("%s", compiler.err);
}

/* What another program takes for the time of day, in s since 1970. */
static int64_t date_told(void)
{
    const char *words[] = {"+%s", NULL};
    struct process date;

    process_run_other(&date, "date", words);
    assert_int_equal(date.status, 0);
    return (int64_t)strtoll(date.out, NULL, 10);
}

/* A sanitizer's library must be loaded before any other. */
static void skip_in_sanitized_build(void)
{
    if (!SANITIZED)
        return;
    print_message("           skipped: built with a sanitizer\n");
    skip();
}

static void fly(const struct folder *folder, struct process *process)
{
    char path[FOLDER_PATH_SIZE];

    for (size_t i = 0; i < LEGS; i++) {
        set_clock(folder, legs[i].step_s, path);
        assert_true(live_fly(demo, live_port(process), legs[i].from_s,
                             legs[i].to_s) > 50);
    }
}

/* ahead_s: of the clock that it was dated by. */
static void expect_steady_times(const char *recording, size_t least,
                                int64_t ahead_s)
{
    struct sample_recording kept;
    int64_t now_ns = ((int64_t)time(NULL) + ahead_s) * INT64_C(1000000000);

    sample_recording_load(recording, &kept);
    assert_true(kept.count > least);
    for (size_t i = 1; i < kept.count; i++) {
        int64_t apart_ns = kept.datagram[i].t_ns - kept.datagram[i - 1].t_ns;

        /* Neither back, nor an hour on. */
        assert_in_range(apart_ns, 0, INT64_C(600000000000));
    }
    assert_in_range(now_ns - kept.datagram[0].t_ns, 0, INT64_C(1800000000000));
    sample_recording_free(&kept);
}

/* Start the program with the clock that it is given. */
static void start(const struct folder *folder, const char *const *words,
                  struct process *process)
{
    char library[FOLDER_PATH_SIZE], step[FOLDER_PATH_SIZE];

    build_library(folder, library);
    set_clock(folder, 86400, step);
    assert_int_equal(setenv("STEPPED_CLOCK", step, 1), 0);
    assert_int_equal(setenv("LD_PRELOAD", library, 1), 0);
    assert_true(date_told() > (int64_t)time(NULL) + 80000);
    set_clock(folder, 0, step);
    process_start(process, words);
    assert_int_equal(unsetenv("LD_PRELOAD"), 0);
    process_await(process, "listening on ");
}

/* A busy machine may not send for a second, which is no matter here. */
static const char patient[] = "network { signal_timeout = \"10 s\" }\n";

static void a_clock_that_is_set_changes_nothing_in_flight(void **state)
{
    const struct folder *folder = *state;
    char recording[FOLDER_PATH_SIZE], control[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE], replayed[FOLDER_PATH_SIZE];
    char config[FOLDER_PATH_SIZE];
    const char *live[] = {"--config",  config,     "listen",     "--port",
                          "0",         "--layout", "plain-text", "--record",
                          recording,   "--events", events,       "--no-sound",
                          "--control", control,    NULL};
    const char *replay[] = {"--config", config,       "replay",  recording,
                            "--layout", "plain-text", "--speed", "max",
                            "--events", replayed,     NULL};
    struct process process;
    char *heard;
    char *again;

    skip_in_sanitized_build();
    folder_write(folder, "my.conf", patient, strlen(patient), config);
    folder_path(folder, "live.pcap", recording);
    folder_path(folder, "live.events", events);
    folder_path(folder, "replayed.events", replayed);
    folder_path(folder, "control", control);
    start(folder, live, &process);
    fly(folder, &process);
    process_signal(&process, SIGTERM);
    process_finish(&process);
    assert_int_equal(process.status, 0);
    expect_steady_times(recording, 250, 0);
    process_run(&process, replay);
    assert_int_equal(process.status, 0);
    heard = folder_read_file(events, NULL);
    again = folder_read_file(replayed, NULL);
    if (strstr(heard, "\"entry\"") == NULL)
        fail_msg("no entry; %s\n%s", process.err, heard);
    assert_string_equal(heard, again);
    free(heard);
    free(again);
}

static void await_loss(const char *control)
{
    bool signal = true;

    while (signal) {
        json_t *answer = live_ask(control, "{\"ask\":\"status\"}");

        signal = json_is_true(
            json_object_get(json_object_get(answer, "status"), "signal"));
        json_decref(answer);
    }
}

/* Tell it to record, or no more. path: receives the file's name. */
static void tell_record(const char *control, const char *value,
                        char path[FOLDER_PATH_SIZE])
{
    char line[64];
    json_t *answer;

    (void)snprintf(line, sizeof line, "{\"ask\":\"record\",\"value\":\"%s\"}",
                   value);
    answer = live_ask(control, line);
    assert_true(json_is_true(json_object_get(answer, "ok")));
    (void)snprintf(path, FOLDER_PATH_SIZE, "%s",
                   json_string_value(json_object_get(answer, "said")));
    json_decref(answer);
}

/* Fly, set the clock, fly on, and record anew. The recording that goes on
 * keeps its own time.
 * timeout: after which the pause counts as a loss. dated_s: how far ahead the
 * new recording must be dated. */
static void fly_with_a_pause(const struct folder *folder, const char *timeout,
                             bool lost, int64_t step_s, int64_t dated_s)
{
    char recording[FOLDER_PATH_SIZE], control[FOLDER_PATH_SIZE];
    char first[FOLDER_PATH_SIZE], second[FOLDER_PATH_SIZE];
    char step[FOLDER_PATH_SIZE], config[FOLDER_PATH_SIZE], text[80];
    const char *live[] = {"--config", config,       "listen",     "--port",
                          "0",        "--layout",   "plain-text", "--record",
                          recording,  "--no-sound", "--control",  control,
                          NULL};
    struct process process;

    (void)snprintf(text, sizeof text, "network { signal_timeout = \"%s\" }\n",
                   timeout);
    folder_write(folder, "my.conf", text, strlen(text), config);
    folder_path(folder, "live.pcap", recording);
    folder_path(folder, "control", control);
    start(folder, live, &process);
    assert_true(live_fly(demo, live_port(&process), 0.0, 1.0) > 10);
    if (lost)
        await_loss(control);
    set_clock(folder, step_s, step);
    assert_true(live_fly(demo, live_port(&process), 1.01, 2.0) > 10);
    tell_record(control, "off", first);
    tell_record(control, "on", second);
    assert_true(live_fly(demo, live_port(&process), 2.01, 3.0) > 10);
    process_signal(&process, SIGTERM);
    process_finish(&process);
    assert_int_equal(process.status, 0);
    expect_steady_times(first, 20, 0);
    expect_steady_times(second, 10, dated_s);
}

/* As after a sleep: one clock has stood still, the other has not. */
static void a_clock_that_is_set_between_flights_is_followed(void **state)
{
    skip_in_sanitized_build();
    fly_with_a_pause(*state, "0.5 s", true, 28800, 28800);
}

static void a_clock_that_is_set_in_flight_is_not_followed(void **state)
{
    skip_in_sanitized_build();
    fly_with_a_pause(*state, "60 s", false, 28800, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(a_clock_that_is_set_changes_nothing_in_flight),
        in_folder(a_clock_that_is_set_between_flights_is_followed),
        in_folder(a_clock_that_is_set_in_flight_is_not_followed),
    };

    return cmocka_run_group_tests_name("system: the time of day", tests, NULL,
                                       NULL) != 0;
}
