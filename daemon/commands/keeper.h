/* keeper.h - attempts of a live session put into the logbook, off the loop:
 * another writer, or the disk, may let it wait. */
#ifndef COMMANDS_KEEPER_H
#define COMMANDS_KEEPER_H

#include <uv.h>

#include "quarterturn/logbook.h"

/* Attempts that wait while an earlier one is being written, or until the disk
 * has room again; then the oldest is lost. */
enum { KEEPER_WAITING = 16 };

/* Allocated by its owner (about 90 kB). Zero: keeps nothing. */
struct keeper {
    uv_loop_t *loop;
    uv_work_t work;
    char path[LOGBOOK_PATH_SIZE];
    struct logbook_entry waiting[KEEPER_WAITING];
    uint32_t count;
    bool busy;
    bool lost;    /* an attempt could not be kept */
    bool failing; /* the last writing, and it was said */
    /* the worker's */
    struct logbook_entry writing[KEEPER_WAITING];
    uint32_t writing_count;
    struct logbook_added added;
    char why[LOGBOOK_WHY_SIZE];
    int error;
};

/* Begin. file: NULL or "": the user's own logbook. Says what is wrong itself.
 * Returns: 0 or EXIT_COULD_NOT. */
int keeper_begin(struct keeper *keeper, uv_loop_t *loop, const char *file);
/* Keep an attempt. help: a constant. */
void keeper_add(struct keeper *keeper, const struct debrief_attempt *attempt,
                const char *help);
/* After the loop has run out: write what still waits. Returns: 0, or
 * EXIT_COULD_NOT when an attempt is lost. */
int keeper_end(struct keeper *keeper);

#endif
