/* keeper.c - attempts of a live session put into the logbook. */
#include "keeper.h"

#include <string.h>

#include "commands.h"
#include "debrief_logbook.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"

int keeper_begin(struct keeper *keeper, uv_loop_t *loop, const char *file)
{
    int status = debrief_logbook_place(file, true, keeper->path);

    if (status == 0 && logbook_probe(keeper->path, keeper->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", keeper->why);
        status = EXIT_COULD_NOT;
    }
    if (status == 0)
        keeper->loop = loop;
    return status;
}

/* On a thread of its own: touches only what is the worker's. */
static void write_entries(uv_work_t *work)
{
    struct keeper *keeper = work->data;

    keeper->error =
        logbook_append(keeper->path, keeper->writing, keeper->writing_count,
                       &keeper->added, keeper->why);
}

/* What could not be written waits for the next time, in front. */
static void take_back(struct keeper *keeper)
{
    uint32_t back = keeper->writing_count;

    if (back + keeper->count > KEEPER_WAITING) {
        back = KEEPER_WAITING - keeper->count;
        keeper->lost = true;
    }
    memmove(&keeper->waiting[back], keeper->waiting,
            keeper->count * sizeof keeper->waiting[0]);
    memcpy(keeper->waiting, &keeper->writing[keeper->writing_count - back],
           back * sizeof keeper->waiting[0]);
    keeper->count += back;
}

static void say(struct keeper *keeper)
{
    if (keeper->error < 0) {
        log_line(keeper->failing ? LOG_LEVEL_DETAIL : LOG_LEVEL_WARNING,
                 "%s; tried again with each attempt", keeper->why);
        take_back(keeper);
    } else if (keeper->added.said[0] != '\0') {
        log_plain(LOG_LEVEL_WARNING, "%s", keeper->added.said);
    }
    keeper->failing = keeper->error < 0;
}

static void start(struct keeper *keeper);

static void on_written(uv_work_t *work, int status)
{
    struct keeper *keeper = work->data;

    (void)status;
    keeper->busy = false;
    say(keeper);
    if (keeper->error == 0 && keeper->count > 0)
        start(keeper);
}

static void hand_over(struct keeper *keeper)
{
    memcpy(keeper->writing, keeper->waiting,
           keeper->count * sizeof keeper->waiting[0]);
    keeper->writing_count = keeper->count;
    keeper->count = 0;
}

static void start(struct keeper *keeper)
{
    hand_over(keeper);
    keeper->work.data = keeper;
    keeper->busy = uv_queue_work(keeper->loop, &keeper->work, write_entries,
                                 on_written) == 0;
    if (!keeper->busy)
        take_back(keeper);
}

void keeper_add(struct keeper *keeper, const struct debrief_attempt *attempt,
                const char *help)
{
    if (keeper->loop == NULL)
        return;
    if (keeper->count == KEEPER_WAITING) {
        keeper->lost = true;
        keeper->count--;
        memmove(keeper->waiting, &keeper->waiting[1],
                keeper->count * sizeof keeper->waiting[0]);
    }
    logbook_entry_make(attempt, help, &keeper->waiting[keeper->count++]);
    if (!keeper->busy)
        start(keeper);
}

int keeper_end(struct keeper *keeper)
{
    if (keeper->count > 0) {
        hand_over(keeper);
        keeper->work.data = keeper;
        write_entries(&keeper->work);
        if (keeper->error < 0) {
            log_line(LOG_LEVEL_ERROR, "%s", keeper->why);
            keeper->lost = true;
        }
    }
    if (keeper->lost)
        log_line(LOG_LEVEL_ERROR, "%s: not every attempt is in it",
                 keeper->path);
    return keeper->lost ? EXIT_COULD_NOT : 0;
}
