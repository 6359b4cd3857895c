/* test_discover.c - from a recording of an unknown stream to calls, as a new
 * user does it. */
#include <math.h>
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
#include "near.h"
#include "process.h"

enum { DONE = 0, COULD_NOT = 1, WRONG_USAGE = 2 };

static struct process process;

static void discover(const char *file, const char *output, const char *more)
{
    const char *words[] = {"discover", file, "--output", output, more, NULL};

    process_run(&process, words);
}

static void a_recording_leads_to_calls_without_an_editor(void **state)
{
    const struct folder *folder = *state;
    char output[FOLDER_PATH_SIZE];
    const char *replay[] = {"replay",   "tests/replay/good_left.pcap",
                            "--layout", output,
                            "--speed",  "max",
                            "--events", "-",
                            NULL};

    folder_path(folder, "mine.conf", output);
    discover("tests/replay/good_left.pcap", output, NULL);
    assert_int_equal(process.status, DONE);
    assert_string_equal(process.out, "");
    assert_non_null(strstr(process.err, "sure: "));
    assert_int_equal(folder_count(folder), 1);
    process_run(&process, replay);
    assert_int_equal(process.status, DONE);
    assert_non_null(strstr(process.out, "\"cue\":\"ninety\""));
    assert_non_null(strstr(process.out, "\"cue\":\"wings-level\""));
}

/* When a mark was passed, by the event lines of a file. */
static double mark_s(const char *lines, int deg)
{
    const char *line = lines;
    char wanted[32];

    (void)snprintf(wanted, sizeof wanted, "\"mark_deg\":%d", deg);
    while (line != NULL) {
        const char *end = strchr(line, '\n');
        const char *mark = strstr(line, wanted);
        const char *t = strstr(line, "\"t\":");

        if (mark != NULL && end != NULL && mark < end && t < end)
            return strtod(t + 4, NULL);
        line = end != NULL ? end + 1 : NULL;
    }
    return (double)NAN;
}

/* The truth of the flight is told in tests/replay/good_left.txt, by the
 * simulation that flew it; the recordings begin 4 s later and have 20 moments
 * a second. */
static void expect_the_flight(const char *lines)
{
    assert_near(mark_s(lines, 45), 17.04 - 4.0, 0.05);
    assert_near(mark_s(lines, 90), 23.58 - 4.0, 0.05);
    assert_near(mark_s(lines, 135), 31.12 - 4.0, 0.05);
    assert_near(mark_s(lines, 180), 45.55 - 4.0, 0.05);
    assert_non_null(strstr(lines, "\"cue\":\"ninety\""));
    assert_non_null(strstr(lines, "\"cue\":\"wings-level\""));
    assert_non_null(strstr(lines, "\"event\":\"finished\""));
}

/* Two commands, whatever the stream is made of. */
static void every_form_of_stream_leads_to_the_right_events(void **state)
{
    static const char *const forms[] = {
        "plain-text",  "plain-binary", "keyed-records", "name-value",
        "json-object", "nmea",         "dis",           "mavlink"};

    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        const struct folder *folder = *state;
        char file[64];
        char name[64];
        char output[FOLDER_PATH_SIZE];
        char events[FOLDER_PATH_SIZE];
        const char *replay[] = {"replay",   file,      "--layout",
                                output,     "--speed", "max",
                                "--events", events,    NULL};
        char *lines;
        size_t length;

        (void)snprintf(file, sizeof file, "tests/wire/%s.pcap", forms[i]);
        (void)snprintf(name, sizeof name, "%s.conf", forms[i]);
        folder_path(folder, name, output);
        (void)snprintf(name, sizeof name, "%s.events", forms[i]);
        folder_path(folder, name, events);
        discover(file, output, NULL);
        assert_int_equal(process.status, DONE);
        process_run(&process, replay);
        assert_int_equal(process.status, DONE);
        lines = folder_read_file(events, &length);
        expect_the_flight(lines);
        free(lines);
    }
}

static void a_layout_goes_to_standard_output_unless_told(void **state)
{
    const char *words[] = {"discover", "tests/replay/cruise.pcap", NULL};

    (void)state;
    process_run(&process, words);
    assert_int_equal(process.status, DONE);
    assert_int_equal(strncmp(process.out, "layout \"", 8), 0);
}

static void expect_inspected(const char *file, const char *said)
{
    const char *words[] = {"inspect", "--layout", "plain-text", file, NULL};

    process_run(&process, words);
    assert_int_equal(process.status, COULD_NOT);
    if (strstr(process.err, said) == NULL)
        fail_msg("%s: %s", file, process.err);
}

/* Who looked with the wrong layout hears which is the right one, or how one is
 * found. */
