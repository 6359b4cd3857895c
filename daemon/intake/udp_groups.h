/* udp_groups.h - the multicast groups that a socket has joined, and joins
 * again when it has lost them. */
#ifndef INTAKE_UDP_GROUPS_H
#define INTAKE_UDP_GROUPS_H

#include <uv.h>

#include "quarterturn/intake.h"

/* How often it is looked whether a group is still joined. */
enum { UDP_GROUPS_PERIOD_MS = 2000 };

/* Embedded by its owner. */
struct udp_groups {
    struct intake_group group[INTAKE_MAX_GROUPS];
    uint32_t count;
    uint32_t out;       /* as bits: those that could not be joined again */
    uint32_t said_out;  /* as bits: of those it has been said */
    uint32_t said_back; /* and of those that they are back */
};

/* Join them all. place: its groups are copied. why: one line on failure.
 * Returns: 0; ERR_ABSENT: there is no such interface, now; ERR_USAGE. */
int udp_groups_join(struct udp_groups *groups, uv_udp_t *socket,
                    const struct intake_place *place, char *why,
                    size_t why_size);
/* Join again what has been lost; say so, once for each group.
 * Returns: 0; ERR_FULL when the socket holds all the memberships that it may,
 *    and another one is needed. */
int udp_groups_restore(struct udp_groups *groups, uv_udp_t *socket);

#endif
