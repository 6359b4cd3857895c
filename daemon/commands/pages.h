/* pages.h - a page for each attempt, in a folder or in a file of its own. */
#ifndef COMMANDS_PAGES_H
#define COMMANDS_PAGES_H

#include <stddef.h>
#include <uv.h>

#include "quarterturn/debrief.h"

struct pages;

/* Write the page of an attempt: into a file beside its place, which it takes
 * once it is whole.
 * path: "-" is standard output. why: one line on failure.
 * Returns: 0, ERR_FULL (the path is too long) or ERR_IO. Thread: any. */
int pages_write_file(const char *path, const struct debrief_attempt *attempt,
                     char *why, size_t why_size);

/* Get ready to write pages into a folder, which is made when it is not there.
 * Takes room for all that it will need (about 1.5 MB).
 * Returns: 0, ERR_IO or ERR_NO_MEMORY, said in why.
 * Owns: *out until pages_close. */
int pages_open(const char *folder, struct pages **out, char *why,
               size_t why_size);
/* From now on write on a thread beside this loop, which must run until that
 * has ended; NULL: at once. */
void pages_use_loop(struct pages *pages, uv_loop_t *loop);
/* Write the page of an attempt, which is copied, and say where it is. While
 * two of them are still being written, on a disk that hangs, it is left out
 * and that is said. Thread: loop. */
void pages_write(struct pages *pages, const struct debrief_attempt *attempt);
/* Returns: 0, or ERR_IO when a page could not be written. */
int pages_close(struct pages *pages);

#endif
