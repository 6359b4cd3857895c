/* test_stdout.c - what is printed, and a standard output that takes none of
 * it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
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
    {"brief", "--page", "-"},
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

/* Run a script in a folder, the program as $q and the recording as $f. */
static void run_in(const struct folder *folder, struct process *process,
                   const char *script)
{
    char line[512];
    const char *shell[] = {"-c", line, process_program(), demo, NULL};

    (void)snprintf(line, sizeof line,
                   "q=$(realpath \"$0\") && f=$(realpath \"$1\") && "
                   "cd '%s' && %s",
                   folder->path, script);
    process_run_other(process, "sh", shell);
}

/* Files that are opened later do not get its number: nothing is printed into
 * them, and what could not be printed is no success. */
static void a_closed_one_is_no_place_for_a_file(void **state)
{
    const struct folder *folder = *state;
    char events[FOLDER_PATH_SIZE], recording[FOLDER_PATH_SIZE];
    struct process process;
    size_t length;
    char *lines;

    run_in(folder, &process, "$q replay $f --speed max --events events >&-");
    assert_int_equal(process.status, COULD_NOT);
    lines = folder_read_file(folder_path(folder, "events", events), &length);
    assert_int_equal(strncmp(lines, "{\"t\":", 5), 0);
    assert_null(strstr(lines, " > ninety"));
    free(lines);
    run_in(folder, &process,
           "$q listen --port 0 --seconds 0.2 --no-sound --record new.pcap "
           "--pages . <&- >&- 2>&-");
    assert_int_equal(process.status, 0);
    lines =
        folder_read_file(folder_path(folder, "new.pcap", recording), &length);
    assert_int_equal(length, 24); /* the header of an empty capture */
    free(lines);
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

/* The page alone, and no file that is called "-": all runs are in a folder in
 * which nothing may be left. */
static void a_page_is_printed_where_it_is_asked_for(void **state)
{
    static const char *const script[] = {
        "$q brief --page -", "$q debrief --logbook=book.csv --page -",
        "$q debrief --page - $f"};
    const struct folder *folder = *state;
    char book[FOLDER_PATH_SIZE];
    char into[FOLDER_PATH_SIZE + 16];
    const char *log[] = {"debrief", demo, into, NULL};
    struct process process;

    (void)snprintf(into, sizeof into, "--logbook=%s",
                   folder_path(folder, "book.csv", book));
    process_run(&process, log);
    assert_int_equal(process.status, 0);
    for (size_t i = 0; i < sizeof script / sizeof script[0]; i++) {
        run_in(folder, &process, script[i]);
        assert_int_equal(process.status, 0);
        assert_int_equal(strncmp(process.out, "<!DOCTYPE html>", 15), 0);
        assert_null(strstr(process.err, "page"));
        assert_int_equal(folder_count(folder), 1);
    }
}

/* Sound and packets are not for a terminal. */
static void a_file_that_would_be_called_a_dash_is_refused(void **state)
{
    static const char *const script[] = {
        "$q replay $f --speed max --wav -", "$q listen --port 0 --record -",
        "$q listen --port 0 --wav=-",       "$q listen --port 0 --logbook=-",
        "$q debrief $f --logbook=-",        "$q rehearse --record -",
        "$q sounds --wav - ninety"};
    const struct folder *folder = *state;
    struct process process;

    for (size_t i = 0; i < sizeof script / sizeof script[0]; i++) {
        run_in(folder, &process, script[i]);
        if (process.status != WRONG_USAGE ||
            strstr(process.err, "takes a file") == NULL)
            fail_msg("%s: status %d, said: %s", script[i], process.status,
                     process.err);
        assert_string_equal(process.out, "");
        assert_int_equal(folder_count(folder), 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_disk_is_no_success),
        in_folder(a_closed_one_is_no_place_for_a_file),
        cmocka_unit_test(a_reader_who_goes_away_hears_no_complaint),
        cmocka_unit_test(standard_output_holds_one_thing),
        in_folder(a_page_is_printed_where_it_is_asked_for),
        in_folder(a_file_that_would_be_called_a_dash_is_refused),
    };

    return cmocka_run_group_tests_name("system: standard output", tests, NULL,
                                       NULL) != 0;
}
