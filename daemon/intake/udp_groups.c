/* udp_groups.c - multicast groups, joined and joined again.
 *
 * A membership belongs to an interface. It outlives that interface's going
 * down and the loss of its address, and ends without a word when the interface
 * is taken away: a card that is unplugged, a network that is left. When one
 * of that name or address comes again, it has to be joined again. (Linux 6;
 * tests/system/test_interface.c shows each.) Memberships of interfaces that
 * are no more still count. */
#include "udp_groups.h"

#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/log.h"

static const char *interface_of(const struct intake_group *group)
{
    return group->interface[0] != '\0' ? group->interface : NULL;
}

/* An IPv6 interface is joined by the index of its name, and libuv takes a
 * name that there is not for index 0, which leaves the choice to the system. */
static bool names_nothing(const char *interface)
{
    struct sockaddr_in6 place = {0};

    return interface != NULL && uv_ip6_addr(interface, 0, &place) == 0 &&
           place.sin6_scope_id == 0;
}

/* Returns: 0, or libuv's error; UV_EADDRINUSE when it is joined there. */
static int join(uv_udp_t *socket, const struct intake_group *group)
{
    const char *by = interface_of(group);

    if (names_nothing(by))
        return UV_ENODEV;
    return uv_udp_set_membership(socket, group->address, by, UV_JOIN_GROUP);
}

int udp_groups_join(struct udp_groups *groups, uv_udp_t *socket,
                    const struct intake_place *place, char *why,
                    size_t why_size)
{
    memset(groups, 0, sizeof *groups);
    groups->count = place->group_count;
    for (uint32_t i = 0; i < place->group_count; i++) {
        const struct intake_group *group = &place->group[i];
        const char *by = interface_of(group);
        int status = join(socket, group);

        if (status != 0) {
            (void)snprintf(
                why, why_size, "group %s%s%s cannot be joined on %s: %s",
                group->address, by != NULL ? " on " : "", by != NULL ? by : "",
                place->address, uv_strerror(status));
            return status == UV_ENODEV || status == UV_EADDRNOTAVAIL
                       ? ERR_ABSENT
                       : ERR_USAGE;
        }
        groups->group[i] = *group;
    }
    return 0;
}

/* ---- again -------------------------------------------------------------- */

/* Once for each group and kind of news; a card that comes and goes would fill
 * the log. */
static void say(const struct intake_group *group, uint32_t bit, uint32_t *said,
                int status)
{
    enum log_level level = LOG_LEVEL_DETAIL;
    const char *by = interface_of(group);

    if ((*said & bit) == 0)
        level = status != 0 ? LOG_LEVEL_WARNING : LOG_LEVEL_NOTE;
    *said |= bit;
    log_line(level, "group %s%s%s %s%s%s", group->address,
             by != NULL ? " on " : "", by != NULL ? by : "",
             status != 0 ? "cannot be joined any more: " : "is joined again",
             status != 0 ? uv_strerror(status) : "",
             status != 0 ? "; tried again until it can" : "");
}

int udp_groups_restore(struct udp_groups *groups, uv_udp_t *socket)
{
    for (uint32_t i = 0; i < groups->count; i++) {
        const struct intake_group *group = &groups->group[i];
        uint32_t bit = UINT32_C(1) << i;
        int status = join(socket, group);

        /* What Linux says when there are too many, of IPv4 and of IPv6. */
        if (status == UV_ENOBUFS || status == UV_ENOMEM)
            return ERR_FULL;
        if (status == UV_EADDRINUSE && (groups->out & bit) == 0)
            continue;
        if (status == 0 || status == UV_EADDRINUSE) {
            groups->out &= ~bit;
            say(group, bit, &groups->said_back, 0);
        } else if ((groups->out & bit) == 0) {
            groups->out |= bit;
            say(group, bit, &groups->said_out, status);
        }
    }
    return 0;
}
