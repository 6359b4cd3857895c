/* encode.c - samples back to packets: what all forms share. */
#include "encode.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"

void encode_put(struct encode_out *out, const void *bytes, size_t length)
{
    if (out->full || length > out->size - out->used) {
        out->full = true;
        return;
    }
    memcpy(out->text + out->used, bytes, length);
    out->used += length;
}

void encode_put_text(struct encode_out *out, const char *text)
{
    encode_put(out, text, strlen(text));
}

void encode_put_number(struct encode_out *out, double raw, char decimal)
{
    char text[32];
    char *mark;

    /* 15 digits: every decimal of that length survives the way there and
     * back (DBL_DIG of C11 5.2.4.2.2). */
    (void)snprintf(text, sizeof text, "%.15g", raw);
    mark = strchr(text, '.');
    if (mark != NULL)
        *mark = decimal;
    encode_put_text(out, text);
}

int encode_result(const struct encode_out *out)
{
    return out->full ? ERR_FULL : (int)out->used;
}

bool encode_raw(const struct intake_field *field,
                const struct intake_sample *sample, double *raw)
{
    *raw = (double)NAN;
    if ((sample->valid & CHANNEL_BIT(field->channel)) != 0)
        *raw =
            (units_from_internal(field->unit, sample->value[field->channel]) -
             field->offset) /
            field->scale;
    else if (field->has_missing)
        *raw = field->missing;
    else
        return false;
    return true;
}

int intake_encode(const struct intake_layout *layout, uint32_t packet,
                  const struct intake_sample *sample, uint8_t *out, size_t size)
{
    const struct intake_packet *as;

    if (packet >= layout->packet_count)
        return ERR_RANGE;
    as = &layout->packet[packet];
    switch (layout->form) {
    case INTAKE_FORM_TEXT: return encode_text(as, sample, out, size);
    case INTAKE_FORM_BINARY: return encode_binary(as, sample, out, size);
    case INTAKE_FORM_RECORDS: return encode_records(as, sample, out, size);
    case INTAKE_FORM_PAIRS: return encode_pairs(as, sample, out, size);
    case INTAKE_FORM_JSON: return encode_json(as, sample, out, size);
    case INTAKE_FORM_NMEA:
    case INTAKE_FORM_DIS:
    case INTAKE_FORM_MAVLINK:
    case INTAKE_FORM_COUNT: break;
    }
    return ERR_USAGE;
}
