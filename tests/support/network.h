/* network.h - a network of its own for a test, with a cable that can be pulled.
 *
 * Two network namespaces, "here", which the test and what it starts are in,
 * and "there", where its senders are, joined by a pair of interfaces:
 *
 *     here  qt0  192.0.2.1  fe80::1        there  qt1  192.0.2.2  fe80::2
 *
 * 192.0.2.0/24 is for examples (RFC 5737). Nothing outside the test sees it. */
#ifndef SUPPORT_NETWORK_H
#define SUPPORT_NETWORK_H

#include <stdbool.h>
#include <stdint.h>

struct network {
    int here;
    int there;
    bool has_ipv6;
};

/* Leave the machine's network for good, and lay the cable. Needs root, or a
 * system that lets a user make namespaces.
 * Returns: false when that is forbidden; nothing has changed then. */
bool network_make(struct network *network);
/* Lay the cable, when it has been taken away. */
void network_lay(const struct network *network);
/* Send to groups over it, from here; the way there ends when qt0 goes down or
 * loses its address. */
void network_route(void);
/* Run ip(8) here with these words. The test fails when that does. */
void network_ip(const char *const *words);
/* A socket there, connected to an address and port. Owns: the caller closes. */
int network_connect(const struct network *network, const char *address,
                    uint16_t port);

#endif
