/* ring.c - commands from one process to another without a lock. */
#include "ring.h"

static const uint32_t slot_mask = AUDIO_RING_SLOTS - 1;

void audio_ring_init(struct audio_ring *ring)
{
    atomic_init(&ring->head, 0);
    atomic_init(&ring->tail, 0);
}

bool audio_ring_push(struct audio_ring *ring,
                     const struct audio_command *command)
{
    uint32_t head = atomic_load_explicit(&ring->head, memory_order_relaxed);
    uint32_t tail = atomic_load_explicit(&ring->tail, memory_order_acquire);

    if (head - tail >= AUDIO_RING_SLOTS)
        return false;
    ring->slot[head & slot_mask] = *command;
    /* The slot's content must be seen before its number. */
    atomic_store_explicit(&ring->head, head + 1, memory_order_release);
    return true;
}

bool audio_ring_peek(struct audio_ring *ring, struct audio_command *out)
{
    uint32_t tail = atomic_load_explicit(&ring->tail, memory_order_relaxed);
    uint32_t head = atomic_load_explicit(&ring->head, memory_order_acquire);

    if (head == tail)
        return false;
    *out = ring->slot[tail & slot_mask];
    return true;
}

void audio_ring_drop(struct audio_ring *ring)
{
    uint32_t tail = atomic_load_explicit(&ring->tail, memory_order_relaxed);

    /* The slot must have been read before the writer may use it again. */
    atomic_store_explicit(&ring->tail, tail + 1, memory_order_release);
}

uint32_t audio_ring_count(struct audio_ring *ring)
{
    uint32_t tail = atomic_load_explicit(&ring->tail, memory_order_acquire);
    uint32_t head = atomic_load_explicit(&ring->head, memory_order_acquire);

    return head - tail;
}
