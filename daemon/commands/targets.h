/* targets.h - the files that a command is to write, before it writes any. */
#ifndef COMMANDS_TARGETS_H
#define COMMANDS_TARGETS_H

#include <stdbool.h>
#include <stdio.h>

/* Whether a file may be written. What somebody has flown or worked out is not
 * replaced without his word; says so when it would be.
 * path: NULL and "-" are no files. force: that word.
 * Returns: false when an ordinary file bears the name and force is not set. */
bool targets_may_write(const char *path, bool force);

/* A file by the option that names it. */
struct targets_named {
    const char *option; /* with its two dashes */
    const char *path;   /* NULL, "" and "-": none */
};

enum { TARGETS_MOST = 4 };

/* Whether each of the files that are to be written is one of its own: what
 * writes to the recording that is read destroys it, and so do two that write
 * to one. Says so when not.
 * command: its name. recording: that is read; NULL: none. */
bool targets_differ(const char *command, const char *recording,
                    const struct targets_named target[TARGETS_MOST]);

/* Whether a path stands for standard output: "-". NULL does not. */
bool targets_is_output(const char *path);
/* Open a file, emptied, or take standard output.
 * Returns: NULL with the reason in errno. Owns: targets_close. */
FILE *targets_open(const char *path);
/* Close it, or write out what standard output holds.
 * Returns: whether all was written; else the reason is in errno. */
bool targets_close(FILE *file);

#endif
