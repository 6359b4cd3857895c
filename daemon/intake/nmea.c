/* nmea.c - where the channels stand in NMEA 0183 sentences. */
#include "nmea.h"

#include <string.h>

#include "decode.h"

/* A channel and a sentence, or an XDR item, that tells it. */
struct nmea_source {
    enum intake_channel channel;
    const char *name;
};

/* Where channels come from when the layout does not say. */
static const struct nmea_source usual_sentence[] = {
    {CHANNEL_HEADING, "HDT"},      {CHANNEL_HEADING, "HDG"},
    {CHANNEL_ALTITUDE, "GGA"},     {CHANNEL_LATITUDE, "GGA"},
    {CHANNEL_LONGITUDE, "GGA"},    {CHANNEL_TRACK, "VTG"},
    {CHANNEL_GROUND_SPEED, "VTG"}, {CHANNEL_LATITUDE, "RMC"},
    {CHANNEL_LONGITUDE, "RMC"},    {CHANNEL_TRACK, "RMC"},
    {CHANNEL_GROUND_SPEED, "RMC"},
};

/* Where they come from when it does. */
static const struct nmea_source named_sentence[] = {
    {CHANNEL_HEADING, "VHW"},
    {CHANNEL_AIRSPEED, "VHW"},
    {CHANNEL_TRUE_AIRSPEED, "VHW"},
};

/* XDR items that go by these names. */
static const struct nmea_source usual_item[] = {
    {CHANNEL_PITCH, "PTCH"},
    {CHANNEL_PITCH, "PITCH"},
    {CHANNEL_BANK, "ROLL"},
};

enum {
    USUAL_SENTENCES = sizeof usual_sentence / sizeof usual_sentence[0],
    NAMED_SENTENCES = sizeof named_sentence / sizeof named_sentence[0],
    USUAL_ITEMS = sizeof usual_item / sizeof usual_item[0]
};

static bool is_in(const struct nmea_source *table, size_t count,
                  enum intake_channel channel, const char *name)
{
    for (size_t i = 0; i < count; i++) {
        if (table[i].channel == channel && strcmp(table[i].name, name) == 0)
            return true;
    }
    return false;
}

/* The name that a layout's field gives a channel's source, or NULL. */
static const char *name_of(const struct intake_layout *layout,
                           enum intake_channel channel)
{
    const struct intake_field *field = decode_declared(layout, channel);

    return field != NULL && field->name[0] != '\0' ? field->name : NULL;
}

bool nmea_is_magnetic(const struct intake_layout *layout,
                      enum intake_channel channel)
{
    const struct intake_field *field = decode_declared(layout, channel);

    return field != NULL && field->magnetic;
}

bool nmea_comes_from(const struct intake_layout *layout,
                     enum intake_channel channel, const char *kind)
{
    const char *name = name_of(layout, channel);

    return name != NULL ? strcmp(name, kind) == 0
                        : is_in(usual_sentence, USUAL_SENTENCES, channel, kind);
}

bool nmea_is_item(const struct intake_layout *layout,
                  enum intake_channel channel, const char *name, size_t length)
{
    const char *own = name_of(layout, channel);

    if (own != NULL)
        return strlen(own) == length && memcmp(own, name, length) == 0;
    for (size_t i = 0; i < USUAL_ITEMS; i++) {
        if (usual_item[i].channel == channel &&
            strlen(usual_item[i].name) == length &&
            memcmp(usual_item[i].name, name, length) == 0)
            return true;
    }
    return false;
}

const char *nmea_item_of(const struct intake_layout *layout,
                         enum intake_channel channel)
{
    const char *name = name_of(layout, channel);

    if (name != NULL)
        return is_in(usual_sentence, USUAL_SENTENCES, channel, name) ||
                       is_in(named_sentence, NAMED_SENTENCES, channel, name)
                   ? NULL
                   : name;
    for (size_t i = 0; i < USUAL_ITEMS; i++) {
        if (usual_item[i].channel == channel)
            return usual_item[i].name;
    }
    return NULL;
}

uint32_t decode_nmea_channels(const struct intake_layout *layout)
{
    uint32_t channels = 0;

    for (size_t i = 0; i < USUAL_SENTENCES; i++)
        channels |= CHANNEL_BIT(usual_sentence[i].channel);
    for (size_t i = 0; i < USUAL_ITEMS; i++)
        channels |= CHANNEL_BIT(usual_item[i].channel);
    for (uint32_t p = 0; p < layout->packet_count; p++) {
        const struct intake_packet *packet = &layout->packet[p];

        for (uint32_t f = 0; f < packet->field_count; f++)
            channels |= CHANNEL_BIT(packet->field[f].channel);
    }
    return channels;
}
