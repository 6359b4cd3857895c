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

bool audio_ring_submit(struct audio_ring *ring,
                       const struct audio_command *command)
{
    if (command->action == AUDIO_PLAY &&
        audio_ring_count(ring) >= AUDIO_RING_SLOTS - AUDIO_RING_RESERVE)
        return false;
    return audio_ring_push(ring, command);
}

uint32_t audio_ring_drop_stale(struct audio_ring *ring, int64_t now_ns)
{
    uint32_t waiting = audio_ring_count(ring);
    uint32_t kept = 0;
    uint32_t clips = 0;
    struct audio_command command;

    /* Each is taken from one end, and what stays put in at the other. */
    for (; waiting > 0 && audio_ring_peek(ring, &command); waiting--) {
        bool is_clip = command.action == AUDIO_PLAY;

        audio_ring_drop(ring);
        if (is_clip ? command.expiry_ns >= now_ns
                    : command.action == AUDIO_CUT && kept > 0) {
            (void)audio_ring_push(ring, &command);
            kept++;
        } else if (is_clip) {
            clips++;
        }
    }
    return clips;
}

uint32_t audio_ring_count(struct audio_ring *ring)
{
    uint32_t tail = atomic_load_explicit(&ring->tail, memory_order_acquire);
    uint32_t head = atomic_load_explicit(&ring->head, memory_order_acquire);

    return head - tail;
}
