/* intake.h - from datagrams to samples.
 *
 * A layout says what a simulator's packets look like; intake_decode turns one
 * datagram into the channels it carries; intake_stream puts a time on them,
 * drops what is late or doubled and tells when the stream stops, pauses or
 * jumps. These are pure: no clock, no file, no socket, no allocation.
 * The edges of the room stand at the end: UDP (libuv) and recordings
 * (libpcap). */
#ifndef QUARTERTURN_INTAKE_H
#define QUARTERTURN_INTAKE_H

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

/* Channels without which a chandelle cannot be followed. */
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
    uint32_t valid;              /* CHANNEL_BIT of each channel present */
    double value[CHANNEL_COUNT]; /* finite where valid, else not to be read */
};

/* ---- layouts ----------------------------------------------------------- */

enum {
    INTAKE_NAME_SIZE = 32,    /* names, with their NUL */
    INTAKE_MAX_PACKETS = 8,   /* packet kinds in a layout */
    INTAKE_MAX_FIELDS = 32,   /* fields in a packet */
    INTAKE_MAX_PREFIX = 32,   /* bytes of starts_with */
    INTAKE_MAX_COLUMNS = 256, /* columns of a text line */
    INTAKE_MAX_DATAGRAM = 65535
};

enum intake_form { INTAKE_FORM_TEXT, INTAKE_FORM_BINARY };

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
    enum unit unit;
    enum intake_type type; /* binary */
    bool big_endian;       /* binary */
    bool optional;         /* text: the column may be absent or empty */
    bool has_missing;
    double missing; /* raw value that means "not available" */
    double scale;
    double offset;
    uint32_t at;     /* binary: byte offset, 0 up, any alignment */
    uint32_t column; /* text: 1 up */
};

struct intake_packet {
    char name[INTAKE_NAME_SIZE];
    uint32_t size;     /* exact length in bytes, 0 any */
    uint32_t min_size; /* least length, 0 any */
    uint8_t starts_with[INTAKE_MAX_PREFIX];
    uint32_t starts_with_length;
    char separator;     /* text, default ',' */
    bool decimal_comma; /* text: 12,5 means 12.5 */
    struct intake_field field[INTAKE_MAX_FIELDS];
    uint32_t field_count;
};

struct intake_layout {
    char name[INTAKE_NAME_SIZE];
    enum intake_form form;
    struct intake_packet packet[INTAKE_MAX_PACKETS];
    uint32_t packet_count;
};

const char *intake_form_name(enum intake_form form);
int intake_form_find(const char *name, enum intake_form *out);
const char *intake_type_name(enum intake_type type);
int intake_type_find(const char *name, enum intake_type *out);
uint32_t intake_type_size(enum intake_type type);

/* The channels a layout can give, as CHANNEL_BITs. */
uint32_t intake_layout_channels(const struct intake_layout *layout);

/* ---- decoding ---------------------------------------------------------- */

/* Why a datagram was not taken. 0 is "taken". */
enum intake_reject {
    INTAKE_TAKEN = 0,
    INTAKE_EMPTY,     /* no bytes */
    INTAKE_TOO_LONG,  /* did not fit the receive buffer */
    INTAKE_NO_PACKET, /* no packet of the layout has this size or start */
    INTAKE_TOO_SHORT, /* a field lies beyond the end */
    INTAKE_TOO_FEW_COLUMNS,
    INTAKE_NOT_A_NUMBER, /* a text column that is no number */
    INTAKE_NOT_FINITE,   /* NaN or infinity */
    INTAKE_OUT_OF_RANGE, /* a value no airplane can have */
    INTAKE_LATE,         /* older than what was already taken */
    INTAKE_DUPLICATE,    /* the same simulator time again */
    INTAKE_REJECT_COUNT
};

const char *intake_reject_name(enum intake_reject reject);

/* Decode one datagram.
 * layout: checked by the settings room.
 * data, length: the payload; any bytes at all, length up to
 *    INTAKE_MAX_DATAGRAM. data may be NULL when length is 0.
 * out: on INTAKE_TAKEN, valid and value are set, t_ns is 0; otherwise
 *    unspecified.
 * Returns: INTAKE_TAKEN or the reason. A missing or NaN binary value makes
 *    only its channel absent; one out of range rejects the datagram.
 * Owns: nothing. Thread: any. */
enum intake_reject intake_decode(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out);

/* Encode a sample as the given packet of a layout (for tests, and for
 * sending): the inverse of intake_decode for the fields that are valid.
 * Returns: bytes written, or ERR_FULL when size is too small. */
int intake_encode(const struct intake_layout *layout, uint32_t packet,
                  const struct intake_sample *sample, uint8_t *out,
                  size_t size);

