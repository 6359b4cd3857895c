/* test_listen.c - a live flight over loopback, against its own recording.
 *
 * Sends the demonstration flight to a running "listen" as its simulator
 * would, in real time, and compares the events with a replay of what was
 * recorded. */
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
#include <jansson.h>

#include "folder.h"
#include "live.h"
#include "near.h"
#include "process.h"
#include "sample.h"

/* From level flight before the roll-in to three seconds past wings level. */
static const double flown_s = 48.0;

struct live {
    struct folder folder;
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    char replayed[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    char logbook[FOLDER_PATH_SIZE];
    char logbook_option[FOLDER_PATH_SIZE + 16];
    size_t sent;
    struct process process;
    struct process told; /* what the running daemon said of itself */
};

/* The flight is flown once; the tests look at what came of it. */
static int fly_live(void **state)
{
    static const char config_text[] = "debrief { logbook = \"logbook.csv\" }\n";
    char config[FOLDER_PATH_SIZE];
    struct live *live = calloc(1, sizeof *live);
    assert_non_null(live);
    *state = live;
    folder_make(&live->folder);
    folder_path(&live->folder, "live.pcap", live->recording);
    folder_path(&live->folder, "live.events", live->events);
    folder_path(&live->folder, "replayed.events", live->replayed);
    folder_path(&live->folder, "control", live->control);
    folder_path(&live->folder, "logbook.csv", live->logbook);
    (void)snprintf(live->logbook_option, sizeof live->logbook_option,
                   "--logbook=%s", live->logbook);
    folder_write(&live->folder, "live.conf", config_text,
                 sizeof config_text - 1, config);
    const char *words[] = {
        "listen",     "--address",  "127.0.0.1",   "--port",        "0",
        "--layout",   "plain-text", "--record",    live->recording, "--events",
        live->events, "--control",  live->control, "--config",      config,
        NULL};
    const char *status[] = {"tell",      "status",      "--json",
                            "--control", live->control, NULL};
    process_start(&live->process, words);
    process_await(&live->process, "listening on ");
    live->sent = live_fly("tests/replay/demo.pcap", live_port(&live->process),
                          0.0, flown_s);
    process_run(&live->told, status);
    process_signal(&live->process, SIGTERM);
    process_finish(&live->process);
    return 0;
}

static int clean_up(void **state)
{
    struct live *live = *state;
    folder_remove(&live->folder);
    free(live);
    return 0;
}

static void ends_in_good_order_when_told_to(void **state)
{
    struct live *live = *state;
    if (live->process.status != 0) {
        print_error("%s\n", live->process.err);
    }
    assert_int_equal(live->process.status, 0);
    /* The configuration, the recording, the events and the logbook, and
     * nothing half-written. */
    assert_int_equal(folder_count(&live->folder), 4);
}

static void tells_what_it_has_taken_while_it_runs(void **state)
{
    struct live *live = *state;
    json_t *told = json_loads(live->told.out, 0, NULL);
    const json_t *status = json_object_get(told, "status");
    assert_int_equal(live->told.status, 0);
    assert_int_equal(json_integer_value(json_object_get(status, "taken")),
                     live->sent);
    assert_int_equal(json_integer_value(json_object_get(status, "attempts")),
                     1);
    json_decref(told);
}

static void records_every_packet_it_was_sent(void **state)
{
    struct live *live = *state;
    struct sample_recording recorded;
    sample_recording_load(live->recording, &recorded);
    assert_int_equal(recorded.count, live->sent);
    sample_recording_free(&recorded);
}

/* tcpdump, the reference reader of the capture format, is the oracle. */
static void recording_opens_in_tcpdump(void **state)
{
    struct live *live = *state;
    struct process tcpdump;
    const char *words[] = {"-n", "-q", "-c", "1", "-r", live->recording, NULL};
    process_run_other(&tcpdump, "tcpdump", words);
    if (tcpdump.status != 0) {
        print_error("%s\n", tcpdump.err);
    }
    assert_int_equal(tcpdump.status, 0);
    assert_non_null(strstr(tcpdump.out, "UDP"));
}

/* Live and from its recording it is the same attempt. */
static void the_logbook_holds_the_attempt_once(void **state)
{
    struct live *live = *state;
    struct process debrief;
    const char *words[] = {"debrief",    live->recording,      "--layout",
                           "plain-text", live->logbook_option, NULL};
    size_t length;
    char *text = folder_read_file(live->logbook, &length);
    const char *row = strstr(text, "\r\n");

    assert_non_null(row);
    assert_non_null(strstr(row + 2, ",club-trainer,chandelle,"));
    assert_non_null(strstr(row + 2, ",full,"));
    free(text);
    process_run(&debrief, words);
    assert_int_equal(debrief.status, 0);
    assert_non_null(strstr(debrief.err, "0 attempts added, 1 there already"));
}

static void replay_of_the_recording_gives_the_same_events(void **state)
{
    struct live *live = *state;
    struct process replay;
    const char *words[] = {"replay",     live->recording, "--layout",
                           "plain-text", "--speed",       "max",
                           "--events",   live->replayed,  NULL};
    process_run(&replay, words);
    assert_int_equal(replay.status, 0);
    size_t live_length = 0;
    size_t replayed_length = 0;
    char *heard = folder_read_file(live->events, &live_length);
    char *again = folder_read_file(live->replayed, &replayed_length);
    assert_string_equal(heard, again);
    assert_int_equal(live_length, replayed_length);
    free(heard);
    free(again);
}

/* The value of a member in the first line of a kind; NaN when there is no
 * such line. */
static double first_of(const char *text, const char *kind, const char *member)
{
    double value = NAN;
    char *lines = strdup(text);
    char *rest = NULL;
    assert_non_null(lines);
    for (char *line = strtok_r(lines, "\n", &rest);
         line != NULL && isnan(value); line = strtok_r(NULL, "\n", &rest)) {
        json_error_t error;
        json_t *object = json_loads(line, 0, &error);
        assert_non_null(object);
        const char *event = json_string_value(json_object_get(object, "event"));
        const char *cue = json_string_value(json_object_get(object, "cue"));
        if ((event != NULL && strcmp(event, kind) == 0) ||
            (cue != NULL && strcmp(cue, kind) == 0)) {
            value = json_number_value(json_object_get(object, member));
        }
        json_decref(object);
    }
    free(lines);
    return value;
}

/* What the flight was is told in tests/replay/demo.txt: the roll-in begins
 * 6.0 s and the 90-degree point is passed 21.583 s after the first packet,
 * wings level comes with 0.4 degrees. Packets come late on a busy machine:
 * the tolerances are wide; the replay tests hold the narrow ones. */
static void follows_the_flight_live(void **state)
{
    struct live *live = *state;
    char *events = folder_read_file(live->events, NULL);
    assert_near(first_of(events, "entry", "t"), 6.0, 1.0);
    assert_near(first_of(events, "ninety", "moment_t"), 21.583, 0.3);
    assert_near(first_of(events, "wings-level", "heading_error_deg"), 0.4, 1.5);
    free(events);
    assert_non_null(strstr(live->process.out, "> ninety"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ends_in_good_order_when_told_to),
        cmocka_unit_test(tells_what_it_has_taken_while_it_runs),
        cmocka_unit_test(records_every_packet_it_was_sent),
        cmocka_unit_test(recording_opens_in_tcpdump),
        cmocka_unit_test(the_logbook_holds_the_attempt_once),
        cmocka_unit_test(replay_of_the_recording_gives_the_same_events),
        cmocka_unit_test(follows_the_flight_live),
    };
    return cmocka_run_group_tests(tests, fly_live, clean_up) != 0;
}
