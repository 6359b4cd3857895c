/* layout.h - what a simulator can tell, and what its packets look like.
 *
 * Shared words: channels and samples, and the description of packets that
 * settings read and intake decodes by. Plain data; no decoding here. */
#ifndef QUARTERTURN_LAYOUT_H
#define QUARTERTURN_LAYOUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/units.h"

/* ---- channels ---------------------------------------------------------- */

/* What a simulator can tell. Values are in internal units (units.h). */
enum intake_channel {
    CHANNEL_SIM_TIME,        /* s, the simulator's own time */
    CHANNEL_HEADING,         /* rad, true or magnetic, any turn */
    CHANNEL_PITCH,           /* rad, nose up positive */
    CHANNEL_BANK,            /* rad, right wing down positive */
    CHANNEL_AIRSPEED,        /* m/s, calibrated (indicated is taken as such) */
    CHANNEL_TRUE_AIRSPEED,   /* m/s */
    CHANNEL_ALTITUDE,        /* m, pressure or geometric above sea level */
    CHANNEL_HEIGHT,          /* m above ground */
    CHANNEL_VERTICAL_SPEED,  /* m/s, up positive */
    CHANNEL_LOAD_FACTOR,     /* g along the airplane's up axis, 1 in level */
    CHANNEL_LATERAL_G,       /* g toward the right wing: ball goes left */
    CHANNEL_SIDESLIP,        /* rad, wind from the right positive */
    CHANNEL_ANGLE_OF_ATTACK, /* rad */
    CHANNEL_GROUND_SPEED,    /* m/s */
    CHANNEL_TRACK,           /* rad */
    CHANNEL_LATITUDE,        /* rad, north positive */
    CHANNEL_LONGITUDE,       /* rad, east positive */
    CHANNEL_STALL_WARNING,   /* bool */
    CHANNEL_ON_GROUND,       /* bool */
    CHANNEL_PAUSED,          /* bool */
    CHANNEL_THROTTLE,        /* ratio 0..1 */
    CHANNEL_FLAPS,           /* ratio 0..1 */
    CHANNEL_GEAR,            /* ratio 0..1 */
    CHANNEL_WEIGHT,          /* kg */
    CHANNEL_COUNT
};

#define CHANNEL_BIT(channel) (UINT32_C(1) << (channel))

/* Channels without which a chandelle cannot be followed; true airspeed will
 * do in place of airspeed. */
#define CHANNELS_REQUIRED                                        \
    (CHANNEL_BIT(CHANNEL_HEADING) | CHANNEL_BIT(CHANNEL_PITCH) | \
     CHANNEL_BIT(CHANNEL_BANK) | CHANNEL_BIT(CHANNEL_AIRSPEED))

/* Name used in layouts ("heading", "true_airspeed", ...). */
const char *intake_channel_name(enum intake_channel channel);
/* Returns: 0, or ERR_ABSENT for an unknown name (out unchanged). */
int intake_channel_find(const char *name, enum intake_channel *out);
/* The quantity a channel measures, so that a layout's unit can be checked. */
enum units_quantity intake_channel_quantity(enum intake_channel channel);
/* The unit a channel is shown in ("deg" for heading, "kt" for airspeed). */
enum unit intake_channel_display_unit(enum intake_channel channel);

/* One moment of flight as the simulator told it. */
struct intake_sample {
    int64_t t_ns;                /* stream time, see intake_stream */
    double pace;                 /* seconds of flight in one of stream time:
                                    1 but in slow motion and time lapse */
    uint32_t valid;              /* CHANNEL_BIT of each channel known */
    uint32_t fresh;              /* of these, what the last datagram brought */
    uint32_t beyond;             /* intake_decode: told, not valid because out
                                    of range; value holds what was told */
    double value[CHANNEL_COUNT]; /* finite where valid, else not to be read */
};

/* ---- layouts ----------------------------------------------------------- */

enum {
    INTAKE_NAME_SIZE = 32,    /* names, with their NUL */
    INTAKE_FIELD_NAME = 64,   /* of a pair, a JSON path, a sentence's item */
    INTAKE_MAX_PACKETS = 8,   /* packet kinds in a layout */
    INTAKE_MAX_FIELDS = 32,   /* fields in a packet */
    INTAKE_MAX_PREFIX = 32,   /* bytes of starts_with */
    INTAKE_MAX_COLUMNS = 256, /* columns of a text line */
    INTAKE_MAX_DATAGRAM = 65535
};

