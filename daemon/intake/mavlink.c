/* mavlink.c - the messages that bring a channel, and where it lies in them. */
#include "mavlink.h"

#define DEG UNITS_RAD_PER_DEG

/* crc_extra and lengths: computed from the names and types of the message
 * definitions by the rule of the developer guide. */
static const struct mavlink_message messages[] = {
    {.id = MESSAGE_ATTITUDE,
     .crc_extra = 39,
     .length = 28,
     .value = {{CHANNEL_SIM_TIME, KIND_U32, 0, 1e-3},
               {CHANNEL_BANK, KIND_F32, 4, 1.0},
               {CHANNEL_PITCH, KIND_F32, 8, 1.0},
               {CHANNEL_HEADING, KIND_F32, 12, 1.0}}},
    {.id = MESSAGE_ATTITUDE_QUATERNION,
     .crc_extra = 246,
     .length = 32,
     .value = {{CHANNEL_SIM_TIME, KIND_U32, 0, 1e-3}}},
    {.id = MESSAGE_GLOBAL_POSITION_INT,
     .crc_extra = 104,
     .length = 28,
     .value = {{CHANNEL_LATITUDE, KIND_I32, 4, 1e-7 * DEG},
               {CHANNEL_LONGITUDE, KIND_I32, 8, 1e-7 * DEG}}},
    {.id = MESSAGE_VFR_HUD, /* its heading comes in whole degrees only */
     .crc_extra = 20,
     .length = 20,
     .value = {{CHANNEL_AIRSPEED, KIND_F32, 0, 1.0},
               {CHANNEL_GROUND_SPEED, KIND_F32, 4, 1.0},
               {CHANNEL_ALTITUDE, KIND_F32, 8, 1.0},
               {CHANNEL_VERTICAL_SPEED, KIND_F32, 12, 1.0},
               {CHANNEL_THROTTLE, KIND_U16, 18, 0.01}}},
    {.id = MESSAGE_HIGHRES_IMU, .crc_extra = 93, .length = 62},
    {.id = MESSAGE_HIL_STATE_QUATERNION,
     .crc_extra = 4,
     .length = 64,
     .value = {{CHANNEL_LATITUDE, KIND_I32, 36, 1e-7 * DEG},
               {CHANNEL_LONGITUDE, KIND_I32, 40, 1e-7 * DEG},
               {CHANNEL_ALTITUDE, KIND_I32, 44, 1e-3},
               {CHANNEL_VERTICAL_SPEED, KIND_I16, 52, -0.01},
               {CHANNEL_AIRSPEED, KIND_U16, 54, 0.01},
               {CHANNEL_TRUE_AIRSPEED, KIND_U16, 56, 0.01}}},
    {.id = MESSAGE_AOA_SSA,
     .crc_extra = 205,
     .length = 16,
     .value = {{CHANNEL_ANGLE_OF_ATTACK, KIND_F32, 8, DEG},
               {CHANNEL_SIDESLIP, KIND_F32, 12, DEG}}},
};

const struct mavlink_message *mavlink_find(uint32_t id)
{
    for (size_t i = 0; i < sizeof messages / sizeof messages[0]; i++) {
        if (messages[i].id == id)
            return &messages[i];
    }
    return NULL;
}
