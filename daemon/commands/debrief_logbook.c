/* debrief_logbook.c - attempts into the logbook, and progress out of it. */
#include "debrief_logbook.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "targets.h"

void debrief_logbook_add(struct debrief_logbook *logbook,
                         const struct debrief_attempt *attempt)
{
    struct logbook_entry *entry =
        realloc(logbook->entry, (logbook->count + 1) * sizeof *logbook->entry);

    if (entry == NULL) {
        logbook->failed = true;
        return;
    }
    logbook->entry = entry;
    /* What help it was flown with, a recording does not tell. */
    logbook_entry_make(attempt, NULL, &entry[logbook->count++]);
}

int debrief_logbook_place(const char *file, bool make,
                          char place[LOGBOOK_PATH_SIZE])
{
    if (file != NULL && file[0] != '\0') {
        if (strlen(file) < LOGBOOK_PATH_SIZE) {
            memcpy(place, file, strlen(file) + 1);
            return 0;
        }
        log_line(LOG_LEVEL_ERROR, "%.60s...: the path is too long", file);
        return EXIT_COULD_NOT;
    }
    switch (logbook_default_path(make, place, LOGBOOK_PATH_SIZE)) {
    case 0: return 0;
    case ERR_IO:
        log_line(LOG_LEVEL_ERROR,
                 "the folder of the logbook cannot be made: %s",
                 strerror(errno));
        break;
    default:
        log_line(LOG_LEVEL_ERROR, "neither XDG_DATA_HOME nor HOME tells where "
                                  "the logbook lies; --logbook=FILE does");
    }
    return EXIT_COULD_NOT;
}

int debrief_logbook_write(struct debrief_logbook *logbook, const char *file)
{
    struct logbook_added added;
    char place[LOGBOOK_PATH_SIZE];
    char why[LOGBOOK_WHY_SIZE];
    int status = debrief_logbook_place(file, true, place);

    if (status == 0 && logbook->failed) {
        log_line(LOG_LEVEL_ERROR, "out of memory: nothing went into %s", place);
        status = EXIT_COULD_NOT;
    }
    if (status == 0 && logbook_append(place, logbook->entry, logbook->count,
                                      &added, why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        status = EXIT_COULD_NOT;
    } else if (status == 0) {
        if (added.said[0] != '\0')
            log_plain(LOG_LEVEL_WARNING, "%s", added.said);
        log_line(LOG_LEVEL_NOTE, "%s: %u attempt%s added, %u there already",
                 place, added.added, added.added == 1 ? "" : "s",
                 added.present);
    }
    free(logbook->entry);
    *logbook = (struct debrief_logbook){.entry = NULL};
    return status;
}

static int write_page(const char *page, const struct logbook *book,
                      const struct logbook_progress *progress)
{
    FILE *file = targets_open(page);
    bool bad;

    if (file == NULL) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", page,
                 strerror(errno));
        return EXIT_COULD_NOT;
    }
    bad = logbook_progress_page(file, book, progress) < 0;
    bad = !targets_close(file) || bad;
    if (bad) {
        log_line(LOG_LEVEL_ERROR, "%s: not written whole", page);
        return EXIT_COULD_NOT;
    }
    if (!targets_is_output(page))
        log_line(LOG_LEVEL_NOTE, "%s: the progress as a page", page);
    return 0;
}

int debrief_logbook_show(const char *file, const char *person, const char *page)
{
    struct logbook_progress progress;
    struct logbook *book = NULL;
    char place[LOGBOOK_PATH_SIZE];
    char why[LOGBOOK_WHY_SIZE];
    char safe[DEBRIEF_PERSON_SIZE];
    int status = debrief_logbook_place(file, false, place);

    if (status != 0)
        return status;
    switch (logbook_read(place, &book, why)) {
    case 0: break;
    case ERR_ABSENT:
        log_line(LOG_LEVEL_ERROR,
                 "%s: there is no logbook yet; quarterturn debrief RECORDING "
                 "--logbook begins one",
                 place);
        return EXIT_COULD_NOT;
    default: log_plain(LOG_LEVEL_ERROR, "%s", why); return EXIT_COULD_NOT;
    }
    if (book->said[0] != '\0')
        log_plain(LOG_LEVEL_WARNING, "%s (%u such in all)", book->said,
                  book->unreadable);
    debrief_copy_text(person, safe, sizeof safe);
    logbook_progress_make(book, person != NULL ? safe : NULL, &progress);
    /* Standard output holds one thing. */
    if (!targets_is_output(page) &&
        logbook_progress_print(stdout, book, &progress) < 0)
        status = EXIT_COULD_NOT;
    if (page != NULL && write_page(page, book, &progress) != 0)
        status = EXIT_COULD_NOT;
    logbook_free(book);
    return status;
}
