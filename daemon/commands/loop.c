/* loop.c - beginning a loop with its timers and signals. */
#include "loop.h"

#include "commands.h"
#include "quarterturn/log.h"

int loop_begin(uv_loop_t *loop, const struct loop_handles *handles, void *data)
{
    uv_timer_t *const *timer = handles->timers;
    uv_signal_t *const *signal = handles->signals;
    int error = uv_loop_init(loop);

    for (; error == 0 && *timer != NULL; timer++) {
        error = uv_timer_init(loop, *timer);
        (*timer)->data = data;
    }
    for (; error == 0 && *signal != NULL; signal++) {
        error = uv_signal_init(loop, *signal);
        (*signal)->data = data;
    }
    if (error == 0)
        return 0;
    log_line(LOG_LEVEL_ERROR, "cannot start: %s", uv_strerror(error));
    return EXIT_COULD_NOT;
}

static void do_nothing(uv_work_t *work)
{
    (void)work;
}

void loop_start_threads(uv_loop_t *loop, uv_work_t *work)
{
    (void)uv_queue_work(loop, work, do_nothing, NULL);
}
