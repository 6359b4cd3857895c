/* encode.h - from samples to datagrams, in every form that intake reads.
 *
 * The second contract of the intake room, for who sends. Pure: no clock, no
 * file, no socket, no allocation. */
#ifndef QUARTERTURN_ENCODE_H
#define QUARTERTURN_ENCODE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/layout.h"

/* Sends a flight in any form. Embedded by its owner; fields are private. */
struct intake_encoder {
    const struct intake_layout *layout;
    uint8_t sequence; /* mavlink: of the next frame */
    bool has_beaten;  /* mavlink: a heartbeat was sent, */
    double beat_s;    /* then */
    /* The moment before: what turns, and how fast, is told by dis, mavlink. */
    bool has_before;
    double before_s;
    double before_mps[3]; /* over ground: north, east, down */
    double before_rad[3]; /* heading, pitch, bank */
};

/* layout: borrowed, must outlive the encoder. */
void intake_encoder_init(struct intake_encoder *encoder,
                         const struct intake_layout *layout);
/* How many datagrams a moment takes: one for each declared packet, one for
 * all that the other forms tell. */
uint32_t intake_encoder_datagrams(const struct intake_encoder *encoder);
/* Encode one datagram of a moment; moments in the order of time, each
 * datagram once.
 * datagram: from 0. What the form cannot tell is left out.
 * Returns: bytes written; ERR_FULL; ERR_RANGE (no such datagram); ERR_ABSENT
 *    (the sample lacks what the form must tell: dis where, how and how fast
 *    the airplane flies; the others at least one of their channels). */
int intake_encoder_put(struct intake_encoder *encoder, uint32_t datagram,
                       const struct intake_sample *sample, uint8_t *out,
                       size_t size);

#endif
