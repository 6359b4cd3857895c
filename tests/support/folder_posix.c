/* folder_posix.c - a folder of its own for each test that writes files. */
#define _XOPEN_SOURCE 700
#include <ftw.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"

/* nftw hands over no context. */
static size_t entries;

void folder_make(struct folder *folder)
{
    const char *parent = getenv("TMPDIR");
    if (parent == NULL || parent[0] == '\0') {
        parent = "/tmp";
    }
    /* Written to, not read. */
    // cppcheck-suppress ctuuninitvar
    int n = snprintf(folder->path, sizeof folder->path, "%s/quarterturn-XXXXXX",
                     parent);
    assert_true(n > 0 && (size_t)n < sizeof folder->path);
    assert_non_null(mkdtemp(folder->path));
}

static int remove_entry(const char *path, const struct stat *status, int kind,
                        struct FTW *place)
{
    (void)status;
    (void)kind;
    (void)place;
    return remove(path);
}

void folder_remove(const struct folder *folder)
{
    assert_int_equal(nftw(folder->path, remove_entry, 8, FTW_DEPTH | FTW_PHYS),
                     0);
}

char *folder_path(const struct folder *folder, const char *name,
                  char out[FOLDER_PATH_SIZE])
{
    int n = snprintf(out, FOLDER_PATH_SIZE, "%s/%s", folder->path, name);
    assert_true(n > 0 && n < FOLDER_PATH_SIZE);
    return out;
}

char *folder_write(const struct folder *folder, const char *name,
                   const void *data, size_t length, char out[FOLDER_PATH_SIZE])
{
    FILE *file = fopen(folder_path(folder, name, out), "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(data, 1, length, file), length);
    assert_int_equal(fclose(file), 0);
    return out;
}

static int count_entry(const char *path, const struct stat *status, int kind,
                       struct FTW *place)
{
    (void)path;
    (void)status;
    (void)kind;
    entries += place->level > 0;
    return 0;
}

size_t folder_count(const struct folder *folder)
{
    entries = 0;
    assert_int_equal(nftw(folder->path, count_entry, 8, FTW_PHYS), 0);
    return entries;
}

char *folder_read_file(const char *path, size_t *length)
{
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        fail_msg("cannot open %s", path);
    }
    size_t size = 0;
    size_t room = 65536;
    char *text = malloc(room + 1);
    assert_non_null(text);
    size_t n = 0;
    while ((n = fread(text + size, 1, room - size, file)) > 0) {
        size += n;
        if (size == room) {
            room *= 2;
            char *larger = realloc(text, room + 1);
            assert_non_null(larger);
            text = larger;
        }
    }
    assert_int_equal(ferror(file), 0);
    fclose(file);
    text[size] = '\0';
    if (length != NULL) {
        *length = size;
    }
    return text;
}

int folder_set_up(void **state)
{
    static struct folder folder;

    folder_make(&folder);
    *state = &folder;
    return 0;
}

int folder_tear_down(void **state)
{
    folder_remove(*state);
    return 0;
}
