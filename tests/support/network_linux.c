/* network_linux.c - a network of its own for a test. */
#define _GNU_SOURCE /* unshare, setns */

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "network.h"
#include "process.h"
#include "spaces.h"

static int open_own(void)
{
    int out = open("/proc/self/ns/net", O_RDONLY | O_CLOEXEC);

    assert_true(out >= 0);
    return out;
}

static void enter(int space)
{
    assert_int_equal(setns(space, CLONE_NEWNET), 0);
}

void network_ip(const char *const *words)
{
    struct process ip;

    process_run_other(&ip, "ip", words);
    if (ip.status != 0)
        fail_msg("ip %s %s: %s", words[0], words[1], ip.err);
}

static void route_groups(const char *name)
{
    const char *const words[] = {"route", "add", "239.192.0.0/16",
                                 "dev",   name,  NULL};

    network_ip(words);
}

void network_route(void)
{
    route_groups("qt0");
}

/* One end of the cable, in the namespace that the test is in. Addresses that
 * nobody else can have need no look for whoever has them (nodad). */
static void set_up_end(const struct network *network, const char *name,
                       const char *ipv4, const char *ipv6)
{
    const char *const own[] = {"link", "set", name, "up", NULL};
    const char *const address[] = {"addr", "add", ipv4, "dev", name, NULL};
    const char *const address6[] = {"addr", "add",   ipv6, "dev",
                                    name,   "nodad", NULL};

    network_ip(own);
    network_ip(address);
    if (network->has_ipv6)
        network_ip(address6);
    route_groups(name);
}

void network_lay(const struct network *network)
{
    char there[64];
    const char *const cable[] = {"link", "add", "qt0",   "type", "veth", "peer",
                                 "name", "qt1", "netns", there,  NULL};

    (void)snprintf(there, sizeof there, "/proc/%d/fd/%d", (int)getpid(),
                   network->there);
    network_ip(cable);
    enter(network->there);
    set_up_end(network, "qt1", "192.0.2.2/24", "fe80::2/64");
    enter(network->here);
    set_up_end(network, "qt0", "192.0.2.1/24", "fe80::1/64");
}

bool network_make(struct network *network)
{
    const char *const loopback[] = {"link", "set", "lo", "up", NULL};

    if (!spaces_leave(CLONE_NEWNET))
        return false;
    network->has_ipv6 = access("/proc/net/if_inet6", R_OK) == 0;
    network->here = open_own();
    network_ip(loopback);
    assert_int_equal(unshare(CLONE_NEWNET), 0);
    network->there = open_own();
    enter(network->here);
    network_lay(network);
    return true;
}

/* A socket belongs to the namespace that it was made in. */
int network_connect(const struct network *network, const char *address,
                    uint16_t port)
{
    struct sockaddr_in ipv4 = {.sin_family = AF_INET, .sin_port = htons(port)};
    struct sockaddr_in6 ipv6 = {.sin6_family = AF_INET6,
                                .sin6_port = htons(port)};
    bool is_ipv6 = strchr(address, ':') != NULL;
    int out;

    assert_int_equal(
        inet_pton(is_ipv6 ? AF_INET6 : AF_INET, address,
                  is_ipv6 ? (void *)&ipv6.sin6_addr : (void *)&ipv4.sin_addr),
        1);
    enter(network->there);
    out = socket(is_ipv6 ? AF_INET6 : AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    enter(network->here);
    assert_true(out >= 0);
    assert_int_equal(connect(out,
                             is_ipv6 ? (const struct sockaddr *)&ipv6
                                     : (const struct sockaddr *)&ipv4,
                             is_ipv6 ? sizeof ipv6 : sizeof ipv4),
                     0);
    return out;
}
