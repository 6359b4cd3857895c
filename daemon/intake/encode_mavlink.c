/* encode_mavlink.c - a moment as MAVLink 2 frames, all in one datagram.
 *
 * The messages from which decode_mavlink.c takes its channels, but for
 * ATTITUDE_QUATERNION and HIL_STATE_QUATERNION, which tell the same again; and
 * a HEARTBEAT each second, by which a receiver knows that somebody is there.
 * The system is the layout's, or 1, the component the autopilot. */
#include <math.h>
#include <string.h>

#include "bytes.h"
#include "crc16.h"
#include "encode.h"
#include "mavlink.h"
#include "quarterturn/error.h"

enum { SYSTEM_USUAL = 1, COMPONENT_AUTOPILOT = 1, HEADING_NOT_KNOWN = 65535 };

/* HEARTBEAT of minimal.xml, and what it says: a fixed wing without an
 * autopilot, flown by hand, active, the protocol's number. */
static const struct mavlink_message heartbeat = {
    .id = 0, .crc_extra = 50, .length = 9};
enum {
    AT_VEHICLE = 4,
    VEHICLE_FIXED_WING = 1,
    AT_AUTOPILOT = 5,
    AUTOPILOT_NONE = 8,
    AT_MODE = 6,
    MODE_BY_HAND = 64,
    AT_STATE = 7,
    STATE_ACTIVE = 4,
    AT_PROTOCOL = 8,
    PROTOCOL = 3
};

static const double beat_every_s = 1.0;

/* ---- payloads ----------------------------------------------------------- */

static void put_single(uint8_t *at, double value)
{
    bytes_put(at, bytes_bits_f32(value), 4, false);
}

static void put_i16(uint8_t *at, double value)
{
    bytes_put(at, bytes_bits_integer(value, -32768.0, 32767.0), 2, false);
}

static void put_i32(uint8_t *at, double value)
{
    bytes_put(at, bytes_bits_integer(value, -2147483648.0, 2147483647.0), 4,
              false);
}

/* Time wraps; a number that is not known is NaN, and 0 where the kind has
 * none. */
static void put_value(uint8_t *payload, const struct mavlink_value *row,
                      const struct encode_moment *moment)
{
    bool known = encode_has(moment, CHANNEL_BIT(row->channel));
    double told =
        known ? moment->sample->value[row->channel] / row->scale : 0.0;
    uint8_t *at = payload + row->at;

    switch (row->kind) {
    case KIND_F32: put_single(at, known ? told : (double)NAN); break;
    case KIND_I16: put_i16(at, told); break;
    case KIND_U16:
        bytes_put(at, bytes_bits_integer(told, 0.0, 65535.0), 2, false);
        break;
    case KIND_I32: put_i32(at, told); break;
    case KIND_U32:
        bytes_put(at, (uint64_t)bytes_bits_integer(told, -0x1p63, 0x1p63), 4,
                  false);
        break;
    case KIND_NONE: break;
    }
}

static void put_turning(uint8_t *at, const struct encode_moment *moment)
{
    for (int i = 0; i < 3; i++)
        put_single(at + 4 * i, moment->motion.turning_radps[i]);
}

/* Its own heading, from 0 up to, but not with, 360 degrees. */
static double circle_of(const struct encode_moment *moment, double steps)
{
    double heading = angle_wrap_circle(moment->sample->value[CHANNEL_HEADING]) /
                     (2.0 * UNITS_PI);

    return fmod(nearbyint(heading * steps), steps);
}

static void put_position(uint8_t *payload, const struct encode_moment *moment)
{
    const double *value = moment->sample->value;

    if (encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME)))
        put_value(payload,
                  &(struct mavlink_value){CHANNEL_SIM_TIME, KIND_U32, 0, 1e-3},
                  moment);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_ALTITUDE)))
        put_i32(payload + 12, value[CHANNEL_ALTITUDE] * 1e3);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_HEIGHT)))
        put_i32(payload + 16, value[CHANNEL_HEIGHT] * 1e3);
    for (int i = 0; i < 3; i++)
        put_i16(payload + 20 + 2 * i, moment->motion.velocity_mps[i] * 100.0);
    bytes_put(payload + 26,
              encode_has(moment, CHANNEL_BIT(CHANNEL_HEADING))
                  ? (uint64_t)circle_of(moment, 36000.0)
                  : HEADING_NOT_KNOWN,
              2, false);
}

static void put_microseconds(uint8_t *payload,
                             const struct encode_moment *moment)
{
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME)))
        bytes_put(
            payload,
            bytes_bits_integer(moment->sample->value[CHANNEL_SIM_TIME] * 1e6,
                               0.0, 0x1p64),
            8, false);
}

/* Accelerometers, z down; what one toward the nose shows is no channel. */
static void put_forces(uint8_t *payload, const struct encode_moment *moment)
{
    const double *value = moment->sample->value;
    unsigned updated = UPDATED_GYROS;

    put_microseconds(payload, moment);
    put_turning(payload + 20, moment);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_LATERAL_G))) {
        put_single(payload + 12, value[CHANNEL_LATERAL_G] * UNITS_G0_MPS2);
        updated |= UPDATED_YACC;
    }
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_LOAD_FACTOR))) {
        put_single(payload + 16, -value[CHANNEL_LOAD_FACTOR] * UNITS_G0_MPS2);
        updated |= UPDATED_ZACC;
    }
    bytes_put(payload + 60, updated, 2, false);
}

