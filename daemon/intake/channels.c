/* channels.c - what a simulator can tell, and what of it can be true. */
#include "channels.h"

#include <string.h>

#include "quarterturn/error.h"

#define DEG UNITS_RAD_PER_DEG
#define KT UNITS_MPS_PER_KT
#define FT UNITS_M_PER_FT

struct channel_row {
    const char *name;
    enum units_quantity quantity;
    enum unit display;
    double least; /* internal units, both ends accepted */
    double greatest;
};

/* The bounds keep out what no airplane can do, so that a wrong layout or a
 * damaged packet shows at once; they judge no flying. Ours, no source. */
static const struct channel_row row_of_channel[CHANNEL_COUNT] = {
    /* Seconds since 1970 fit, and nanoseconds of them fit 64 bits. */
    [CHANNEL_SIM_TIME] = {"sim_time", UNITS_TIME, UNIT_S, -4e9, 4e9},
    [CHANNEL_HEADING] = {"heading", UNITS_ANGLE, UNIT_DEG, -720.0 * DEG,
                         720.0 * DEG},
    [CHANNEL_PITCH] = {"pitch", UNITS_ANGLE, UNIT_DEG, -95.0 * DEG, 95.0 * DEG},
    [CHANNEL_BANK] = {"bank", UNITS_ANGLE, UNIT_DEG, -185.0 * DEG, 185.0 * DEG},
    [CHANNEL_AIRSPEED] = {"airspeed", UNITS_SPEED, UNIT_KT, -5.0 * KT,
                          1500.0 * KT},
    [CHANNEL_TRUE_AIRSPEED] = {"true_airspeed", UNITS_SPEED, UNIT_KT, -5.0 * KT,
                               2500.0 * KT},
    [CHANNEL_ALTITUDE] = {"altitude", UNITS_LENGTH, UNIT_FT, -2000.0 * FT,
                          200000.0 * FT},
    [CHANNEL_HEIGHT] = {"height", UNITS_LENGTH, UNIT_FT, -2000.0 * FT,
                        200000.0 * FT},
    [CHANNEL_VERTICAL_SPEED] = {"vertical_speed", UNITS_SPEED, UNIT_FT_PER_MIN,
                                -1000.0 * FT, 1000.0 * FT},
    [CHANNEL_LOAD_FACTOR] = {"load_factor", UNITS_ACCELERATION, UNIT_G, -50.0,
                             50.0},
    [CHANNEL_LATERAL_G] = {"lateral_g", UNITS_ACCELERATION, UNIT_G, -50.0,
                           50.0},
    [CHANNEL_SIDESLIP] = {"sideslip", UNITS_ANGLE, UNIT_DEG, -185.0 * DEG,
                          185.0 * DEG},
    [CHANNEL_ANGLE_OF_ATTACK] = {"angle_of_attack", UNITS_ANGLE, UNIT_DEG,
                                 -185.0 * DEG, 185.0 * DEG},
    [CHANNEL_GROUND_SPEED] = {"ground_speed", UNITS_SPEED, UNIT_KT, -100.0 * KT,
                              2500.0 * KT},
    [CHANNEL_TRACK] = {"track", UNITS_ANGLE, UNIT_DEG, -720.0 * DEG,
                       720.0 * DEG},
    [CHANNEL_LATITUDE] = {"latitude", UNITS_ANGLE, UNIT_DEG, -90.0001 * DEG,
                          90.0001 * DEG},
    [CHANNEL_LONGITUDE] = {"longitude", UNITS_ANGLE, UNIT_DEG, -360.0001 * DEG,
                           360.0001 * DEG},
    [CHANNEL_STALL_WARNING] = {"stall_warning", UNITS_NUMBER, UNIT_BOOL, -1e9,
                               1e9},
    [CHANNEL_ON_GROUND] = {"on_ground", UNITS_NUMBER, UNIT_BOOL, -1e9, 1e9},
    [CHANNEL_PAUSED] = {"paused", UNITS_NUMBER, UNIT_BOOL, -1e9, 1e9},
    /* Reverse thrust counts below zero, emergency power above one. */
    [CHANNEL_THROTTLE] = {"throttle", UNITS_NUMBER, UNIT_NONE, -1.5, 1.5},
    [CHANNEL_FLAPS] = {"flaps", UNITS_NUMBER, UNIT_NONE, -1.5, 1.5},
    [CHANNEL_GEAR] = {"gear", UNITS_NUMBER, UNIT_NONE, -0.5, 1.5},
    [CHANNEL_WEIGHT] = {"weight", UNITS_MASS, UNIT_LB, 1.0, 1e6},
};

const char *intake_channel_name(enum intake_channel channel)
{
    return row_of_channel[channel].name;
}

int intake_channel_find(const char *name, enum intake_channel *out)
{
    for (size_t i = 0; i < CHANNEL_COUNT; i++) {
        if (strcmp(row_of_channel[i].name, name) == 0) {
            *out = (enum intake_channel)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

enum units_quantity intake_channel_quantity(enum intake_channel channel)
{
    return row_of_channel[channel].quantity;
}

enum unit intake_channel_display_unit(enum intake_channel channel)
{
    return row_of_channel[channel].display;
}

void channel_put_beyond(enum intake_channel channel, double value,
                        struct intake_sample *out)
{
    out->value[channel] = value;
    out->beyond |= CHANNEL_BIT(channel);
}

enum intake_reject channel_store(enum intake_channel channel, double value,
                                 struct intake_sample *out)
{
    const struct channel_row *row = &row_of_channel[channel];

    if (!(value >= row->least && value <= row->greatest)) {
        channel_put_beyond(channel, value, out);
        return INTAKE_OUT_OF_RANGE;
    }
    if (row->display == UNIT_BOOL)
        value = value != 0.0 ? 1.0 : 0.0;
    out->value[channel] = value;
    out->valid |= CHANNEL_BIT(channel);
    out->beyond &= ~CHANNEL_BIT(channel);
    return INTAKE_TAKEN;
}
