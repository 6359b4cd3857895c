/* writers.c - what others may read while a session flies, written beside its
 * loop. */
#include "writers.h"

#include <inttypes.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "quarterturn/units.h"
#include "writers_store.h"

enum {
    HEAD_SIZE = 48,    /* of an event line: its time */
    NOTICE_SIZE = 128, /* the line that tells what was lost */
    STDIO_SIZE = 4096
};

/* What lines may not use, so that each stream can always tell that it lost
 * some; each has one such entry at most that was not read yet. */
enum { RESERVE = WRITERS_STREAMS * (sizeof(struct writers_entry) + HEAD_SIZE) };

_Static_assert(ATOMIC_LLONG_LOCK_FREE == 2,
               "the loop may not wait for the thread");

/* One place that is written to. The loop puts, the thread takes. */
struct place {
    uv_thread_t thread;
    uv_sem_t waiting; /* one for each entry, and one for the end */
    bool over;        /* the thread has ended; under the owner's lock */
    struct writers *owner;
    struct writers_store store;
    char text[WRITERS_LINE]; /* the thread's: what is being written */
};

struct stream {
    struct place *place;
    const char *name; /* as it is called in the log */
    int fd;
    FILE *file; /* NULL: there is none */
    struct writers_taker taker;
    bool events;
    char stdio[STDIO_SIZE];
    char line[WRITERS_LINE]; /* not whole yet */
    size_t used;
    bool too_long;
    bool losing;         /* until the thread has come past notice_end */
    uint32_t notice_end; /* in its place's store */
    uint64_t put;        /* lines */
    uint64_t lost;       /* lines, in all */
    _Atomic uint64_t untold;
    _Atomic uint64_t written; /* lines taken care of: of those put */
    _Atomic int failed;       /* an error of libuv's: nothing more is written */
};

struct writers {
    struct stream stream[WRITERS_STREAMS];
    struct place place[WRITERS_STREAMS];
    int places;
    uv_mutex_t lock;
    uv_cond_t ended;
};

/* ---- the loop's side ----------------------------------------------------- */

/* Returns: where the entry ends. */
static uint32_t put_entry(struct place *place,
                          const struct writers_entry *entry, const char *text)
{
    uint32_t end = writers_store_put(&place->store, entry, text);

    uv_sem_post(&place->waiting);
    return end;
}

static uint8_t number_of(const struct stream *stream)
{
    return (uint8_t)(stream - stream->place->owner->stream);
}

/* Whether the thread has read all up to the line that tells of losses. */
static bool has_caught_up(const struct stream *stream)
{
    return writers_store_is_past(&stream->place->store, stream->notice_end);
}

/* The time of an event line: its first member, with the brace. */
static size_t measure_head(const struct stream *stream)
{
    const char *comma = memchr(stream->line, ',', stream->used);
    size_t length = comma != NULL ? (size_t)(comma - stream->line) : 0;

    return stream->events && length <= HEAD_SIZE ? length : 0;
}

static void lose(struct stream *stream)
{
    struct writers_entry notice = {.stream = number_of(stream), .notice = 1};

    stream->lost++;
    /* Counted before it is looked where the thread is: it goes past the notice
     * before it takes the count, so that nothing is told never. */
    (void)atomic_fetch_add(&stream->untold, 1);
    if (stream->losing && !has_caught_up(stream))
        return;
    notice.length = (uint16_t)measure_head(stream);
    stream->notice_end = put_entry(stream->place, &notice, stream->line);
    stream->losing = true;
}

static void end_line(struct stream *stream)
{
    struct writers_entry entry = {.length = (uint16_t)stream->used,
                                  .stream = number_of(stream)};

    if (stream->losing && has_caught_up(stream))
        stream->losing = false;
    if (stream->losing || stream->too_long ||
        writers_store_room(&stream->place->store) <
            sizeof entry + stream->used + RESERVE) {
        lose(stream);
    } else {
        stream->put++;
        (void)put_entry(stream->place, &entry, stream->line);
    }
    stream->used = 0;
    stream->too_long = false;
}

static bool put_text(void *context, const char *text, size_t length)
{
    struct stream *stream = context;

    if (atomic_load(&stream->failed) != 0)
        return false;
    while (length > 0) {
        const char *end = memchr(text, '\n', length);
        size_t part = end != NULL ? (size_t)(end + 1 - text) : length;
        size_t kept = part;

        if (kept > sizeof stream->line - stream->used) {
            kept = sizeof stream->line - stream->used;
            stream->too_long = true;
        }
        memcpy(stream->line + stream->used, text, kept);
        stream->used += kept;
        if (end != NULL)
            end_line(stream);
        text += part;
        length -= part;
    }
    return true;
}

/* ---- the thread ---------------------------------------------------------- */

