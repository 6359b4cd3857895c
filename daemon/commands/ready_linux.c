/* ready_linux.c - telling the service manager how the daemon fares. */
#include "ready.h"

#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include "quarterturn/error.h"

int ready_tell(const char *message)
{
    const char *path = getenv("NOTIFY_SOCKET");
    struct sockaddr_un to = {.sun_family = AF_UNIX};
    size_t length = path != NULL ? strlen(path) : 0;
    socklen_t size =
        (socklen_t)(offsetof(struct sockaddr_un, sun_path) + length);
    ssize_t sent;
    int fd;

    if (length == 0)
        return 0;
    if (length >= sizeof to.sun_path || (path[0] != '/' && path[0] != '@'))
        return ERR_IO;
    memcpy(to.sun_path, path, length);
    /* A name in no folder is written with @ for its leading NUL. */
    if (path[0] == '@')
        to.sun_path[0] = '\0';
    fd = socket(AF_UNIX, SOCK_DGRAM, 0);
    if (fd < 0)
        return ERR_IO;
    sent = sendto(fd, message, strlen(message), MSG_DONTWAIT | MSG_NOSIGNAL,
                  (const struct sockaddr *)&to, size);
    (void)close(fd);
    return sent == (ssize_t)strlen(message) ? 0 : ERR_IO;
}

int ready_tell_reloading(void)
{
    char message[64];
    struct timespec now = {0};

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    (void)snprintf(message, sizeof message,
                   "RELOADING=1\nMONOTONIC_USEC=%" PRId64,
                   (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000);
    return ready_tell(message);
}
