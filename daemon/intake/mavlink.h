/* mavlink.h - private to the intake room: MAVLink frames and messages, as
 * decoder and encoder know them. All numbers little-endian.
 *
 * Source: the MAVLink developer guide (packet serialization) and the message
 * definitions common.xml and ardupilotmega.xml. */
#ifndef INTAKE_MAVLINK_H
#define INTAKE_MAVLINK_H

#include "quarterturn/layout.h"

enum {
    MAGIC_V1 = 0xfe,
    MAGIC_V2 = 0xfd,
    HEADER_V1 = 6,
    HEADER_V2 = 10,
    CRC_SIZE = 2,
    SIGNATURE_SIZE = 13,
    FLAG_SIGNED = 1,
    MAX_PAYLOAD = 255,
    MAX_VALUES = 6
};

/* HIGHRES_IMU_UPDATED_FLAGS of common.xml. */
enum {
    UPDATED_XACC = 1,
    UPDATED_YACC = 2,
    UPDATED_ZACC = 4,
    UPDATED_GYROS = 8 | 16 | 32
};

/* Messages of common.xml, and AOA_SSA of ardupilotmega.xml. */
enum {
    MESSAGE_ATTITUDE = 30,
    MESSAGE_ATTITUDE_QUATERNION = 31,
    MESSAGE_GLOBAL_POSITION_INT = 33,
    MESSAGE_VFR_HUD = 74,
    MESSAGE_HIGHRES_IMU = 105,
    MESSAGE_HIL_STATE_QUATERNION = 115,
    MESSAGE_AOA_SSA = 11020
};

/* How a value lies in a payload; all little-endian. */
enum kind { KIND_NONE, KIND_F32, KIND_I16, KIND_U16, KIND_I32, KIND_U32 };

struct mavlink_value {
    enum intake_channel channel;
    enum kind kind;
    uint8_t at;
    double scale; /* to the internal unit */
};

struct mavlink_message {
    uint32_t id;
    uint8_t crc_extra;
    uint8_t length; /* without extensions */
    struct mavlink_value value[MAX_VALUES];
};

/* Returns: NULL for a message that brings no channel. */
const struct mavlink_message *mavlink_find(uint32_t id);

#endif