static void write_out(struct stream *stream, char *text, size_t length)
{
    while (length > 0 && atomic_load(&stream->failed) == 0) {
        uv_buf_t part = uv_buf_init(text, (unsigned)length);
        uv_fs_t request;
        int done = uv_fs_write(NULL, &request, stream->fd, &part, 1, -1, NULL);

        uv_fs_req_cleanup(&request);
        if (done == UV_EAGAIN)
            writers_await_room(stream->fd);
        else if (done < 0)
            atomic_store(&stream->failed, done);
        if (done > 0) {
            text += done;
            length -= (size_t)done;
        }
    }
}

/* head: the time of the first lost line, if it was one of events. */
static void tell_lost(struct stream *stream, const char *head, size_t length)
{
    uint64_t lost = atomic_exchange(&stream->untold, 0);
    char text[NOTICE_SIZE];
    int size;

    /* Told by the entry before, which came to be read meanwhile. */
    if (lost == 0)
        return;
    if (length > 0)
        size =
            snprintf(text, sizeof text,
                     "%.*s,\"event\":\"lines-lost\",\"lines\":%" PRIu64 "}\n",
                     (int)length, head, lost);
    else
        size = snprintf(text, sizeof text,
                        "... %" PRIu64 " line%s not written: nobody read %s\n",
                        lost, lost == 1 ? " was" : "s were",
                        lost == 1 ? "it" : "them");
    write_out(stream, text, (size_t)size);
}

/* Returns: whether there was one. */
static bool take_entry(struct place *place)
{
    struct writers_entry entry;
    struct stream *stream;

    if (!writers_store_take(&place->store, &entry, place->text))
        return false;
    stream = &place->owner->stream[entry.stream];
    if (entry.notice) {
        tell_lost(stream, place->text, entry.length);
    } else {
        write_out(stream, place->text, entry.length);
        (void)atomic_fetch_add(&stream->written, 1);
    }
    return true;
}

static void run_place(void *context)
{
    struct place *place = context;
    struct writers *writers = place->owner;

    /* Woken for nothing: for the end. */
    do
        uv_sem_wait(&place->waiting);
    while (take_entry(place));
    uv_mutex_lock(&writers->lock);
    place->over = true;
    uv_cond_signal(&writers->ended);
    uv_mutex_unlock(&writers->lock);
}

/* ---- beginning ----------------------------------------------------------- */

/* Whether two descriptors lead to one terminal, pipe, socket or file. */
static bool is_same_place(const int fd[WRITERS_STANDARD])
{
    uv_fs_t look[WRITERS_STANDARD];
    bool there = true;

    for (int i = 0; i < WRITERS_STANDARD; i++) {
        there = uv_fs_fstat(NULL, &look[i], fd[i], NULL) == 0 && there;
        uv_fs_req_cleanup(&look[i]);
    }
    return there && look[0].statbuf.st_dev == look[1].statbuf.st_dev &&
           look[0].statbuf.st_ino == look[1].statbuf.st_ino;
}

static int start_place(struct writers *writers)
{
    struct place *place = &writers->place[writers->places];

    place->owner = writers;
    if (uv_sem_init(&place->waiting, 0) != 0)
        return ERR_IO;
    if (uv_thread_create(&place->thread, run_place, place) != 0) {
        uv_sem_destroy(&place->waiting);
        return ERR_IO;
    }
    writers->places++;
    return 0;
}

static int start_places(struct writers *writers, const int fd[WRITERS_STANDARD])
{
    static const char *const name[] = {"standard output", "standard error"};
    int error = start_place(writers);

    for (int i = 0; i < WRITERS_STANDARD; i++) {
        struct stream *stream = &writers->stream[i];

        stream->name = name[i];
        stream->fd = fd[i];
        stream->place = &writers->place[0];
    }
    if (error == 0 && !is_same_place(fd)) {
        error = start_place(writers);
        writers->stream[WRITERS_ERR].place = &writers->place[1];
    }
    return error;
}

static bool open_file(struct stream *stream)
{
    stream->taker = (struct writers_taker){put_text, stream};
    stream->file =
        writers_open(&stream->taker, stream->stdio, sizeof stream->stdio);
    return stream->file != NULL;
}

static void close_events(struct writers *writers)
{
    uv_fs_t request;

    (void)uv_fs_close(NULL, &request, writers->stream[WRITERS_EVENTS].fd, NULL);
    uv_fs_req_cleanup(&request);
}

static void dispose(struct writers *writers)
{
    for (int i = 0; i < WRITERS_STREAMS; i++)
        if (writers->stream[i].file != NULL)
            (void)fclose(writers->stream[i].file);
    if (writers->stream[WRITERS_EVENTS].file != NULL)
        close_events(writers);
    uv_cond_destroy(&writers->ended);
    uv_mutex_destroy(&writers->lock);
    free(writers);
}

/* Tell the threads to end, and wait for them, but not for long.
 * ended: receives which have. Returns: whether all have. */
