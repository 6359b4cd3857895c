/* socket_posix.c - what the control socket needs of the system. */
#include "socket.h"

#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

bool control_socket_answers(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    bool answers;
    int fd;

    if (strlen(path) >= sizeof address.sun_path)
        return false;
    memcpy(address.sun_path, path, strlen(path) + 1);
    fd = socket(AF_UNIX, SOCK_STREAM, 0);
    if (fd < 0)
        return false;
    answers =
        connect(fd, (const struct sockaddr *)&address, sizeof address) == 0;
    (void)close(fd);
    return answers;
}

bool control_socket_exists(const char *path)
{
    struct stat status;

    return lstat(path, &status) == 0 && S_ISSOCK(status.st_mode);
}

unsigned control_socket_private(void)
{
    return (unsigned)umask(0177);
}

void control_socket_restore(unsigned mask)
{
    (void)umask((mode_t)mask);
}
