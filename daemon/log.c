/* log.c - one line at a time to standard error. */
#include "quarterturn/log.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/wrap.h"

enum { LINE_SIZE = 1024 };

static enum log_level level_most = LOG_LEVEL_NOTE;
static bool journal;
static FILE *stream;         /* NULL: standard error itself */
static char last[LINE_SIZE]; /* line, and how often it came in a row */
static unsigned long last_count;
static unsigned long last_due;

void log_set_level(enum log_level most)
{
    level_most = most;
}

void log_to_journal(void)
{
    journal = true;
}

void log_to(FILE *file)
{
    stream = file;
}

/* A fault that comes with every packet must not fill a disk.
 * Returns: how often the line has come, when it is to be written; else 0. */
static unsigned long count_line(const char *text)
{
    if (last_count == 0 || strcmp(text, last) != 0) {
        (void)snprintf(last, sizeof last, "%s", text);
        last_count = 1;
        last_due = 10;
        return 1;
    }
    last_count++;
    if (last_count < last_due)
        return 0;
    last_due *= 10;
    return last_count;
}

static void write_line(enum log_level level, const char *name,
                       const char *format, va_list list)
{
    static const char *const mark[] = {[LOG_LEVEL_ERROR] = "<3>",
                                       [LOG_LEVEL_WARNING] = "<4>",
                                       [LOG_LEVEL_NOTE] = "<6>",
                                       [LOG_LEVEL_DETAIL] = "<7>"};
    char text[LINE_SIZE];
    char times[40] = "";
    unsigned long count;

    (void)vsnprintf(text, sizeof text, format, list);
    count = count_line(text);
    if (count == 0)
        return;
    if (count > 1)
        (void)snprintf(times, sizeof times, " (%lu times so far)", count);
    /* One call to stdio for each line, so that lines of two processes that
     * share a terminal do not mix. A longer line is cut. */
    (void)fprintf(stream != NULL ? stream : stderr, "%s%s%s\n",
                  journal ? mark[level] : name, text, times);
}

void log_line(enum log_level level, const char *format, ...)
{
    va_list list;

    if (level > level_most)
        return;
    va_start(list, format);
    write_line(level, "quarterturn: ", format, list);
    va_end(list);
}

void log_plain(enum log_level level, const char *format, ...)
{
    va_list list;

    if (level > level_most)
        return;
    va_start(list, format);
    write_line(level, "", format, list);
    va_end(list);
}

void log_wrapped(enum log_level level, const char *head, const char *text)
{
    int indent = (int)strlen(head);

    while (*text != '\0') {
        const char *from = text;
        int length = wrap_take(&text, WRAP_COLUMNS - indent);

        log_plain(level, "%-*s%.*s", indent, head, length, from);
        head = "";
    }
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
