/* test_golden.c - the event lines of each recording, to the letter.
 *
 * With QUARTERTURN_GOLDEN=write the lines are written beside the golden as
 * NAME.events.new instead, for a person to read, rename and explain. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "folder.h"

static const char *const recording[][2] = {
    {"good_left", "plain-binary"},     {"good_left_text", "plain-text"},
    {"good_left_basic", "plain-text"}, {"good_left_unsteady", "plain-binary"},
    {"overshoot", "plain-binary"},     {"stall", "plain-binary"},
    {"no_rudder", "plain-binary"},     {"abandoned", "plain-binary"},
    {"cruise", "plain-binary"},        {"demo", "plain-text"},
};

static void write_new(const char *path, const struct flown *flown)
{
    FILE *file = fopen(path, "w");

    assert_non_null(file);
    assert_int_equal(fwrite(flown->lines, 1, flown->lines_length, file),
                     flown->lines_length);
    assert_int_equal(fclose(file), 0);
}

/* Fail with the first line that differs. */
static void compare(const char *name, const char *expected, const char *actual)
{
    size_t same = 0;
    size_t line = 1;
    size_t start = 0;

    if (strcmp(expected, actual) == 0)
        return;
    while (expected[same] == actual[same]) {
        if (expected[same] == '\n') {
            line++;
            start = same + 1;
        }
        same++;
    }
    fail_msg("%s, line %zu\n  golden: %.*s\n  now:    %.*s", name, line,
             (int)strcspn(expected + start, "\n"), expected + start,
             (int)strcspn(actual + start, "\n"), actual + start);
}

/* Every line begins with its time. */
static void expect_time_order(const char *name, const char *lines)
{
    double before_s = -1.0;

    for (const char *at = lines; *at != '\0'; at = strchr(at, '\n') + 1) {
        char *behind;
        double t_s;

        assert_int_equal(strncmp(at, "{\"t\":", 5), 0);
        t_s = strtod(at + 5, &behind);
        assert_int_equal(*behind, ',');
        if (t_s < before_s)
            fail_msg("%s: %.3f s stands behind %.3f s", name, t_s, before_s);
        before_s = t_s;
    }
}

static void every_recording_gives_its_golden_events(void **state)
{
    const char *mode = getenv("QUARTERTURN_GOLDEN");
    bool writing = mode != NULL && strcmp(mode, "write") == 0;

    (void)state;
    for (size_t i = 0; i < sizeof recording / sizeof recording[0]; i++) {
        struct flown flown;
        char path[256];
        char *golden;
        size_t length;

        flown_recording(&flown, recording[i][0], recording[i][1]);
        expect_time_order(recording[i][0], flown.lines);
        (void)snprintf(path, sizeof path, "tests/replay/%s.events%s",
                       recording[i][0], writing ? ".new" : "");
        if (writing) {
            write_new(path, &flown);
        } else {
            /* A golden that is missing is a failure. */
            golden = folder_read_file(path, &length);
            compare(path, golden, flown.lines);
            free(golden);
        }
        flown_free(&flown);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_recording_gives_its_golden_events),
    };

    return cmocka_run_group_tests_name("replay: golden", tests, NULL, NULL) !=
           0;
}
