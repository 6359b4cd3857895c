/* writers.h - standard output, standard error and a pipe for event lines,
 * written beside the loop.
 *
 * Whoever reads them may stall: a terminal that is held, a pager, a journal.
 * A write would then wait, and a loop that waits plans no calls. So the loop
 * only puts whole lines into a bounded store, and a thread writes them, one
 * call to the system for each line, at once. When the store is full, lines are
 * lost and counted; all of them, until the reader has read what was stored,
 * and then one line tells how many.
 *
 * A thread serves one place: one for both standard streams when they lead to
 * the same one, so that their lines keep their order, and else one each, so
 * that a reader who stalls holds up nothing but what was meant for it. */
#ifndef COMMANDS_WRITERS_H
#define COMMANDS_WRITERS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum {
    WRITERS_STORE = 65536, /* bytes that may wait for a place */
    WRITERS_LINE = 16384   /* a longer line is lost */
};

enum { WRITERS_STANDARD = 2 };
enum writers_stream {
    WRITERS_OUT,
    WRITERS_ERR,
    WRITERS_EVENTS,
    WRITERS_STREAMS
};

struct writers;

/* Take all memory and start the threads. From here on only they write to the
 * descriptors, until writers_end.
 * fd: of the standard streams; borrowed.
 * Returns: 0; ERR_NO_MEMORY; ERR_IO when the system gives no thread.
 * Owns: *out until writers_end.   Thread: loop. */
int writers_begin(const int fd[WRITERS_STANDARD], struct writers **out);

/* Open a pipe or a device for event lines, WRITERS_EVENTS, and start its
 * thread; once, and before the loop runs. The reader of a pipe may come later;
 * only if the pipe may not be read is he waited for here.
 * path: borrowed until writers_end.
 * Returns: 0, or an error of libuv's. */
int writers_open_events(struct writers *writers, const char *path);

/* Where the loop writes for a stream, line by line. Never waits. A write fails,
 * as stdio tells it, once an earlier line could not be written.
 * Thread: loop, as for all below. */
FILE *writers_file(struct writers *writers, enum writers_stream stream);

/* Standard output holds event lines: what is lost is then told by a line of
 * that form, with the time of the first lost one. */
void writers_hold_events(struct writers *writers);

/* How many lines of all streams were lost up to now. */
uint64_t writers_lost(const struct writers *writers);

/* Let what is stored be written, for at most a second if a reader stalls, end
 * the threads and take standard error for what is logged from now on. Says
 * itself what of all but standard error was not written, and why. A thread that
 * is still held up stays so until the program ends, with its memory; what is
 * logged is then lost if it is standard error that stalls.
 * Returns: 0; EXIT_COULD_NOT when one of them failed, or holds event lines and
 *    some are lost. */
int writers_end(struct writers *writers);

/* ---- what C11 and libuv do not have ------------------------------------- */

/* Takes each piece that is written. put: takes length bytes; false makes the
 * write fail. */
struct writers_taker {
    bool (*put)(void *context, const char *text, size_t length);
    void *context;
};

/* A stream that hands what is written to a taker.
 * taker: borrowed until it is closed. buffer, size: for stdio, so that it takes
 *    no memory later; likewise.
 * Returns: NULL when there is no memory. Owns: the caller closes. */
FILE *writers_open(struct writers_taker *taker, char *buffer, size_t size);
/* Wait until a descriptor that does not wait by itself takes bytes again. */
void writers_await_room(int fd);

#endif
