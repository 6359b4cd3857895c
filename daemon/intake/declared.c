/* declared.c - what a layout's fields say about the values of a form that
 * knows them by itself. */
#include <math.h>

#include "channels.h"
#include "decode.h"

const struct intake_field *decode_declared(const struct intake_layout *layout,
                                           enum intake_channel channel)
{
    for (uint32_t p = 0; p < layout->packet_count; p++) {
        const struct intake_packet *packet = &layout->packet[p];

        for (uint32_t f = 0; f < packet->field_count; f++) {
            if (packet->field[f].channel == channel)
                return &packet->field[f];
        }
    }
    return NULL;
}

enum intake_reject decode_tell(const struct decode_target *target,
                               enum intake_channel channel, double value)
{
    const struct intake_field *declared =
        decode_declared(target->layout, channel);
    struct intake_field field;

    if (isnan(value)) /* the sender does not know it */
        return INTAKE_TAKEN;
    if (isinf(value))
        return INTAKE_NOT_FINITE;
    if (declared == NULL)
        return channel_store(channel, value, target->out);
    field = *declared;
    field.unit = intake_channel_display_unit(channel);
    return decode_store(&field, units_from_internal(field.unit, value),
                        target->out);
}
