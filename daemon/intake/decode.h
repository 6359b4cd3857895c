/* decode.h - private to the intake room: the forms of packets. */
#ifndef INTAKE_DECODE_H
#define INTAKE_DECODE_H

#include "quarterturn/intake.h"

/* A piece of a text datagram: a line, a column, a word. */
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
 * Returns: INTAKE_TAKEN (also when the value means "not available", which
 *    makes the channel absent), INTAKE_NOT_FINITE or INTAKE_OUT_OF_RANGE. */
enum intake_reject decode_store(const struct intake_field *field, double raw,
                                struct intake_sample *out);

/* Whether a packet may be this one, by size and beginning.
 * length: of the datagram. head: the bytes starts_at counts in. */
bool decode_fits(const struct intake_packet *packet, size_t length,
                 const void *head, size_t head_length);
/* The first packet of a layout that fits, or NULL. */
const struct intake_packet *decode_packet(const struct intake_layout *layout,
                                          size_t length, const void *head,
                                          size_t head_length);

/* ---- text (words.c) ----------------------------------------------------- */

bool decode_is_line_end(char c);
bool decode_is_blank(char c);
/* The last line, without what ends it and blanks before that; length 0: there
 * is none. */
struct decode_line decode_last_line(const char *text, size_t length);
/* Without blanks at both ends; then without a pair of quotes about it. */
struct decode_line decode_trim(struct decode_line word);
struct decode_line decode_unquote(struct decode_line word);
/* Store a value that is written as text: a number, "nan" or an empty optional
 * one for "not available", "true" or "false" where the unit is bool.
 * Returns: as decode_store, or INTAKE_NOT_A_NUMBER. */
enum intake_reject decode_word(const struct intake_packet *packet,
                               const struct intake_field *field,
                               struct decode_line word,
                               struct intake_sample *out);
/* Check the checksum of a line and cut it off: '*' and two hexadecimal
 * digits, the exclusive or of all characters before it but a '$' or '!' that
 * begins the line.
 * Returns: INTAKE_TAKEN or INTAKE_BAD_CHECKSUM. */
enum intake_reject decode_check_xor(struct decode_line *line);
/* The same, if the packet has one. */
enum intake_reject decode_check_line(const struct intake_packet *packet,
                                     struct decode_line *line);

/* ---- bytes (decode_binary.c) -------------------------------------------- */

/* The value of a field whose first byte is at b; NaN for a NaN. */
double decode_load(const struct intake_field *field, const uint8_t *b);
/* Check the checksum of a datagram, if the packet has one, and cut it off.
 * Returns: INTAKE_TAKEN, INTAKE_TOO_SHORT or INTAKE_BAD_CHECKSUM. */
enum intake_reject decode_check_bytes(const struct intake_packet *packet,
                                      const uint8_t *data, size_t *length);

/* ---- one decoder for each form ------------------------------------------ */

/* The contract of intake_decode for layouts of that form; length > 0; out is
 * cleared. What brings no channel may be INTAKE_TAKEN: intake_decode sees to
 * it. */
enum intake_reject decode_text(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out);
enum intake_reject decode_binary(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out);
enum intake_reject decode_records(const struct intake_layout *layout,
                                  const uint8_t *data, size_t length,
                                  struct intake_sample *out);
enum intake_reject decode_pairs(const struct intake_layout *layout,
                                const uint8_t *data, size_t length,
                                struct intake_sample *out);
enum intake_reject decode_json(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out);
enum intake_reject decode_nmea(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out);
enum intake_reject decode_dis(const struct intake_layout *layout,
                              const uint8_t *data, size_t length,
                              struct intake_sample *out);
enum intake_reject decode_mavlink(const struct intake_layout *layout,
                                  const uint8_t *data, size_t length,
                                  struct intake_sample *out);

/* ---- forms that know their values by themselves (declared.c) ------------ */

/* Where their values go. */
struct decode_target {
    const struct intake_layout *layout;
    struct intake_sample *out;
};

/* The layout's field for a channel, or NULL. */
const struct intake_field *decode_declared(const struct intake_layout *layout,
                                           enum intake_channel channel);
/* Store a value in its internal unit, past what the layout's field for the
 * channel says of scale, offset and range; the offset counts in the unit that
 * the channel is shown in.
 * value: NaN means "not available" and stores nothing.
 * Returns: as decode_store. */
enum intake_reject decode_tell(const struct decode_target *target,
                               enum intake_channel channel, double value);

/* What the built-in forms can give, as CHANNEL_BITs: what the standard
 * carries, what the layout's fields add to it and what it declares. */
uint32_t decode_nmea_channels(const struct intake_layout *layout);
uint32_t decode_dis_channels(const struct intake_layout *layout);
uint32_t decode_mavlink_channels(const struct intake_layout *layout);

#endif
