/* ear_pulse_posix.c - an ear at a PulseAudio server.
 *
 * Each null sink has a monitor, which a recorder writes into a pipe. Such a
 * sink mixes its sound ahead of playing it, by the latency that its most
 * demanding listener asked for: here the ear itself. At the instant at which
 * a piece arrives, its last frame is that far from being heard. */
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "ear.h"
#include "report.h"

enum { AHEAD_MS = 2, PIECE = 4096 };

extern char **environ;

struct pulse_ear {
    struct ear *ear;
    pthread_t thread;
    pid_t recorder[EAR_LANES];
    struct pollfd pipe[EAR_LANES];
    unsigned char rest[EAR_LANES][sizeof(float)];
    size_t rests[EAR_LANES];
};

static void start_recorder(struct pulse_ear *pulse, int lane)
{
    char device[40];
    char *words[] = {"parec",
                     "-d",
                     device,
                     "--rate=48000",
                     "--format=float32le",
                     "--channels=1",
                     "--latency-msec=2",
                     NULL};
    posix_spawn_file_actions_t actions;
    int ends[2];

    _Static_assert(AHEAD_MS == 2, "as the recorder asks");
    (void)snprintf(device, sizeof device, "cap%d.monitor", lane);
    if (pipe(ends) != 0 || posix_spawn_file_actions_init(&actions) != 0)
        report_fail("no pipe can be had");
    (void)posix_spawn_file_actions_adddup2(&actions, ends[1], 1);
    (void)posix_spawn_file_actions_addclose(&actions, ends[0]);
    (void)posix_spawn_file_actions_addclose(&actions, ends[1]);
    if (posix_spawnp(&pulse->recorder[lane], "parec", &actions, NULL, words,
                     environ) != 0)
        report_fail("parec cannot be started");
    (void)posix_spawn_file_actions_destroy(&actions);
    (void)close(ends[1]);
    pulse->pipe[lane] = (struct pollfd){.fd = ends[0], .events = POLLIN};
}

/* Pieces may be cut within a sample. */
static void take(struct pulse_ear *pulse, int lane, int64_t now_ns)
{
    unsigned char bytes[PIECE + sizeof(float)];
    float sound[PIECE / sizeof(float) + 1];
    size_t had = pulse->rests[lane];
    ssize_t more = read(pulse->pipe[lane].fd, bytes + had, PIECE);
    size_t whole;

    if (more <= 0) {
        if (more == 0 || errno != EINTR)
            pulse->pipe[lane].fd = -1;
        return;
    }
    memcpy(bytes, pulse->rest[lane], had);
    had += (size_t)more;
    whole = had / sizeof(float);
    memcpy(sound, bytes, whole * sizeof(float));
    pulse->rests[lane] = had - whole * sizeof(float);
    memcpy(pulse->rest[lane], bytes + whole * sizeof(float),
           pulse->rests[lane]);
    (void)pthread_mutex_lock(&pulse->ear->mutex);
    ear_append(pulse->ear, lane, sound, whole);
    ear_mark(pulse->ear, lane, now_ns);
    (void)pthread_mutex_unlock(&pulse->ear->mutex);
}

static void *hear(void *context)
{
    struct pulse_ear *pulse = context;

    while (poll(pulse->pipe, (nfds_t)pulse->ear->lanes, 500) > 0) {
        int64_t now_ns = ear_now_ns();

        for (int i = 0; i < pulse->ear->lanes; i++)
            if (pulse->pipe[i].revents != 0)
                take(pulse, i, now_ns);
    }
    return NULL;
}

void ear_pulse_open(struct ear *ear, int lanes)
{
    struct pulse_ear *pulse = calloc(1, sizeof *pulse);

    if (pulse == NULL)
        report_fail("out of memory");
    ear_begin(ear, lanes);
    ear->private = pulse;
    ear->ahead_ns = AHEAD_MS * INT64_C(1000000);
    ear->near_frames = EAR_RATE_HZ / 2;
    pulse->ear = ear;
    for (int i = 0; i < lanes; i++)
        start_recorder(pulse, i);
    if (pthread_create(&pulse->thread, NULL, hear, pulse) != 0)
        report_fail("no thread can be had");
}

void ear_pulse_close(struct ear *ear)
{
    struct pulse_ear *pulse = ear->private;

    for (int i = 0; i < ear->lanes; i++) {
        (void)kill(pulse->recorder[i], SIGKILL);
        (void)waitpid(pulse->recorder[i], NULL, 0);
    }
    (void)pthread_join(pulse->thread, NULL);
    ear_end(ear);
    free(pulse);
}
