/* decode.c - which packet a datagram is, and what its values mean. */
#include "decode.h"

#include <math.h>
#include <string.h>

#include "channels.h"

static const char *const name_of_reject[INTAKE_REJECT_COUNT] = {
    [INTAKE_TAKEN] = "taken",
    [INTAKE_EMPTY] = "empty",
    [INTAKE_TOO_LONG] = "too long",
    [INTAKE_NO_PACKET] = "no packet fits",
    [INTAKE_TOO_SHORT] = "too short",
    [INTAKE_TOO_FEW_COLUMNS] = "too few columns",
    [INTAKE_NOT_A_NUMBER] = "not a number",
    [INTAKE_NOT_FINITE] = "not finite",
    [INTAKE_OUT_OF_RANGE] = "out of range",
    [INTAKE_LATE] = "late",
    [INTAKE_DUPLICATE] = "duplicate",
};

const char *intake_reject_name(enum intake_reject reject)
{
    return name_of_reject[reject];
}

static bool is_missing(const struct intake_field *field, double raw)
{
    if (!field->has_missing)
        return false;
    /* The layout says -999.9; a single-precision sender can only say the
     * float nearest to it. */
    if (field->type == INTAKE_F32 && fabs(field->missing) < 3e38)
        return (float)raw == (float)field->missing;
    return raw == field->missing;
}

enum intake_reject decode_store(const struct intake_field *field, double raw,
                                struct intake_sample *out)
{
    double scale;
    double offset;
    double value;

    if (is_missing(field, raw))
        return INTAKE_TAKEN;
    units_factors(field->unit, &scale, &offset);
    value = (raw * field->scale + field->offset) * scale + offset;
    if (!isfinite(value))
        return INTAKE_NOT_FINITE;
    return channel_store(field->channel, value, out);
}

static bool packet_fits(const struct intake_packet *packet, size_t length,
                        const void *head, size_t head_length)
{
    if (packet->size != 0 && length != packet->size)
        return false;
    if (length < packet->min_size || head_length < packet->starts_with_length)
        return false;
    return packet->starts_with_length == 0 ||
           memcmp(head, packet->starts_with, packet->starts_with_length) == 0;
}

/* The first packet of the layout that fits by size and beginning decides;
 * no second one is tried when its content is bad, so that the named reason
 * is about the packet the layout's author meant. */
static enum intake_reject decode_as_text(const struct intake_layout *layout,
                                         const uint8_t *data, size_t length,
                                         struct intake_sample *out)
{
    struct decode_line line = decode_last_line(data, length);

    if (line.length == 0)
        return INTAKE_EMPTY;
    for (uint32_t i = 0; i < layout->packet_count; i++) {
        if (packet_fits(&layout->packet[i], length, line.text, line.length))
            return decode_text(&layout->packet[i], line, out);
    }
    return INTAKE_NO_PACKET;
}

static enum intake_reject decode_as_binary(const struct intake_layout *layout,
                                           const uint8_t *data, size_t length,
                                           struct intake_sample *out)
{
    for (uint32_t i = 0; i < layout->packet_count; i++) {
        if (packet_fits(&layout->packet[i], length, data, length))
            return decode_binary(&layout->packet[i], data, length, out);
    }
    return INTAKE_NO_PACKET;
}

enum intake_reject intake_decode(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out)
{
    memset(out, 0, sizeof *out);
    if (length == 0)
        return INTAKE_EMPTY;
    if (length > INTAKE_MAX_DATAGRAM)
        return INTAKE_TOO_LONG;
    switch (layout->form) {
    case INTAKE_FORM_TEXT: return decode_as_text(layout, data, length, out);
    case INTAKE_FORM_BINARY: break;
    }
    return decode_as_binary(layout, data, length, out);
}
