/* decode_binary.c - numbers at fixed places. */
#include <math.h>

#include "bytes.h"
#include "crc16.h"
#include "decode.h"

enum { CRC_SIZE = 2 };

double decode_load(const struct intake_field *field, const uint8_t *b)
{
    bool big = field->big_endian;

    if (field->has_bit)
        return (double)(bytes_unsigned(b, intake_type_size(field->type), big) >>
                            field->bit &
                        1);
    switch (field->type) {
    case INTAKE_I8: return bytes_signed(b[0], 8);
    case INTAKE_U8: return (double)b[0];
    case INTAKE_I16: return bytes_signed(bytes_u16(b, big), 16);
    case INTAKE_U16: return (double)bytes_u16(b, big);
    case INTAKE_I32: return bytes_signed(bytes_u32(b, big), 32);
    case INTAKE_U32: return (double)bytes_u32(b, big);
    case INTAKE_I64: return bytes_signed(bytes_u64(b, big), 64);
    case INTAKE_U64: return (double)bytes_u64(b, big);
    case INTAKE_F32: return bytes_f32(b, big);
    case INTAKE_F64: return bytes_f64(b, big);
    case INTAKE_TYPE_COUNT: break;
    }
    return (double)NAN;
}

enum intake_reject decode_check_bytes(const struct intake_packet *packet,
                                      const uint8_t *data, size_t *length)
{
    uint16_t told;

    if (packet->checksum != INTAKE_CHECKSUM_CRC16)
        return INTAKE_TAKEN;
    if (*length < CRC_SIZE)
        return INTAKE_TOO_SHORT;
    told = bytes_u16(data + *length - CRC_SIZE, packet->checksum_big_endian);
    if (crc16_add(CRC16_BEGIN, data, *length - CRC_SIZE) != told)
        return INTAKE_BAD_CHECKSUM;
    *length -= CRC_SIZE;
    return INTAKE_TAKEN;
}

enum intake_reject decode_binary(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out)
{
    const struct intake_packet *packet =
        decode_packet(layout, length, data, length);
    enum intake_reject reject;

    if (packet == NULL)
        return INTAKE_NO_PACKET;
    reject = decode_check_bytes(packet, data, &length);
    for (uint32_t i = 0; reject == INTAKE_TAKEN && i < packet->field_count;
         i++) {
        const struct intake_field *field = &packet->field[i];

        if (length < intake_type_size(field->type) ||
            field->at > length - intake_type_size(field->type))
            return INTAKE_TOO_SHORT;
        reject = decode_store(field, decode_load(field, data + field->at), out);
    }
    return reject;
}
