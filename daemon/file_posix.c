/* file_posix.c - what kind of file a path leads to. */
#include "quarterturn/file.h"

#include <errno.h>
#include <stdio.h>
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
