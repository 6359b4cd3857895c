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

#include "quarterturn/layout.h"

/* ---- decoding ---------------------------------------------------------- */

/* Why a datagram was not taken. 0 is "taken". */
enum intake_reject {
    INTAKE_TAKEN = 0,
    INTAKE_EMPTY,     /* no bytes */
    INTAKE_TOO_LONG,  /* did not fit the receive buffer */
    INTAKE_NO_PACKET, /* no packet of the layout has this size or start */
    INTAKE_TOO_SHORT, /* a field lies beyond the end */
    INTAKE_TOO_FEW_COLUMNS,
    INTAKE_NOT_A_NUMBER,  /* a text column that is no number */
    INTAKE_NOT_FINITE,    /* NaN or infinity */
    INTAKE_OUT_OF_RANGE,  /* a value no airplane can have */
    INTAKE_LATE,          /* older than what was already taken */
    INTAKE_DUPLICATE,     /* the same simulator time again; without one,
                             the same values long before the next is due */
    INTAKE_BAD_CHECKSUM,  /* damaged on the way */
    INTAKE_BAD_STRUCTURE, /* lengths or nesting contradict themselves */
    INTAKE_NOTHING_KNOWN, /* well formed, but no channel of the layout */
    INTAKE_OTHER_SENDER,  /* not from the stream's sender */
    INTAKE_NOT_ALLOWED,   /* from an address that is not on the list */
    INTAKE_REJECT_COUNT
};

const char *intake_reject_name(enum intake_reject reject);

/* Decode one datagram.
 * layout: checked by the settings room.
 * data, length: the payload; any bytes at all, length up to
 *    INTAKE_MAX_DATAGRAM. data may be NULL when length is 0.
 * out: on INTAKE_TAKEN, valid, beyond and value are set, t_ns is 0; on
 *    INTAKE_OUT_OF_RANGE beyond and its values; otherwise unspecified.
 * Returns: INTAKE_TAKEN or the reason. A missing or NaN binary value makes
 *    only its channel absent; one out of range rejects the datagram.
 * Owns: nothing. Thread: any. */
enum intake_reject intake_decode(const struct intake_layout *layout,
                                 const uint8_t *data, size_t length,
                                 struct intake_sample *out);

/* Encode a sample as one packet of a layout that declares its packets: the
 * inverse of intake_decode for the fields that are valid.
 * Returns: bytes written; ERR_FULL when size is too small, ERR_RANGE when the
 *    layout has no such packet, ERR_USAGE for the open standards, whose
 *    senders remember: see encode.h. */
int intake_encode(const struct intake_layout *layout, uint32_t packet,
                  const struct intake_sample *sample, uint8_t *out,
                  size_t size);

/* ---- datagrams and who sends them -------------------------------------- */

struct intake_sender {
    bool ipv6;
    uint8_t address[16]; /* network order; first 4 bytes for IPv4 */
    uint16_t port;       /* 0: not known */
};

/* A datagram off the network or out of a recording. data is borrowed: for
 * the call from the network, until the next read from a recording. */
struct intake_datagram {
    int64_t t_ns; /* arrival; in a recording since 1970-01-01 UTC */
    const uint8_t *data;
    size_t length; /* above INTAKE_MAX_DATAGRAM: it was cut on receipt */
    struct intake_sender sender;
    uint8_t destination[16]; /* of a recording, as the sender's address */
    uint16_t destination_port;
};

enum { INTAKE_MAX_ALLOWED = 16, INTAKE_MAX_SEEN = 8 };

/* The addresses that begin with these bits: all of them one address. */
struct intake_prefix {
    bool ipv6;
    uint8_t address[16];
    uint32_t bits;
};

/* Who may send; count 0: everybody. */
struct intake_allow {
    struct intake_prefix prefix[INTAKE_MAX_ALLOWED];
    uint32_t count;
};

/* What came from one sender. */
struct intake_seen {
    struct intake_sender sender;
    uint64_t datagrams;
    int64_t last_ns;
    enum intake_reject verdict; /* of its last one; INTAKE_TAKEN: listened to,
                                   or none is pinned yet */
};

