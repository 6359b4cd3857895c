/* written.c - a moment, written by an encoder and read back. */
#include "written.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "frames.h"

void written_begin(struct written *w, enum intake_form form)
{
    memset(w, 0, sizeof *w);
    w->layout.form = form;
    w->layout.system = -1;
    intake_encoder_init(&w->encoder, &w->layout);
}

void written_tell(struct written *w, enum intake_channel channel, double value)
{
    w->sample.value[channel] =
        units_to_internal(intake_channel_display_unit(channel), value);
    w->sample.valid |= CHANNEL_BIT(channel);
}

void written_begin_flight(struct written *w, enum intake_form form)
{
    static const struct {
        enum intake_channel channel;
        double value;
    } told[] = {
        {CHANNEL_SIM_TIME, 100.0},      {CHANNEL_HEADING, 271.5},
        {CHANNEL_PITCH, 12.5},          {CHANNEL_BANK, -30.0},
        {CHANNEL_AIRSPEED, 95.0},       {CHANNEL_TRUE_AIRSPEED, 100.0},
        {CHANNEL_ALTITUDE, 3000.0},     {CHANNEL_VERTICAL_SPEED, 600.0},
        {CHANNEL_LOAD_FACTOR, 1.2},     {CHANNEL_LATERAL_G, 0.05},
        {CHANNEL_GROUND_SPEED, 98.0},   {CHANNEL_TRACK, 268.0},
        {CHANNEL_LATITUDE, 47.5},       {CHANNEL_LONGITUDE, 9.5},
        {CHANNEL_THROTTLE, 1.0},        {CHANNEL_SIDESLIP, 1.5},
        {CHANNEL_ANGLE_OF_ATTACK, 9.0},
    };

    written_begin(w, form);
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++)
        written_tell(w, told[i].channel, told[i].value);
}

struct intake_field *written_declare(struct written *w,
                                     enum intake_channel channel,
                                     const char *name)
{
    struct intake_packet *packet = &w->layout.packet[0];
    struct intake_field *field = &packet->field[packet->field_count++];

    w->layout.packet_count = 1;
    field->channel = channel;
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    (void)snprintf(field->name, sizeof field->name, "%s", name);
    return field;
}

void written_put(struct written *w)
{
    w->length =
        intake_encoder_put(&w->encoder, 0, &w->sample, w->bytes, WRITTEN_MOST);
    assert_true(w->length > 0);
    w->bytes[w->length] = '\0';
}

void written_read(const struct written *w, struct intake_sample *out)
{
    assert_int_equal(
        frames_decode(&w->layout, w->bytes, (size_t)w->length, out),
        INTAKE_TAKEN);
}

double written_shown(const struct intake_sample *sample,
                     enum intake_channel channel)
{
    assert_true((sample->valid & CHANNEL_BIT(channel)) != 0);
    return units_from_internal(intake_channel_display_unit(channel),
                               sample->value[channel]);
}
