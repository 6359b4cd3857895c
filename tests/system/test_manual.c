/* test_manual.c - the manual page tells the commands and options that the
 * program tells, and no others. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "manual.h"
#include "process.h"
#include "quarterturn/control.h"

static struct process help;

static int read_help(void **state)
{
    const char *words[] = {"--help", NULL};

    (void)state;
    process_run(&help, words);
    return help.status;
}

/* Every word with two dashes stands in the manual's part, and every option
 * of that part among the words. */
static void check_options(const char *begin, const char *end,
                          struct manual_part part)
{
    char option[MANUAL_WORD_SIZE];
    struct manual_part item;
    int told = 0;
    int items = 0;

    for (const char *at = begin; (at = strstr(at, "--")) != NULL && at < end;
         told++) {
        (void)snprintf(option, sizeof option, "-%.*s",
                       (int)strspn(at + 2, "abcdefghijklmnopqrstuvwxyz-"),
                       at + 2);
        if (!manual_item(part, "Fl", option, &item))
            fail_msg("quarterturn.1 does not tell -%s beside %.20s", option,
                     begin);
        at += 2;
    }
    for (const char *at = part.begin; manual_next(part, "Fl", &at, option);)
        items++;
    /* As many, and all of these are there: no others. */
    if (items != told)
        fail_msg("quarterturn.1 tells %d options, --help %d: %.20s", items,
                 told, begin);
}

static void the_manual_tells_the_common_options(void **state)
{
    char *page = manual_read("quarterturn.1");
    const char *begin = strstr(help.out, "options of every command");

    (void)state;
    assert_non_null(begin);
    check_options(begin, strstr(begin, "\n\n"),
                  manual_under(page, ".Sh DESCRIPTION"));
    free(page);
}

static void the_manual_tells_every_command_and_its_options(void **state)
{
    char *page = manual_read("quarterturn.1");
    const char *line = strstr(help.out, "\n\n");
    int commands = 0;

    (void)state;
    assert_non_null(line);
    for (line += 2; strncmp(line, "  ", 2) == 0;
         line = strchr(line, '\n') + 1) {
        char heading[32];
        char row[32];
        const char *begin;
        const char *end;

        (void)snprintf(heading, sizeof heading, ".Ss %.*s",
                       (int)strcspn(line + 2, " "), line + 2);
        (void)snprintf(row, sizeof row, "\n%.20s:", heading + 4);
        begin = strstr(help.out, row);
        assert_non_null(begin);
        end = strchr(begin + 1, '\n');
        while (end != NULL && end[1] == ' ')
            end = strchr(end + 1, '\n');
        check_options(begin + 1, end, manual_under(page, heading));
        commands++;
    }
    assert_true(commands > 1);
    free(page);
}

static void the_manual_tells_every_word_of_tell(void **state)
{
    char *page = manual_read("quarterturn.1");
    struct manual_part part = manual_under(page, ".Ss tell");

    (void)state;
    for (int i = 0; i < CONTROL_VERB_COUNT; i++)
        if (!manual_marks(part, control_verb_name((enum control_verb)i)))
            fail_msg("quarterturn.1 does not tell: tell %s",
                     control_verb_name((enum control_verb)i));
    free(page);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_manual_tells_the_common_options),
        cmocka_unit_test(the_manual_tells_every_command_and_its_options),
        cmocka_unit_test(the_manual_tells_every_word_of_tell),
    };

    return cmocka_run_group_tests(tests, read_help, NULL) != 0;
}
