/* child_linux.c - starting a worker process and seeing its end.
 *
 * libuv's own start waits on the loop until the program runs, which takes as
 * long as a busy machine likes; this one may be called on another thread. */
#define _GNU_SOURCE /* pipe2 */

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "share.h"

struct pipes {
    int life[2];
    int words[2];
};

static void close_both(const int ends[2])
{
    (void)close(ends[0]);
    (void)close(ends[1]);
}

static int open_pipes(struct pipes *pipes)
{
    if (pipe2(pipes->life, O_CLOEXEC) != 0)
        return errno;
    if (pipe2(pipes->words, O_CLOEXEC) != 0) {
        int error = errno;

        close_both(pipes->life);
        return error;
    }
    return 0;
}

/* The ends of the child's side at the places where it looks for them. */
static int place(posix_spawn_file_actions_t *actions, const struct pipes *pipes,
                 int share_fd)
{
    int error =
        posix_spawn_file_actions_adddup2(actions, pipes->life[0], STDIN_FILENO);

    if (error == 0)
        error = posix_spawn_file_actions_addopen(actions, STDOUT_FILENO,
                                                 "/dev/null", O_WRONLY, 0);
    if (error == 0)
        error = posix_spawn_file_actions_adddup2(actions, pipes->words[1],
                                                 STDERR_FILENO);
    if (error == 0)
        error =
            posix_spawn_file_actions_adddup2(actions, share_fd, AUDIO_SHARE_FD);
    return error;
}

/* No signal blocked or ignored, whatever the daemon does with its own. */
static int spawn(const char *program, const posix_spawn_file_actions_t *actions,
                 pid_t *pid)
{
    char path[AUDIO_PATH_SIZE];
    char command[] = "sound-worker";
    char *words[] = {path, command, NULL};
    posix_spawnattr_t attributes;
    sigset_t none, all;
    int error;

    (void)strncpy(path, program, sizeof path - 1);
    path[sizeof path - 1] = '\0';
    (void)sigemptyset(&none);
    (void)sigfillset(&all);
    error = posix_spawnattr_init(&attributes);
    if (error != 0)
        return error;
    (void)posix_spawnattr_setsigmask(&attributes, &none);
    (void)posix_spawnattr_setsigdefault(&attributes, &all);
    (void)posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK |
                                                    POSIX_SPAWN_SETSIGDEF);
    error = posix_spawn(pid, program, actions, &attributes, words, environ);
    (void)posix_spawnattr_destroy(&attributes);
    return error;
}

static int start(const char *program, int share_fd, const struct pipes *pipes,
                 pid_t *pid)
{
    posix_spawn_file_actions_t actions;
    int error = posix_spawn_file_actions_init(&actions);

    if (error != 0)
        return error;
    error = place(&actions, pipes, share_fd);
    if (error == 0)
        error = spawn(program, &actions, pid);
    (void)posix_spawn_file_actions_destroy(&actions);
    return error;
}

int audio_child_start(const char *program, int share_fd,
                      struct audio_child *out)
{
    struct pipes pipes;
    pid_t pid = 0;
    int error = open_pipes(&pipes);

    if (error != 0)
        return error;
    error = start(program, share_fd, &pipes, &pid);
    (void)close(pipes.life[0]);
    (void)close(pipes.words[1]);
    out->pid = (int)pid;
    out->life_fd = pipes.life[1];
    out->words_fd = pipes.words[0];
    if (error == 0) {
        out->end_fd = pidfd_open(pid, 0);
        if (out->end_fd >= 0)
            return 0;
        error = errno;
        (void)kill(pid, SIGKILL);
        (void)waitpid(pid, NULL, 0);
    }
    (void)close(out->life_fd);
    (void)close(out->words_fd);
    return error;
}

void audio_child_kill(const struct audio_child *child)
{
    (void)kill((pid_t)child->pid, SIGKILL);
}

void audio_child_release(struct audio_child *child)
{
    if (child->life_fd >= 0)
        (void)close(child->life_fd);
    child->life_fd = -1;
}

void audio_child_collect(struct audio_child *child, int *status)
{
    int how = 0;

    while (waitpid((pid_t)child->pid, &how, 0) < 0 && errno == EINTR)
        continue;
    *status = WIFSIGNALED(how) ? 128 + WTERMSIG(how) : WEXITSTATUS(how);
    (void)close(child->end_fd);
    audio_child_release(child);
}