/* ---- the stream: time, order, state ------------------------------------ */

enum intake_notice_kind {
    INTAKE_SIGNAL_LOST,
    INTAKE_SIGNAL_BACK,
    INTAKE_PAUSED,
    INTAKE_RESUMED,
    INTAKE_JUMPED
};

struct intake_notice {
    enum intake_notice_kind kind;
    int64_t t_ns;
};

enum { INTAKE_MAX_NOTICES = 4 };

/* What came of one datagram or one tick. */
struct intake_result {
    enum intake_reject reject; /* INTAKE_TAKEN or why not */
    bool has_sample;
    struct intake_sample sample; /* time-stamped; not given while paused */
    uint32_t notice_count;
    struct intake_notice notice[INTAKE_MAX_NOTICES]; /* in time order,
                                                        before the sample */
};

struct intake_counts {
    uint64_t datagrams;
    uint64_t bytes;
    uint64_t taken;
    uint64_t rejected[INTAKE_REJECT_COUNT];
};

/* Channels whose steps tell that the airplane was put elsewhere. Private. */
enum { INTAKE_WATCHED = 3 };

/* State of one stream. Embedded by its owner; fields are private to intake.
 * Times are arrival times unless they say otherwise. */
struct intake_stream {
    const struct intake_layout *layout;
    struct intake_counts counts;
    int64_t signal_timeout_ns;
    int64_t last_arrival_ns; /* of any datagram */
    int64_t last_alive_ns;   /* of the last one that could be decoded */
    int64_t last_t_ns;       /* last stream time given out */
    /* the simulator's clock, when it sends one */
    int64_t last_sim_ns;        /* greatest simulator time taken */
    uint32_t last_sim_has;      /* channels that came with it */
    int64_t clock_offset_ns;    /* arrival less simulator time, least delay */
    int64_t window_least_ns[2]; /* least delay of two half seconds */
    int64_t window_since_ns;
    /* standing still */
    int64_t moved_ns;          /* when something last moved on */
    uint32_t still_count;      /* datagrams since */
    struct intake_sample last; /* newest value of each channel */
    int64_t watched_ns[INTAKE_WATCHED];
    bool started;
    bool lost;
    bool paused;
    bool has_sim_time;
};

/* Begin a stream.
 * layout: borrowed, must outlive the stream.
 * signal_timeout_ns: silence after which the signal counts as lost, > 0. */
void intake_stream_init(struct intake_stream *stream,
                        const struct intake_layout *layout,
                        int64_t signal_timeout_ns);

/* Take one datagram.
 * arrival_ns: when it arrived, any monotonic clock; must not decrease
 *    (a smaller one is taken as the last one).
 * Stream time t_ns: same origin and unit as arrival_ns. With the channel
 *    sim_time it advances with the simulator and is tied to the arrival of
 *    the least delayed packets; without it it is the arrival time. It never
 *    decreases, and is never later than the arrival.
 * length: above INTAKE_MAX_DATAGRAM when the datagram was cut on receipt:
 *    it is then rejected as INTAKE_TOO_LONG and data is not read.
 * Thread: loop. Allocates nothing. */
void intake_stream_push(struct intake_stream *stream, int64_t arrival_ns,
                        const uint8_t *data, size_t length,
                        struct intake_result *out);

/* Let time pass without a datagram.
 * now_ns: same clock as arrival_ns. Gives INTAKE_SIGNAL_LOST, dated to the
 *    deadline, when the deadline has been reached. */
void intake_stream_tick(struct intake_stream *stream, int64_t now_ns,
                        struct intake_result *out);

/* When the next tick is due, or INT64_MAX. */
int64_t intake_stream_deadline_ns(const struct intake_stream *stream);

/* ---- edge: UDP (intake/udp.c, libuv) ----------------------------------- */

struct uv_loop_s;
struct intake_udp;

/* Called for every datagram, in arrival order.
 * arrival_ns: CLOCK_MONOTONIC as libuv gives it. data: borrowed for the call.
 * truncated: the datagram was longer than the buffer; hand it to
 *    intake_stream_push with a length above INTAKE_MAX_DATAGRAM. */
typedef void (*intake_datagram_callback)(void *context, int64_t arrival_ns,
                                         const uint8_t *data, size_t length,
                                         bool truncated);

/* Whether an address is a numeric IPv4 or IPv6 one.
 * Returns: 0, or ERR_USAGE. */
int intake_udp_check_address(const char *address);

/* Bind and receive.
 * address: numeric IPv4 or IPv6. port: 0 lets the system choose.
 * why: receives one line on failure.
 * Returns: 0; ERR_USAGE (address), ERR_BUSY (port taken), ERR_IO,
 *    ERR_NO_MEMORY. After a failure too, run the loop until it ends: the
 *    handle is freed there.
 * Owns: *out until intake_udp_close; the loop must outlive it. */
