/* layout.c - the words of packet layouts. */
#include "decode.h"

#include <string.h>

#include "quarterturn/error.h"

static const char *const name_of_form[] = {
    [INTAKE_FORM_TEXT] = "text",       [INTAKE_FORM_BINARY] = "binary",
    [INTAKE_FORM_RECORDS] = "records", [INTAKE_FORM_PAIRS] = "pairs",
    [INTAKE_FORM_JSON] = "json",       [INTAKE_FORM_NMEA] = "nmea",
    [INTAKE_FORM_DIS] = "dis",         [INTAKE_FORM_MAVLINK] = "mavlink",
};

enum { FORM_COUNT = sizeof name_of_form / sizeof name_of_form[0] };

struct type_row {
    const char *name;
    uint32_t size;
};

static const struct type_row row_of_type[INTAKE_TYPE_COUNT] = {
    [INTAKE_I8] = {"i8", 1},   [INTAKE_U8] = {"u8", 1},
    [INTAKE_I16] = {"i16", 2}, [INTAKE_U16] = {"u16", 2},
    [INTAKE_I32] = {"i32", 4}, [INTAKE_U32] = {"u32", 4},
    [INTAKE_I64] = {"i64", 8}, [INTAKE_U64] = {"u64", 8},
    [INTAKE_F32] = {"f32", 4}, [INTAKE_F64] = {"f64", 8},
};

const char *intake_form_name(enum intake_form form)
{
    return name_of_form[form];
}

int intake_form_find(const char *name, enum intake_form *out)
{
    for (size_t i = 0; i < FORM_COUNT; i++) {
        if (strcmp(name_of_form[i], name) == 0) {
            *out = (enum intake_form)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

/* DIS tells the time past the hour (IEEE 1278.1-2012, 6.2.88), MAVLink
 * milliseconds in 32 bits. */
double intake_form_time_wrap_s(enum intake_form form)
{
    if (form == INTAKE_FORM_DIS)
        return 3600.0;
    return form == INTAKE_FORM_MAVLINK ? 4294967.296 : 0.0;
}

const char *intake_type_name(enum intake_type type)
{
    return row_of_type[type].name;
}

int intake_type_find(const char *name, enum intake_type *out)
{
    for (size_t i = 0; i < INTAKE_TYPE_COUNT; i++) {
        if (strcmp(row_of_type[i].name, name) == 0) {
            *out = (enum intake_type)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

uint32_t intake_type_size(enum intake_type type)
{
    return row_of_type[type].size;
}

uint32_t intake_layout_channels(const struct intake_layout *layout)
{
    uint32_t channels = 0;

    if (layout->form == INTAKE_FORM_NMEA)
        return decode_nmea_channels(layout);
    if (layout->form == INTAKE_FORM_DIS)
        return decode_dis_channels(layout);
    if (layout->form == INTAKE_FORM_MAVLINK)
        return decode_mavlink_channels(layout);
    for (uint32_t p = 0; p < layout->packet_count; p++) {
        const struct intake_packet *packet = &layout->packet[p];

        for (uint32_t f = 0; f < packet->field_count; f++)
            channels |= CHANNEL_BIT(packet->field[f].channel);
    }
    return channels;
}
