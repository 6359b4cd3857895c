/* rehearse_send.h - where the packets of a rehearsal go. */
#ifndef COMMANDS_REHEARSE_SEND_H
#define COMMANDS_REHEARSE_SEND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>

/* Embedded by its owner; fields are private. */
struct rehearse_send {
    uv_udp_t udp;
    struct sockaddr_storage to;
    const char *address;
    uint16_t port;
    bool connected;
    bool refused; /* and said so */
    uint64_t datagrams;
    uint64_t failed; /* not taken by the network */
};

/* Choose the place. address: borrowed until the end; numeric, IPv4 or IPv6.
 * Says what is wrong itself. Returns: 0 or EXIT_WRONG_USAGE. */
int rehearse_send_to(struct rehearse_send *send, const char *address,
                     uint16_t port);
/* Take a socket on a loop that runs; closed by rehearse_send_close. */
void rehearse_send_begin(struct rehearse_send *send, uv_loop_t *loop);
/* Send a datagram. Whether somebody takes it is not waited for; when the
 * machine there answers that nobody listens, that is said once. */
void rehearse_send(struct rehearse_send *send, const uint8_t *bytes,
                   size_t length);
void rehearse_send_close(struct rehearse_send *send);
/* At the end: say so when the network took none. */
void rehearse_send_tell(const struct rehearse_send *send);

#endif
