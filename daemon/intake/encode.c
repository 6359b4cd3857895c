/* encode.c - samples back to packets. */
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "decode.h"
#include "quarterturn/error.h"

/* A writer that remembers when it ran out of room. */
struct text_out {
    char *text;
    size_t size;
    size_t used;
    bool full;
};

static void put_bytes(struct text_out *out, const void *bytes, size_t length)
{
    if (out->full || length > out->size - out->used) {
        out->full = true;
        return;
    }
    memcpy(out->text + out->used, bytes, length);
    out->used += length;
}

static double raw_of(const struct intake_field *field, double value)
{
    double raw = units_from_internal(field->unit, value) - field->offset;

    return raw / field->scale;
}

static const struct intake_field *
field_of_column(const struct intake_packet *packet, uint32_t column)
{
    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column == column)
            return &packet->field[i];
    }
    return NULL;
}

static void put_column(struct text_out *out, const struct intake_packet *packet,
                       const struct intake_field *field,
                       const struct intake_sample *sample)
{
    char text[32];
    char *mark;
    double raw;

    if ((sample->valid & CHANNEL_BIT(field->channel)) != 0)
        raw = raw_of(field, sample->value[field->channel]);
    else if (field->has_missing)
        raw = field->missing;
    else
        return;
    /* 15 digits: every decimal of that length survives the way there and
     * back (DBL_DIG of C11 5.2.4.2.2). */
    (void)snprintf(text, sizeof text, "%.15g", raw);
    mark = strchr(text, '.');
    if (mark != NULL && packet->decimal_comma)
        *mark = ',';
    put_bytes(out, text, strlen(text));
}

/* Write starts_with as it stands.
 * Returns: the column that follows it; *due: a separator is due before it. */
static uint32_t put_beginning(struct text_out *out,
                              const struct intake_packet *packet, bool *due)
{
    uint32_t column = 1;

    *due = false;
    put_bytes(out, packet->starts_with, packet->starts_with_length);
    for (uint32_t i = 0; i < packet->starts_with_length; i++) {
        *due = (char)packet->starts_with[i] != packet->separator;
        if (!*due)
            column++;
    }
    return *due ? column + 1 : column;
}

int encode_text(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size)
{
    struct text_out text = {.text = (char *)out, .size = size};
    uint32_t last = 0;
    uint32_t column;
    bool due;

    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column > last)
            last = packet->field[i].column;
    }
    for (column = put_beginning(&text, packet, &due); column <= last;
         column++) {
        const struct intake_field *field = field_of_column(packet, column);

        if (due)
            put_bytes(&text, &packet->separator, 1);
        if (field != NULL)
            put_column(&text, packet, field, sample);
        due = true;
    }
    put_bytes(&text, "\n", 1);
    return text.full ? ERR_FULL : (int)text.used;
}

static uint64_t integer_bits(double raw, double least, double greatest)
{
    raw = nearbyint(raw);
    if (!(raw > least))
        raw = least;
    if (raw >= greatest)
        raw = greatest;
    /* 2^64 and 2^63 are doubles but no longer integers of their types. */
    if (raw >= 18446744073709551615.0)
        return UINT64_MAX;
    if (raw < 0.0)
        return UINT64_MAX - (uint64_t)(-raw) + 1;
    if (least < 0.0 && raw >= 9223372036854775807.0)
        return INT64_MAX;
    return (uint64_t)raw;
}

static uint32_t single_bits(double raw)
{
    float single;
    uint32_t bits;

    /* C leaves the conversion of what a float cannot hold undefined. */
    if (fabs(raw) > (double)FLT_MAX)
        single = raw < 0.0 ? -INFINITY : INFINITY;
    else
        single = (float)raw;
    memcpy(&bits, &single, sizeof bits);
    return bits;
}

static uint64_t bits_of(enum intake_type type, double raw)
{
    uint64_t bits = 0;

    switch (type) {
    case INTAKE_I8: return integer_bits(raw, -128.0, 127.0);
    case INTAKE_U8: return integer_bits(raw, 0.0, 255.0);
    case INTAKE_I16: return integer_bits(raw, -32768.0, 32767.0);
    case INTAKE_U16: return integer_bits(raw, 0.0, 65535.0);
    case INTAKE_I32: return integer_bits(raw, -2147483648.0, 2147483647.0);
    case INTAKE_U32: return integer_bits(raw, 0.0, 4294967295.0);
    case INTAKE_I64: return integer_bits(raw, -0x1p63, 0x1p63);
    case INTAKE_U64: return integer_bits(raw, 0.0, 0x1p64);
    case INTAKE_F32: return single_bits(raw);
    case INTAKE_F64: memcpy(&bits, &raw, sizeof bits); return bits;
    case INTAKE_TYPE_COUNT: break;
    }
    return 0;
}

static void store_bits(uint8_t *at, uint64_t bits, uint32_t size, bool big)
{
    for (uint32_t i = 0; i < size; i++) {
        uint32_t place = big ? size - 1 - i : i;

        at[place] = (uint8_t)(bits >> (8 * i) & 0xff);
    }
}

static double raw_to_send(const struct intake_field *field,
                          const struct intake_sample *sample)
{
    if ((sample->valid & CHANNEL_BIT(field->channel)) != 0)
        return raw_of(field, sample->value[field->channel]);
    if (field->has_missing)
        return field->missing;
    /* An integer without a "missing" value cannot say that it is absent. */
    return field->type == INTAKE_F32 || field->type == INTAKE_F64 ? NAN : 0.0;
}

int encode_binary(const struct intake_packet *packet,
                  const struct intake_sample *sample, uint8_t *out, size_t size)
{
    size_t length = packet->size != 0 ? packet->size : packet->min_size;

    if (length < packet->starts_with_length)
        length = packet->starts_with_length;
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        size_t end = (size_t)field->at + intake_type_size(field->type);

        if (end > length)
            length = end;
    }
    if (length > size)
        return ERR_FULL;
    memset(out, 0, length);
    memcpy(out, packet->starts_with, packet->starts_with_length);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        uint64_t bits = bits_of(field->type, raw_to_send(field, sample));

        store_bits(out + field->at, bits, intake_type_size(field->type),
                   field->big_endian);
    }
    return (int)length;
}

int intake_encode(const struct intake_layout *layout, uint32_t packet,
                  const struct intake_sample *sample, uint8_t *out, size_t size)
{
    if (packet >= layout->packet_count)
        return ERR_RANGE;
    switch (layout->form) {
    case INTAKE_FORM_TEXT:
        return encode_text(&layout->packet[packet], sample, out, size);
    case INTAKE_FORM_BINARY: break;
    }
    return encode_binary(&layout->packet[packet], sample, out, size);
}
