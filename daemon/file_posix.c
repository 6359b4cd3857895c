/* file_posix.c - what kind of file a path leads to, and where it lies. */

/* realpath belongs to the X/Open part of POSIX. */
#define _XOPEN_SOURCE 700 /* NOLINT: the name is the C library's */
#include "quarterturn/file.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "quarterturn/error.h"

int64_t file_size(const char *path)
{
    struct stat info;

    if (stat(path, &info) != 0)
        return ERR_ABSENT;
    /* Opening a pipe would wait for its writer. */
    if (!S_ISREG(info.st_mode))
        return ERR_FORMAT;
    return (int64_t)info.st_size;
}

bool file_is_special(const char *path)
{
    return file_size(path) == ERR_FORMAT;
}

int file_take_place(const char *part, const char *path)
{
    /* Looked at again: a flight is long. */
    if (file_is_special(path)) {
        errno = EEXIST;
        return ERR_IO;
    }
    return rename(part, path) == 0 ? 0 : ERR_IO;
}

/* Both are real paths; only "/" itself ends in a slash. */
static bool lies_in(const char *file, const char *folder)
{
    size_t length = strlen(folder);

    if (length == 1)
        return true;
    return strncmp(file, folder, length) == 0 && file[length] == '/';
}

bool file_strays(const char *folder, const char *path)
{
    char *real_folder = realpath(folder, NULL);
    char *real_path = realpath(path, NULL);
    bool strays = real_folder == NULL || real_path == NULL ||
                  !lies_in(real_path, real_folder);

    free(real_folder);
    free(real_path);
    return strays;
}
