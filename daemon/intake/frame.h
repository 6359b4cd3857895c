/* frame.h - private to the intake room: the way from a captured frame to the
 * UDP datagram inside. Pure. */
#ifndef INTAKE_FRAME_H
#define INTAKE_FRAME_H

#include "quarterturn/intake.h"

/* What stands before the network layer's header. */
enum frame_link {
    FRAME_ETHERNET,
    FRAME_IP,       /* IPv4 or IPv6 at once */
    FRAME_LOOPBACK, /* four bytes of address family */
    FRAME_COOKED_1, /* Linux cooked capture */
    FRAME_COOKED_2,
    FRAME_LINK_COUNT
};

/* A frame as it was captured. */
struct frame {
    const uint8_t *data;
    size_t length; /* captured */
    bool whole;    /* nothing was cut off */
};

/* Find the datagram in a frame.
 * out: data, length, sender and destination are set; t_ns is not.
 * skipped: the reason's counter is raised when there is none.
 * Returns: true with *out set. out->data points into the frame. */
bool frame_find_datagram(enum frame_link link, const struct frame *frame,
                         struct intake_datagram *out,
                         struct intake_skipped *skipped);

enum { FRAME_MOST_HEADERS = 48 }; /* IPv6 and UDP */

/* Write the IP and UDP headers of a datagram to this machine.
 * sender: NULL: not known, 127.0.0.1. length: of the payload, up to 65507.
 * Returns: bytes written. */
size_t frame_write_headers(uint8_t out[FRAME_MOST_HEADERS], uint16_t port,
                           const struct intake_sender *sender,
                           const uint8_t *data, size_t length);

#endif