/* Who sends to a port, and the one that is listened to: the first whose
 * datagram can be decoded, by address and port, until it has been silent for
 * three seconds. One that takes a new port for every datagram is known by its
 * address alone. Pure; embedded by its owner. */
struct intake_senders {
    struct intake_allow allow;
    bool pinned;
    bool any_port; /* the pinned one wanders from port to port */
    struct intake_sender pin;
    int64_t pin_heard_ns;
    uint32_t wandered;                        /* new ports in a row */
    struct intake_seen seen[INTAKE_MAX_SEEN]; /* first seen first */
    uint32_t seen_count;
    uint64_t unlisted; /* datagrams of senders beyond those */
};

/* allow: copied; NULL: everybody may send. */
void intake_senders_init(struct intake_senders *senders,
                         const struct intake_allow *allow);
/* Judge a datagram by its sender.
 * arrival_ns: must not decrease.
 * Returns: INTAKE_TAKEN, INTAKE_NOT_ALLOWED or INTAKE_OTHER_SENDER. */
enum intake_reject intake_senders_judge(struct intake_senders *senders,
                                        int64_t arrival_ns,
                                        const struct intake_sender *sender);
/* A datagram of this sender, judged INTAKE_TAKEN, could be decoded: it is
 * the one that is listened to. */
void intake_senders_pin(struct intake_senders *senders, int64_t arrival_ns,
                        const struct intake_sender *sender);
bool intake_prefix_holds(const struct intake_prefix *prefix,
                         const struct intake_sender *sender);

/* ---- finding out an unknown layout (intake/discover*.c) ----------------- */

/* Works the layout of a stream out from the datagrams alone: what they are
 * made of, then which of their numbers obey the physics of flight. It names a
 * channel only when nothing else in the stream would do as well. */
struct intake_discovery;

enum { INTAKE_FINDING_SIZE = 200, INTAKE_MAX_ASKS = 8 };

struct intake_discovered {
    struct intake_layout layout; /* the channels it is sure of */
    bool standard;               /* form nmea, dis or mavlink: no fields */
    bool enough;                 /* all CHANNELS_REQUIRED are in the layout */
    uint16_t port;               /* where the stream was sent */
    uint32_t datagrams;          /* looked at */
    double seconds;
    uint32_t found;  /* CHANNEL_BITs in the layout */
    uint32_t unsure; /* CHANNEL_BITs looked for and not settled */
    char finding[CHANNEL_COUNT][INTAKE_FINDING_SIZE]; /* one line each: how
                                                          sure, and why */
    char ask[INTAKE_MAX_ASKS][INTAKE_FINDING_SIZE];   /* flying that is
                                                          missing */
    uint32_t ask_count;
};

/* Bytes a discovery takes (about 17 MB), for the caller to allocate, zeroed
 * or not; it is bounded whatever comes. */
size_t intake_discovery_size(void);
void intake_discovery_begin(struct intake_discovery *discovery);
/* Remember a datagram; a long stream is thinned evenly.
 * t_ns: arrival, must not decrease. port: destination. */
void intake_discovery_push(struct intake_discovery *discovery, int64_t t_ns,
                           uint16_t port, const uint8_t *data, size_t length);
/* Work it out.
 * port: only datagrams sent there; 0: the port with the most of them.
 * out: always filled; out->ask says what is missing when not enough.
 * Returns: 0; ERR_ABSENT (no datagram), ERR_FORMAT (no form fits). */
int intake_discovery_end(struct intake_discovery *discovery, uint16_t port,
                         struct intake_discovered *out);
/* Write a layout of a declarative form as configuration.
 * Returns: its length, or ERR_FULL. */
