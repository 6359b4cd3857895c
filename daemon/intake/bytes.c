/* bytes.c - numbers out of and into bytes. */
#include "bytes.h"

#include <float.h>
#include <math.h>
#include <string.h>

_Static_assert(sizeof(float) == 4 && sizeof(double) == 8,
               "f32 and f64 are IEEE 754 single and double");

uint16_t bytes_u16(const uint8_t *b, bool big_endian)
{
    return (uint16_t)(big_endian ? (unsigned)b[0] << 8 | b[1]
                                 : (unsigned)b[1] << 8 | b[0]);
}

uint32_t bytes_u32(const uint8_t *b, bool big_endian)
{
    if (big_endian)
        return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 |
               (uint32_t)b[2] << 8 | b[3];
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 |
           b[0];
}

uint64_t bytes_u64(const uint8_t *b, bool big_endian)
{
    uint64_t first = bytes_u32(b, big_endian);
    uint64_t second = bytes_u32(b + 4, big_endian);

    return big_endian ? first << 32 | second : second << 32 | first;
}

/* Without the conversion that C leaves to the compiler. */
double bytes_signed(uint64_t raw, unsigned bits)
{
    uint64_t sign = UINT64_C(1) << (bits - 1);

    if ((raw & sign) == 0)
        return (double)raw;
    /* -(2^bits - raw) */
    return -(double)((sign - 1 - (raw & (sign - 1))) + 1);
}

double bytes_f32(const uint8_t *b, bool big_endian)
{
    uint32_t bits = bytes_u32(b, big_endian);
    float value;

    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

double bytes_f64(const uint8_t *b, bool big_endian)
{
    uint64_t bits = bytes_u64(b, big_endian);
    double value;

    memcpy(&value, &bits, sizeof value);
    return value;
}

uint64_t bytes_unsigned(const uint8_t *b, uint32_t size, bool big_endian)
{
    switch (size) {
    case 1: return b[0];
    case 2: return bytes_u16(b, big_endian);
    case 4: return bytes_u32(b, big_endian);
    default: return bytes_u64(b, big_endian);
    }
}

uint64_t bytes_bits_integer(double value, double least, double greatest)
{
    value = nearbyint(value);
    if (!(value > least))
        value = least;
    if (value >= greatest)
        value = greatest;
    /* 2^64 and 2^63 are doubles but no longer integers of their types. */
    if (value >= 18446744073709551615.0)
        return UINT64_MAX;
    if (value < 0.0)
        return UINT64_MAX - (uint64_t)(-value) + 1;
    if (least < 0.0 && value >= 9223372036854775807.0)
        return INT64_MAX;
    return (uint64_t)value;
}

uint32_t bytes_bits_f32(double value)
{
    float single;
    uint32_t bits;

    /* C leaves the conversion of what a float cannot hold undefined. */
    if (fabs(value) > (double)FLT_MAX)
        single = value < 0.0 ? -INFINITY : INFINITY;
    else
        single = (float)value;
    memcpy(&bits, &single, sizeof bits);
    return bits;
}

uint64_t bytes_bits_f64(double value)
{
    uint64_t bits;

    memcpy(&bits, &value, sizeof bits);
    return bits;
}

void bytes_put(uint8_t *b, uint64_t bits, uint32_t size, bool big_endian)
{
    for (uint32_t i = 0; i < size; i++)
        b[big_endian ? size - 1 - i : i] = (uint8_t)(bits >> (8 * i) & 0xff);
}
