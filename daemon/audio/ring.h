/* ring.h - commands from one process to another without a lock.
 *
 * One writer, one reader. head and tail only grow; they stand in cache lines
 * of their own. Lies in shared memory: no pointers. */
#ifndef QUARTERTURN_AUDIO_RING_H
#define QUARTERTURN_AUDIO_RING_H

#include <stdalign.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/audio.h"

enum {
    AUDIO_RING_SLOTS = 256,
    AUDIO_RING_RESERVE = 8, /* of them: for tones and cuts only */
    AUDIO_CACHE_LINE = 64
};

_Static_assert((AUDIO_RING_SLOTS & (AUDIO_RING_SLOTS - 1)) == 0,
               "the slot of a running count is found by a mask");
_Static_assert(ATOMIC_INT_LOCK_FREE == 2 && ATOMIC_LLONG_LOCK_FREE == 2,
               "atomics shared by processes must need no lock");

struct audio_ring {
    alignas(AUDIO_CACHE_LINE) _Atomic uint32_t head; /* next to be written */
    alignas(AUDIO_CACHE_LINE) _Atomic uint32_t tail; /* next to be read */
    alignas(AUDIO_CACHE_LINE) struct audio_command slot[AUDIO_RING_SLOTS];
};

/* Thread: before the other side knows of the ring. */
void audio_ring_init(struct audio_ring *ring);
/* Returns: false when full (nothing written).   Thread: the writer. */
bool audio_ring_push(struct audio_ring *ring,
                     const struct audio_command *command);
/* The same, but speech leaves AUDIO_RING_RESERVE slots to what ends a sound. */
bool audio_ring_submit(struct audio_ring *ring,
                       const struct audio_command *command);
/* Take out what is of no use to a new reader: tones, speech that is not to be
 * begun after now_ns, cuts with no speech before them that stays.
 * Returns: how many clips were taken out.
 * Thread: the writer, while there is no reader. */
uint32_t audio_ring_drop_stale(struct audio_ring *ring, int64_t now_ns);
/* Read the oldest command and leave it there.
 * Returns: false when empty.   Thread: the reader. */
bool audio_ring_peek(struct audio_ring *ring, struct audio_command *out);
/* Give the oldest command's slot back. The ring must not be empty.
 * Thread: the reader. */
void audio_ring_drop(struct audio_ring *ring);
/* How many commands wait; a moment later there may be more or fewer.
 * Thread: any. */
uint32_t audio_ring_count(struct audio_ring *ring);

#endif
