/* loop.h - beginning a loop with its timers and signals. */
#ifndef COMMANDS_LOOP_H
#define COMMANDS_LOOP_H

#include <uv.h>

/* The handles of a command, each list ended by NULL. */
struct loop_handles {
    uv_timer_t *const *timers;
    uv_signal_t *const *signals;
};

/* Begin a loop and its handles; nothing is started yet.
 * data: for every handle.
 * Returns: 0, or EXIT_COULD_NOT after saying why. */
int loop_begin(uv_loop_t *loop, const struct loop_handles *handles, void *data);

/* Start libuv's threads now: it starts them with the first work that is
 * queued, and the loop would wait for each of them there.
 * work: the caller's, until the loop has run. */
void loop_start_threads(uv_loop_t *loop, uv_work_t *work);

#endif
