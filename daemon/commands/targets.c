/* targets.c - the files that a command is to write, before it writes any. */
#include "targets.h"

#include <string.h>

#include "quarterturn/file.h"
#include "quarterturn/log.h"

static bool is_file(const char *path)
{
    return path != NULL && path[0] != '\0' && !targets_is_output(path);
}

bool targets_may_write(const char *path, bool force)
{
    if (force || !is_file(path) || file_size(path) < 0)
        return true;
    log_line(LOG_LEVEL_ERROR,
             "%s: is there already; name another, or add --force to replace it",
             path);
    return false;
}

static bool differs(const char *command, const struct targets_named *one,
                    const struct targets_named *other)
{
    if (!is_file(one->path) || !is_file(other->path) ||
        !file_is_same(one->path, other->path))
        return true;
    log_line(LOG_LEVEL_ERROR,
             "%s: %s and %s name one file, %s; each wants one of its own",
             command, one->option, other->option, one->path);
    return false;
}

bool targets_differ(const char *command, const char *recording,
                    const struct targets_named target[TARGETS_MOST])
{
    for (int i = 0; i < TARGETS_MOST; i++) {
        if (recording != NULL && is_file(target[i].path) &&
            file_is_same(recording, target[i].path)) {
            log_line(LOG_LEVEL_ERROR,
                     "%s: %s %s is the recording that is read; name another "
                     "file",
                     command, target[i].option, target[i].path);
            return false;
        }
        for (int k = 0; k < i; k++)
            if (!differs(command, &target[k], &target[i]))
                return false;
    }
    return true;
}

bool targets_is_output(const char *path)
{
    return path != NULL && strcmp(path, "-") == 0;
}

FILE *targets_open(const char *path)
{
    return targets_is_output(path) ? stdout : fopen(path, "wb");
}

bool targets_close(FILE *file)
{
    return (file == stdout ? fflush(file) : fclose(file)) == 0;
}
