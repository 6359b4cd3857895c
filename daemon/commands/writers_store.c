/* writers_store.c - lines that wait to be written, in bounded memory. */
#include "writers_store.h"

#include <string.h>

_Static_assert((WRITERS_STORE & (WRITERS_STORE - 1)) == 0,
               "a place in the store is found by a mask");
_Static_assert(WRITERS_LINE <= UINT16_MAX, "a length must fit an entry");
_Static_assert(ATOMIC_INT_LOCK_FREE == 2, "neither may wait for the other");

static uint32_t copy_in(struct writers_store *store, uint32_t at,
                        const void *from, size_t length)
{
    uint32_t begin = at & (WRITERS_STORE - 1);
    size_t first = WRITERS_STORE - begin;

    if (first > length)
        first = length;
    memcpy(store->bytes + begin, from, first);
    memcpy(store->bytes, (const char *)from + first, length - first);
    return at + (uint32_t)length;
}

static uint32_t copy_out(const struct writers_store *store, uint32_t at,
                         void *to, size_t length)
{
    uint32_t begin = at & (WRITERS_STORE - 1);
    size_t first = WRITERS_STORE - begin;

    if (first > length)
        first = length;
    memcpy(to, store->bytes + begin, first);
    memcpy((char *)to + first, store->bytes, length - first);
    return at + (uint32_t)length;
}

size_t writers_store_room(const struct writers_store *store)
{
    return WRITERS_STORE -
           (size_t)(atomic_load(&store->head) - atomic_load(&store->tail));
}

uint32_t writers_store_put(struct writers_store *store,
                           const struct writers_entry *entry, const char *text)
{
    uint32_t at = atomic_load(&store->head);

    at = copy_in(store, at, entry, sizeof *entry);
    at = copy_in(store, at, text, entry->length);
    atomic_store(&store->head, at);
    return at;
}

bool writers_store_is_past(const struct writers_store *store, uint32_t end)
{
    return (int32_t)(atomic_load(&store->tail) - end) >= 0;
}

bool writers_store_take(struct writers_store *store,
                        struct writers_entry *entry, char *text)
{
    uint32_t at = atomic_load(&store->tail);

    if (at == atomic_load(&store->head))
        return false;
    at = copy_out(store, at, entry, sizeof *entry);
    at = copy_out(store, at, text, entry->length);
    atomic_store(&store->tail, at);
    return true;
}