static bool end_places(struct writers *writers, bool ended[WRITERS_STREAMS])
{
    uint64_t until_ns = uv_hrtime() + UNITS_NS_PER_S;
    bool all = true;

    for (int i = 0; i < writers->places; i++)
        uv_sem_post(&writers->place[i].waiting);
    uv_mutex_lock(&writers->lock);
    for (int i = 0; i < writers->places; i++) {
        uint64_t now_ns = uv_hrtime();

        while (!writers->place[i].over && now_ns < until_ns) {
            (void)uv_cond_timedwait(&writers->ended, &writers->lock,
                                    until_ns - now_ns);
            now_ns = uv_hrtime();
        }
        ended[i] = writers->place[i].over;
        all = all && ended[i];
    }
    uv_mutex_unlock(&writers->lock);
    for (int i = 0; i < writers->places; i++)
        if (ended[i]) {
            (void)uv_thread_join(&writers->place[i].thread);
            uv_sem_destroy(&writers->place[i].waiting);
        }
    return all;
}

int writers_begin(const int fd[WRITERS_STANDARD], struct writers **out)
{
    struct writers *writers = calloc(1, sizeof *writers);
    bool ended[WRITERS_STREAMS] = {false};
    int error;

    if (writers == NULL)
        return ERR_NO_MEMORY;
    if (uv_mutex_init(&writers->lock) != 0) {
        free(writers);
        return ERR_IO;
    }
    if (uv_cond_init(&writers->ended) != 0) {
        uv_mutex_destroy(&writers->lock);
        free(writers);
        return ERR_IO;
    }
    error = open_file(&writers->stream[WRITERS_OUT]) &&
                    open_file(&writers->stream[WRITERS_ERR])
                ? start_places(writers, fd)
                : ERR_NO_MEMORY;
    if (error != 0) {
        (void)end_places(writers, ended);
        dispose(writers);
        return error;
    }
    *out = writers;
    return 0;
}

static int open_path(const char *path, int access)
{
    uv_fs_t request;
    int fd = uv_fs_open(NULL, &request, path, access | UV_FS_O_NOCTTY, 0, NULL);

    uv_fs_req_cleanup(&request);
    return fd;
}

int writers_open_events(struct writers *writers, const char *path)
{
    struct stream *stream = &writers->stream[WRITERS_EVENTS];
    /* Who opens a pipe for both waits for no reader, and keeps it when one goes
     * and another comes. Source: fifo(7). */
    int fd = open_path(path, UV_FS_O_RDWR);

    if (fd == UV_EACCES)
        fd = open_path(path, UV_FS_O_WRONLY);
    if (fd < 0)
        return fd;
    stream->name = path;
    stream->fd = fd;
    stream->events = true;
    stream->place = &writers->place[writers->places];
    if (open_file(stream) && start_place(writers) == 0)
        return 0;
    close_events(writers);
    if (stream->file != NULL)
        (void)fclose(stream->file);
    stream->file = NULL;
    return UV_ENOMEM;
}

FILE *writers_file(struct writers *writers, enum writers_stream stream)
{
    return writers->stream[stream].file;
}

void writers_hold_events(struct writers *writers)
{
    writers->stream[WRITERS_OUT].events = true;
}

uint64_t writers_lost(const struct writers *writers)
{
    uint64_t lost = 0;

    for (int i = 0; i < WRITERS_STREAMS; i++)
        lost += writers->stream[i].lost;
    return lost;
}

/* ---- the end ------------------------------------------------------------- */

/* What became of a stream. left: lines that were never told of. */
static int judge(const struct stream *stream)
{
    int failed = atomic_load(&stream->failed);
    uint64_t left = stream->put - atomic_load(&stream->written) +
                    atomic_load(&stream->untold);

    if (failed != 0) {
        log_line(LOG_LEVEL_ERROR, "%s cannot be written: %s", stream->name,
                 uv_strerror(failed));
        return EXIT_COULD_NOT;
    }
    if (left > 0)
        log_line(LOG_LEVEL_WARNING,
                 "%s: %" PRIu64 " line%s not written: nobody read %s",
                 stream->name, left, left == 1 ? " was" : "s were",
                 left == 1 ? "it" : "them");
    if (!stream->events || stream->lost + left == 0)
        return 0;
    log_line(LOG_LEVEL_ERROR, "%s: the event lines are not whole",
             stream->name);
    return EXIT_COULD_NOT;
}

int writers_end(struct writers *writers)
{
    bool ended[WRITERS_STREAMS] = {false};
    bool all;
    int status;

    for (int i = 0; i < WRITERS_STREAMS; i++)
        if (writers->stream[i].file != NULL)
            (void)fflush(writers->stream[i].file);
    all = end_places(writers, ended);
    /* What is logged from now on waits for its reader, unless that one is known
     * to stall. */
    if (ended[writers->stream[WRITERS_ERR].place - writers->place])
        log_to(NULL);
    status = judge(&writers->stream[WRITERS_OUT]);
    if (judge(&writers->stream[WRITERS_EVENTS]) != 0)
        status = EXIT_COULD_NOT;
    if (all)
        dispose(writers);
    return status;
}
