/* naive_posix.c - what a short script would do. */
#include <arpa/inet.h>
#include <math.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdbool.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "house.h"
#include "report.h"

enum { HEADING_AT = 12 }; /* in plain-binary: f32, degrees */

static bool read_heading(int socket_fd, double *heading_deg)
{
    unsigned char bytes[256];
    ssize_t length = recv(socket_fd, bytes, sizeof bytes, 0);
    float heading = 0.0F;

    if (length < HEADING_AT + (ssize_t)sizeof heading)
        return false;
    memcpy(&heading, bytes + HEADING_AT, sizeof heading);
    *heading_deg = (double)heading;
    return true;
}

static double turned_deg(double from_deg, double to_deg)
{
    return fabs(remainder(to_deg - from_deg, 360.0));
}

static _Noreturn void watch(int socket_fd, const char *const *player)
{
    double first_deg = 0.0;
    double now_deg = 0.0;

    while (!read_heading(socket_fd, &first_deg))
        continue;
    do {
        while (!read_heading(socket_fd, &now_deg))
            continue;
    } while (turned_deg(first_deg, now_deg) < 90.0);
    (void)house_start(player, NULL, NULL);
    for (;;)
        (void)pause();
}

int naive_start(uint16_t port, const char *const *player)
{
    struct sockaddr_in own = {.sin_family = AF_INET, .sin_port = htons(port)};
    int socket_fd = socket(AF_INET, SOCK_DGRAM, 0);
    pid_t child;

    own.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (socket_fd < 0 ||
        bind(socket_fd, (struct sockaddr *)&own, sizeof own) != 0)
        report_fail("port %d cannot be had", (int)port);
    child = house_fork();
    if (child == 0)
        watch(socket_fd, player);
    (void)close(socket_fd);
    return child;
}
