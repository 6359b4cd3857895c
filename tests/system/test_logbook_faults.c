/* test_logbook_faults.c - a logbook while programs die, disks fill up, and
 * others write at the same time.
 *
 * A limit on the size of files (RLIMIT_FSIZE, POSIX.1-2008, getrlimit) lets a
 * write come to any byte and no further: what then happens is the death of the
 * writer (SIGXFSZ as it comes) or a disk without room (the signal ignored). */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "../../daemon/logbook/store.h"
#include "entries.h"
#include "folder.h"
#include "quarterturn/file.h"

static char path[FOLDER_PATH_SIZE];

static void write_file(const char *bytes, size_t length)
{
    FILE *file = fopen(path, "wb");

    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
}

static void expect_bytes(const char *bytes, size_t length)
{
    size_t held;
    char *text = folder_read_file(path, &held);

    assert_int_equal(held, length);
    assert_memory_equal(text, bytes, length);
    free(text);
}

static void expect_rows(uint32_t count)
{
    struct logbook *book = entry_read(path);

    assert_int_equal(book->count, count);
    assert_int_equal(book->unreadable, 0);
    assert_int_equal(book->doubled, 0);
    logbook_free(book);
}

/* Append in a child whose files may be so long. Returns: its wait status. */
static int append_limited(const struct logbook_entry *entry, size_t limit,
                          bool dies)
{
    struct rlimit most = {limit, limit};
    struct rlimit no_core = {0, 0};
    struct logbook_added added;
    char why[LOGBOOK_WHY_SIZE];
    int status;
    pid_t pid = fork();

    assert_true(pid >= 0);
    if (pid == 0) {
        (void)signal(SIGXFSZ, dies ? SIG_DFL : SIG_IGN);
        (void)setrlimit(RLIMIT_CORE, &no_core);
        (void)setrlimit(RLIMIT_FSIZE, &most);
        _exit(logbook_append(path, entry, 1, &added, why) < 0 ? 1 : 0);
    }
    assert_int_equal(waitpid(pid, &status, 0), pid);
    return status;
}

/* The file with three rows, byte for byte, and how long it is with two. */
struct three {
    struct logbook_entry entry[3];
    char *bytes;
    size_t size;
    size_t size_two;
};

static void build_three(void **state, struct three *out)
{
    size_t length;
    char *two;

    (void)folder_path(*state, "logbook.csv", path);
    for (uint32_t i = 0; i < 3; i++)
        entry_build(i, "Ada, \"jr.\"", &out->entry[i]);
    (void)entry_append(path, out->entry, 2);
    two = folder_read_file(path, &length);
    out->size_two = length;
    free(two);
    (void)entry_append(path, &out->entry[2], 1);
    out->bytes = folder_read_file(path, &out->size);
}

/* ---- the power is cut --------------------------------------------------- */

static void every_prefix_keeps_all_rows_but_the_last_one(void **state)
{
    struct three three;

    build_three(state, &three);
    for (size_t length = 0; length <= three.size; length++) {
        uint32_t added;

        write_file(three.bytes, length);
        added = entry_append(path, three.entry, 3);
        expect_rows(3);
        /* Rows that were whole are not written again. */
        if (length >= three.size_two)
            assert_true(added <= 1);
    }
    free(three.bytes);
}

static void noughts_for_a_torn_row_are_set_aside(void **state)
{
    char noughts[4096] = {0};
    struct three three;
    FILE *file;

    build_three(state, &three);
    write_file(three.bytes, three.size_two);
    file = fopen(path, "ab");
    assert_non_null(file);
    assert_int_equal(fwrite(noughts, 1, sizeof noughts, file), sizeof noughts);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(entry_append(path, &three.entry[2], 1), 1);
    expect_bytes(three.bytes, three.size);
    assert_int_equal(folder_count(*state), 2);
    free(three.bytes);
}

/* The next writer goes on as if nothing had been. */
static void a_writer_killed_at_any_byte_loses_nothing(void **state)
{
    struct three three;
    size_t died = 0;

    build_three(state, &three);
    for (size_t at = three.size_two; at < three.size; at++) {
        int status;

        write_file(three.bytes, three.size_two);
        status = append_limited(&three.entry[2], at, true);
        if (!WIFSIGNALED(status) || WTERMSIG(status) != SIGXFSZ)
            fail_msg("at byte %zu: status %d", at, status);
        died++;
        /* A whole row that lacks its line end alone is kept. */
        if (entry_append(path, &three.entry[2], 1) == 1)
            expect_bytes(three.bytes, three.size);
        else
            expect_bytes(three.bytes, three.size - 2);
        expect_rows(3);
    }
    assert_true(died == three.size - three.size_two);
    free(three.bytes);
}

