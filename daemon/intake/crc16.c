/* crc16.c - CRC-16/MCRF4XX, bit by bit: a few hundred bytes a packet need no
 * table. */
#include "crc16.h"

/* 0x1021 with its bits in reverse order. Source: ITU-T X.25 (1996), 2.2.7.4,
 * of which this is the form without the final complement. */
static const unsigned polynomial = 0x8408;

uint16_t crc16_add(uint16_t crc, const uint8_t *data, size_t length)
{
    unsigned rest = crc;

    for (size_t i = 0; i < length; i++) {
        rest ^= data[i];
        for (int bit = 0; bit < 8; bit++)
            rest = (rest & 1) != 0 ? rest >> 1 ^ polynomial : rest >> 1;
    }
    return (uint16_t)rest;
}
