/* store.h - a file that is held for one writer, and what is done to it. */
#ifndef LOGBOOK_STORE_H
#define LOGBOOK_STORE_H

#include <stddef.h>

#include "quarterturn/logbook.h"

struct store {
    int fd;
    char path[LOGBOOK_PATH_SIZE]; /* with links followed */
    char *bytes;                  /* never NULL when open */
    size_t size;
};

/* Open or make a file, wait until no other writer holds it, read it.
 * patience_ms: when another holds it for longer, errno is EBUSY.
 * Each returns 0 or ERR_IO, ERR_FULL, ERR_NO_MEMORY with errno set. */
int store_open(const char *path, int patience_ms, struct store *store);
/* Read a file without holding it. ERR_ABSENT when it is not there. */
int store_read(const char *path, struct store *store);
/* Cut to "keep" bytes and append; on the disk when it returns 0, else the
 * file is as it was, but for the bytes behind "keep". */
int store_append(struct store *store, size_t keep, const char *text,
                 size_t length);
/* Whether a file can be opened to add to it, or made, as things are; makes
 * none. 0, or ERR_IO with errno set. */
int store_probe(const char *path);
/* Put another file in its place. */
int store_replace(struct store *store, const char *text, size_t length);
/* Add bytes to PATH.torn. */
int store_set_aside(const struct store *store, const char *bytes,
                    size_t length);
void store_close(struct store *store);

/* Make a folder, and those above it, for its user alone. */
int store_make_folder(const char *path);

#endif
