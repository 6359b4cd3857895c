/* log_posix.c - is standard error the system's journal? */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "quarterturn/log.h"

bool log_is_journal(void)
{
    const char *stream = getenv("JOURNAL_STREAM");
    char expected[64];
    struct stat status;

    /* "device:inode" of the stream the journal gave us: the variable stays
     * when standard error has been sent elsewhere since. */
    if (stream == NULL || fstat(STDERR_FILENO, &status) != 0)
        return false;
    (void)snprintf(expected, sizeof expected, "%llu:%llu",
                   (unsigned long long)status.st_dev,
                   (unsigned long long)status.st_ino);
    return strcmp(stream, expected) == 0;
}
