/* decode_mavlink.c - MAVLink frames, versions 1 and 2.
 *
 * A datagram holds whole frames, one behind the other; a later one outdoes an
 * earlier one. Each channel is taken from one kind of message only, because
 * two kinds that tell the same thing rarely agree to the digit and their
 * alternation would look like movement:
 *
 *   ATTITUDE, ATTITUDE_QUATERNION  heading, pitch, bank, sim_time
 *   VFR_HUD                        airspeed, altitude, ground and vertical
 *                                  speed, throttle
 *   GLOBAL_POSITION_INT            latitude, longitude, track
 *   HIGHRES_IMU                    load factor, lateral g
 *   AOA_SSA                        angle of attack, sideslip
 *   HIL_STATE_QUATERNION           from a simulator that sends no other of
 *                                  these: attitude, place, speeds
 *
 * Time is taken from the first two alone: other messages may count from
 * another moment.
 *
 * Source of frames, checksums and messages: the MAVLink developer guide
 * (packet serialization) and message definitions common.xml and
 * ardupilotmega.xml. */
#include "decode.h"

#include <math.h>
#include <string.h>

#include "bytes.h"
#include "crc16.h"
#include "mavlink.h"

/* Slower than this over the ground, the track is noise. Ours, no source. */
static const double track_least_mps = 0.5;
/* A quaternion of an attitude has length 1. */
static const double quaternion_slack = 0.1;

/* A frame taken apart. */
struct frame {
    uint32_t id;
    uint8_t system;
    bool second;            /* version 2 */
    const uint8_t *checked; /* what the checksum covers */
    size_t checked_length;
    const uint8_t *payload;
    size_t payload_length;
    size_t size; /* of the whole frame */
};

static double load(const uint8_t *payload, const struct mavlink_value *row)
{
    const uint8_t *b = payload + row->at;

    switch (row->kind) {
    case KIND_F32: return bytes_f32(b, false);
    case KIND_I16: return bytes_signed(bytes_u16(b, false), 16);
    case KIND_U16: return (double)bytes_u16(b, false);
    case KIND_I32: return bytes_signed(bytes_u32(b, false), 32);
    case KIND_U32: return (double)bytes_u32(b, false);
    case KIND_NONE: break;
    }
    return NAN;
}

/* Attitude from w, x, y, z: rotation from north-east-down to the body. Any
 * text on aerospace rotations; the message definitions give the order. */
static enum intake_reject take_quaternion(const uint8_t *at,
                                          const struct decode_target *target)
{
    double w = bytes_f32(at, false);
    double x = bytes_f32(at + 4, false);
    double y = bytes_f32(at + 8, false);
    double z = bytes_f32(at + 12, false);
    double norm = sqrt(w * w + x * x + y * y + z * z);
    enum intake_reject reject;
    double sine;

    if (isnan(norm))
        return INTAKE_TAKEN;
    if (isinf(norm))
        return INTAKE_NOT_FINITE;
    if (fabs(norm - 1.0) > quaternion_slack)
        return INTAKE_OUT_OF_RANGE;
    w /= norm;
    x /= norm;
    y /= norm;
    z /= norm;
    sine = fmax(-1.0, fmin(1.0, 2.0 * (w * y - z * x)));
    reject =
        decode_tell(target, CHANNEL_BANK,
                    atan2(2.0 * (w * x + y * z), 1.0 - 2.0 * (x * x + y * y)));
    if (reject == INTAKE_TAKEN)
        reject = decode_tell(target, CHANNEL_PITCH, asin(sine));
    if (reject == INTAKE_TAKEN)
        reject =
            decode_tell(target, CHANNEL_HEADING,
                        angle_wrap_circle(atan2(2.0 * (w * z + x * y),
                                                1.0 - 2.0 * (y * y + z * z))));
    return reject;
}

