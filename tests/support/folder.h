/* folder.h - a folder of its own for each test that writes files. */
#ifndef SUPPORT_FOLDER_H
#define SUPPORT_FOLDER_H

#include <stddef.h>

enum { FOLDER_PATH_SIZE = 256 };

/* A temporary folder; path is absolute. */
struct folder {
    char path[FOLDER_PATH_SIZE];
};

/* Create an empty folder under $TMPDIR or /tmp; the test fails if it cannot
 * be. */
void folder_make(struct folder *folder);
/* Remove it and all it holds. */
void folder_remove(const struct folder *folder);
/* The path of a file in it. Returns: out. */
char *folder_path(const struct folder *folder, const char *name,
                  char out[FOLDER_PATH_SIZE]);
/* Write a file in it, and tell its path. Returns: out. */
char *folder_write(const struct folder *folder, const char *name,
                   const void *data, size_t length, char out[FOLDER_PATH_SIZE]);
/* Number of entries, hidden ones and those in folders below included. */
size_t folder_count(const struct folder *folder);

/* Read a whole file, with a NUL behind it; the test fails if it cannot be.
 * Owns: the caller frees. */
char *folder_read_file(const char *path, size_t *length);

/* Set-up and tear-down for a test that gets a folder of its own in *state, as
 * a const struct folder *. */
int folder_set_up(void **state);
int folder_tear_down(void **state);

#define in_folder(test) \
    cmocka_unit_test_setup_teardown(test, folder_set_up, folder_tear_down)

#endif
