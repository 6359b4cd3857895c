/* decode_dis.c - Entity State PDUs of IEEE 1278.1, versions 6 and 7.
 *
 * Both versions lay the PDU out alike. A datagram may hold several PDUs one
 * behind the other; the first Entity State PDU counts. There is no airspeed in
 * it: velocity is over ground, and is taken for airspeed only where the layout
 * declares still air. What the pilot feels, load factor and lateral g, is the
 * acceleration less gravity, where the sender tells one. */
#include "decode.h"

#include <math.h>

#include "bytes.h"
#include "dis.h"
#include "wgs84.h"

/* Slower than this over the ground, the track is noise. Ours, no source. */
static const double track_least_mps = 0.5;

uint32_t decode_dis_channels(const struct intake_layout *layout)
{
    uint32_t channels =
        CHANNEL_BIT(CHANNEL_SIM_TIME) | CHANNEL_BIT(CHANNEL_HEADING) |
        CHANNEL_BIT(CHANNEL_PITCH) | CHANNEL_BIT(CHANNEL_BANK) |
        CHANNEL_BIT(CHANNEL_ALTITUDE) | CHANNEL_BIT(CHANNEL_VERTICAL_SPEED) |
        CHANNEL_BIT(CHANNEL_LOAD_FACTOR) | CHANNEL_BIT(CHANNEL_LATERAL_G) |
        CHANNEL_BIT(CHANNEL_GROUND_SPEED) | CHANNEL_BIT(CHANNEL_TRACK) |
        CHANNEL_BIT(CHANNEL_LATITUDE) | CHANNEL_BIT(CHANNEL_LONGITUDE) |
        CHANNEL_BIT(CHANNEL_PAUSED);

    return layout->still_air ? channels | CHANNEL_BIT(CHANNEL_TRUE_AIRSPEED)
                             : channels;
}

/* A value and where it goes. */
struct told {
    enum intake_channel channel;
    double value;
};

