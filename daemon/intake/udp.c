/* udp.c - datagrams from the network, by libuv. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"
#include "quarterturn/log.h"
#include "udp_groups.h"

struct intake_udp {
    /* The socket, and room for the one that takes its place. */
    uv_udp_t socket[2];
    uv_udp_t *handle; /* which of them */
    struct sockaddr_storage where;
    uv_timer_t again; /* runs when there are groups */
    struct udp_groups groups;
    bool is_open;
    intake_datagram_callback callback;
    void *context;
    uint16_t port;
    bool told;
    /* One more than the longest that is taken. */
    char buffer[INTAKE_MAX_DATAGRAM + 1];
};

static void give_buffer(uv_handle_t *handle, size_t suggested, uv_buf_t *out)
{
    struct intake_udp *udp = handle->data;

    (void)suggested;
    *out = uv_buf_init(udp->buffer, sizeof udp->buffer);
}

static uint16_t port_of(const struct sockaddr_storage *name)
{
    const uint8_t *port;

    /* In network order, at the same place for both kinds of address. */
    if (name->ss_family == AF_INET6)
        port = (const uint8_t *)&((const struct sockaddr_in6 *)name)->sin6_port;
    else
        port = (const uint8_t *)&((const struct sockaddr_in *)name)->sin_port;
    return (uint16_t)((unsigned)port[0] << 8 | port[1]);
}

/* An IPv4 sender heard on an IPv6 socket counts as what it is (RFC 4291
 * 2.5.5.2: ten bytes of 0, two of ff, the address). */
static void sender_of(const struct sockaddr *name, struct intake_sender *out)
{
    static const uint8_t mapped[12] = {[10] = 0xff, [11] = 0xff};
    struct sockaddr_storage copy;

    memset(out, 0, sizeof *out);
    memset(&copy, 0, sizeof copy);
    if (name->sa_family == AF_INET6) {
        const uint8_t *address;

        memcpy(&copy, name, sizeof(struct sockaddr_in6));
        address =
            (const uint8_t *)&((const struct sockaddr_in6 *)&copy)->sin6_addr;
        out->ipv6 = memcmp(address, mapped, sizeof mapped) != 0;
        if (out->ipv6)
            memcpy(out->address, address, 16);
        else
            memcpy(out->address, address + 12, 4);
    } else {
        memcpy(&copy, name, sizeof(struct sockaddr_in));
        memcpy(out->address, &((const struct sockaddr_in *)&copy)->sin_addr, 4);
    }
    out->port = port_of(&copy);
}

static void on_receive(uv_udp_t *handle, ssize_t length, const uv_buf_t *buffer,
                       const struct sockaddr *sender, unsigned flags)
{
    struct intake_udp *udp = handle->data;
    struct intake_datagram datagram = {.t_ns = (int64_t)uv_hrtime()};

    if (length < 0) {
        /* Mostly an answer to somebody else's datagram; the socket goes on. */
        if (!udp->told)
            log_line(LOG_LEVEL_WARNING, "receiving: %s",
                     uv_strerror((int)length));
        udp->told = true;
        return;
    }
    /* Nothing from nobody: the socket has been read empty. */
    if (length == 0 && sender == NULL)
        return;
    datagram.data = (const uint8_t *)buffer->base;
    datagram.length = (flags & UV_UDP_PARTIAL) != 0 ? INTAKE_MAX_DATAGRAM + 1
                                                    : (size_t)length;
    datagram.destination_port = udp->port;
    if (sender != NULL)
        sender_of(sender, &datagram.sender);
    udp->callback(udp->context, &datagram);
}

static int parse_address(const char *address, uint16_t port,
                         struct sockaddr_storage *out)
{
    if (uv_ip4_addr(address, port, (struct sockaddr_in *)out) == 0)
        return 0;
    if (uv_ip6_addr(address, port, (struct sockaddr_in6 *)out) == 0)
        return 0;
    return ERR_USAGE;
}