enum intake_form {
    INTAKE_FORM_TEXT,    /* numbers between separators */
    INTAKE_FORM_BINARY,  /* numbers at fixed places */
    INTAKE_FORM_RECORDS, /* repeated records, each with a key */
    INTAKE_FORM_PAIRS,   /* name=value */
    INTAKE_FORM_JSON,    /* an object or array, values by path */
    INTAKE_FORM_NMEA,    /* NMEA 0183 sentences */
    INTAKE_FORM_DIS,     /* IEEE 1278.1 Entity State PDU */
    INTAKE_FORM_MAVLINK, /* MAVLink 1 and 2 frames */
    INTAKE_FORM_COUNT
};

enum intake_type {
    INTAKE_I8,
    INTAKE_U8,
    INTAKE_I16,
    INTAKE_U16,
    INTAKE_I32,
    INTAKE_U32,
    INTAKE_I64,
    INTAKE_U64,
    INTAKE_F32,
    INTAKE_F64,
    INTAKE_TYPE_COUNT
};

/* Where one channel stands in a packet and how it becomes internal.
 * Fixed order: raw -> missing? -> x scale -> + offset -> unit. */
struct intake_field {
    enum intake_channel channel;
    uint32_t line; /* of the layout's file, 0 not known */
    enum unit unit;
    enum intake_type type; /* binary */
    bool big_endian;       /* binary */
    bool has_bit;          /* binary: only this bit of an integer counts */
    uint32_t bit;          /* 0 is the least */
    bool optional;         /* text: the column may be absent or empty */
    bool has_missing;
    double missing; /* raw value that means "not available" */
    double scale;
    double offset;
    uint32_t at;     /* binary: byte offset, 0 up, any alignment */
    uint32_t column; /* text: 1 up */
    int64_t key;     /* records: which record; at counts from its start */
    char name[INTAKE_FIELD_NAME]; /* pairs: name; json: path; nmea: item */
    bool magnetic;                /* heading or track against magnetic north */
    bool has_range; /* a value outside least..most counts as missing */
    double least;   /* internal unit */
    double most;
};

/* What a packet ends in, so that damage is seen. */
enum intake_checksum {
    INTAKE_CHECKSUM_NONE,
    INTAKE_CHECKSUM_XOR,  /* text: '*' and two hex digits, as in NMEA 0183 */
    INTAKE_CHECKSUM_CRC16 /* binary: the last two bytes, CRC-16/MCRF4XX of
                              what is before them */
};

struct intake_packet {
    char name[INTAKE_NAME_SIZE];
    uint32_t size;     /* exact length in bytes, 0 any */
    uint32_t min_size; /* least length, 0 any */
    uint8_t starts_with[INTAKE_MAX_PREFIX];
    uint32_t starts_with_length;
    uint32_t starts_at;        /* binary, records: where starts_with stands */
    char separator;            /* text, pairs, default ',' */
    bool decimal_comma;        /* text, pairs, json: 12,5 means 12.5 */
    char assign;               /* pairs: between name and value, default '=' */
    uint32_t records_at;       /* records: bytes before the first record */
    uint32_t record_size;      /* records: bytes of each, the key included */
    enum intake_type key_type; /* records: the key stands first */
    bool key_big_endian;
    enum intake_checksum checksum;
    bool checksum_big_endian;
    struct intake_field field[INTAKE_MAX_FIELDS];
    uint32_t field_count;
};

struct intake_layout {
    char name[INTAKE_NAME_SIZE];
    enum intake_form form;
    struct intake_packet packet[INTAKE_MAX_PACKETS];
    uint32_t packet_count;
    uint16_t port;          /* where it is expected, 0 not said */
    bool still_air;         /* dis: take the speed over ground for airspeed */
    int32_t system;         /* mavlink: only this system id, -1 any */
    double sim_time_wrap_s; /* sim_time begins again at 0 after this much;
                               0 never */
    int64_t max_age_ns[CHANNEL_COUNT]; /* how long a value still counts when
                                          other datagrams come; 0 default */
};

const char *intake_form_name(enum intake_form form);
int intake_form_find(const char *name, enum intake_form *out);
/* After how many seconds the time of a form begins again at 0; 0: never, or
 * the form does not say. */
double intake_form_time_wrap_s(enum intake_form form);
const char *intake_type_name(enum intake_type type);
int intake_type_find(const char *name, enum intake_type *out);
uint32_t intake_type_size(enum intake_type type);

/* The value of a hexadecimal digit, -1 for any other character. */
int intake_hex_digit(char c);

/* The channels a layout can give, as CHANNEL_BITs. */
uint32_t intake_layout_channels(const struct intake_layout *layout);

#endif
