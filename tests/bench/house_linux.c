/* house_linux.c - the processes a bench starts. */
#include "house.h"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "report.h"

enum { LOAD_AT_MOST_S = 900 };

int house_fork(void)
{
    pid_t child;

    /* What waits in a buffer would be written by both. */
    (void)fflush(NULL);
    child = fork();
    if (child < 0)
        report_fail("a process cannot be started");
    if (child == 0 && prctl(PR_SET_PDEATHSIG, SIGKILL) != 0)
        _exit(127);
    return child;
}

int house_start(const char *const *words, const char *said, const char *alsa)
{
    pid_t child = house_fork();

    if (child > 0)
        return child;
    if (said == NULL)
        said = "/dev/null";
    if (freopen("/dev/null", "r", stdin) == NULL ||
        freopen(said, "w", stdout) == NULL || dup2(1, 2) < 0)
        _exit(127);
    if (alsa != NULL)
        (void)setenv("ALSA_CONFIG_PATH", alsa, 1);
    (void)execvp(words[0], (char *const *)(uintptr_t)words);
    _exit(127);
}

void house_end(int pid)
{
    if (pid <= 0)
        return;
    (void)kill(pid, SIGTERM);
    (void)waitpid(pid, NULL, 0);
}

int house_load(void)
{
    pid_t child = house_fork();
    volatile unsigned turns = 0;

    if (child > 0)
        return child;
    (void)alarm(LOAD_AT_MOST_S);
    for (;;)
        turns++;
}

int house_child(int pid)
{
    char path[64];
    char line[64];
    int child = 0;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/task/%d/children", pid, pid);
    file = fopen(path, "r");
    if (file == NULL)
        return 0;
    if (fgets(line, sizeof line, file) != NULL)
        child = (int)strtol(line, NULL, 10);
    (void)fclose(file);
    return child;
}

/* The kernel's own words, "Name:  123 kB". Returns: 123, or 0. */
static double read_kib(int pid, const char *file_name, const char *name)
{
    char path[64];
    char line[256];
    double value = 0.0;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/%s", pid, file_name);
    file = fopen(path, "r");
    if (file == NULL)
        return 0.0;
    while (fgets(line, sizeof line, file) != NULL)
        if (strncmp(line, name, strlen(name)) == 0)
            value = strtod(line + strlen(name), NULL);
    (void)fclose(file);
    return value;
}

bool house_look(int pid, struct house_use *out)
{
    char path[64];
    char line[1024] = "";
    unsigned long user = 0;
    unsigned long system = 0;
    const char *behind;
    char *end;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/stat", pid);
    file = fopen(path, "r");
    if (file == NULL)
        return false;
    if (fgets(line, sizeof line, file) == NULL)
        line[0] = '\0';
    (void)fclose(file);
    /* Behind the name, which may hold anything, the times are 12th and 13th. */
    behind = strrchr(line, ')');
    if (behind == NULL || behind[1] == '\0' || behind[2] == 'Z')
        return false;
    for (int i = 0; behind != NULL && i < 12; i++)
        behind = strchr(behind + 1, ' ');
    if (behind == NULL)
        return false;
    user = strtoul(behind, &end, 10);
    system = strtoul(end, NULL, 10);
    out->cpu_s = (double)(user + system) / (double)sysconf(_SC_CLK_TCK);
    out->pss_kib = read_kib(pid, "smaps_rollup", "Pss:");
    out->shm_kib = read_kib(pid, "smaps_rollup", "Pss_Shmem:");
    out->rss_kib = read_kib(pid, "status", "VmRSS:");
    out->most_kib = read_kib(pid, "status", "VmHWM:");
    return true;
}

uint16_t house_free_port(void)
{
    struct sockaddr_in own = {.sin_family = AF_INET};
    socklen_t length = sizeof own;
    int socket_fd = socket(AF_INET, SOCK_DGRAM, 0);

    own.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (socket_fd < 0 ||
        bind(socket_fd, (struct sockaddr *)&own, sizeof own) != 0 ||
        getsockname(socket_fd, (struct sockaddr *)&own, &length) != 0)
        report_fail("no port can be had");
    (void)close(socket_fd);
    return ntohs(own.sin_port);
}

bool house_ask(const char *program, const char *control, char *out, size_t size)
{
    char command[1200];
    size_t length;
    FILE *answer;

    (void)snprintf(command, sizeof command,
                   "'%s' tell status --json --control '%s' 2>/dev/null",
                   program, control);
    answer = popen(command, "r"); /* NOLINT: both paths are the bench's own */
    if (answer == NULL)
        return false;
    length = fread(out, 1, size - 1, answer);
    out[length] = '\0';
    return pclose(answer) == 0;
}
