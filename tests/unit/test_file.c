/* test_file.c - the file that was looked at is the one that is read. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "folder.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"

static void opens_a_file_of_the_folder_and_tells_its_size(void **state)
{
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE], text[8] = "";
    int64_t size = 0;
    FILE *file;

    (void)folder_write(folder, "inside", "inside", 6, path);
    file = file_open_inside(folder->path, path, &size);
    assert_non_null(file);
    assert_int_equal(size, 6);
    assert_int_equal(fread(text, 1, sizeof text, file), 6);
    assert_string_equal(text, "inside");
    (void)fclose(file);
}

static void tells_why_it_opens_nothing(void **state)
{
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    int64_t size = 0;

    (void)folder_path(folder, "none", path);
    assert_null(file_open_inside(folder->path, path, &size));
    assert_int_equal(size, ERR_ABSENT);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_null(file_open_inside(folder->path, path, &size));
    assert_int_equal(size, ERR_FORMAT);
    assert_int_equal(mkfifo(folder_path(folder, "pipe", path), 0600), 0);
    assert_null(file_open_inside(folder->path, path, &size));
    assert_int_equal(size, ERR_FORMAT);
    assert_null(file_open_inside(folder->path, "/dev/null", &size));
    assert_int_equal(size, ERR_USAGE);
    assert_null(file_open_inside("/nowhere", path, &size));
    assert_int_equal(size, ERR_USAGE);
}

static void makes_or_empties_a_file_beside_its_place(void **state)
{
    const struct folder *folder = *state;
    char part[FOLDER_PATH_SIZE], path[FOLDER_PATH_SIZE];
    FILE *file = file_open_part(folder_path(folder, "new.part", part));

    assert_non_null(file);
    assert_true(fputs("long and old", file) >= 0);
    assert_int_equal(fclose(file), 0);
    file = file_open_part(part);
    assert_non_null(file);
    assert_true(fputs("new", file) >= 0);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(file_size(part), 3);
    assert_int_equal(file_take_place(part, folder_path(folder, "new", path)),
                     0);
    assert_int_equal(file_size(path), 3);
}

/* To open a pipe that nobody reads would be to wait for ever. */
static void takes_nothing_else_for_a_file_beside_its_place(void **state)
{
    const struct folder *folder = *state;
    char part[FOLDER_PATH_SIZE], path[FOLDER_PATH_SIZE];
    int reader;

    assert_int_equal(mkfifo(folder_path(folder, "pipe.part", part), 0600), 0);
    assert_null(file_open_part(part));
    assert_int_equal(errno, EEXIST);
    reader = open(part, O_RDONLY | O_NONBLOCK);
    assert_true(reader >= 0);
    assert_null(file_open_part(part));
    assert_int_equal(errno, EEXIST);
    (void)close(reader);
    assert_int_equal(mkdir(folder_path(folder, "folder.part", part), 0700), 0);
    assert_null(file_open_part(part));
    assert_int_equal(errno, EEXIST);
    (void)folder_write(folder, "stranger", "stranger", 8, path);
    assert_int_equal(symlink(path, folder_path(folder, "link.part", part)), 0);
    assert_null(file_open_part(part));
    assert_int_equal(errno, ELOOP);
    assert_int_equal(file_size(path), 8);
    assert_null(file_open_part("/nowhere/x.part"));
    assert_int_equal(errno, ENOENT);
}

/* ---- one name, and a file, a link and a pipe that take turns at it ------- */

enum { TURNS = 3, ROUNDS = 3000 };

struct swapper {
    char name[FOLDER_PATH_SIZE];
    char next[FOLDER_PATH_SIZE];
    char outside[FOLDER_PATH_SIZE];
    char inside[FOLDER_PATH_SIZE];
    atomic_bool stop;
    atomic_uint swaps;
};

static void *swap_on_and_on(void *context)
{
    struct swapper *swapper = context;

    for (unsigned turn = 0; !atomic_load(&swapper->stop); turn++) {
        int made = turn % TURNS == 0 ? link(swapper->inside, swapper->next)
                   : turn % TURNS == 1
                       ? symlink(swapper->outside, swapper->next)
                       : mkfifo(swapper->next, 0600);

        if (made == 0 && rename(swapper->next, swapper->name) == 0)
            atomic_fetch_add(&swapper->swaps, 1);
        /* Two names of one file stay two. */
        (void)unlink(swapper->next);
    }
    return NULL;
}

static void opens_no_other_file_that_is_put_in_its_place(void **state)
{
    const struct folder *folder = *state;
    struct folder inner = {0};
    struct swapper swapper = {.stop = false};
    pthread_t thread;
    unsigned opened = 0, strange = 0, wrong = 0;

    assert_int_equal(mkdir(folder_path(folder, "voice", inner.path), 0700), 0);
    (void)folder_write(folder, "outside", "outside", 7, swapper.outside);
    (void)folder_write(&inner, "inside", "inside", 6, swapper.inside);
    (void)folder_write(&inner, "name", "inside", 6, swapper.name);
    (void)folder_path(&inner, "next", swapper.next);
    assert_int_equal(pthread_create(&thread, NULL, swap_on_and_on, &swapper),
                     0);
    while (opened < ROUNDS || atomic_load(&swapper.swaps) < ROUNDS) {
        char text[8] = "";
        int64_t size = 0;
        FILE *file = file_open_inside(inner.path, swapper.name, &size);

        if (file == NULL) {
            strange += size != ERR_USAGE && size != ERR_FORMAT;
            continue;
        }
        opened++;
        wrong += size != 6 || fread(text, 1, sizeof text, file) != 6 ||
                 strcmp(text, "inside") != 0;
        (void)fclose(file);
    }
    atomic_store(&swapper.stop, true);
    assert_int_equal(pthread_join(thread, NULL), 0);
    assert_int_equal(wrong, 0);
    assert_int_equal(strange, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(opens_a_file_of_the_folder_and_tells_its_size),
        in_folder(tells_why_it_opens_nothing),
        in_folder(makes_or_empties_a_file_beside_its_place),
        in_folder(takes_nothing_else_for_a_file_beside_its_place),
        in_folder(opens_no_other_file_that_is_put_in_its_place),
    };

    return cmocka_run_group_tests_name("files", tests, NULL, NULL) != 0;
}
