/* test_log.c - lines for a person, for the journal, and the same line again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "folder.h"
#include "quarterturn/log.h"

/* What say writes to standard error. The caller frees. */
static char *hear(const struct folder *folder, void (*say)(void))
{
    char path[FOLDER_PATH_SIZE];
    size_t length;
    int kept = dup(STDERR_FILENO);

    assert_true(kept >= 0);
    assert_non_null(freopen(folder_path(folder, "err", path), "w", stderr));
    say();
    (void)fflush(stderr);
    assert_true(dup2(kept, STDERR_FILENO) >= 0);
    (void)close(kept);
    return folder_read_file(path, &length);
}

static void say_two(void)
{
    log_line(LOG_LEVEL_ERROR, "no %s", "wind");
    log_plain(LOG_LEVEL_WARNING, "file:1: too much");
    log_line(LOG_LEVEL_DETAIL, "not at this level");
}

static void say_much(void)
{
    for (int i = 0; i < 150; i++)
        log_line(LOG_LEVEL_WARNING, "the disk is full");
    log_line(LOG_LEVEL_NOTE, "something else");
    log_line(LOG_LEVEL_WARNING, "the disk is full");
}

static void a_line_names_the_program(void **state)
{
    char *text = hear(*state, say_two);

    assert_string_equal(text, "quarterturn: no wind\nfile:1: too much\n");
    free(text);
}

static void the_same_line_again_is_counted(void **state)
{
    char *text = hear(*state, say_much);

    assert_string_equal(text,
                        "quarterturn: the disk is full\n"
                        "quarterturn: the disk is full (10 times so far)\n"
                        "quarterturn: the disk is full (100 times so far)\n"
                        "quarterturn: something else\n"
                        "quarterturn: the disk is full\n");
    free(text);
}

/* sd-daemon(3): "<3>" an error, "<4>" a warning, "<6>" information. */
static void the_journal_gets_levels_and_no_name(void **state)
{
    char *text;

    log_to_journal();
    text = hear(*state, say_two);
    assert_string_equal(text, "<3>no wind\n<4>file:1: too much\n");
    free(text);
}

/* systemd.exec(5): JOURNAL_STREAM holds the device and inode of the stream. */
static void knows_the_journal_by_its_stream(void **state)
{
    struct stat status;
    char stream[64];

    (void)state;
    assert_int_equal(unsetenv("JOURNAL_STREAM"), 0);
    assert_false(log_is_journal());
    assert_int_equal(fstat(STDERR_FILENO, &status), 0);
    (void)snprintf(stream, sizeof stream, "%llu:%llu",
                   (unsigned long long)status.st_dev,
                   (unsigned long long)status.st_ino);
    assert_int_equal(setenv("JOURNAL_STREAM", stream, 1), 0);
    assert_true(log_is_journal());
    assert_int_equal(setenv("JOURNAL_STREAM", "8:1", 1), 0);
    assert_false(log_is_journal());
    assert_int_equal(setenv("JOURNAL_STREAM", "journal", 1), 0);
    assert_false(log_is_journal());
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(a_line_names_the_program),
        in_folder(the_same_line_again_is_counted),
        cmocka_unit_test(knows_the_journal_by_its_stream),
        in_folder(the_journal_gets_levels_and_no_name),
    };

    return cmocka_run_group_tests_name("log", tests, NULL, NULL) != 0;
}
