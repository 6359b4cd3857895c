/* file_posix.c - what kind of file a path leads to. */
#include <sys/stat.h>

#include "quarterturn/error.h"
#include "share.h"

int64_t audio_file_size(const char *path)
{
    struct stat info;

    if (stat(path, &info) != 0)
        return ERR_ABSENT;
    /* Opening a pipe would wait for its writer. */
    if (!S_ISREG(info.st_mode))
        return ERR_FORMAT;
    return (int64_t)info.st_size;
}