int intake_udp_check_address(const char *address)
{
    struct sockaddr_storage unused;

    return parse_address(address, 0, &unused);
}

/* ---- addresses as text -------------------------------------------------- */

int intake_udp_parse_prefix(const char *text, struct intake_prefix *out)
{
    char address[INTAKE_ADDRESS_TEXT];
    const char *slash = strchr(text, '/');
    size_t length = slash != NULL ? (size_t)(slash - text) : strlen(text);
    struct intake_prefix prefix = {0};
    char *end = address;
    unsigned long bits;

    /* An interface behind a % would be dropped: a sender is known by its
     * address alone. */
    if (length >= sizeof address || strchr(text, '%') != NULL)
        return ERR_USAGE;
    memcpy(address, text, length);
    address[length] = '\0';
    prefix.ipv6 = strchr(address, ':') != NULL;
    if (uv_inet_pton(prefix.ipv6 ? AF_INET6 : AF_INET, address,
                     prefix.address) != 0)
        return ERR_USAGE;
    prefix.bits = prefix.ipv6 ? 128 : 32;
    if (slash != NULL) {
        /* Digits only: strtoul would take a sign and blanks too. */
        if (slash[1] < '0' || slash[1] > '9')
            return ERR_USAGE;
        bits = strtoul(slash + 1, &end, 10);
        if (*end != '\0' || bits > prefix.bits)
            return ERR_USAGE;
        prefix.bits = (uint32_t)bits;
    }
    for (uint32_t i = prefix.bits; i < (prefix.ipv6 ? 128U : 32U); i++) {
        if ((prefix.address[i / 8] >> (7 - i % 8) & 1) != 0)
            return ERR_USAGE;
    }
    *out = prefix;
    return 0;
}

void intake_udp_sender_text(const struct intake_sender *sender,
                            char out[INTAKE_ADDRESS_TEXT])
{
    char address[INTAKE_ADDRESS_TEXT - 16] = "?";

    (void)uv_inet_ntop(sender->ipv6 ? AF_INET6 : AF_INET, sender->address,
                       address, sizeof address);
    (void)snprintf(out, INTAKE_ADDRESS_TEXT,
                   sender->ipv6 ? "[%s] port %u" : "%s port %u", address,
                   sender->port);
}

int intake_udp_check_group(const char *address)
{
    uint8_t bytes[16];

    if (uv_inet_pton(AF_INET, address, bytes) == 0)
        return bytes[0] >> 4 == 14 ? 0 : ERR_USAGE;
    if (uv_inet_pton(AF_INET6, address, bytes) == 0)
        return bytes[0] == 0xff ? 0 : ERR_USAGE;
    return ERR_USAGE;
}

/* ---- opening ------------------------------------------------------------ */

static int explain(int uv_status, const char *address, uint16_t port, char *why,
                   size_t why_size)
{
    if (uv_status == UV_EADDRINUSE) {
        (void)snprintf(why, why_size, "%s port %u is in use by another program",
                       address, port);
        return ERR_BUSY;
    }
    if (uv_status == UV_EADDRNOTAVAIL) {
        (void)snprintf(why, why_size,
                       "%s is not an address of this machine; 127.0.0.1 "
                       "hears this machine, 0.0.0.0 every network",
                       address);
        return ERR_ABSENT;
    }
    (void)snprintf(why, why_size, "%s port %u cannot be opened: %s", address,
                   port, uv_strerror(uv_status));
    return ERR_IO;
}

/* The system's usual room is full within two milliseconds of a flood, and
 * what does not fit is lost, the flight's packets too. It gives what it
 * allows. */
static void ask_for_room(uv_udp_t *handle)
{
    int bytes = 1 << 20;

    (void)uv_recv_buffer_size((uv_handle_t *)handle, &bytes);
}

/* Returns: 0, or libuv's error; the handle is then to be closed all the same.
 * No address reuse: a second program on the port must fail loudly, not take
 * the packets away in silence. */