/* Track, and speed where wanted, from north and east in cm/s. */
static enum intake_reject take_velocity(const uint8_t *at, bool speed,
                                        const struct decode_target *target)
{
    double north = bytes_signed(bytes_u16(at, false), 16) * 0.01;
    double east = bytes_signed(bytes_u16(at + 2, false), 16) * 0.01;
    double along = hypot(north, east);
    enum intake_reject reject = INTAKE_TAKEN;

    if (along >= track_least_mps)
        reject = decode_tell(target, CHANNEL_TRACK,
                             angle_wrap_circle(atan2(east, north)));
    if (reject == INTAKE_TAKEN && speed)
        reject = decode_tell(target, CHANNEL_GROUND_SPEED, along);
    return reject;
}

static enum intake_reject take_simulated(const uint8_t *payload,
                                         const struct decode_target *target)
{
    enum intake_reject reject = take_quaternion(payload + 8, target);

    return reject == INTAKE_TAKEN ? take_velocity(payload + 48, true, target)
                                  : reject;
}

/* m/s2 along the body's axes, z down, as accelerometers show them. */
static enum intake_reject take_accelerations(const uint8_t *payload,
                                             const struct decode_target *target)
{
    unsigned updated = bytes_u16(payload + 60, false);
    enum intake_reject reject = INTAKE_TAKEN;

    if ((updated & UPDATED_YACC) != 0)
        reject = decode_tell(target, CHANNEL_LATERAL_G,
                             bytes_f32(payload + 12, false) / UNITS_G0_MPS2);
    if (reject == INTAKE_TAKEN && (updated & UPDATED_ZACC) != 0)
        reject = decode_tell(target, CHANNEL_LOAD_FACTOR,
                             -bytes_f32(payload + 16, false) / UNITS_G0_MPS2);
    return reject;
}

/* What is no plain value. payload: filled up with zeros. */
static enum intake_reject take_more(uint32_t id, const uint8_t *payload,
                                    const struct decode_target *target)
{
    switch (id) {
    case MESSAGE_ATTITUDE_QUATERNION:
        return take_quaternion(payload + 4, target);
    case MESSAGE_GLOBAL_POSITION_INT:
        return take_velocity(payload + 20, false, target);
    case MESSAGE_HIGHRES_IMU: return take_accelerations(payload, target);
    case MESSAGE_HIL_STATE_QUATERNION: return take_simulated(payload, target);
    default: return INTAKE_TAKEN;
    }
}

/* What is decoded above; HIL_STATE_QUATERNION alone brings the true airspeed,
 * and a stream without it has all others. */
uint32_t decode_mavlink_channels(const struct intake_layout *layout)
{
    (void)layout;
    return CHANNEL_BIT(CHANNEL_SIM_TIME) | CHANNEL_BIT(CHANNEL_HEADING) |
           CHANNEL_BIT(CHANNEL_PITCH) | CHANNEL_BIT(CHANNEL_BANK) |
           CHANNEL_BIT(CHANNEL_AIRSPEED) | CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED) |
           CHANNEL_BIT(CHANNEL_ALTITUDE) | CHANNEL_BIT(CHANNEL_VERTICAL_SPEED) |
           CHANNEL_BIT(CHANNEL_LOAD_FACTOR) | CHANNEL_BIT(CHANNEL_LATERAL_G) |
           CHANNEL_BIT(CHANNEL_SIDESLIP) |
           CHANNEL_BIT(CHANNEL_ANGLE_OF_ATTACK) |
           CHANNEL_BIT(CHANNEL_GROUND_SPEED) | CHANNEL_BIT(CHANNEL_TRACK) |
           CHANNEL_BIT(CHANNEL_LATITUDE) | CHANNEL_BIT(CHANNEL_LONGITUDE) |
           CHANNEL_BIT(CHANNEL_THROTTLE);
}

static enum intake_reject open_first(const uint8_t *data, size_t length,
                                     struct frame *out)
{
    if (length < HEADER_V1 + CRC_SIZE)
        return INTAKE_TOO_SHORT;
    out->second = false;
    out->payload_length = data[1];
    out->system = data[3];
    out->id = data[5];
    out->payload = data + HEADER_V1;
    out->checked_length = HEADER_V1 - 1 + out->payload_length;
    out->size = HEADER_V1 + out->payload_length + CRC_SIZE;
    return INTAKE_TAKEN;
}

