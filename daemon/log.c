/* log.c - one line at a time to standard error. */
#include "quarterturn/log.h"

#include <stdarg.h>
#include <stdio.h>

#include "quarterturn/error.h"

static enum log_level level_most = LOG_LEVEL_NOTE;

void log_set_level(enum log_level most)
{
    level_most = most;
}

static void write_line(const char *name, const char *format, va_list list)
{
    char text[1024];

    /* One call to stdio for each line, so that lines of two processes that
     * share a terminal do not mix. A longer line is cut. */
    (void)vsnprintf(text, sizeof text, format, list);
    (void)fprintf(stderr, "%s%s\n", name, text);
}

void log_line(enum log_level level, const char *format, ...)
{
    va_list list;

    if (level > level_most)
        return;
    va_start(list, format);
    write_line("quarterturn: ", format, list);
    va_end(list);
}

void log_plain(enum log_level level, const char *format, ...)
{
    va_list list;

    if (level > level_most)
        return;
    va_start(list, format);
    write_line("", format, list);
    va_end(list);
}

const char *error_name(int error)
{
    switch ((enum error)error) {
    case ERR_NO_MEMORY: return "out of memory";
    case ERR_IO: return "input or output failed";
    case ERR_FORMAT: return "not in the expected form";
    case ERR_RANGE: return "out of range";
    case ERR_TIME: return "time went backwards";
    case ERR_FULL: return "no room left";
    case ERR_ABSENT: return "does not exist";
    case ERR_USAGE: return "wrong usage";
    case ERR_BUSY: return "in use";
    }
    return "unknown error";
}