static int open_socket(struct intake_udp *udp)
{
    int size = (int)sizeof udp->where;
    int status = uv_udp_init(udp->again.loop, udp->handle);

    udp->handle->data = udp;
    if (status == 0)
        status =
            uv_udp_bind(udp->handle, (const struct sockaddr *)&udp->where, 0);
    if (status != 0)
        return status;
    ask_for_room(udp->handle);
    /* Which port the system chose: the next socket is to have it too. */
    (void)uv_udp_getsockname(udp->handle, (struct sockaddr *)&udp->where,
                             &size);
    return uv_udp_recv_start(udp->handle, give_buffer, on_receive);
}

/* ---- groups ------------------------------------------------------------- */

/* A socket may hold so many memberships, and those of interfaces that are no
 * more cannot be given back: another one takes its place. */
static void open_again(struct intake_udp *udp)
{
    int status;

    uv_close((uv_handle_t *)udp->handle, NULL);
    udp->handle = &udp->socket[udp->handle == udp->socket ? 1 : 0];
    status = open_socket(udp);
    if (status != 0 && udp->is_open)
        log_line(LOG_LEVEL_WARNING,
                 "port %u cannot be opened again: %s; tried until it can",
                 udp->port, uv_strerror(status));
    udp->is_open = status == 0;
}

static void on_again(uv_timer_t *timer)
{
    struct intake_udp *udp = timer->data;

    if (!udp->is_open ||
        udp_groups_restore(&udp->groups, udp->handle) == ERR_FULL) {
        open_again(udp);
        if (udp->is_open)
            (void)udp_groups_restore(&udp->groups, udp->handle);
    }
}

/* The timer keeps no loop running of itself. */
static int join_groups(struct intake_udp *udp, const struct intake_place *place,
                       char *why, size_t why_size)
{
    int error =
        udp_groups_join(&udp->groups, udp->handle, place, why, why_size);

    if (error < 0 || place->group_count == 0)
        return error;
    (void)uv_timer_start(&udp->again, on_again, UDP_GROUPS_PERIOD_MS,
                         UDP_GROUPS_PERIOD_MS);
    uv_unref((uv_handle_t *)&udp->again);
    return 0;
}

int intake_udp_open(uv_loop_t *loop, const struct intake_place *place,
                    intake_datagram_callback callback, void *context,
                    struct intake_udp **out, char *why, size_t why_size)
{
    struct sockaddr_storage where = {0};
    struct intake_udp *udp;
    int status;
    int error;

    if (parse_address(place->address, place->port, &where) != 0) {
        (void)snprintf(why, why_size,
                       "\"%s\" is not a numeric IPv4 or IPv6 address",
                       place->address);
        return ERR_USAGE;
    }
    udp = calloc(1, sizeof *udp);
    if (udp == NULL) {
        (void)snprintf(why, why_size, "out of memory");
        return ERR_NO_MEMORY;
    }
    (void)uv_timer_init(loop, &udp->again);
    udp->again.data = udp;
    udp->handle = udp->socket;
    udp->where = where;
    udp->callback = callback;
    udp->context = context;
    status = open_socket(udp);
    error = status != 0
                ? explain(status, place->address, place->port, why, why_size)
                : join_groups(udp, place, why, why_size);
    if (error != 0) {
        intake_udp_close(udp);
        return error;
    }
    udp->is_open = true;
    udp->port = port_of(&udp->where);
    *out = udp;
    return 0;
}

uint16_t intake_udp_port(const struct intake_udp *udp)
{
    return udp->port;
}

static void on_timer_closed(uv_handle_t *handle)
{
    free(handle->data);
}

static void on_closed(uv_handle_t *handle)
{
    struct intake_udp *udp = handle->data;

    uv_close((uv_handle_t *)&udp->again, on_timer_closed);
}

void intake_udp_close(struct intake_udp *udp)
{
    (void)uv_timer_stop(&udp->again);
    uv_close((uv_handle_t *)udp->handle, on_closed);
}
