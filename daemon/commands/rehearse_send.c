/* rehearse_send.c - where the packets of a rehearsal go. */
#include "rehearse_send.h"

#include "commands.h"
#include "quarterturn/log.h"

int rehearse_send_to(struct rehearse_send *send, const char *address,
                     uint16_t port)
{
    send->address = address;
    send->port = port;
    if (uv_ip4_addr(address, port, (struct sockaddr_in *)&send->to) == 0 ||
        uv_ip6_addr(address, port, (struct sockaddr_in6 *)&send->to) == 0)
        return 0;
    log_line(LOG_LEVEL_ERROR,
             "rehearse: --address takes a numeric address, not \"%s\"",
             address);
    return EXIT_WRONG_USAGE;
}

void rehearse_send_begin(struct rehearse_send *send, uv_loop_t *loop)
{
    (void)uv_udp_init(loop, &send->udp);
    /* Only a connected socket hears that a port is closed. A place that cannot
     * be reached yet is tried with each datagram. */
    send->connected =
        uv_udp_connect(&send->udp, (const struct sockaddr *)&send->to) == 0;
}

static int try_send(struct rehearse_send *send, const uv_buf_t *buffer)
{
    return uv_udp_try_send(
        &send->udp, buffer, 1,
        send->connected ? NULL : (const struct sockaddr *)&send->to);
}

/* RFC 1122, 4.1.3.3: what ICMP says of a datagram is passed on to its
 * sender. */
static void say_refused(struct rehearse_send *send)
{
    if (!send->refused)
        log_line(LOG_LEVEL_WARNING,
                 "nobody listens on %s port %u; flying all the same",
                 send->address, send->port);
    send->refused = true;
}

void rehearse_send(struct rehearse_send *send, const uint8_t *bytes,
                   size_t length)
{
    uv_buf_t buffer = uv_buf_init((char *)(uintptr_t)bytes, (unsigned)length);
    int sent = try_send(send, &buffer);

    /* That was the answer to an earlier one: this one has not gone yet. */
    if (sent == UV_ECONNREFUSED) {
        say_refused(send);
        sent = try_send(send, &buffer);
    }
    if (sent < 0)
        send->failed++;
    send->datagrams++;
}

void rehearse_send_close(struct rehearse_send *send)
{
    uv_close((uv_handle_t *)&send->udp, NULL);
}

void rehearse_send_tell(const struct rehearse_send *send)
{
    if (send->datagrams > 0 && send->failed == send->datagrams)
        log_line(LOG_LEVEL_WARNING, "nobody took the packets at %s port %u",
                 send->address, send->port);
}
