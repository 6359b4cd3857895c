/* share_linux.c - shared memory, the tie to the parent, the clock. */
#define _GNU_SOURCE /* memfd_create, seals */

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stddef.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "quarterturn/error.h"
#include "share.h"

/* Changes with the layout of the block. */
static const uint64_t share_kind = UINT64_C(0x5154736f756e6402);

int audio_share_create(int *fd, struct audio_share **out)
{
    struct audio_share *share;
    int file =
        memfd_create("quarterturn-sound", MFD_CLOEXEC | MFD_ALLOW_SEALING);

    if (file < 0)
        return ERR_IO;
    if (ftruncate(file, (off_t)sizeof *share) != 0 ||
        fcntl(file, F_ADD_SEALS, F_SEAL_SHRINK | F_SEAL_GROW | F_SEAL_SEAL) !=
            0) {
        (void)close(file);
        return ERR_IO;
    }
    share =
        mmap(NULL, sizeof *share, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
    if (share == MAP_FAILED) {
        (void)close(file);
        return ERR_NO_MEMORY;
    }
    share->kind = share_kind;
    audio_ring_init(&share->ring);
    atomic_init(&share->state, AUDIO_STARTING);
    atomic_init(&share->latency_ns, -1);
    *fd = file;
    *out = share;
    return 0;
}

void audio_share_free(int fd, struct audio_share *share)
{
    (void)munmap(share, sizeof *share);
    (void)close(fd);
}

struct audio_share *audio_share_map(int fd)
{
    struct audio_share *share;
    struct stat info;

    if (fstat(fd, &info) != 0 || info.st_size != (off_t)sizeof *share)
        return NULL;
    share =
        mmap(NULL, sizeof *share, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    if (share == MAP_FAILED)
        return NULL;
    if (share->kind != share_kind) {
        (void)munmap(share, sizeof *share);
        return NULL;
    }
    return share;
}

int64_t audio_now_ns(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

void audio_worker_tie(void)
{
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    /* A key at the terminal reaches the whole group: the daemon decides what
     * is still to be heard. The closing pipe ends the worker. */
    (void)signal(SIGINT, SIG_IGN);
    (void)signal(SIGTERM, SIG_IGN);
    (void)signal(SIGHUP, SIG_IGN);
}

bool audio_worker_wait(int timeout_ms)
{
    struct pollfd parent = {.fd = STDIN_FILENO, .events = POLLIN};

    /* Nothing is ever written to the pipe: whatever comes is its end. */
    return poll(&parent, 1, timeout_ms) <= 0;
}
