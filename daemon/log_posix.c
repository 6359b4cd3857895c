/* log_posix.c - is standard error the system's journal? */
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "quarterturn/log.h"

bool log_is_journal(void)
{
    const char *stream = getenv("JOURNAL_STREAM");
    unsigned long long device = 0;
    unsigned long long inode = 0;
    struct stat status;

    /* "device:inode" of the stream the journal gave us: the variable stays
     * when standard error has been sent elsewhere since. */
    return stream != NULL &&
           sscanf(stream, "%llu:%llu", &device, &inode) == 2 &&
           fstat(STDERR_FILENO, &status) == 0 && status.st_dev == device &&
           status.st_ino == inode;
}
