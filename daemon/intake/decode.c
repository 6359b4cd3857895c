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
    [INTAKE_BAD_CHECKSUM] = "bad checksum",
    [INTAKE_BAD_STRUCTURE] = "bad structure",
    [INTAKE_NOTHING_KNOWN] = "nothing known in it",
    [INTAKE_OTHER_SENDER] = "other sender",
    [INTAKE_NOT_ALLOWED] = "not allowed",
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

/* Angles that swing about zero, which some senders count from 0 to 360. */
static double swing_back(enum intake_channel channel, double value)
{
    bool swings = channel == CHANNEL_PITCH || channel == CHANNEL_BANK ||
                  channel == CHANNEL_SIDESLIP ||
                  channel == CHANNEL_ANGLE_OF_ATTACK;

    if (swings && value > UNITS_PI && value <= 2.0 * UNITS_PI)
        return value - 2.0 * UNITS_PI;
    return value;
}

enum intake_reject decode_store(const struct intake_field *field, double raw,
                                struct intake_sample *out)
{
    double scale;
    double offset;
    double value;

    /* What came earlier in the datagram is older. */
    out->valid &= ~CHANNEL_BIT(field->channel);
    out->beyond &= ~CHANNEL_BIT(field->channel);
    /* NaN is how senders say "not available". */
    if (isnan(raw) || is_missing(field, raw))
        return INTAKE_TAKEN;
    units_factors(field->unit, &scale, &offset);
    value = (raw * field->scale + field->offset) * scale + offset;
    if (!isfinite(value))
        return INTAKE_NOT_FINITE;
    value = swing_back(field->channel, value);
    if (field->has_range && !(value >= field->least && value <= field->most)) {
        channel_put_beyond(field->channel, value, out);
        return INTAKE_TAKEN;
    }
    return channel_store(field->channel, value, out);
}

bool decode_fits(const struct intake_packet *packet, size_t length,
                 const void *head, size_t head_length)
{
    size_t end = (size_t)packet->starts_at + packet->starts_with_length;

    if (packet->size != 0 && length != packet->size)
        return false;
    if (length < packet->min_size)
        return false;
    if (packet->starts_with_length == 0)
        return true;
    return head_length >= end &&
           memcmp((const char *)head + packet->starts_at, packet->starts_with,
                  packet->starts_with_length) == 0;
}

/* The first packet of the layout that fits by size and beginning decides;
 * no second one is tried when its content is bad, so that the named reason
 * is about the packet the layout's author meant. */
const struct intake_packet *decode_packet(const struct intake_layout *layout,
                                          size_t length, const void *head,
                                          size_t head_length)
{
    for (uint32_t i = 0; i < layout->packet_count; i++) {
        if (decode_fits(&layout->packet[i], length, head, head_length))
            return &layout->packet[i];
    }
    return NULL;
}

static enum intake_reject decode_form(const struct intake_layout *layout,
                                      const uint8_t *data, size_t length,
                                      struct intake_sample *out)
{
    switch (layout->form) {
    case INTAKE_FORM_TEXT: return decode_text(layout, data, length, out);
    case INTAKE_FORM_BINARY: return decode_binary(layout, data, length, out);
    case INTAKE_FORM_RECORDS: return decode_records(layout, data, length, out);
    case INTAKE_FORM_PAIRS: return decode_pairs(layout, data, length, out);
    case INTAKE_FORM_JSON: return decode_json(layout, data, length, out);
    case INTAKE_FORM_NMEA: return decode_nmea(layout, data, length, out);
    case INTAKE_FORM_DIS: return decode_dis(layout, data, length, out);
    case INTAKE_FORM_MAVLINK: return decode_mavlink(layout, data, length, out);
    case INTAKE_FORM_COUNT: break;
    }
    return INTAKE_NO_PACKET;
}

enum intake_reject intake_decode(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out)
{
    enum intake_reject reject;

    memset(out, 0, sizeof *out);
    if (length == 0)
        return INTAKE_EMPTY;
    if (length > INTAKE_MAX_DATAGRAM)
        return INTAKE_TOO_LONG;
    reject = decode_form(layout, data, length, out);
    if (reject == INTAKE_TAKEN && out->valid == 0)
        return INTAKE_NOTHING_KNOWN;
    out->fresh = out->valid;
    return reject;
}