int intake_layout_write(const struct intake_layout *layout, char *out,
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
    int64_t flown_ns; /* from here to t_ns nothing was flown: the simulator
                         was paused; t_ns where that is not so */
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

/* Channels whose steps tell that the airplane was put elsewhere; and how many
 * arrivals are compared with each other, a power of 2. Private. */
enum { INTAKE_WATCHED = 3, INTAKE_ARRIVALS = 64 };

/* The even clock behind uneven arrivals, for a stream without simulator
 * time. Times in ns; those of the latest arrival count from that. Private. */
struct intake_arrivals {
    int64_t at_ns;      /* of the latest moment */
    int64_t last_ns;    /* stream time given last */
    double count;       /* arrivals since it began anew */
    double interval_ns; /* between two that were sent */
    double centre_ns;   /* when the latest would arrive with a mean delay */
    double early_ns;    /* how far arrivals were before the mean, 0 or less */
    double later;       /* evidence that a slot was lost, */
    double sooner;      /* or that one too many was counted */
    double lost_share;  /* slots lost for one arrival */
    double uneven_ns2;  /* mean square of what slots leave over, */
    double raw_ns2;     /* and of what they explain too */
    double path_ns[INTAKE_ARRIVALS]; /* how far arrivals run from evenness */
    uint32_t newest;
    double mean_ns[2]; /* of steps along the path, short and double */
    double square_ns2[2];
    double spread_ns; /* of the delays: standard deviation */
    double gain;
    uint32_t moment_has; /* channels of the present moment */
};

/* How fast the simulator's clock runs. Private. */
struct intake_rate {
    int64_t arrival_ns; /* where the present stretch began */
    int64_t sim_ns;
    double stretch; /* rate over the last stretch */
    double rate;    /* 1, or what two stretches agree on */
    int64_t flow_from_sim_ns;
    int64_t flow_ns; /* simulator time at real pace, at flow_from_sim_ns */
};

/* State of one stream. Embedded by its owner; fields are private to intake.
 * Times are arrival times unless they say otherwise. */
struct intake_stream {
    const struct intake_layout *layout;
    struct intake_counts counts;
    int64_t signal_timeout_ns;
    int64_t last_arrival_ns; /* of any datagram */
    int64_t last_alive_ns;   /* of the last one that could be decoded */
    int64_t last_t_ns;       /* last stream time given out */
    int64_t flown_ns;        /* stream time up to which is known to be flown */
    int64_t untimed_ns;      /* first packet without a time since the loss */
    /* the simulator's clock, when it sends one */
    int64_t last_sim_ns; /* greatest simulator time taken, unwrapped */
    struct intake_rate rate;
    struct intake_arrivals arrivals; /* when it sends none */
    uint32_t last_sim_has;           /* channels that came with it */
    int64_t clock_offset_ns;    /* arrival less simulator time, least delay */
    int64_t window_least_ns[2]; /* least delay of two half seconds */
    int64_t window_since_ns;
    /* standing still */
    int64_t moved_ns;                /* when something last moved on */
    uint32_t still_count;            /* datagrams since */
    struct intake_sample last;       /* newest value of each channel */
    int64_t value_ns[CHANNEL_COUNT]; /* stream time of each */
    int64_t watched_ns[INTAKE_WATCHED];
    bool started;
    bool lost;
    bool paused;
    bool untimed;
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
 *    sim_time it advances with the simulator, at whatever rate that runs, and
 *    is tied to the arrival of the least delayed packets; without it it is
 *    the arrival, smoothed when the sender is found to be an even one. It
 *    never decreases, and is never later than the arrival.
 * When the simulator was silent and its time stood meanwhile, that was a
 *    pause: INTAKE_RESUMED follows behind INTAKE_SIGNAL_BACK, both dated to
 *    where its time ran on.
 * Without simulator time it counts as paused when no value changed for 2 s and
 *    10 datagrams; for 10 s where it may fly on and change none, straight and
 *    level and without a position (ours, no source).
 * Every datagram taken gives a sample (but for a pause): fresh tells what it
 *    brought, valid what is known by now: older values are kept for
 *    layout->max_age_ns, 1 s where that is 0.
 * length: above INTAKE_MAX_DATAGRAM when the datagram was cut on receipt:
 *    it is then rejected as INTAKE_TOO_LONG and data is not read.
 * Thread: loop. Allocates nothing. */
void intake_stream_push(struct intake_stream *stream, int64_t arrival_ns,
                        const uint8_t *data, size_t length,
                        struct intake_result *out);

/* The same for a datagram whose sender counts: one that is not allowed or
 * not the stream's is counted and goes no further. */
void intake_stream_take(struct intake_stream *stream,
                        struct intake_senders *senders,
                        const struct intake_datagram *datagram,
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
 * datagram: borrowed for the call; t_ns: CLOCK_MONOTONIC as libuv gives it;
 *    destination is not known. */
typedef void (*intake_datagram_callback)(
    void *context, const struct intake_datagram *datagram);

/* Whether an address is a numeric IPv4 or IPv6 one.
 * Returns: 0, or ERR_USAGE. */
int intake_udp_check_address(const char *address);

enum { INTAKE_ADDRESS_TEXT = 64, INTAKE_MAX_GROUPS = 8 };

/* Read "192.0.2.7", "192.0.2.0/24" or "2001:db8::/32".
 * Returns: 0; ERR_USAGE, also when an address has bits behind its prefix or
 *    an interface's name behind a %. */
int intake_udp_parse_prefix(const char *text, struct intake_prefix *out);
/* "192.0.2.7 port 49000", "[2001:db8::7] port 49000". */
void intake_udp_sender_text(const struct intake_sender *sender,
                            char out[INTAKE_ADDRESS_TEXT]);

/* A multicast group to join. */
struct intake_group {
    char address[INTAKE_ADDRESS_TEXT];
    char interface[INTAKE_ADDRESS_TEXT]; /* its address, with IPv6 its name
                                            after a %; "" the system's choice */
};

/* Whether an address is a multicast one: 224.0.0.0/4 (RFC 5771), ff00::/8
 * (RFC 4291).
 * Returns: 0, or ERR_USAGE. */
int intake_udp_check_group(const char *address);

/* Where to listen. Broadcasts are heard on 0.0.0.0. */
struct intake_place {
    const char *address; /* numeric IPv4 or IPv6 */
    uint16_t port;       /* 0 lets the system choose */
    const struct intake_group *group;
    uint32_t group_count;
};

/* Bind, join the groups and receive. Groups whose interface is taken away
 * later are joined again within two seconds of its return, which is said once.
 * why: receives one line on failure.
 * Returns: 0; ERR_USAGE (address, group), ERR_ABSENT (this machine has not, or
 *    not yet, that address or interface), ERR_BUSY (port taken), ERR_IO,
 *    ERR_NO_MEMORY. After a failure too, run the loop until it ends: the
 *    handle is freed there.
 * Owns: *out until intake_udp_close; the loop must outlive it. */
int intake_udp_open(struct uv_loop_s *loop, const struct intake_place *place,
                    intake_datagram_callback callback, void *context,
                    struct intake_udp **out, char *why, size_t why_size);
/* The port that was bound. */
uint16_t intake_udp_port(const struct intake_udp *udp);
/* Stop and free, in the loop's own time: run the loop until it ends. */
void intake_udp_close(struct intake_udp *udp);

/* ---- edge: recordings (intake/recording.c, libpcap) -------------------- */

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

/* Create a capture file: classic pcap, nanoseconds, link type raw IP (101:
 * IPv4 and IPv6), snap length 65575. Written under a temporary name beside path
 * and renamed on close, so that a half-written file never bears the name.
 * Returns: 0; ERR_IO (why says what). Owns: *out until close. */
int intake_recorder_open(const char *path, uint16_t port,
                         struct intake_recorder **out, char *why,
                         size_t why_size);
/* Append one datagram behind IP and UDP headers of its sender.
 * t_ns: since 1970-01-01 UTC. length: up to 65507, from IPv6 65527.
 * sender: NULL: not known, 127.0.0.1 without a port is written.
 * Returns: 0, ERR_RANGE or ERR_IO (a full disk; nothing more is written). */
int intake_recorder_write(struct intake_recorder *recorder, int64_t t_ns,
                          const struct intake_sender *sender,
                          const uint8_t *data, size_t length);
/* Flush to the file system without closing. Returns: 0 or ERR_IO. */
int intake_recorder_flush(struct intake_recorder *recorder);
/* Close; keep: give the file its name, else remove it.
 * Returns: 0; ERR_IO: it is not whole; ERR_BUSY: it is, but cannot take its
 *    name (errno says why) and stays there with ".part" behind it. */
int intake_recorder_close(struct intake_recorder *recorder, bool keep);

#endif