/* What is no channel, or no plain one. */
static void put_more(uint32_t id, uint8_t *payload,
                     const struct encode_moment *moment)
{
    switch (id) {
    case MESSAGE_ATTITUDE:
        /* Yaw is told from -pi to pi. */
        if (encode_has(moment, CHANNEL_BIT(CHANNEL_HEADING)))
            put_single(payload + 12,
                       angle_wrap_half(moment->sample->value[CHANNEL_HEADING]));
        put_turning(payload + 16, moment);
        break;
    case MESSAGE_GLOBAL_POSITION_INT: put_position(payload, moment); break;
    case MESSAGE_VFR_HUD:
        if (encode_has(moment, CHANNEL_BIT(CHANNEL_HEADING)))
            put_i16(payload + 16, circle_of(moment, 360.0));
        break;
    case MESSAGE_HIGHRES_IMU: put_forces(payload, moment); break;
    case MESSAGE_AOA_SSA: put_microseconds(payload, moment); break;
    default: break;
    }
}

/* ---- frames ------------------------------------------------------------- */

/* Noughts at a payload's end are left out, but for its first byte. */
static void put_frame(struct intake_encoder *encoder,
                      const struct mavlink_message *message,
                      const uint8_t *payload, struct encode_out *out)
{
    const struct intake_layout *layout = encoder->layout;
    uint8_t frame[HEADER_V2 + MAX_PAYLOAD + CRC_SIZE] = {MAGIC_V2};
    size_t length = message->length;
    uint16_t crc;

    while (length > 1 && payload[length - 1] == 0)
        length--;
    frame[1] = (uint8_t)length;
    frame[4] = encoder->sequence++;
    frame[5] = (uint8_t)(layout->system >= 0 ? layout->system : SYSTEM_USUAL);
    frame[6] = COMPONENT_AUTOPILOT;
    bytes_put(frame + 7, message->id, 3, false);
    memcpy(frame + HEADER_V2, payload, length);
    crc = crc16_add(CRC16_BEGIN, frame + 1, HEADER_V2 - 1 + length);
    crc = crc16_add(crc, &message->crc_extra, 1);
    bytes_put(frame + HEADER_V2 + length, crc, CRC_SIZE, false);
    encode_put(out, frame, HEADER_V2 + length + CRC_SIZE);
}

static void put_heartbeat(struct intake_encoder *encoder,
                          const struct encode_moment *moment,
                          struct encode_out *out)
{
    double now_s = moment->sample->value[CHANNEL_SIM_TIME];
    uint8_t payload[MAX_PAYLOAD] = {0};

    if (!encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME)) ||
        (encoder->has_beaten &&
         fabs(now_s - encoder->beat_s) < beat_every_s - 1e-6))
        return;
    encoder->has_beaten = true;
    encoder->beat_s = now_s;
    payload[AT_VEHICLE] = VEHICLE_FIXED_WING;
    payload[AT_AUTOPILOT] = AUTOPILOT_NONE;
    payload[AT_MODE] = MODE_BY_HAND;
    payload[AT_STATE] = STATE_ACTIVE;
    payload[AT_PROTOCOL] = PROTOCOL;
    put_frame(encoder, &heartbeat, payload, out);
}

static const struct {
    uint32_t id;
    uint32_t all_of; /* CHANNEL_BITs without which it is not sent, */
    uint32_t any_of; /* and of these at least one */
} sent[] = {
    {MESSAGE_ATTITUDE, CHANNEL_BIT(CHANNEL_SIM_TIME),
     CHANNEL_BIT(CHANNEL_HEADING) | CHANNEL_BIT(CHANNEL_PITCH) |
         CHANNEL_BIT(CHANNEL_BANK)},
    {MESSAGE_VFR_HUD, 0,
     CHANNEL_BIT(CHANNEL_AIRSPEED) | CHANNEL_BIT(CHANNEL_ALTITUDE)},
    {MESSAGE_GLOBAL_POSITION_INT,
     CHANNEL_BIT(CHANNEL_LATITUDE) | CHANNEL_BIT(CHANNEL_LONGITUDE),
     CHANNEL_BIT(CHANNEL_LATITUDE)},
    {MESSAGE_HIGHRES_IMU, 0,
     CHANNEL_BIT(CHANNEL_LOAD_FACTOR) | CHANNEL_BIT(CHANNEL_LATERAL_G)},
    {MESSAGE_AOA_SSA, 0,
     CHANNEL_BIT(CHANNEL_ANGLE_OF_ATTACK) | CHANNEL_BIT(CHANNEL_SIDESLIP)},
};

int encode_mavlink(struct intake_encoder *encoder,
                   const struct encode_moment *moment, struct encode_out *out)
{
    bool any = false;

    put_heartbeat(encoder, moment, out);
    for (size_t i = 0; i < sizeof sent / sizeof sent[0]; i++) {
        const struct mavlink_message *message = mavlink_find(sent[i].id);
        uint8_t payload[MAX_PAYLOAD] = {0};

        if (!encode_has(moment, sent[i].all_of) ||
            (moment->sample->valid & sent[i].any_of) == 0)
            continue;
        any = true;
        for (size_t v = 0; v < MAX_VALUES; v++)
            put_value(payload, &message->value[v], moment);
        put_more(message->id, payload, moment);
        put_frame(encoder, message, payload, out);
    }
    return any ? encode_result(out) : ERR_ABSENT;
}
