/* test_columns.c - what is told stays within a terminal of 80 columns. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "process.h"

enum { MOST_WORDS = 8 };

static const struct {
    const char *words[MOST_WORDS];
    const char *says; /* the end of what it is about, on any line */
} cases[] = {
    {{"discover", "tests/replay/demo.pcap", NULL}, "altitude"},
    {{"discover", "tests/wire/nmea.pcap", NULL}, "open standard"},
    {{"sounds", NULL}, "a maneuver may begin"},
    {{"inspect", "--check", NULL}, "configuration is good"},
    {{"rehearse", "--error", "none-such", NULL}, "level-past"},
    {{"debrief", "tests/replay/good_left.pcap", NULL}, "plain-binary"},
};

static void assert_narrow(const char *text)
{
    for (const char *line = text; *line != '\0';) {
        size_t columns = strcspn(line, "\n");

        if (columns > 80)
            fail_msg("%zu columns: %.*s", columns, (int)columns, line);
        line += columns + (line[columns] == '\n');
    }
}

static void commands_stay_within_eighty_columns(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        static struct process run;

        process_run(&run, cases[i].words);
        if (strstr(run.out, cases[i].says) == NULL &&
            strstr(run.err, cases[i].says) == NULL)
            fail_msg("\"%s\" is not in: %s%s", cases[i].says, run.out, run.err);
        assert_narrow(run.err);
        /* The layout that is written there is a file. */
        if (strcmp(cases[i].words[0], "discover") != 0)
            assert_narrow(run.out);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(commands_stay_within_eighty_columns),
    };

    return cmocka_run_group_tests_name("columns", tests, NULL, NULL) != 0;
}
