/* crc16.h - private to the intake room: CRC-16/MCRF4XX.
 *
 * Polynomial 0x1021 reflected, begun with 0xffff, no final inversion: the
 * checksum of MAVLink frames and of layouts with checksum = "crc16". */
#ifndef INTAKE_CRC16_H
#define INTAKE_CRC16_H

#include <stddef.h>
#include <stdint.h>

enum { CRC16_BEGIN = 0xffff };

/* Carry a checksum on over more bytes.
 * crc: CRC16_BEGIN, or what an earlier call gave. data: may be NULL when
 *    length is 0.
 * Returns: the checksum so far. */
uint16_t crc16_add(uint16_t crc, const uint8_t *data, size_t length);

#endif
