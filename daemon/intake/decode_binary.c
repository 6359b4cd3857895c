/* decode_binary.c - numbers at fixed places.
 *
 * Values are put together byte by byte: any alignment, any byte order, and no
 * shift of a signed number. */
#include "decode.h"

#include <math.h>
#include <string.h>

_Static_assert(sizeof(float) == 4 && sizeof(double) == 8,
               "f32 and f64 are IEEE 754 single and double");

static uint16_t load_u16(const uint8_t *b, bool big)
{
    return (uint16_t)(big ? (unsigned)b[0] << 8 | b[1]
                          : (unsigned)b[1] << 8 | b[0]);
}

static uint32_t load_u32(const uint8_t *b, bool big)
{
    if (big)
        return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 |
               (uint32_t)b[2] << 8 | b[3];
    return (uint32_t)b[3] << 24 | (uint32_t)b[2] << 16 | (uint32_t)b[1] << 8 |
           b[0];
}

static uint64_t load_u64(const uint8_t *b, bool big)
{
    uint64_t first = load_u32(b, big);
    uint64_t second = load_u32(b + 4, big);

    return big ? first << 32 | second : second << 32 | first;
}

/* Two's complement without the conversion that C leaves to the compiler. */
static double signed_value(uint64_t raw, unsigned bits)
{
    uint64_t sign = UINT64_C(1) << (bits - 1);

    if ((raw & sign) == 0)
        return (double)raw;
    /* -(2^bits - raw) */
    return -(double)((sign - 1 - (raw & (sign - 1))) + 1);
}

static double float_value(uint32_t bits)
{
    float value;

    memcpy(&value, &bits, sizeof value);
    return (double)value;
}

static double double_value(uint64_t bits)
{
    double value;

    memcpy(&value, &bits, sizeof value);
    return value;
}

static double load_value(const struct intake_field *field, const uint8_t *b)
{
    bool big = field->big_endian;

    switch (field->type) {
    case INTAKE_I8: return signed_value(b[0], 8);
    case INTAKE_U8: return (double)b[0];
    case INTAKE_I16: return signed_value(load_u16(b, big), 16);
    case INTAKE_U16: return (double)load_u16(b, big);
    case INTAKE_I32: return signed_value(load_u32(b, big), 32);
    case INTAKE_U32: return (double)load_u32(b, big);
    case INTAKE_I64: return signed_value(load_u64(b, big), 64);
    case INTAKE_U64: return (double)load_u64(b, big);
    case INTAKE_F32: return float_value(load_u32(b, big));
    case INTAKE_F64: return double_value(load_u64(b, big));
    case INTAKE_TYPE_COUNT: break;
    }
    return NAN;
}

enum intake_reject decode_binary(const struct intake_packet *packet,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out)
{
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        enum intake_reject reject;
        double raw;

        if (length < intake_type_size(field->type) ||
            field->at > length - intake_type_size(field->type))
            return INTAKE_TOO_SHORT;
        raw = load_value(field, data + field->at);
        /* NaN is how binary senders say "not available". */
        if (isnan(raw))
            continue;
        reject = decode_store(field, raw, out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}
