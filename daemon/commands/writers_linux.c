/* writers_linux.c - a stream whose bytes a function takes. */
#define _GNU_SOURCE /* fopencookie */

#include <errno.h>
#include <poll.h>
#include <sys/types.h>

#include "writers.h"

static ssize_t take(void *context, const char *text, size_t length)
{
    const struct writers_taker *taker = context;

    if (taker->put(taker->context, text, length))
        return (ssize_t)length;
    errno = EIO;
    return 0;
}

FILE *writers_open(struct writers_taker *taker, char *buffer, size_t size)
{
    const cookie_io_functions_t functions = {.write = take};
    FILE *file = fopencookie(taker, "w", functions);

    if (file != NULL)
        (void)setvbuf(file, buffer, _IOLBF, size);
    return file;
}

void writers_await_room(int fd)
{
    struct pollfd place = {.fd = fd, .events = POLLOUT};

    (void)poll(&place, 1, -1);
}
