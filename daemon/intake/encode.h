/* encode.h - private to the intake room: samples back to packets. */
#ifndef INTAKE_ENCODE_H
#define INTAKE_ENCODE_H

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

#endif
