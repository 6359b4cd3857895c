/* log.h - one line at a time to standard error.
 *
 * Data goes to standard output and never through here. Not for the sound
 * callback, which may not call the system. */
#ifndef QUARTERTURN_LOG_H
#define QUARTERTURN_LOG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum log_level {
    LOG_LEVEL_ERROR = 0, /* something asked for cannot be done */
    LOG_LEVEL_WARNING,   /* goes on, with less than was asked for */
    LOG_LEVEL_NOTE,      /* worth a line in normal use */
    LOG_LEVEL_DETAIL     /* only with --verbose */
};

/* Choose how much is written.
 * most: the least important level that is still written.
 * Thread: main, before the loop runs. */
void log_set_level(enum log_level most);

/* Put the level in front of each line as the system's journal reads it
 * ("<3>" an error, "<4>" a warning, "<6>" a note, "<7>" a detail), and leave
 * the program's name to it. Source: sd-daemon(3).
 * Thread: main, before the loop runs. */
void log_to_journal(void);

/* Write to a stream in the place of standard error: one that leads there and
 * never waits, for a command whose loop may not wait for a reader.
 * file: borrowed until the next call; NULL: standard error itself, again.
 * Thread: loop. */
void log_to(FILE *file);

/* Is standard error connected to the system's journal? Thread: any. */
bool log_is_journal(void);

/* Write one line, "quarterturn: " before it and a newline behind it. The same
 * line again is written at its 10th, 100th, 1000th ... time only, with the
 * count; another line in between begins anew.
 * format: as printf, without the newline. Errors of configuration begin with
 *    "file:line: " and are written without the program's name before them:
 *    use log_plain for those.
 * Thread: loop. */
void log_line(enum log_level level, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The same without the program's name in front. */
void log_plain(enum log_level level, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Write a text behind a head, broken between words for a terminal; its later
 * lines stand under its beginning. Each line counts as one of its own. */
void log_wrapped(enum log_level level, const char *head, const char *text);

#endif