static enum intake_reject tell_all(const struct told *told, size_t count,
                                   const struct decode_target *target)
{
    for (size_t i = 0; i < count; i++) {
        enum intake_reject reject =
            decode_tell(target, told[i].channel, told[i].value);

        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

/* Past the hour, absolute or relative: which of the two does not matter to
 * differences. A sender that keeps no time leaves the word 0. */
static enum intake_reject take_time(const uint8_t *pdu,
                                    const struct decode_target *target)
{
    uint32_t word = bytes_u32(pdu + AT_TIMESTAMP, true);

    if (word == 0)
        return INTAKE_TAKEN;
    return decode_tell(target, CHANNEL_SIM_TIME,
                       (word >> 1) * TIMESTAMP_UNIT_S);
}

static struct wgs84_vector vector_at(const uint8_t *at)
{
    return (struct wgs84_vector){bytes_f32(at, true), bytes_f32(at + 4, true),
                                 bytes_f32(at + 8, true)};
}

/* A vector of the PDU along the geocentric axes, whichever it is told in. */
static struct wgs84_vector told_in_world(const uint8_t *pdu, size_t at,
                                         const struct wgs84_axes *body)
{
    struct wgs84_vector v = vector_at(pdu + at);
    struct wgs84_vector world;
    unsigned algorithm = pdu[AT_DEAD_RECKONING];

    if (algorithm < FIRST_IN_BODY_AXES || algorithm > LAST_IN_BODY_AXES)
        return v;
    wgs84_combine(body, &v, &world);
    return world;
}

static bool is_nought(const struct wgs84_vector *v)
{
    return v->x == 0.0 && v->y == 0.0 && v->z == 0.0;
}

/* The acceleration along the right wing and the belly, if it is told. Nothing
 * that flies has none of it to the last bit: all noughts are a sender that
 * keeps none. */
static bool find_acceleration(const uint8_t *pdu, const struct wgs84_axes *body,
                              double *right, double *down)
{
    unsigned algorithm = pdu[AT_DEAD_RECKONING];
    struct wgs84_vector told = vector_at(pdu + AT_ACCELERATION);
    struct wgs84_vector turning = vector_at(pdu + AT_TURNING);
    struct wgs84_vector speed = vector_at(pdu + AT_VELOCITY);
    struct wgs84_vector world = told_in_world(pdu, AT_ACCELERATION, body);

    switch (algorithm) {
    case RECKON_RVW:
    case RECKON_FVW:
    case RECKON_FVB:
        *right = wgs84_dot(&world, &body->y);
        *down = wgs84_dot(&world, &body->z);
        return !is_nought(&told);
    case RECKON_RVB:
        /* The velocity turns with the body, and what is told is how it
         * changes as seen from there. Source: IEEE 1278.1, annex on dead
         * reckoning, the formula of DRM(R,V,B). */
        *right = told.y + turning.z * speed.x - turning.x * speed.z;
        *down = told.z + turning.x * speed.y - turning.y * speed.x;
        return !is_nought(&told) || !is_nought(&turning);
    default: return false;
    }
}

/* What accelerometers on board would show: acceleration less gravity. */
static enum intake_reject take_forces(const uint8_t *pdu,
                                      const struct wgs84_axes *body,
                                      const struct wgs84_axes *ground,
                                      const struct decode_target *target)
{
    double right;
    double down;

    if (!find_acceleration(pdu, body, &right, &down))
        return INTAKE_TAKEN;
    if (!isfinite(right) || !isfinite(down))
        return INTAKE_NOT_FINITE;
    const struct told told[] = {
        {CHANNEL_LATERAL_G,
         right / UNITS_G0_MPS2 - wgs84_dot(&body->y, &ground->z)},
        {CHANNEL_LOAD_FACTOR,
         wgs84_dot(&body->z, &ground->z) - down / UNITS_G0_MPS2},
    };

    return tell_all(told, sizeof told / sizeof told[0], target);
}

static enum intake_reject take_motion(const struct wgs84_vector *velocity,
                                      const struct wgs84_axes *ground,
                                      const struct decode_target *target)
{
    double north = wgs84_dot(velocity, &ground->x);
    double east = wgs84_dot(velocity, &ground->y);
    double up = -wgs84_dot(velocity, &ground->z);
    double along = hypot(north, east);
    struct told told[] = {{CHANNEL_VERTICAL_SPEED, up},
                          {CHANNEL_GROUND_SPEED, along}};
    enum intake_reject reject;

    if (!isfinite(up) || !isfinite(along))
        return INTAKE_NOT_FINITE;
    reject = tell_all(told, sizeof told / sizeof told[0], target);
    if (reject == INTAKE_TAKEN && along >= track_least_mps)
        reject = decode_tell(target, CHANNEL_TRACK,
                             angle_wrap_circle(atan2(east, north)));
    if (reject == INTAKE_TAKEN && target->layout->still_air)
        reject = decode_tell(target, CHANNEL_TRUE_AIRSPEED, hypot(along, up));
    return reject;
}

/* An entity that is not a platform has other words there. */
static enum intake_reject take_frozen(const uint8_t *pdu,
                                      const struct decode_target *target)
{
    if (pdu[AT_ENTITY_TYPE] != KIND_PLATFORM)
        return INTAKE_TAKEN;
    return decode_tell(target, CHANNEL_PAUSED,
                       bytes_u32(pdu + AT_APPEARANCE, true) >> FROZEN_BIT & 1);
}

static enum intake_reject take_state(const uint8_t *pdu,
                                     const struct decode_target *target)
{
    const uint8_t *at = pdu + AT_LOCATION;
    struct wgs84_vector point = {bytes_f64(at, true), bytes_f64(at + 8, true),
                                 bytes_f64(at + 16, true)};
    double psi = bytes_f32(pdu + AT_ORIENTATION, true);
    double theta = bytes_f32(pdu + AT_ORIENTATION + 4, true);
    double phi = bytes_f32(pdu + AT_ORIENTATION + 8, true);
    struct wgs84_place place;
    struct wgs84_axes ground;
    struct wgs84_axes body;
    struct wgs84_attitude attitude;
    struct wgs84_vector velocity;
    enum intake_reject reject;

    if (!isfinite(point.x) || !isfinite(point.y) || !isfinite(point.z) ||
        !isfinite(psi) || !isfinite(theta) || !isfinite(phi))
        return INTAKE_NOT_FINITE;
    if (!wgs84_place_of(&point, &place))
        return INTAKE_OUT_OF_RANGE;
    wgs84_axes_at(&place, &ground);
    wgs84_axes_of_body(psi, theta, phi, &body);
    wgs84_attitude_of(&body, &ground, &attitude);
    velocity = told_in_world(pdu, AT_VELOCITY, &body);
    const struct told told[] = {
        {CHANNEL_HEADING, angle_wrap_circle(attitude.heading_rad)},
        {CHANNEL_PITCH, attitude.pitch_rad},
        {CHANNEL_BANK, attitude.bank_rad},
        {CHANNEL_ALTITUDE, place.height_m},
        {CHANNEL_LATITUDE, place.latitude_rad},
        {CHANNEL_LONGITUDE, place.longitude_rad},
    };
    reject = tell_all(told, sizeof told / sizeof told[0], target);
    if (reject == INTAKE_TAKEN)
        reject = take_motion(&velocity, &ground, target);
    if (reject == INTAKE_TAKEN)
        reject = take_forces(pdu, &body, &ground, target);
    if (reject == INTAKE_TAKEN)
        reject = take_frozen(pdu, target);
    return reject == INTAKE_TAKEN ? take_time(pdu, target) : reject;
}

static bool is_entity_state(const uint8_t *pdu)
{
    return pdu[AT_TYPE] == TYPE_ENTITY_STATE && pdu[AT_FAMILY] == FAMILY_ENTITY;
}

/* The first Entity State PDU, once every length down the datagram agrees. */
static enum intake_reject find_state(const uint8_t *data, size_t length,
                                     const uint8_t **state)
{
    size_t at = 0;

    *state = NULL;
    while (at < length) {
        const uint8_t *pdu = data + at;
        size_t rest = length - at;
        size_t size;

        if (pdu[AT_VERSION] != VERSION_1998 && pdu[AT_VERSION] != VERSION_2012)
            return at == 0 ? INTAKE_NO_PACKET : INTAKE_BAD_STRUCTURE;
        if (rest < HEADER_SIZE)
            return INTAKE_TOO_SHORT;
        size = bytes_u16(pdu + AT_LENGTH, true);
        if (size < HEADER_SIZE)
            return INTAKE_BAD_STRUCTURE;
        if (size > rest)
            return INTAKE_TOO_SHORT;
        if (is_entity_state(pdu)) {
            if (size < FIXED_SIZE ||
                size != FIXED_SIZE +
                            (size_t)pdu[AT_PARAMETER_COUNT] * PARAMETER_SIZE)
                return INTAKE_BAD_STRUCTURE;
            if (*state == NULL)
                *state = pdu;
        }
        at += size;
    }
    return INTAKE_TAKEN;
}

enum intake_reject decode_dis(const struct intake_layout *layout,
                              const uint8_t *data, size_t length,
                              struct intake_sample *out)
{
    const struct decode_target target = {layout, out};
    const uint8_t *state;
    enum intake_reject reject = find_state(data, length, &state);

    if (reject != INTAKE_TAKEN)
        return reject;
    if (state == NULL)
        return INTAKE_NOTHING_KNOWN;
    return take_state(state, &target);
}
