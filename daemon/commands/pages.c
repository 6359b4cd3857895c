/* pages.c - a page for each attempt, written while others are flown. */
#include "pages.h"

#include <assert.h>
#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"
#include "quarterturn/settings.h"
#include "targets.h"

enum { JOBS = 2, NAME_SIZE = 80, WHY_SIZE = 2 * SETTINGS_PATH_SIZE };

/* A page on its way to the disk. */
struct job {
    uv_work_t work;
    struct pages *pages;
    bool busy;
    int error;
    char path[SETTINGS_PATH_SIZE + NAME_SIZE];
    char why[WHY_SIZE];
    struct debrief_attempt attempt;
};

struct pages {
    char folder[SETTINGS_PATH_SIZE];
    uv_loop_t *loop;
    bool failed;  /* one at least */
    bool failing; /* the last one, and it was said */
    struct job job[JOBS];
};

/* ---- one page ----------------------------------------------------------- */

static int fail(const char *path, const char *reason, char *why, size_t size)
{
    (void)snprintf(why, size, "%s: the page cannot be written: %s", path,
                   reason);
    return ERR_IO;
}

/* file: NULL: could not be opened.
 * Returns: whether all of it was written; errno tells why not. */
static bool write_to(FILE *file, const struct debrief_attempt *attempt)
{
    bool good;

    if (file == NULL)
        return false;
    good = debrief_page_write(file, attempt) == 0;
    return fclose(file) == 0 && good;
}

int pages_write_file(const char *path, const struct debrief_attempt *attempt,
                     char *why, size_t why_size)
{
    char part[SETTINGS_PATH_SIZE + NAME_SIZE + 8];

    if (targets_is_output(path))
        return debrief_page_write(stdout, attempt) == 0
                   ? 0
                   : fail("standard output", strerror(errno), why, why_size);
    /* A pipe or a device is written to; nothing takes its place. */
    if (file_is_special(path))
        return write_to(file_open_in_place(path), attempt)
                   ? 0
                   : fail(path, strerror(errno), why, why_size);
    if ((size_t)snprintf(part, sizeof part, "%s.part", path) >= sizeof part) {
        (void)fail(path, "the path is too long", why, why_size);
        return ERR_FULL;
    }
    if (write_to(file_open_part(part), attempt) &&
        file_take_place(part, path) == 0)
        return 0;
    (void)fail(path, strerror(errno), why, why_size);
    (void)remove(part);
    return ERR_IO;
}

/* ---- a folder of them --------------------------------------------------- */

int pages_open(const char *folder, struct pages **out, char *why,
               size_t why_size)
{
    struct pages *pages;
    uv_fs_t request;
    int error;

    if (strlen(folder) >= sizeof pages->folder)
        return fail(folder, "the path is too long", why, why_size);
    error = uv_fs_mkdir(NULL, &request, folder, 0777, NULL);
    uv_fs_req_cleanup(&request);
    if (error == UV_EEXIST) {
        error = uv_fs_scandir(NULL, &request, folder, 0, NULL);
        uv_fs_req_cleanup(&request);
        if (error > 0)
            error = 0;
        if (error == 0) {
            error = uv_fs_access(NULL, &request, folder, 2, NULL);
            uv_fs_req_cleanup(&request);
        }
    }
    if (error < 0)
        return fail(folder, uv_strerror(error), why, why_size);
    pages = calloc(1, sizeof *pages);
    if (pages == NULL) {
        (void)snprintf(why, why_size, "out of memory");
        return ERR_NO_MEMORY;
    }
    (void)snprintf(pages->folder, sizeof pages->folder, "%s", folder);
    *out = pages;
    return 0;
}

void pages_use_loop(struct pages *pages, uv_loop_t *loop)
{
    pages->loop = loop;
}

/* Named after the instant of the entry, so that no page takes the place of
 * another flight's and the same recording gives the same names. */
static void name_page(const struct pages *pages,
                      const struct debrief_attempt *attempt, char *out,
                      size_t size)
{
    time_t entry = (time_t)(attempt->begun_unix_ns / UNITS_NS_PER_S);
    const struct tm *utc = gmtime(&entry);
    char when[40] = "";

    if (utc != NULL)
        (void)strftime(when, sizeof when, "%Y%m%d-%H%M%SZ-", utc);
    (void)snprintf(out, size, "%s/quarterturn-%sattempt-%u.html", pages->folder,
                   when, attempt->number);
}

static void write_page(struct job *job)
{
    job->error =
        pages_write_file(job->path, &job->attempt, job->why, sizeof job->why);
}

static void finish(struct job *job)
{
    struct pages *pages = job->pages;

    job->busy = false;
    if (job->error == 0) {
        pages->failing = false;
        log_line(LOG_LEVEL_NOTE, "the page of attempt %u is %s",
                 job->attempt.number, job->path);
        return;
    }
    /* Once for a folder that cannot be written to any more. */
    log_line(pages->failing ? LOG_LEVEL_DETAIL : LOG_LEVEL_ERROR, "%s",
             job->why);
    pages->failed = pages->failing = true;
}

static void on_work(uv_work_t *work)
{
    write_page(work->data);
}

static void on_done(uv_work_t *work, int status)
{
    struct job *job = work->data;

    /* Not begun before the loop's end. */
    if (status < 0)
        job->error =
            fail(job->path, uv_strerror(status), job->why, sizeof job->why);
    finish(job);
}

void pages_write(struct pages *pages, const struct debrief_attempt *attempt)
{
    struct job *job = NULL;

    for (int i = 0; i < JOBS && job == NULL; i++)
        if (!pages->job[i].busy)
            job = &pages->job[i];
    if (job == NULL) {
        pages->failed = true;
        log_line(LOG_LEVEL_ERROR,
                 "no page of attempt %u: those before it are still being "
                 "written",
                 attempt->number);
        return;
    }
    job->pages = pages;
    job->attempt = *attempt;
    job->work.data = job;
    job->busy = true;
    name_page(pages, attempt, job->path, sizeof job->path);
    if (pages->loop != NULL &&
        uv_queue_work(pages->loop, &job->work, on_work, on_done) == 0)
        return;
    write_page(job);
    finish(job);
}

int pages_close(struct pages *pages)
{
    bool failed = pages->failed;

    for (int i = 0; i < JOBS; i++)
        assert(!pages->job[i].busy);
    free(pages);
    return failed ? ERR_IO : 0;
}
