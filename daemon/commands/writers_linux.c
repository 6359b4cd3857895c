/* writers_linux.c - a stream whose bytes a function takes. */
#define _GNU_SOURCE /* fopencookie */

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/types.h>

#include "writers.h"

struct cookie {
    bool (*put)(void *context, const char *text, size_t length);
    void *context;
};

static ssize_t take(void *context, const char *text, size_t length)
{
    const struct cookie *cookie = context;

    if (cookie->put(cookie->context, text, length))
        return (ssize_t)length;
    errno = EIO;
    return 0;
}

static int let_go(void *context)
{
    free(context);
    return 0;
}

FILE *writers_open(bool (*put)(void *context, const char *text, size_t length),
                   void *context, char *buffer, size_t size)
{
    const cookie_io_functions_t functions = {.write = take, .close = let_go};
    struct cookie *cookie = malloc(sizeof *cookie);
    FILE *file;

    if (cookie == NULL)
        return NULL;
    *cookie = (struct cookie){put, context};
    file = fopencookie(cookie, "w", functions);
    if (file == NULL)
        free(cookie);
    else
        (void)setvbuf(file, buffer, _IOLBF, size);
    return file;
}

void writers_await_room(int fd)
{
    struct pollfd place = {.fd = fd, .events = POLLOUT};

    (void)poll(&place, 1, -1);
}
