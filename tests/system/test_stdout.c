/* test_stdout.c - what is printed, and a standard output that takes none of
 * it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "process.h"

enum { COULD_NOT = 1, WRONG_USAGE = 2, MOST_WORDS = 8 };

static const char demo[] = "tests/replay/demo.pcap";

/* Everything that prints something. */
static const char *const printers[][MOST_WORDS] = {
    {"--help"},
    {"--version"},
    {"debrief", demo},
    {"debrief", demo, "--json", "-"},
    {"debrief", demo, "--csv", "-"},
    {"debrief", demo, "--page", "-"},
    {"replay", demo, "--speed", "max"},
    {"replay", demo, "--speed", "max", "--events", "-"},
    {"inspect", demo, "--layout", "plain-text"},
    {"inspect", demo, "--layout", "plain-text", "--json"},
    {"inspect", "--check"},
    {"discover", "tests/replay/good_left.pcap"},
    {"rehearse", "--list"},
    {"brief"},
    {"brief", "--json"},
    {"sounds"},
};

/* Run it with the shell's redirection behind it. */
static void run(struct process *process, const char *const *words,
                const char *script)
{
    const char *shell[MOST_WORDS + 4] = {"-c", script, process_program()};

    for (int i = 0; i < MOST_WORDS && words[i] != NULL; i++)
        shell[3 + i] = words[i];
    process_run_other(process, "sh", shell);
}

static void a_full_disk_is_no_success(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof printers / sizeof printers[0]; i++) {
        struct process process;

        run(&process, printers[i], "exec \"$0\" \"$@\" >/dev/full");
        if (process.status != COULD_NOT ||
            strstr(process.err, "standard output cannot be written") == NULL)
            fail_msg("%s: status %d, said: %s", printers[i][0], process.status,
                     process.err);
    }
}

/* Whoever reads no more wants to hear no more. */
static void a_reader_who_goes_away_hears_no_complaint(void **state)
{
    const char *const words[MOST_WORDS] = {"replay", demo, "--speed", "max",
                                           "--quiet"};
    struct process process;

    (void)state;
    run(&process, words, "\"$0\" \"$@\" | head -n 1");
    assert_int_equal(process.status, 0);
    assert_string_equal(process.err, "");
    assert_non_null(strchr(process.out, '\n'));
}

/* Two tables in one stream can be read by nobody. */
static void standard_output_holds_one_thing(void **state)
{
    static const char *const both[][2] = {
        {"--csv", "--json"}, {"--page", "--json"}, {"--csv", "--page"}};

    (void)state;
    for (size_t i = 0; i < sizeof both / sizeof both[0]; i++) {
        const char *words[] = {"debrief",  demo, both[i][0], "-",
                               both[i][1], "-",  NULL};
        struct process process;

        process_run(&process, words);
        assert_int_equal(process.status, WRONG_USAGE);
        assert_non_null(strstr(process.err, "standard output holds one thing"));
        assert_string_equal(process.out, "");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_disk_is_no_success),
        cmocka_unit_test(a_reader_who_goes_away_hears_no_complaint),
        cmocka_unit_test(standard_output_holds_one_thing),
    };

    return cmocka_run_group_tests_name("system: standard output", tests, NULL,
                                       NULL) != 0;
}
