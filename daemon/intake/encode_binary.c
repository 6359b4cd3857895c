/* encode_binary.c - samples as numbers at fixed places, and in records. */
#include <string.h>

#include "bytes.h"
#include "crc16.h"
#include "encode.h"
#include "quarterturn/error.h"

enum { CRC_SIZE = 2 };

static uint64_t bits_of(enum intake_type type, double raw)
{
    switch (type) {
    case INTAKE_I8: return bytes_bits_integer(raw, -128.0, 127.0);
    case INTAKE_U8: return bytes_bits_integer(raw, 0.0, 255.0);
    case INTAKE_I16: return bytes_bits_integer(raw, -32768.0, 32767.0);
    case INTAKE_U16: return bytes_bits_integer(raw, 0.0, 65535.0);
    case INTAKE_I32:
        return bytes_bits_integer(raw, -2147483648.0, 2147483647.0);
    case INTAKE_U32: return bytes_bits_integer(raw, 0.0, 4294967295.0);
    case INTAKE_I64: return bytes_bits_integer(raw, -0x1p63, 0x1p63);
    case INTAKE_U64: return bytes_bits_integer(raw, 0.0, 0x1p64);
    case INTAKE_F32: return bytes_bits_f32(raw);
    case INTAKE_F64: return bytes_bits_f64(raw);
    case INTAKE_TYPE_COUNT: break;
    }
    return 0;
}

/* Bits of one number come from several fields. */
static void store_bits(uint8_t *at, uint64_t bits, uint32_t size, bool big)
{
    for (uint32_t i = 0; i < size; i++) {
        uint32_t place = big ? size - 1 - i : i;

        at[place] |= (uint8_t)(bits >> (8 * i) & 0xff);
    }
}

static double raw_to_send(const struct intake_field *field,
                          const struct intake_sample *sample)
{
    double raw;

    /* An integer without a "missing" value cannot say that it is absent. */
    if (!encode_raw(field, sample, &raw) && field->type != INTAKE_F32 &&
        field->type != INTAKE_F64)
        return 0.0;
    return raw;
}

/* b: of the packet or the record, zero where no bit was stored yet. */
static void put_field(const struct intake_field *field,
                      const struct intake_sample *sample, uint8_t *b)
{
    double raw = raw_to_send(field, sample);
    uint64_t bits = field->has_bit ? (uint64_t)(raw != 0.0) << field->bit
                                   : bits_of(field->type, raw);

    store_bits(b + field->at, bits, intake_type_size(field->type),
               field->big_endian);
}

static uint32_t greater(uint32_t a, uint32_t b)
{
    return a > b ? a : b;
}

static uint32_t crc_size(const struct intake_packet *packet)
{
    return packet->checksum == INTAKE_CHECKSUM_CRC16 ? CRC_SIZE : 0;
}

/* Behind everything else. */
static void put_crc(const struct intake_packet *packet, uint8_t *out,
                    size_t length)
{
    if (packet->checksum != INTAKE_CHECKSUM_CRC16)
        return;
    memset(out + length - CRC_SIZE, 0, CRC_SIZE);
    store_bits(out + length - CRC_SIZE,
               crc16_add(CRC16_BEGIN, out, length - CRC_SIZE), CRC_SIZE,
               packet->checksum_big_endian);
}

/* Where starts_with ends. */
static uint32_t beginning_end(const struct intake_packet *packet)
{
    return packet->starts_with_length == 0
               ? 0
               : packet->starts_at + packet->starts_with_length;
}

int encode_binary(const struct intake_packet *packet,
                  const struct intake_sample *sample, uint8_t *out, size_t size)
{
    uint32_t length = beginning_end(packet);

    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];

        length = greater(length, field->at + intake_type_size(field->type));
    }
    length += crc_size(packet);
    length = greater(length, greater(packet->size, packet->min_size));
    if (length > size)
        return ERR_FULL;
    memset(out, 0, length);
    memcpy(out + packet->starts_at, packet->starts_with,
           packet->starts_with_length);
    for (uint32_t i = 0; i < packet->field_count; i++)
        put_field(&packet->field[i], sample, out);
    put_crc(packet, out, length);
    return (int)length;
}

/* Whether a record of that key has been written: an earlier field has it. */
static bool is_written(const struct intake_packet *packet, uint32_t field)
{
    for (uint32_t i = 0; i < field; i++) {
        if (packet->field[i].key == packet->field[field].key)
            return true;
    }
    return false;
}

/* Write the record of a key.
 * Returns: false when no field of it has anything to say. */
static bool put_record(const struct intake_packet *packet, int64_t key,
                       const struct intake_sample *sample, uint8_t *record)
{
    bool said = false;

    memset(record, 0, packet->record_size);
    store_bits(record, (uint64_t)key, intake_type_size(packet->key_type),
               packet->key_big_endian);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        double raw;

        if (packet->field[i].key != key)
            continue;
        said = encode_raw(&packet->field[i], sample, &raw) || said;
        put_field(&packet->field[i], sample, record);
    }
    return said;
}

int encode_records(const struct intake_packet *packet,
                   const struct intake_sample *sample, uint8_t *out,
                   size_t size)
{
    size_t length = packet->records_at;

    if (length > size)
        return ERR_FULL;
    memset(out, 0, length);
    memcpy(out + packet->starts_at, packet->starts_with,
           packet->starts_with_length);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (is_written(packet, i))
            continue;
        if (packet->record_size > size - length)
            return ERR_FULL;
        if (put_record(packet, packet->field[i].key, sample, out + length))
            length += packet->record_size;
    }
    length += crc_size(packet);
    if (length > size)
        return ERR_FULL;
    put_crc(packet, out, length);
    return (int)length;
}
