/* targets.c - the files that a command is to write, before it writes any. */
#include "targets.h"

#include <string.h>

#include "quarterturn/file.h"
#include "quarterturn/log.h"

bool targets_may_write(const char *path, bool force)
{
    if (force || path == NULL || strcmp(path, "-") == 0 || file_size(path) < 0)
        return true;
    log_line(LOG_LEVEL_ERROR,
             "%s: is there already; name another, or add --force to replace it",
             path);
    return false;
}
