/* test_endurance.c - a long day's flying takes no more memory than an hour,
 * and its clock does not drift.
 *
 * Makes recordings of one hour and of ENDURANCE_HOURS (10) at 60 packets a
 * second out of one flight flown again and again, replays both, compares the
 * most memory that each run held, and looks at the moments of the last flight
 * against those of the first. */
#include <math.h>
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
/* How long one flight of the recording lasts: 4811 packets, and the interval
 * behind the last. */
enum { FLIGHT_PACKETS = 4811 };

static int hours(void)
{
    const char *text = getenv("ENDURANCE_HOURS");
    long wanted = text != NULL ? strtol(text, NULL, 10) : 10;

    assert_in_range(wanted, 2, 100);
    return (int)wanted;
}

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

/* The marks of 90 degrees, one for each flight. */
struct marks {
    double first_s;
    double last_s;
    size_t count;
    double worst_ms; /* how far any is from its place */
    size_t finished;
};

/* period_s: of the flights. */
static void read_marks(const char *path, double period_s, struct marks *out)
{
    char *all = folder_read_file(path, NULL);
    char *rest = NULL;

    memset(out, 0, sizeof *out);
    for (char *line = strtok_r(all, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        out->finished += strstr(line, "\"finished\"") != NULL;
        if (strstr(line, "\"mark_deg\":90}") == NULL)
            continue;
        assert_int_equal(strncmp(line, "{\"t\":", 5), 0);
        out->last_s = strtod(line + 5, NULL);
        if (out->count == 0)
            out->first_s = out->last_s;
        out->worst_ms =
            fmax(out->worst_ms, 1e3 * fabs(out->last_s - out->first_s -
                                           (double)out->count * period_s));
        out->count++;
    }
    free(all);
}

static void a_long_day_takes_no_more_memory_and_does_not_drift(void **state)
{
    (void)state;
    struct folder folder;
    struct sample_recording flight;
    struct marks hour;
    struct marks day;
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    const int day_h = hours();

    folder_make(&folder);
    folder_path(&folder, "long.pcap", recording);
    folder_path(&folder, "long.events", events);
    sample_recording_load("tests/replay/good_left.pcap", &flight);
    assert_int_equal(flight.count, FLIGHT_PACKETS);
    int64_t interval_ns = flight.datagram[1].t_ns - flight.datagram[0].t_ns;
    double period_s = (double)(flight.datagram[flight.count - 1].t_ns -
                               flight.datagram[0].t_ns + interval_ns) *
                      1e-9;

    assert_int_equal(long_flight_write(&flight, hour_ns, recording), 216000);
    long hour_kib = most_memory_kib(recording, events);
    read_marks(events, period_s, &hour);
    assert_int_equal(long_flight_write(&flight, day_h * hour_ns, recording),
                     day_h * 216000);
    long day_kib = most_memory_kib(recording, events);
    read_marks(events, period_s, &day);
    sample_recording_free(&flight);
    folder_remove(&folder);

    print_message("1 h: %zu attempts, %ld KiB; %d h: %zu attempts, %ld KiB\n",
                  hour.finished, hour_kib, day_h, day.finished, day_kib);
    print_message("90 degrees first at %.3f s, last at %.3f s, %zu periods of "
                  "%.6f s later; none more than %.1f ms from its place\n",
                  day.first_s, day.last_s, day.count - 1, period_s,
                  day.worst_ms);
    /* A flight lasts 80.2 s: 44 whole ones fit into an hour. */
    assert_in_range(hour.finished, 44, 45);
    assert_in_range(day.finished, (day_h * 3600) / 80.2 - 1,
                    (day_h * 3600) / 80.2 + 1);
    assert_in_range(day.count, day.finished, day.finished + 1);
    /* Lines tell milliseconds. */
    assert_true(day.worst_ms <= 1.0 + 1e-6);
    assert_true((double)day_kib < 1.2 * (double)hour_kib);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_long_day_takes_no_more_memory_and_does_not_drift),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