static enum intake_reject open_second(const uint8_t *data, size_t length,
                                      struct frame *out)
{
    if (length < HEADER_V2 + CRC_SIZE)
        return INTAKE_TOO_SHORT;
    /* A flag that is not understood may change anything behind it. */
    if ((data[2] & ~(unsigned)FLAG_SIGNED) != 0)
        return INTAKE_BAD_STRUCTURE;
    out->second = true;
    out->payload_length = data[1];
    out->system = data[5];
    out->id =
        (uint32_t)data[7] | (uint32_t)data[8] << 8 | (uint32_t)data[9] << 16;
    out->payload = data + HEADER_V2;
    out->checked_length = HEADER_V2 - 1 + out->payload_length;
    out->size = HEADER_V2 + out->payload_length + CRC_SIZE +
                (data[2] == FLAG_SIGNED ? (size_t)SIGNATURE_SIZE : 0);
    return INTAKE_TAKEN;
}

static enum intake_reject open_frame(const uint8_t *data, size_t length,
                                     struct frame *out)
{
    enum intake_reject reject = data[0] == MAGIC_V2
                                    ? open_second(data, length, out)
                                    : open_first(data, length, out);

    out->checked = data + 1;
    if (reject == INTAKE_TAKEN && out->size > length)
        return INTAKE_TOO_SHORT;
    return reject;
}

/* Version 2 leaves zeros at a payload's end out, down to nothing at all;
 * version 1 never does. In both, extensions may follow. */
static enum intake_reject take_message(const struct frame *frame,
                                       const struct mavlink_message *message,
                                       const struct decode_target *target)
{
    uint8_t payload[MAX_PAYLOAD] = {0};
    uint16_t crc =
        crc16_add(CRC16_BEGIN, frame->checked, frame->checked_length);
    enum intake_reject reject = INTAKE_TAKEN;

    crc = crc16_add(crc, &message->crc_extra, 1);
    if (crc != bytes_u16(frame->payload + frame->payload_length, false))
        return INTAKE_BAD_CHECKSUM;
    if (!frame->second && frame->payload_length < message->length)
        return INTAKE_BAD_STRUCTURE;
    memcpy(payload, frame->payload, frame->payload_length);
    for (size_t i = 0; i < MAX_VALUES && reject == INTAKE_TAKEN; i++) {
        const struct mavlink_value *row = &message->value[i];

        if (row->kind == KIND_NONE)
            break;
        reject =
            decode_tell(target, row->channel, load(payload, row) * row->scale);
    }
    return reject == INTAKE_TAKEN ? take_more(message->id, payload, target)
                                  : reject;
}

/* Messages that are not ours cannot be checked: the checksum needs to know
 * them. */
enum intake_reject decode_mavlink(const struct intake_layout *layout,
                                  const uint8_t *data, size_t length,
                                  struct intake_sample *out)
{
    const struct decode_target target = {layout, out};
    size_t at = 0;

    while (at < length) {
        const struct mavlink_message *message;
        struct frame frame;
        enum intake_reject reject;

        if (data[at] != MAGIC_V1 && data[at] != MAGIC_V2)
            return at == 0 ? INTAKE_NO_PACKET : INTAKE_BAD_STRUCTURE;
        reject = open_frame(data + at, length - at, &frame);
        if (reject != INTAKE_TAKEN)
            return reject;
        message = mavlink_find(frame.id);
        if (message != NULL &&
            (layout->system < 0 || layout->system == frame.system))
            reject = take_message(&frame, message, &target);
        if (reject != INTAKE_TAKEN)
            return reject;
        at += frame.size;
    }
    return out->valid == 0 ? INTAKE_NOTHING_KNOWN : INTAKE_TAKEN;
}
