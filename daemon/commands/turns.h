/* turns.h - how long the turns of a loop take.
 *
 * A loop that stands still in a callback hears no packet. What a turn took is
 * told in three figures: the wall's time, which also holds what other programs
 * on a busy machine took away; the time that was our own doing, as far as the
 * system can tell, which counts what it did for others in between; and the
 * time of a turn that waited for something, which is our own doing for sure. */
#ifndef COMMANDS_TURNS_H
#define COMMANDS_TURNS_H

#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

/* What this thread has used up to now. */
struct turns_use {
    int64_t cpu_ns;
    int64_t waits; /* how often it gave its core away to wait */
};

struct turns {
    uv_prepare_t handle;
    int64_t began_ns;
    int64_t idle_ns; /* in waiting for something to happen, since the start */
    struct turns_use use;
    int64_t longest_ns;
    int64_t longest_held_ns;
    int64_t longest_wait_ns; /* of the turns that waited in between */
};

/* Begin to measure; before the loop runs for the first time. */
void turns_begin(struct turns *turns, uv_loop_t *loop);
/* The loop can end when this has been called and it has turned once more. */
void turns_end(struct turns *turns);

/* Whether a turn waited in between, for a disk, a lock, another process.
 * slept: whether it waited for something to happen, as each may once.
 * used: by the turn, that wait included. */
bool turns_has_waited(bool slept, const struct turns_use *used);

/* How much of a turn was our own doing.
 * busy_ns: all of the turn but its waiting for something to happen.
 * slept, used: as above.
 * Returns: the time on the core, or all of busy_ns when the thread waited for
 *    something in between: without such a wait it can only have been taken
 *    off the core. */
int64_t turns_held_ns(int64_t busy_ns, bool slept,
                      const struct turns_use *used);

/* Use of the calling thread. */
void turns_read_use(struct turns_use *out);

#endif
