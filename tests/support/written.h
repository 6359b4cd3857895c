/* written.h - a moment, written by an encoder and read back. */
#ifndef SUPPORT_WRITTEN_H
#define SUPPORT_WRITTEN_H

#include <stdint.h>

#include "quarterturn/encode.h"
#include "quarterturn/intake.h"

enum { WRITTEN_MOST = 4096 };

struct written {
    struct intake_layout layout;
    struct intake_encoder encoder;
    struct intake_sample sample; /* to write */
    uint8_t bytes[WRITTEN_MOST + 1];
    int length;
};

/* Begin with a layout of a form without fields, and nothing to tell. */
void written_begin(struct written *w, enum intake_form form);
/* The same with everything that the standards tell, of a flight that is no
 * special case. */
void written_begin_flight(struct written *w, enum intake_form form);
/* value: in the channel's display unit. */
void written_tell(struct written *w, enum intake_channel channel, double value);
/* Add a field to the layout's first packet, in the channel's display unit. */
struct intake_field *written_declare(struct written *w,
                                     enum intake_channel channel,
                                     const char *name);
/* Write the moment's first datagram, and a NUL behind it; it must succeed. */
void written_put(struct written *w);
/* Decode it; it must be taken. */
void written_read(const struct written *w, struct intake_sample *out);
/* A channel that must be there, in its display unit. */
double written_shown(const struct intake_sample *sample,
                     enum intake_channel channel);

#endif