/* ---- the disk is full --------------------------------------------------- */

static void a_full_disk_leaves_the_file_as_it_was(void **state)
{
    struct three three;

    build_three(state, &three);
    for (size_t at = three.size_two; at < three.size; at++) {
        int status;

        write_file(three.bytes, three.size_two);
        status = append_limited(&three.entry[2], at, false);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 1);
        expect_bytes(three.bytes, three.size_two);
        assert_int_equal(folder_count(*state), 1);
    }
    free(three.bytes);
}

/* Columns of its own: it has to be written anew. */
static const char edited[] = "id,begun,who\nqaaaaaaaaaaaaaaab,"
                             "2026-03-01T00:00:00Z,Ada\n";

static void a_full_disk_leaves_an_edited_file_as_it_was(void **state)
{
    struct logbook_entry entry;
    size_t whole;
    char *text;

    (void)folder_path(*state, "logbook.csv", path);
    entry_build(5, "", &entry);
    write_file(edited, sizeof edited - 1);
    (void)entry_append(path, &entry, 1);
    text = folder_read_file(path, &whole);
    for (size_t at = sizeof edited - 1; at < whole; at++) {
        write_file(edited, sizeof edited - 1);
        assert_int_equal(WEXITSTATUS(append_limited(&entry, at, false)), 1);
        expect_bytes(edited, sizeof edited - 1);
        assert_int_equal(folder_count(*state), 1);
        assert_true(WIFSIGNALED(append_limited(&entry, at, true)));
        expect_bytes(edited, sizeof edited - 1);
        /* What it left beside its place, the next one writes over. */
        (void)entry_append(path, &entry, 1);
        expect_bytes(text, whole);
        assert_int_equal(folder_count(*state), 1);
    }
    free(text);
}

/* ---- something else lies beside it -------------------------------------- */

static void expect_refused(const struct logbook_entry *entry, const char *bytes,
                           size_t length)
{
    struct logbook_added added;
    char why[LOGBOOK_WHY_SIZE];

    write_file(bytes, length);
    assert_true(logbook_append(path, entry, 1, &added, why) < 0);
    expect_bytes(bytes, length);
}

/* To open a pipe that nobody reads would be to wait for ever; to write through
 * a link, to write to a stranger's file. */
static void waits_for_no_pipe_and_follows_no_link_beside_it(void **state)
{
    static const char *const names[] = {"logbook.csv.part", "logbook.csv.torn"};
    char beside[FOLDER_PATH_SIZE], stranger[FOLDER_PATH_SIZE];
    struct three three;

    build_three(state, &three);
    (void)folder_write(*state, "stranger", "stranger", 8, stranger);
    for (int i = 0; i < 2; i++) {
        const char *bytes = i == 0 ? edited : three.bytes;
        size_t length = i == 0 ? sizeof edited - 1 : three.size_two + 20;

        (void)folder_path(*state, names[i], beside);
        assert_int_equal(mkfifo(beside, 0600), 0);
        expect_refused(&three.entry[2], bytes, length);
        assert_int_equal(unlink(beside), 0);
        assert_int_equal(symlink(stranger, beside), 0);
        expect_refused(&three.entry[2], bytes, length);
        assert_int_equal(unlink(beside), 0);
        /* Nothing else was in its way. */
        assert_int_equal(entry_append(path, &three.entry[2], 1), 1);
    }
    assert_int_equal(file_size(stranger), 8);
    free(three.bytes);
}

/* ---- others ------------------------------------------------------------- */

enum { WRITERS = 2, ROWS = 500 };

/* Each row of its own time; every tenth one both want to write. */
static void write_many(uint32_t writer)
{
    for (uint32_t i = 0; i < ROWS; i++) {
        struct logbook_added added;
        struct logbook_entry entry;
        char why[LOGBOOK_WHY_SIZE];

        entry_build(i % 10 == 0 ? i : i + writer * ROWS, "", &entry);
        if (logbook_append(path, &entry, 1, &added, why) < 0)
            _exit(1);
    }
    _exit(0);
}

