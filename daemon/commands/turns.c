/* turns.c - how long the turns of a loop take. */
#include "turns.h"

#include <string.h>

bool turns_has_waited(bool slept, const struct turns_use *used)
{
    return used->waits > (slept ? 1 : 0);
}

int64_t turns_held_ns(int64_t busy_ns, bool slept, const struct turns_use *used)
{
    if (turns_has_waited(slept, used))
        return busy_ns;
    return used->cpu_ns < busy_ns ? used->cpu_ns : busy_ns;
}

static void read_now(struct turns *turns)
{
    turns->began_ns = (int64_t)uv_hrtime();
    turns->idle_ns = (int64_t)uv_metrics_idle_time(turns->handle.loop);
    turns_read_use(&turns->use);
}

/* Just before the loop waits: the turn since the last time is over. */
static void on_prepare(uv_prepare_t *handle)
{
    struct turns *turns = handle->data;
    const struct turns before = *turns;
    struct turns_use used;
    int64_t idle_ns, busy_ns, held_ns;

    read_now(turns);
    /* What the command did before its loop ran is no turn. */
    if (before.began_ns == 0)
        return;
    idle_ns = turns->idle_ns - before.idle_ns;
    busy_ns = turns->began_ns - before.began_ns - idle_ns;
    used.cpu_ns = turns->use.cpu_ns - before.use.cpu_ns;
    used.waits = turns->use.waits - before.use.waits;
    /* libuv looks first without waiting and counts no time for that: any time
     * at all, be it two microseconds, is a wait. */
    held_ns = turns_held_ns(busy_ns, idle_ns > 0, &used);
    if (busy_ns > turns->longest_ns)
        turns->longest_ns = busy_ns;
    if (held_ns > turns->longest_held_ns)
        turns->longest_held_ns = held_ns;
    if (turns_has_waited(idle_ns > 0, &used) &&
        busy_ns > turns->longest_wait_ns)
        turns->longest_wait_ns = busy_ns;
}

void turns_begin(struct turns *turns, uv_loop_t *loop)
{
    memset(turns, 0, sizeof *turns);
    (void)uv_loop_configure(loop, UV_METRICS_IDLE_TIME);
    (void)uv_prepare_init(loop, &turns->handle);
    turns->handle.data = turns;
    (void)uv_prepare_start(&turns->handle, on_prepare);
    uv_unref((uv_handle_t *)&turns->handle);
}

void turns_end(struct turns *turns)
{
    uv_close((uv_handle_t *)&turns->handle, NULL);
}
