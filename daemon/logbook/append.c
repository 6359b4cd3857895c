/* append.c - entries put into a logbook. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan.h"
#include "quarterturn/error.h"
#include "quarterturn/logbook.h"
#include "store.h"

/* A writer holds the file for milliseconds. */
enum { PATIENCE_MS = 5000 };

static int carry_out(struct store *store, const struct plan *plan,
                     struct logbook_added *out)
{
    int error = 0;

    if (plan->torn_length > 0) {
        error = store_set_aside(store, store->bytes + plan->torn_from,
                                plan->torn_length);
        (void)snprintf(out->said, sizeof out->said,
                       "%s:%u: the last row was not whole; it has been put "
                       "into %s.torn",
                       store->path, plan->torn_line, store->path);
    }
    if (error < 0)
        return error;
    return plan->whole
               ? store_replace(store, plan->text.text, plan->text.length)
               : store_append(store, plan->keep, plan->text.text,
                              plan->text.length);
}

static void say_no_logbook(const char *path, char *why)
{
    (void)snprintf(why, LOGBOOK_WHY_SIZE,
                   "%s:1: this is no logbook; its first line names the "
                   "columns, \"begun\" and \"id\" among them",
                   path);
}

int logbook_probe(const char *path, char *why)
{
    struct store store = {.fd = -1};
    struct plan plan = {0};
    int error = store_probe(path);

    /* Another writer's row may be half there: nothing but the form counts. */
    if (error == 0)
        error = store_read(path, &store);
    if (error == ERR_ABSENT)
        return 0;
    if (error < 0) {
        (void)snprintf(why, LOGBOOK_WHY_SIZE, "%s: cannot be written: %s", path,
                       strerror(errno));
        return error;
    }
    error = plan_make(store.bytes, store.size, NULL, 0, &plan);
    if (error == ERR_FORMAT)
        say_no_logbook(path, why);
    else if (error < 0)
        (void)snprintf(why, LOGBOOK_WHY_SIZE, "%s: %s", path,
                       error_name(error));
    free(plan.text.text);
    store_close(&store);
    return error;
}

int logbook_append(const char *path, const struct logbook_entry *entry,
                   size_t count, struct logbook_added *out, char *why)
{
    struct store store;
    struct plan plan = {0};
    int error;

    memset(out, 0, sizeof *out);
    error = store_open(path, PATIENCE_MS, &store);
    if (error < 0) {
        (void)snprintf(why, LOGBOOK_WHY_SIZE, "%s: cannot be written: %s", path,
                       errno == EBUSY ? "another program holds it"
                                      : strerror(errno));
        return error;
    }
    error = plan_make(store.bytes, store.size, entry, count, &plan);
    if (error == 0 && plan.added > 0)
        error = carry_out(&store, &plan, out);
    if (error == ERR_FORMAT)
        say_no_logbook(path, why);
    else if (error < 0)
        (void)snprintf(why, LOGBOOK_WHY_SIZE,
                       "%s: cannot be written, and is as it was: %s", path,
                       error == ERR_NO_MEMORY ? error_name(error)
                                              : strerror(errno));
    else {
        out->added = plan.added;
        out->present = plan.present;
    }
    free(plan.text.text);
    store_close(&store);
    return error;
}

int logbook_default_path(bool make, char *out, size_t size)
{
    const char *home = getenv("XDG_DATA_HOME");
    const char *below = "";
    int length;

    /* The specification: a relative path is to be ignored. */
    if (home == NULL || home[0] != '/') {
        home = getenv("HOME");
        below = "/.local/share";
    }
    if (home == NULL || home[0] == '\0')
        return ERR_ABSENT;
    length = snprintf(out, size, "%s%s/quarterturn", home, below);
    if (length < 0 || (size_t)length + sizeof "/logbook.csv" > size)
        return ERR_ABSENT;
    if (make && store_make_folder(out) < 0)
        return ERR_IO;
    memcpy(out + length, "/logbook.csv", sizeof "/logbook.csv");
    return 0;
}
