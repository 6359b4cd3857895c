/* process.h - running the program under test and hearing what it says. */
#ifndef SUPPORT_PROCESS_H
#define SUPPORT_PROCESS_H

#include <stddef.h>

enum { PROCESS_MAX_WORDS = 24, PROCESS_TEXT_SIZE = 16384 };

/* A run of the program. It dies with the test. */
struct process {
    int pid;
    int err_fd; /* its standard error */
    int out_fd; /* its standard output */
    char err[PROCESS_TEXT_SIZE];
    char out[PROCESS_TEXT_SIZE];
    size_t err_length;
    size_t out_length;
    int status;        /* exit status; 128 + signal when killed */
    long most_rss_kib; /* largest resident memory */
};

/* Path of the program: $QUARTERTURN, or build/quarterturn. */
const char *process_program(void);
/* Start it. words: its arguments, NULL behind the last, without the name of
 * the program. Both outputs are kept up to PROCESS_TEXT_SIZE; the rest is
 * read and dropped. The test fails if it cannot be started. */
void process_start(struct process *process, const char *const *words);
/* The same for another program, looked for in the path. */
void process_start_other(struct process *process, const char *program,
                         const char *const *words);
/* Read until standard error holds a whole line with the text. The test fails,
 * with what was said, when the program ends first. */
void process_await(struct process *process, const char *text);
/* Let each output hold no more than a page that nobody has read. */
void process_narrow(const struct process *process);
/* The same of any pipe. */
void process_narrow_pipe(int fd);
/* How often a text stands in what was said. */
int process_times_said(const char *said, const char *text);
/* Send a signal. */
void process_signal(const struct process *process, int signal);
/* Read both outputs to their end and collect the exit status. */
void process_finish(struct process *process);
/* Start, read to the end, finish. */
void process_run(struct process *process, const char *const *words);
void process_run_other(struct process *process, const char *program,
                       const char *const *words);

#endif
