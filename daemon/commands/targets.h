/* targets.h - the files that a command is to write, before it writes any. */
#ifndef COMMANDS_TARGETS_H
#define COMMANDS_TARGETS_H

#include <stdbool.h>

/* Whether a file may be written. What somebody has flown or worked out is not
 * replaced without his word; says so when it would be.
 * path: NULL and "-" are no files. force: that word.
 * Returns: false when an ordinary file bears the name and force is not set. */
bool targets_may_write(const char *path, bool force);

#endif
