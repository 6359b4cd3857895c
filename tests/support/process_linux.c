/* process_linux.c - running the program under test and hearing what it says.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "process.h"

const char *process_program(void)
{
    const char *program = getenv("QUARTERTURN");
    return program != NULL ? program : "build/quarterturn";
}

/* In the child, between fork and exec. */
static void become(const char *program, const char *const *words, int out_fd,
                   int err_fd)
{
    char *argv[PROCESS_MAX_WORDS + 2];
    size_t count = 0;
    argv[count++] = (char *)(uintptr_t)program;
    while (words[count - 1] != NULL && count <= PROCESS_MAX_WORDS) {
        argv[count] = (char *)(uintptr_t)words[count - 1];
        count++;
    }
    argv[count] = NULL;
    int nothing = open("/dev/null", O_RDONLY);
    if (nothing < 0 || dup2(nothing, 0) < 0 || dup2(out_fd, 1) < 0 ||
        dup2(err_fd, 2) < 0 || prctl(PR_SET_PDEATHSIG, SIGKILL) != 0) {
        _exit(126);
    }
    execvp(argv[0], argv);
    _exit(127);
}

void process_start_other(struct process *process, const char *program,
                         const char *const *words)
{
    int out[2];
    int err[2];
    memset(process, 0, sizeof *process);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    assert_int_equal(pipe2(err, O_CLOEXEC), 0);
    pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        become(program, words, out[1], err[1]);
    }
    close(out[1]);
    close(err[1]);
    process->pid = (int)pid;
    process->out_fd = out[0];
    process->err_fd = err[0];
}

void process_start(struct process *process, const char *const *words)
{
    process_start_other(process, process_program(), words);
}

/* Read what is there; at the end of the stream, close it. */
static void take(int *fd, char *text, size_t *length)
{
    char piece[4096];
    ssize_t n = read(*fd, piece, sizeof piece);
    if (n < 0 && errno == EINTR) {
        return;
    }
    if (n <= 0) {
        close(*fd);
        *fd = -1;
        return;
    }
    size_t room = PROCESS_TEXT_SIZE - 1 - *length;
    size_t kept = (size_t)n < room ? (size_t)n : room;
    memcpy(text + *length, piece, kept);
    *length += kept;
    text[*length] = '\0';
}

/* Wait for either output. */
static void listen_to(struct process *process)
{
    struct pollfd watch[2] = {{.fd = process->out_fd, .events = POLLIN},
                              {.fd = process->err_fd, .events = POLLIN}};
    if (poll(watch, 2, -1) < 0) {
        assert_int_equal(errno, EINTR);
        return;
    }
    if (watch[0].revents != 0) {
        take(&process->out_fd, process->out, &process->out_length);
    }
    if (watch[1].revents != 0) {
        take(&process->err_fd, process->err, &process->err_length);
    }
}

static bool said_line(const char *said, const char *text)
{
    const char *at = strstr(said, text);
    return at != NULL && strchr(at, '\n') != NULL;
}

void process_await(struct process *process, const char *text)
{
    while (!said_line(process->err, text)) {
        if (process->err_fd < 0) {
            fail_msg("ended before it said \"%s\"; it said: %s", text,
                     process->err);
        }
        listen_to(process);
    }
}

void process_narrow_pipe(int fd)
{
    assert_true(fcntl(fd, F_SETPIPE_SZ, 1) > 0);
}

void process_narrow(const struct process *process)
{
    /* The system rounds up to what it can do at least. */
    process_narrow_pipe(process->out_fd);
    process_narrow_pipe(process->err_fd);
}

int process_times_said(const char *said, const char *text)
{
    int times = 0;

    for (const char *at = strstr(said, text); at != NULL;
         at = strstr(at + 1, text))
        times++;
    return times;
}

void process_signal(const struct process *process, int signal)
{
    assert_int_equal(kill((pid_t)process->pid, signal), 0);
}

void process_finish(struct process *process)
{
    int status = 0;
    struct rusage usage;
    while (process->out_fd >= 0 || process->err_fd >= 0) {
        listen_to(process);
    }
    while (wait4((pid_t)process->pid, &status, 0, &usage) < 0) {
        assert_int_equal(errno, EINTR);
    }
    process->status =
        WIFSIGNALED(status) ? 128 + WTERMSIG(status) : WEXITSTATUS(status);
    process->most_rss_kib = usage.ru_maxrss;
}

void process_run(struct process *process, const char *const *words)
{
    process_start(process, words);
    process_finish(process);
}

void process_run_other(struct process *process, const char *program,
                       const char *const *words)
{
    process_start_other(process, program, words);
    process_finish(process);
}
