/* encode.h - private to the intake room: samples back to packets. */
#ifndef INTAKE_ENCODE_H
#define INTAKE_ENCODE_H

#include "quarterturn/encode.h"
#include "quarterturn/intake.h"

/* A writer that remembers when it ran out of room. */
struct encode_out {
    char *text;
    size_t size;
    size_t used;
    bool full;
};

void encode_put(struct encode_out *out, const void *bytes, size_t length);
void encode_put_text(struct encode_out *out, const char *text);
/* decimal: '.' or ','. */
void encode_put_number(struct encode_out *out, double raw, char decimal);
/* Bytes written, or ERR_FULL. */
int encode_result(const struct encode_out *out);

/* The number to send for a field.
 * Returns: false when the sample lacks the channel and no number says so; raw
 *    is then NaN. */
bool encode_raw(const struct intake_field *field,
                const struct intake_sample *sample, double *raw);

/* Write a sample; the inverses of the decoders.
 * Returns: bytes written, or ERR_FULL. */
int encode_text(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size);
int encode_pairs(const struct intake_packet *packet,
                 const struct intake_sample *sample, uint8_t *out, size_t size);
int encode_json(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size);
int encode_binary(const struct intake_packet *packet,
                  const struct intake_sample *sample, uint8_t *out,
                  size_t size);
int encode_records(const struct intake_packet *packet,
                   const struct intake_sample *sample, uint8_t *out,
                   size_t size);

/* ---- the open standards ------------------------------------------------- */

/* How an airplane moves, from one moment and the one before; all 0 when there
 * is none before it. */
struct encode_motion {
    double velocity_mps[3];  /* over ground: north, east, down */
    double turning_radps[3]; /* about the nose, the right wing, the belly */
    double faster_mps2;      /* velocity's growth toward the nose */
};

/* A moment for a form that knows its values by itself. */
struct encode_moment {
    const struct intake_layout *layout;
    const struct intake_sample *sample; /* what the layout's fields say of
                                           scale and offset is undone */
    const struct intake_sample *as_is;  /* here it is not */
    struct encode_motion motion;
};

/* Whether the moment tells all of these channels. */
bool encode_has(const struct encode_moment *moment, uint32_t channels);

/* Write a moment.
 * Returns: bytes written, ERR_FULL or ERR_ABSENT. */
int encode_nmea(const struct encode_moment *moment, struct encode_out *out);
int encode_dis(const struct encode_moment *moment, struct encode_out *out);
int encode_mavlink(struct intake_encoder *encoder,
                   const struct encode_moment *moment, struct encode_out *out);

#endif