static void run_writers(uint32_t rows)
{
    pid_t pid[WRITERS];

    for (uint32_t i = 0; i < WRITERS; i++) {
        pid[i] = fork();
        assert_true(pid[i] >= 0);
        if (pid[i] == 0)
            write_many(i);
    }
    for (uint32_t i = 0; i < WRITERS; i++) {
        int status;

        assert_int_equal(waitpid(pid[i], &status, 0), pid[i]);
        assert_int_equal(status, 0);
    }
    expect_rows(rows);
}

static void two_writers_lose_and_double_nothing(void **state)
{
    (void)folder_path(*state, "logbook.csv", path);
    run_writers(WRITERS * ROWS - ROWS / 10);
}

/* One that stands still while it holds the file. */
static pid_t hold_file(int *go)
{
    struct store store;
    int held[2], leave[2];
    pid_t pid;
    char byte = 0;

    assert_int_equal(pipe(held), 0);
    assert_int_equal(pipe(leave), 0);
    pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        (void)close(leave[1]);
        if (store_open(path, 0, &store) != 0 || write(held[1], "h", 1) != 1)
            _exit(1);
        _exit(read(leave[0], &byte, 1) == 0 ? 0 : 2);
    }
    (void)close(leave[0]);
    (void)close(held[1]);
    assert_int_equal(read(held[0], &byte, 1), 1);
    (void)close(held[0]);
    *go = leave[1];
    return pid;
}

static void does_not_wait_for_ever_for_another_writer(void **state)
{
    struct store store;
    pid_t pid;
    int go, status;

    (void)folder_path(*state, "held.csv", path);
    pid = hold_file(&go);
    errno = 0;
    assert_true(store_open(path, 10, &store) < 0);
    assert_int_equal(errno, EBUSY);
    (void)close(go);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_int_equal(status, 0);
    assert_int_equal(store_open(path, 0, &store), 0);
    store_close(&store);
}

/* Here each row puts another file in the place of the one before. */
static void two_writers_share_an_edited_file(void **state)
{

    (void)folder_path(*state, "logbook.csv", path);
    write_file(edited, sizeof edited - 1);
    run_writers(1 + WRITERS * ROWS - ROWS / 10);
}

/* ---- many rows ---------------------------------------------------------- */

/* Processor time to read and sum up so many rows: the least of three. */
static double read_s(uint32_t rows)
{
    struct logbook_entry *entry = calloc(rows, sizeof *entry);
    double least_s = 1e9;

    assert_non_null(entry);
    for (uint32_t i = 0; i < rows; i++)
        entry_build(i, "Ada", &entry[i]);
    (void)remove(path);
    assert_int_equal(entry_append(path, entry, rows), rows);
    free(entry);
    for (int i = 0; i < 3; i++) {
        clock_t from = clock();
        struct logbook *book = entry_read(path);
        struct logbook_progress progress;
        double took_s;

        logbook_progress_make(book, "Ada", &progress);
        took_s = (double)(clock() - from) / CLOCKS_PER_SEC;
        least_s = took_s < least_s ? took_s : least_s;
        assert_int_equal(progress.attempts, rows);
        logbook_free(book);
    }
    return least_s;
}

/* Five times as many rows take about five times as long; what grows by the
 * square would take twenty-five times. */
static void a_hundred_thousand_rows_are_read_row_by_row(void **state)
{
    double few_s;
    double many_s;

    (void)folder_path(*state, "logbook.csv", path);
    few_s = read_s(20000);
    many_s = read_s(100000);
    print_message("100,000 rows read and summed up in %.3f s\n", many_s);
    assert_true(many_s < 15.0 * few_s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(every_prefix_keeps_all_rows_but_the_last_one),
        in_folder(noughts_for_a_torn_row_are_set_aside),
        in_folder(a_writer_killed_at_any_byte_loses_nothing),
        in_folder(a_full_disk_leaves_the_file_as_it_was),
        in_folder(a_full_disk_leaves_an_edited_file_as_it_was),
        in_folder(waits_for_no_pipe_and_follows_no_link_beside_it),
        in_folder(two_writers_lose_and_double_nothing),
        in_folder(does_not_wait_for_ever_for_another_writer),
        in_folder(two_writers_share_an_edited_file),
        in_folder(a_hundred_thousand_rows_are_read_row_by_row),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
