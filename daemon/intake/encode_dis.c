/* encode_dis.c - a moment as an Entity State PDU of IEEE 1278.1-2012.
 *
 * The airplane is entity 1 of application 1 at site 1 in exercise 1, a small
 * civilian airplane of no country that is marked REHEARSAL. Time counts past
 * an hour of the flight's own clock: it is a relative timestamp. */
#include <math.h>
#include <string.h>

#include "bytes.h"
#include "dis.h"
#include "encode.h"
#include "quarterturn/error.h"
#include "wgs84.h"

enum {
    EXERCISE = 1,
    SITE = 1,
    APPLICATION = 1,
    ENTITY = 1,
    /* Source: SISO-REF-010, entity types. */
    DOMAIN_AIR = 2,
    CATEGORY_CIVILIAN_SMALL = 85, /* fixed wing, up to 12,500 lb */
    CHARACTERS_ASCII = 1
};

static const char marking[] = "REHEARSAL";

/* A PDU tells all of these, or nothing: it has no word for "not known". */
static const uint32_t needed =
    CHANNEL_BIT(CHANNEL_HEADING) | CHANNEL_BIT(CHANNEL_PITCH) |
    CHANNEL_BIT(CHANNEL_BANK) | CHANNEL_BIT(CHANNEL_ALTITUDE) |
    CHANNEL_BIT(CHANNEL_LATITUDE) | CHANNEL_BIT(CHANNEL_LONGITUDE) |
    CHANNEL_BIT(CHANNEL_GROUND_SPEED) | CHANNEL_BIT(CHANNEL_VERTICAL_SPEED);

static void put_16(uint8_t *at, unsigned value)
{
    bytes_put(at, value, 2, true);
}

static void put_single(uint8_t *at, double value)
{
    bytes_put(at, bytes_bits_f32(value), 4, true);
}

static void put_vector(uint8_t *at, const struct wgs84_vector *v)
{
    put_single(at, v->x);
    put_single(at + 4, v->y);
    put_single(at + 8, v->z);
}

static void put_identity(uint8_t *pdu)
{
    pdu[AT_VERSION] = VERSION_2012;
    pdu[AT_EXERCISE] = EXERCISE;
    pdu[AT_TYPE] = TYPE_ENTITY_STATE;
    pdu[AT_FAMILY] = FAMILY_ENTITY;
    put_16(pdu + AT_LENGTH, FIXED_SIZE);
    put_16(pdu + AT_ENTITY_ID, SITE);
    put_16(pdu + AT_ENTITY_ID + 2, APPLICATION);
    put_16(pdu + AT_ENTITY_ID + 4, ENTITY);
    pdu[AT_ENTITY_TYPE] = KIND_PLATFORM;
    pdu[AT_ENTITY_TYPE + 1] = DOMAIN_AIR;
    pdu[AT_ENTITY_TYPE + 4] = CATEGORY_CIVILIAN_SMALL;
    pdu[AT_MARKING] = CHARACTERS_ASCII;
    memcpy(pdu + AT_MARKING + 1, marking, sizeof marking - 1);
}

/* All noughts is what a sender without a clock leaves there: the first unit
 * is told as the second, 1.7 microseconds late. */
static uint32_t timestamp_of(double sim_time_s)
{
    double past_hour_s = fmod(sim_time_s, 3600.0);
    uint32_t units;

    if (past_hour_s < 0.0)
        past_hour_s += 3600.0;
    units = (uint32_t)(past_hour_s / TIMESTAMP_UNIT_S + 0.5) & 0x7fffffff;
    return (units > 0 ? units : 1) << 1;
}

/* Acceleration in geocentric axes, from what is felt and gravity; toward the
 * nose it is felt by nobody here, but seen in the velocity. */
static void put_acceleration(uint8_t *pdu, const struct encode_moment *moment,
                             const struct wgs84_axes *body,
                             const struct wgs84_vector *down)
{
    const double *value = moment->sample->value;
    double forward = moment->motion.faster_mps2;
    double right =
        UNITS_G0_MPS2 * (value[CHANNEL_LATERAL_G] + wgs84_dot(&body->y, down));
    double below = UNITS_G0_MPS2 *
                   (wgs84_dot(&body->z, down) - value[CHANNEL_LOAD_FACTOR]);
    const struct wgs84_vector told = {forward, right, below};
    struct wgs84_vector world;

    wgs84_combine(body, &told, &world);
    put_vector(pdu + AT_ACCELERATION, &world);
}

static void put_state(uint8_t *pdu, const struct encode_moment *moment)
{
    const double *value = moment->sample->value;
    const double *turning = moment->motion.turning_radps;
    const double *mps = moment->motion.velocity_mps;
    const struct wgs84_place place = {value[CHANNEL_LATITUDE],
                                      value[CHANNEL_LONGITUDE],
                                      value[CHANNEL_ALTITUDE]};
    const struct wgs84_attitude attitude = {
        value[CHANNEL_HEADING], value[CHANNEL_PITCH], value[CHANNEL_BANK]};
    const struct wgs84_vector over_ground = {mps[0], mps[1], mps[2]};
    struct wgs84_axes ground;
    struct wgs84_axes body;
    struct wgs84_vector v;
    bool felt = encode_has(moment, CHANNEL_BIT(CHANNEL_LOAD_FACTOR) |
                                       CHANNEL_BIT(CHANNEL_LATERAL_G));

    wgs84_axes_at(&place, &ground);
    wgs84_body_over(&attitude, &ground, &body);
    wgs84_point_of(&place, &v);
    bytes_put(pdu + AT_LOCATION, bytes_bits_f64(v.x), 8, true);
    bytes_put(pdu + AT_LOCATION + 8, bytes_bits_f64(v.y), 8, true);
    bytes_put(pdu + AT_LOCATION + 16, bytes_bits_f64(v.z), 8, true);
    wgs84_combine(&ground, &over_ground, &v);
    put_vector(pdu + AT_VELOCITY, &v);
    wgs84_angles_of(&body, &v);
    put_vector(pdu + AT_ORIENTATION, &v);
    v = (struct wgs84_vector){turning[0], turning[1], turning[2]};
    put_vector(pdu + AT_TURNING, &v);
    pdu[AT_DEAD_RECKONING] = felt ? RECKON_RVW : RECKON_RPW;
    if (felt)
        put_acceleration(pdu, moment, &body, &ground.z);
}

int encode_dis(const struct encode_moment *moment, struct encode_out *out)
{
    const double *value = moment->sample->value;
    uint8_t pdu[FIXED_SIZE] = {0};

    if (!encode_has(moment, needed))
        return ERR_ABSENT;
    put_identity(pdu);
    put_state(pdu, moment);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME)))
        bytes_put(pdu + AT_TIMESTAMP, timestamp_of(value[CHANNEL_SIM_TIME]), 4,
                  true);
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_PAUSED)) &&
        value[CHANNEL_PAUSED] != 0.0)
        bytes_put(pdu + AT_APPEARANCE, UINT64_C(1) << FROZEN_BIT, 4, true);
    encode_put(out, pdu, sizeof pdu);
    return encode_result(out);
}
