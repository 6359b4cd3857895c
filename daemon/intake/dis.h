/* dis.h - private to the intake room: the Entity State PDU of IEEE 1278.1, as
 * decoder and encoder know it. All numbers big-endian. */
#ifndef INTAKE_DIS_H
#define INTAKE_DIS_H

/* Offsets of IEEE 1278.1-2012, 6.2.66 (header) and 7.2.2 (Entity State). */
enum {
    AT_VERSION = 0,
    AT_EXERCISE = 1,
    AT_TYPE = 2,
    AT_FAMILY = 3,
    AT_TIMESTAMP = 4,
    AT_LENGTH = 8,
    HEADER_SIZE = 12,
    AT_ENTITY_ID = 12, /* site, application, entity: two bytes each */
    AT_PARAMETER_COUNT = 19,
    AT_ENTITY_TYPE = 20, /* kind, domain, country (two bytes), category */
    AT_VELOCITY = 36,
    AT_LOCATION = 48,
    AT_ORIENTATION = 72,
    AT_APPEARANCE = 84,
    AT_DEAD_RECKONING = 88,
    AT_ACCELERATION = 104,
    AT_TURNING = 116,
    AT_MARKING = 128, /* character set, then the characters */
    FIXED_SIZE = 144,
    PARAMETER_SIZE = 16,
    MARKING_SIZE = 11
};

enum {
    VERSION_1998 = 6,
    VERSION_2012 = 7,
    TYPE_ENTITY_STATE = 1,
    FAMILY_ENTITY = 1,
    /* Dead reckoning algorithms from this one to the last tell velocity and
     * acceleration along the body's axes, all others along the geocentric
     * ones. Source: SISO-REF-010, dead reckoning algorithms. */
    FIRST_IN_BODY_AXES = 6,
    LAST_IN_BODY_AXES = 9
};

/* Of a platform's appearance. Source: SISO-REF-010, "Frozen Status", the same
 * bit for platforms of all domains. */
enum { KIND_PLATFORM = 1, FROZEN_BIT = 21 };

/* Dead reckoning algorithms: R rotating or F fixed; P velocity constant or V
 * changing; W told in world or B in body axes. To those with a P the words for
 * the acceleration mean nothing. Source: SISO-REF-010. */
enum {
    RECKON_RPW = 3,
    RECKON_RVW = 4,
    RECKON_FVW = 5,
    RECKON_RVB = 8,
    RECKON_FVB = 9
};

/* An hour has 2^31 units. Source: IEEE 1278.1-2012, 6.2.88. */
#define TIMESTAMP_UNIT_S (3600.0 / 2147483648.0)

#endif
