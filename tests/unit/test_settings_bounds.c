/* test_settings_bounds.c - configurations that are larger than any is. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "folder.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

enum { MOST_BYTES = 256 * 1024, MOST_BRACES = 4096 };

static char why[512];

static int load(const char *path)
{
    const struct settings_choice choice = {.config = path};
    struct settings settings;

    return settings_load(&choice, ".", &settings, why, sizeof why);
}

/* A file of one piece of text again and again, and then blanks, so long. */
static const char *fill(const struct folder *folder, const char *piece,
                        size_t times, size_t length)
{
    static char path[FOLDER_PATH_SIZE];
    size_t step = strlen(piece);
    char *text = malloc(length + step);

    assert_non_null(text);
    memset(text, ' ', length + step);
    for (size_t i = 0; i < times; i++)
        memcpy(text + i * step, piece, step);
    folder_write(folder, "big.conf", text, length, path);
    free(text);
    return path;
}

static void a_file_may_hold_so_much(void **state)
{
    assert_int_equal(load(fill(*state, "# none\n", 1000, MOST_BYTES)), 0);
    assert_int_equal(load(fill(*state, "# none\n", 1000, MOST_BYTES + 1)),
                     ERR_USAGE);
    assert_non_null(
        strstr(why, "big.conf: a configuration holds at most 256 KiB"));
}

static void what_has_no_end_is_no_configuration(void **state)
{
    (void)state;
    assert_int_equal(load("/dev/zero"), ERR_USAGE);
    assert_string_equal(why,
                        "/dev/zero: a configuration holds at most 256 KiB");
}

static void so_many_braces_may_be_opened(void **state)
{
    static const char piece[] = "network { allow = {} }\n";

    /* Refused for what it is, not for how much. */
    assert_int_equal(load(fill(*state, piece, MOST_BRACES / 2, MOST_BYTES / 2)),
                     ERR_USAGE);
    assert_non_null(
        strstr(why, "big.conf:2:1: section network is given twice"));
    assert_int_equal(
        load(fill(*state, piece, MOST_BRACES / 2 + 1, MOST_BYTES / 2)),
        ERR_USAGE);
    assert_non_null(
        strstr(why, "big.conf:2049:9: more than 4096 braces are opened"));
}

/* Those in quotes and comments open nothing. */
static void braces_that_open_nothing_are_not_counted(void **state)
{
    assert_int_equal(load(fill(*state, "# {{{{{\n", 1000, MOST_BYTES)), 0);
}

/* Processor time of one file. libConfuse compares a section's title with those
 * of all sections before it: fifty thousand took most of a minute. */
static void nothing_takes_long(void **state)
{
    static const char *const pieces[] = {
        "layout \"a\" {}\n",
        "use {}\n",
        "a ",
        "#",
        "{",
        "use { aircraft = ${HOME} }\n",
        "/*/*",
        "\\\"",
        "\n",
    };

    for (size_t i = 0; i < sizeof pieces / sizeof pieces[0]; i++) {
        size_t times = MOST_BYTES / strlen(pieces[i]);
        clock_t from = clock();
        double took_s;

        (void)load(fill(*state, pieces[i], times, MOST_BYTES));
        took_s = (double)(clock() - from) / CLOCKS_PER_SEC;
        if (took_s > 5.0)
            fail_msg("\"%s\" took %.1f s", pieces[i], took_s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(a_file_may_hold_so_much),
        in_folder(what_has_no_end_is_no_configuration),
        in_folder(so_many_braces_may_be_opened),
        in_folder(braces_that_open_nothing_are_not_counted),
        in_folder(nothing_takes_long),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