static void inspect_leads_to_a_layout_that_fits(void **state)
{
    static const char *const name[] = {
        "plain-binary", "keyed-records", "name-value", "json-object",
        "nmea",         "dis",           "mavlink"};
    static const char text[] =
        "layout \"own\" { form = \"binary\" packet \"p\" { size = 24\n"
        "starts_with = \"hex:41 54\"\n"
        "field \"heading\" { at = 4 type = \"f32\" unit = \"rad\" }\n"
        "field \"pitch\" { at = 8 type = \"f32\" unit = \"rad\" }\n"
        "field \"bank\" { at = 12 type = \"f32\" unit = \"rad\" }\n"
        "field \"airspeed\" { at = 16 type = \"f32\" unit = \"m/s\" } } }\n";
    char layout[FOLDER_PATH_SIZE];
    char own[FOLDER_PATH_SIZE];
    char found_by[FOLDER_PATH_SIZE + 32];
    const char *rehearse[] = {"rehearse", "--layout", layout,
                              "--record", own,        NULL};

    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        char file[64];
        char said[64];

        (void)snprintf(file, sizeof file, "tests/wire/%s.pcap", name[i]);
        (void)snprintf(said, sizeof said, "fits it: --layout %s\n", name[i]);
        expect_inspected(file, said);
    }
    folder_write(*state, "own.conf", text, sizeof text - 1, layout);
    folder_path(*state, "own.pcap", own);
    process_run(&process, rehearse);
    assert_int_equal(process.status, DONE);
    (void)snprintf(found_by, sizeof found_by, "quarterturn discover %s\n", own);
    expect_inspected(own, found_by);
}

/* What is sent in another form than the one listened for. */
static void listen_leads_to_discover(void **state)
{
    static struct process listen;
    static struct process sender;
    char control[FOLDER_PATH_SIZE];
    char port[8];
    const char *hear[] = {"listen",    "--layout", "plain-text",
                          "--port",    "0",        "--no-sound",
                          "--control", control,    NULL};
    const char *send[] = {"rehearse", "--layout", "nmea", "--port", port, NULL};

    folder_path(*state, "control", control);
    process_start(&listen, hear);
    process_await(&listen, "listening on ");
    (void)snprintf(port, sizeof port, "%u", live_port(&listen));
    process_start(&sender, send);
    process_await(&listen, "does not fit layout \"plain-text\"");
    process_signal(&sender, SIGINT);
    process_finish(&sender);
    process_signal(&listen, SIGTERM);
    process_finish(&listen);
    assert_non_null(strstr(listen.err, "quarterturn discover works out"));
}

/* The outer program ends what does not end by itself, with another status. */
static void a_stream_that_never_comes_is_not_awaited_for_ever(void **state)
{
    const char *words[] = {"20", process_program(), "discover", "--seconds",
                           "1",  "--port",          "0",        "--no-sound",
                           NULL};

    (void)state;
    process_run_other(&process, "timeout", words);
    assert_int_equal(process.status, COULD_NOT);
    assert_non_null(strstr(process.err, "no datagram came"));
    assert_string_equal(process.out, "");
}

static void a_file_that_is_there_is_kept_unless_forced(void **state)
{
    const struct folder *folder = *state;
    char output[FOLDER_PATH_SIZE];
    char *text;
    size_t length;

    folder_write(folder, "mine.conf", "mine", 4, output);
    discover("tests/replay/good_left.pcap", output, NULL);
    assert_int_equal(process.status, COULD_NOT);
    assert_non_null(strstr(process.err, "--force"));
    text = folder_read_file(output, &length);
    assert_string_equal(text, "mine");
    free(text);
    discover("tests/replay/good_left.pcap", output, "--force");
    assert_int_equal(process.status, DONE);
    text = folder_read_file(output, &length);
    assert_int_equal(strncmp(text, "layout \"", 8), 0);
    free(text);
    assert_int_equal(folder_count(folder), 1);
}

static void too_little_is_said_and_nothing_is_written(void **state)
{
    const struct folder *folder = *state;
    char output[FOLDER_PATH_SIZE];

    folder_path(folder, "mine.conf", output);
    discover("tests/replay/good_left_basic.pcap", output, NULL);
    assert_int_equal(process.status, COULD_NOT);
    assert_non_null(strstr(process.err, "Please: "));
    assert_int_equal(folder_count(folder), 0);
}

static void what_is_no_recording_is_refused(void **state)
{
    const struct folder *folder = *state;
    char output[FOLDER_PATH_SIZE];

    folder_path(folder, "mine.conf", output);
    discover("README.md", output, NULL);
    assert_int_equal(process.status, COULD_NOT);
    discover("tests/replay/good_left.pcap", output, "--loud");
    assert_int_equal(process.status, WRONG_USAGE);
    assert_int_equal(folder_count(folder), 0);
}

/* Nothing comes: the time counts from the first datagram, so only a signal
 * ends it. */
static void waiting_ends_with_a_signal(void **state)
{
    const char *words[] = {"discover", "--port", "0", NULL};

    (void)state;
    process_start(&process, words);
    process_await(&process, "Listening on");
    process_signal(&process, 15);
    process_finish(&process);
    assert_int_equal(process.status, COULD_NOT);
    assert_non_null(strstr(process.err, "no datagram came"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(a_recording_leads_to_calls_without_an_editor),
        in_folder(every_form_of_stream_leads_to_the_right_events),
        in_folder(a_layout_goes_to_standard_output_unless_told),
        in_folder(inspect_leads_to_a_layout_that_fits),
        in_folder(listen_leads_to_discover),
        cmocka_unit_test(a_stream_that_never_comes_is_not_awaited_for_ever),
        in_folder(a_file_that_is_there_is_kept_unless_forced),
        in_folder(too_little_is_said_and_nothing_is_written),
        in_folder(what_is_no_recording_is_refused),
        in_folder(waiting_ends_with_a_signal),
    };

    return cmocka_run_group_tests_name("system: discover", tests, NULL, NULL) !=
           0;
}
