/* test_endurance.c - a long day's flying takes no more memory than an hour.
 *
 * Makes recordings of one and of ten hours at 60 packets a second out of one
 * flight flown again and again, replays both, and compares the most memory
 * that each run held. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "long_flight.h"
#include "process.h"
#include "sample.h"

static const int64_t hour_ns = 3600 * UNITS_NS_PER_S;

static long most_memory_kib(const char *recording, const char *events)
{
    struct process replay;
    const char *words[] = {"replay",  recording, "--layout", "plain-binary",
                           "--speed", "max",     "--events", events,
                           "--quiet", NULL};
    process_run(&replay, words);
    if (replay.status != 0) {
        print_error("%s\n", replay.err);
    }
    assert_int_equal(replay.status, 0);
    return replay.most_rss_kib;
}

static size_t count_lines_with(const char *path, const char *text)
{
    size_t count = 0;
    char *all = folder_read_file(path, NULL);
    for (const char *at = strstr(all, text); at != NULL;
         at = strstr(at + 1, text)) {
        count++;
    }
    free(all);
    return count;
}

static void ten_hours_take_no_more_memory_than_one(void **state)
{
    (void)state;
    struct folder folder;
    struct sample_recording flight;
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];

    folder_make(&folder);
    folder_path(&folder, "long.pcap", recording);
    folder_path(&folder, "long.events", events);
    sample_recording_load("tests/replay/good_left.pcap", &flight);

    assert_int_equal(long_flight_write(&flight, hour_ns, recording), 216000);
    long hour_kib = most_memory_kib(recording, events);
    size_t hour_finished = count_lines_with(events, "\"finished\"");
    assert_int_equal(long_flight_write(&flight, 10 * hour_ns, recording),
                     2160000);
    long day_kib = most_memory_kib(recording, events);
    size_t day_finished = count_lines_with(events, "\"finished\"");
    sample_recording_free(&flight);
    folder_remove(&folder);

    print_message("1 h: %zu attempts, %ld KiB; 10 h: %zu attempts, %ld KiB\n",
                  hour_finished, hour_kib, day_finished, day_kib);
    /* A flight lasts 80.2 s: 44 whole ones fit into an hour. */
    assert_in_range(hour_finished, 44, 45);
    assert_in_range(day_finished, 448, 450);
    assert_true((double)day_kib < 1.2 * (double)hour_kib);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ten_hours_take_no_more_memory_than_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
