/* encoder.c - one moment after another, in any form. */
#include <math.h>
#include <string.h>

#include "decode.h"
#include "encode.h"
#include "quarterturn/error.h"

/* Further apart than this, two moments tell nothing of what lay between. Ours,
 * no source. */
static const double longest_step_s = 1.0;

/* ---- what moves --------------------------------------------------------- */

bool encode_has(const struct encode_moment *moment, uint32_t channels)
{
    return (moment->sample->valid & channels) == channels;
}

/* Velocity over ground; without a track the nose points the way. */
static void find_velocity(const struct encode_moment *moment, double out[3])
{
    const double *value = moment->sample->value;
    double track =
        value[encode_has(moment, CHANNEL_BIT(CHANNEL_TRACK)) ? CHANNEL_TRACK
                                                             : CHANNEL_HEADING];

    out[0] = value[CHANNEL_GROUND_SPEED] * cos(track);
    out[1] = value[CHANNEL_GROUND_SPEED] * sin(track);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_VERTICAL_SPEED)))
        out[2] = -value[CHANNEL_VERTICAL_SPEED];
}

/* The rates of heading, pitch and bank as those about the airplane's axes.
 * Source: any text on aerospace rotations. */
static void find_turning(const double now_rad[3], const double radps[3],
                         double out[3])
{
    double sin_pitch = sin(now_rad[1]);
    double cos_pitch = cos(now_rad[1]);
    double sin_bank = sin(now_rad[2]);
    double cos_bank = cos(now_rad[2]);

    out[0] = radps[2] - radps[0] * sin_pitch;
    out[1] = radps[1] * cos_bank + radps[0] * sin_bank * cos_pitch;
    out[2] = -radps[1] * sin_bank + radps[0] * cos_bank * cos_pitch;
}

static void compare(const struct intake_encoder *encoder,
                    const double now_rad[3], double step_s,
                    struct encode_motion *out)
{
    const double nose[3] = {cos(now_rad[1]) * cos(now_rad[0]),
                            cos(now_rad[1]) * sin(now_rad[0]),
                            -sin(now_rad[1])};
    double radps[3];

    for (int i = 0; i < 3; i++) {
        double faster_mps = out->velocity_mps[i] - encoder->before_mps[i];

        radps[i] =
            angle_wrap_half(now_rad[i] - encoder->before_rad[i]) / step_s;
        out->faster_mps2 += faster_mps * nose[i] / step_s;
    }
    find_turning(now_rad, radps, out->turning_radps);
}

/* Compare with the moment before, and remember this one. */
static void find_motion(struct intake_encoder *encoder,
                        struct encode_moment *moment)
{
    const double *value = moment->sample->value;
    const double now_rad[3] = {value[CHANNEL_HEADING], value[CHANNEL_PITCH],
                               value[CHANNEL_BANK]};
    double step_s = value[CHANNEL_SIM_TIME] - encoder->before_s;
    struct encode_motion *out = &moment->motion;

    if (encode_has(moment, CHANNEL_BIT(CHANNEL_GROUND_SPEED) |
                               CHANNEL_BIT(CHANNEL_HEADING)))
        find_velocity(moment, out->velocity_mps);
    if (!encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME) |
                                CHANNEL_BIT(CHANNEL_HEADING) |
                                CHANNEL_BIT(CHANNEL_PITCH) |
                                CHANNEL_BIT(CHANNEL_BANK))) {
        encoder->has_before = false;
        return;
    }
    if (encoder->has_before && step_s > 0.0 && step_s < longest_step_s)
        compare(encoder, now_rad, step_s, out);
    encoder->has_before = true;
    encoder->before_s = value[CHANNEL_SIM_TIME];
    memcpy(encoder->before_mps, out->velocity_mps, sizeof encoder->before_mps);
    memcpy(encoder->before_rad, now_rad, sizeof encoder->before_rad);
}

/* ---- moments ------------------------------------------------------------ */

/* The inverse of decode_tell. */
static void undo_declared(const struct intake_layout *layout,
                          const struct intake_sample *sample,
                          struct intake_sample *out)
{
    *out = *sample;
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        enum intake_channel channel = (enum intake_channel)i;
        const struct intake_field *declared = decode_declared(layout, channel);
        struct intake_field field;
        double raw;

        if (declared == NULL || (sample->valid & CHANNEL_BIT(channel)) == 0)
            continue;
        field = *declared;
        field.unit = intake_channel_display_unit(channel);
        if (encode_raw(&field, sample, &raw))
            out->value[i] = units_to_internal(field.unit, raw);
    }
}

static int encode_standard(struct intake_encoder *encoder,
                           const struct intake_sample *sample,
                           struct encode_out *out)
{
    struct intake_sample undone;
    struct encode_moment moment = {
        .layout = encoder->layout, .sample = &undone, .as_is = sample};

    undo_declared(encoder->layout, sample, &undone);
    find_motion(encoder, &moment);
    switch (encoder->layout->form) {
    case INTAKE_FORM_NMEA: return encode_nmea(&moment, out);
    case INTAKE_FORM_DIS: return encode_dis(&moment, out);
    default: return encode_mavlink(encoder, &moment, out);
    }
}

static bool is_standard(const struct intake_layout *layout)
{
    return layout->form == INTAKE_FORM_NMEA ||
           layout->form == INTAKE_FORM_DIS ||
           layout->form == INTAKE_FORM_MAVLINK;
}

void intake_encoder_init(struct intake_encoder *encoder,
                         const struct intake_layout *layout)
{
    memset(encoder, 0, sizeof *encoder);
    encoder->layout = layout;
}

uint32_t intake_encoder_datagrams(const struct intake_encoder *encoder)
{
    return is_standard(encoder->layout) ? 1 : encoder->layout->packet_count;
}

int intake_encoder_put(struct intake_encoder *encoder, uint32_t datagram,
                       const struct intake_sample *sample, uint8_t *out,
                       size_t size)
{
    struct encode_out whole = {.text = (char *)out, .size = size};

    if (datagram >= intake_encoder_datagrams(encoder))
        return ERR_RANGE;
    if (!is_standard(encoder->layout))
        return intake_encode(encoder->layout, datagram, sample, out, size);
    return encode_standard(encoder, sample, &whole);
}
