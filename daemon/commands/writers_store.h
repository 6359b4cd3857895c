/* writers_store.h - lines that wait to be written, in bounded memory.
 *
 * One thread puts, one takes: no lock, and neither waits for the other. */
#ifndef COMMANDS_WRITERS_STORE_H
#define COMMANDS_WRITERS_STORE_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "writers.h"

/* Stands in the store in front of its text. */
struct writers_entry {
    uint16_t length;
    uint8_t stream;
    uint8_t notice; /* not a line: tells here how many were lost */
};

/* head and tail only grow; they wrap around together. */
struct writers_store {
    _Atomic uint32_t head; /* next to be put */
    _Atomic uint32_t tail; /* next to be taken */
    char bytes[WRITERS_STORE];
};

/* Returns: bytes that are free. */
size_t writers_store_room(const struct writers_store *store);
/* Put an entry that there is room for.
 * text: entry->length bytes; copied. Returns: where it ends. */
uint32_t writers_store_put(struct writers_store *store,
                           const struct writers_entry *entry, const char *text);
/* Whether all up to there has been taken. end: from writers_store_put. */
bool writers_store_is_past(const struct writers_store *store, uint32_t end);
/* Take the oldest entry. text: receives its bytes, WRITERS_LINE at most.
 * Returns: false when there is none. */
bool writers_store_take(struct writers_store *store,
                        struct writers_entry *entry, char *text);

#endif
