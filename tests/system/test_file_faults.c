/* test_file_faults.c - places that cannot be written to, or must not be.
 *
 * Pipes and devices are made in the test's own folder. */
#define _DEFAULT_SOURCE /* mknod */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>

#include <cmocka.h>

#include "folder.h"
#include "ordinary.h"
#include "process.h"

enum { COULD_NOT = 1, MOST_WORDS = 16 };

static const char demo[] = "tests/replay/demo.pcap";

/* A way to name a file to be written; the name stands where there is "@". */
static const char *const writers[][MOST_WORDS] = {
    {"replay", demo, "--speed", "max", "--wav", "@", NULL},
    {"replay", demo, "--speed", "max", "--events", "@", NULL},
    {"replay", demo, "--speed", "max", "--pages", "@", NULL},
    {"listen", "--port", "0", "--control", "@.control", "--record", "@", NULL},
    {"discover", "tests/replay/good_left.pcap", "--force", "--output", "@",
     NULL},
    {"debrief", demo, "--page", "@", NULL},
    {"debrief", demo, "--csv", "@", NULL},
    {"debrief", demo, "--json", "@", NULL},
    {"debrief", demo, "--logbook=@", NULL},
};

enum { WRITERS = sizeof writers / sizeof writers[0] };

/* The words with the name in its place. */
struct words {
    char text[MOST_WORDS][FOLDER_PATH_SIZE + 16];
    const char *word[MOST_WORDS];
};

static void put_name(const char *const *writer, const char *name,
                     struct words *out)
{
    size_t count = 0;

    for (; writer[count] != NULL; count++) {
        const char *at = strchr(writer[count], '@');

        if (at == NULL)
            (void)snprintf(out->text[count], sizeof out->text[count], "%s",
                           writer[count]);
        else
            (void)snprintf(out->text[count], sizeof out->text[count],
                           "%.*s%s%s", (int)(at - writer[count]), writer[count],
                           name, at + 1);
        out->word[count] = out->text[count];
    }
    out->word[count] = NULL;
}

/* Expect one line with the words, behind what discover found. */
static void expect_refused(const struct process *process, bool discovers,
                           const char *said)
{
    const char *last = process->err;

    for (const char *at = last; *at != '\0'; at++)
        if (*at == '\n' && at[1] != '\0')
            last = at + 1;
    if (process->status != COULD_NOT || strstr(last, said) == NULL ||
        (last != process->err && !discovers))
        fail_msg("status %d (expected \"%s\"): %s", process->status, said,
                 process->err);
}

/* ---- what is no file ---------------------------------------------------- */

static void expect_kept(const struct folder *folder, const char *name,
                        mode_t kind, dev_t device)
{
    char path[FOLDER_PATH_SIZE];
    struct stat about;

    assert_int_equal(lstat(folder_path(folder, name, path), &about), 0);
    assert_int_equal(about.st_mode & S_IFMT, kind);
    assert_int_equal(about.st_rdev, device);
    assert_int_equal(folder_count(folder), 1);
}

static void run_all(const char *path, bool is_pipe)
{
    for (size_t i = 0; i < WRITERS; i++) {
        bool discovers = strcmp(writers[i][0], "discover") == 0;
        bool listens = strcmp(writers[i][0], "listen") == 0;
        bool replaces = discovers || listens || i == 0;
        struct words words;
        struct process process;

        /* The others write to it, which waits for somebody who reads. */
        if (is_pipe && !replaces)
            continue;
        put_name(writers[i], path, &words);
        process_run(&process, words.word);
        if (replaces)
            expect_refused(&process, discovers, "is there and is not a file");
    }
}

static void nothing_takes_the_place_of_a_pipe(void **state)
{
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];

    assert_int_equal(mkfifo(folder_path(folder, "out", path), 0600), 0);
    run_all(path, true);
    expect_kept(folder, "out", S_IFIFO, 0);
}

/* The device that takes all and keeps nothing, under another name: Linux
 * admin-guide/devices.txt, 1 char, 3 = /dev/null. Only root makes one. */
static void nothing_takes_the_place_of_a_device(void **state)
{
    const struct folder *folder = *state;
    const dev_t nothing = makedev(1, 3);
    char path[FOLDER_PATH_SIZE];

    if (mknod(folder_path(folder, "out", path), S_IFCHR | 0600, nothing) != 0) {
        print_message("           skipped: no device can be made here\n");
        skip();
    }
    run_all(path, false);
    expect_kept(folder, "out", S_IFCHR, nothing);
}

/* ---- a folder that cannot be written to --------------------------------- */

static void make_folder(const struct folder *folder, const char *name,
                        mode_t mode, char out[FOLDER_PATH_SIZE])
{
    folder_path(folder, name, out);
    assert_int_equal(mkdir(out, 0700), 0);
    assert_int_equal(chmod(out, mode), 0);
}

static void a_read_only_folder_is_refused_in_one_line(void **state)
{
    const struct folder *folder = *state;
    char closed[FOLDER_PATH_SIZE];
    char path[FOLDER_PATH_SIZE];

    make_folder(folder, "closed", 0555, closed);
    folder_path(folder, "closed/out", path);
    for (size_t i = 0; i < WRITERS; i++) {
        bool discovers = strcmp(writers[i][0], "discover") == 0;
        struct words words;
        struct process process;

        put_name(writers[i], path, &words);
        ordinary_start(folder, words.word, &process);
        process_finish(&process);
        expect_refused(&process, discovers, closed);
    }
    assert_int_equal(chmod(closed, 0755), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(nothing_takes_the_place_of_a_pipe),
        in_folder(nothing_takes_the_place_of_a_device),
        in_folder(a_read_only_folder_is_refused_in_one_line),
    };

    return cmocka_run_group_tests_name("system: places to write", tests, NULL,
                                       NULL) != 0;
}