int intake_udp_open(struct uv_loop_s *loop, const char *address, uint16_t port,
                    intake_datagram_callback callback, void *context,
                    struct intake_udp **out, char *why, size_t why_size);
/* The port that was bound. */
uint16_t intake_udp_port(const struct intake_udp *udp);
/* Stop and free, in the loop's own time: run the loop until it ends. */
void intake_udp_close(struct intake_udp *udp);

/* ---- edge: recordings (intake/recording.c, libpcap) -------------------- */

/* A datagram out of a recording. data is borrowed until the next read. */
struct intake_datagram {
    int64_t t_ns; /* since 1970-01-01 UTC */
    const uint8_t *data;
    size_t length;
    uint16_t source_port;
    uint16_t destination_port;
    bool ipv6;
    uint8_t source[16]; /* first 4 bytes for IPv4 */
    uint8_t destination[16];
};

/* Frames of a recording that are not a whole UDP datagram, by reason. */
struct intake_skipped {
    uint64_t not_ip;    /* ARP and the like */
    uint64_t not_udp;   /* TCP, ICMP */
    uint64_t fragment;  /* part of a fragmented datagram */
    uint64_t cut_short; /* captured less than was sent */
    uint64_t malformed; /* lengths that contradict each other */
};

struct intake_recording;

/* Open a capture: classic pcap or pcapng, microseconds or nanoseconds, either
 * byte order; link types Ethernet (with VLAN tags), raw IP, IPv4, IPv6,
 * null/loopback, Linux cooked v1 and v2.
 * why: receives one line on failure, beginning with the path.
 * Returns: 0; ERR_ABSENT, ERR_IO, ERR_FORMAT.
 * Owns: *out until intake_recording_close. */
int intake_recording_open(const char *path, struct intake_recording **out,
                          char *why, size_t why_size);
/* Read the next UDP datagram.
 * Returns: 1 with *out set; 0 at the end; ERR_FORMAT when the file ends in
 *    the middle of a record (why says so). */
int intake_recording_next(struct intake_recording *recording,
                          struct intake_datagram *out, char *why,
                          size_t why_size);
const struct intake_skipped *
intake_recording_skipped(const struct intake_recording *recording);
void intake_recording_close(struct intake_recording *recording);

/* ---- edge: the stream in a recording (intake/source.c) ----------------- */

/* A recording holds whatever passed by; the stream is what was sent to one
 * destination port. */
struct intake_source;

/* Open a recording and settle the port.
 * layout: borrowed for the call; used to find the port.
 * port: the destination port, or 0 for that of the first datagram the layout
 *    can decode (none: that of the first datagram). With 0 the file is opened
 *    twice, so it must be a regular file.
 * why, Returns: as intake_recording_open. Owns: *out until
 *    intake_source_close. */
int intake_source_open(const char *path, const struct intake_layout *layout,
                       uint16_t port, struct intake_source **out, char *why,
                       size_t why_size);
/* Read the next datagram to the port.
 * Returns: as intake_recording_next. */
int intake_source_next(struct intake_source *source,
                       struct intake_datagram *out, char *why, size_t why_size);
/* The port; 0 when the recording holds no datagram. */
uint16_t intake_source_port(const struct intake_source *source);
/* UDP datagrams to other ports passed over so far. */
uint64_t intake_source_other(const struct intake_source *source);
const struct intake_skipped *
intake_source_skipped(const struct intake_source *source);
void intake_source_close(struct intake_source *source);

/* ---- edge: writing recordings (intake/recording.c, libpcap) ------------ */

struct intake_recorder;

/* Create a capture file: classic pcap, nanoseconds, link type raw IPv4
 * (228), snap length 65535. Written under a temporary name beside path and
 * renamed on close, so that a half-written file never bears the name.
 * Returns: 0; ERR_IO (why says what). Owns: *out until close. */
int intake_recorder_open(const char *path, uint16_t port,
                         struct intake_recorder **out, char *why,
                         size_t why_size);
/* Append one datagram with synthesized IPv4 and UDP headers.
 * t_ns: since 1970-01-01 UTC. length: up to 65507.
 * Returns: 0, ERR_RANGE or ERR_IO (a full disk; nothing more is written). */
int intake_recorder_write(struct intake_recorder *recorder, int64_t t_ns,
                          const uint8_t *data, size_t length);
/* Flush to the file system without closing. Returns: 0 or ERR_IO. */
int intake_recorder_flush(struct intake_recorder *recorder);
/* Close; keep: give the file its name, else remove it.
 * Returns: 0 or ERR_IO. */
int intake_recorder_close(struct intake_recorder *recorder, bool keep);

#endif
