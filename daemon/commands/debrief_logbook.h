/* debrief_logbook.h - the logbook side of the command debrief. */
#ifndef COMMANDS_DEBRIEF_LOGBOOK_H
#define COMMANDS_DEBRIEF_LOGBOOK_H

#include <stddef.h>

#include "quarterturn/logbook.h"

/* Where the logbook lies.
 * file: NULL or "": the user's own, whose folder is made if asked for.
 * Returns: 0, or EXIT_COULD_NOT after saying why. */
int debrief_logbook_place(const char *file, bool make,
                          char place[LOGBOOK_PATH_SIZE]);

/* The attempts of a recording, until they are put into the logbook. Zero to
 * begin with. */
struct debrief_logbook {
    struct logbook_entry *entry;
    size_t count;
    bool failed; /* memory gave out */
};

void debrief_logbook_add(struct debrief_logbook *logbook,
                         const struct debrief_attempt *attempt);
/* Put them in, say how many, and free.
 * file: NULL or "": the user's own logbook. Returns: 0 or EXIT_COULD_NOT. */
int debrief_logbook_write(struct debrief_logbook *logbook, const char *file);

/* Show progress.
 * file: NULL or "": the user's own logbook. person: NULL: everybody. page: a
 * page is written there, NULL: none. Returns: 0 or EXIT_COULD_NOT. */
int debrief_logbook_show(const char *file, const char *person,
                         const char *page);

#endif
