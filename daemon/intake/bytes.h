/* bytes.h - private to the intake room: numbers out of and into
 * bytes.
 *
 * Put together byte by byte: any alignment, any byte order, and no shift of a
 * signed number. b must hold as many bytes as the number has. */
#ifndef INTAKE_BYTES_H
#define INTAKE_BYTES_H

#include <stdbool.h>
#include <stdint.h>

uint16_t bytes_u16(const uint8_t *b, bool big_endian);
uint32_t bytes_u32(const uint8_t *b, bool big_endian);
uint64_t bytes_u64(const uint8_t *b, bool big_endian);

/* Two's complement of the lowest bits, 8 to 64 of them. */
double bytes_signed(uint64_t raw, unsigned bits);

/* IEEE 754 single and double precision; NaN and infinity as they come. */
double bytes_f32(const uint8_t *b, bool big_endian);
double bytes_f64(const uint8_t *b, bool big_endian);

/* An unsigned integer of size bytes: 1, 2, 4 or 8. */
uint64_t bytes_unsigned(const uint8_t *b, uint32_t size, bool big_endian);

/* ---- the way back ------------------------------------------------------- */

/* The bits of the integer next to a number, no further than least and
 * greatest, which are those of its type. NaN: least. */
uint64_t bytes_bits_integer(double value, double least, double greatest);
/* The bits of an IEEE 754 single or double. */
uint32_t bytes_bits_f32(double value);
uint64_t bytes_bits_f64(double value);
/* Put an integer's lowest bytes. size: 1 to 8. */
void bytes_put(uint8_t *b, uint64_t bits, uint32_t size, bool big_endian);

#endif
