/* decode_records.c - records of one size, each beginning with a key.
 *
 * A header of records_at bytes, then records up to the datagram's end, in any
 * order; those whose key no field asks for are passed over. When a key comes
 * twice, the later record counts. */
#include "bytes.h"
#include "decode.h"

static enum intake_reject take_record(const struct intake_packet *packet,
                                      const uint8_t *record,
                                      struct intake_sample *out)
{
    uint32_t size = intake_type_size(packet->key_type);
    uint64_t key = bytes_unsigned(record, size, packet->key_big_endian);
    unsigned bits = 8 * size;
    /* Keys are compared as the bits they are sent as. */
    uint64_t mask = bits == 64 ? UINT64_MAX : (UINT64_C(1) << bits) - 1;

    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        enum intake_reject reject;

        if (((uint64_t)field->key & mask) != key)
            continue;
        reject =
            decode_store(field, decode_load(field, record + field->at), out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

enum intake_reject decode_records(const struct intake_layout *layout,
                                  const uint8_t *data, size_t length,
                                  struct intake_sample *out)
{
    const struct intake_packet *packet =
        decode_packet(layout, length, data, length);
    enum intake_reject reject;

    if (packet == NULL)
        return INTAKE_NO_PACKET;
    reject = decode_check_bytes(packet, data, &length);
    if (reject != INTAKE_TAKEN)
        return reject;
    if (length < packet->records_at)
        return INTAKE_TOO_SHORT;
    if ((length - packet->records_at) % packet->record_size != 0)
        return INTAKE_BAD_STRUCTURE;
    for (size_t at = packet->records_at; at < length;
         at += packet->record_size) {
        reject = take_record(packet, data + at, out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}
