/* decode.h - private to the intake room: the forms of packets. */
#ifndef INTAKE_DECODE_H
#define INTAKE_DECODE_H

#include "quarterturn/intake.h"

/* The part of a text datagram that is decoded: its last line, without what
 * ends it. length 0: there is none. */
struct decode_line {
    const char *text;
    size_t length;
};

/* Read a number: sign, digits with one decimal mark, exponent of ten. No
 * hexadecimal, no infinity, no NaN, no spaces, nothing behind it.
 * decimal: '.' or ','.
 * out: the nearest double; infinite when the number is too large for one.
 * Returns: false when the text is no such number (out unchanged). */
bool decode_number(const char *text, size_t length, char decimal, double *out);

/* Raw value to internal unit, checked and stored.
 * Returns: INTAKE_TAKEN (also when the value means "not available"),
 *    INTAKE_NOT_FINITE or INTAKE_OUT_OF_RANGE. */
enum intake_reject decode_store(const struct intake_field *field, double raw,
                                struct intake_sample *out);

struct decode_line decode_last_line(const uint8_t *data, size_t length);

enum intake_reject decode_text(const struct intake_packet *packet,
                               struct decode_line line,
                               struct intake_sample *out);

enum intake_reject decode_binary(const struct intake_packet *packet,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out);

/* Write a sample; the inverses of the two above.
 * Returns: bytes written, or ERR_FULL. */
int encode_text(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size);
int encode_binary(const struct intake_packet *packet,
                  const struct intake_sample *sample, uint8_t *out,
                  size_t size);

#endif
