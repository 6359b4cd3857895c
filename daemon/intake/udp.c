/* udp.c - datagrams from the network, by libuv. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"
#include "quarterturn/log.h"

struct intake_udp {
    uv_udp_t handle;
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

static void on_receive(uv_udp_t *handle, ssize_t length, const uv_buf_t *buffer,
                       const struct sockaddr *sender, unsigned flags)
{
    struct intake_udp *udp = handle->data;
    bool truncated = (flags & UV_UDP_PARTIAL) != 0;

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
    udp->callback(udp->context, (int64_t)uv_hrtime(),
                  (const uint8_t *)buffer->base, (size_t)length, truncated);
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

/* The port that the system really bound. */
static uint16_t bound_port(const uv_udp_t *handle)
{
    struct sockaddr_storage name;
    int size = (int)sizeof name;
    const uint8_t *port;

    memset(&name, 0, sizeof name);
    if (uv_udp_getsockname(handle, (struct sockaddr *)&name, &size) != 0)
        return 0;
    /* In network order, at the same place for both kinds of address. */
    if (name.ss_family == AF_INET6)
        port =
            (const uint8_t *)&((const struct sockaddr_in6 *)&name)->sin6_port;
    else
        port = (const uint8_t *)&((const struct sockaddr_in *)&name)->sin_port;
    return (uint16_t)((unsigned)port[0] << 8 | port[1]);
}

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
        return ERR_USAGE;
    }
    (void)snprintf(why, why_size, "%s port %u cannot be opened: %s", address,
                   port, uv_strerror(uv_status));
    return ERR_IO;
}

int intake_udp_open(uv_loop_t *loop, const char *address, uint16_t port,
                    intake_datagram_callback callback, void *context,
                    struct intake_udp **out, char *why, size_t why_size)
{
    struct sockaddr_storage where;
    struct intake_udp *udp;
    int status;

    if (parse_address(address, port, &where) != 0) {
        (void)snprintf(why, why_size,
                       "\"%s\" is not a numeric IPv4 or IPv6 address", address);
        return ERR_USAGE;
    }
    udp = calloc(1, sizeof *udp);
    if (udp == NULL || uv_udp_init(loop, &udp->handle) != 0) {
        free(udp);
        (void)snprintf(why, why_size, "out of memory");
        return ERR_NO_MEMORY;
    }
    udp->handle.data = udp;
    udp->callback = callback;
    udp->context = context;
    /* No address reuse: a second program on the port must fail loudly, not
     * take the packets away in silence. */
    status = uv_udp_bind(&udp->handle, (const struct sockaddr *)&where, 0);
    if (status == 0)
        status = uv_udp_recv_start(&udp->handle, give_buffer, on_receive);
    if (status != 0) {
        intake_udp_close(udp);
        return explain(status, address, port, why, why_size);
    }
    udp->port = bound_port(&udp->handle);
    *out = udp;
    return 0;
}

uint16_t intake_udp_port(const struct intake_udp *udp)
{
    return udp->port;
}

static void on_close(uv_handle_t *handle)
{
    free(handle->data);
}

void intake_udp_close(struct intake_udp *udp)
{
    uv_close((uv_handle_t *)&udp->handle, on_close);
}
