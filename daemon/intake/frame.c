/* frame.c - link, network and transport headers of captured frames.
 *
 * Sources: link layers after the LINKTYPE registry of tcpdump.org; EtherType
 * values after IEEE 802.3 and 802.1Q; IPv4 RFC 791, IPv6 RFC 8200 with the
 * extension headers of the IANA registry, UDP RFC 768. */
#include "frame.h"

#include <string.h>

enum {
    ETHER_IPV4 = 0x0800,
    ETHER_IPV6 = 0x86dd,
    ETHER_VLAN = 0x8100,        /* 802.1Q */
    ETHER_VLAN_SERVICE = 0x88a8 /* 802.1ad */
};

enum {
    NEXT_HOP_BY_HOP = 0,
    NEXT_UDP = 17,
    NEXT_ROUTING = 43,
    NEXT_FRAGMENT = 44,
    NEXT_AUTHENTICATION = 51,
    NEXT_DESTINATION = 60,
    NEXT_MOBILITY = 135
};

enum { IPV4_HEADER = 20, IPV6_HEADER = 40, UDP_HEADER = 8, VLAN_TAG = 4 };

static const uint8_t loopback_address[4] = {127, 0, 0, 1};

/* What is left of a frame, and where a failure is counted. */
struct cursor {
    const uint8_t *at;
    size_t left;
    bool whole;
    struct intake_skipped *skipped;
};

static uint16_t get_u16(const uint8_t *b)
{
    return (uint16_t)((unsigned)b[0] << 8 | b[1]);
}

static void put_u16(uint8_t *b, unsigned value)
{
    b[0] = (uint8_t)(value >> 8);
    b[1] = (uint8_t)(value & 0xff);
}

/* Bytes that the headers promise are not there: cut by the capture, or the
 * headers lie. */
static bool too_little(struct cursor *cursor)
{
    if (cursor->whole)
        cursor->skipped->malformed++;
    else
        cursor->skipped->cut_short++;
    return false;
}

static bool malformed(struct cursor *cursor)
{
    cursor->skipped->malformed++;
    return false;
}

static void advance(struct cursor *cursor, size_t bytes)
{
    cursor->at += bytes;
    cursor->left -= bytes;
}

/* ---- transport and network --------------------------------------------- */

/* length: what the network header leaves for the transport layer. */
static bool take_udp(struct cursor *cursor, unsigned protocol, size_t length,
                     struct intake_datagram *out)
{
    size_t udp_length;

    if (protocol != NEXT_UDP) {
        cursor->skipped->not_udp++;
        return false;
    }
    if (length < UDP_HEADER)
        return malformed(cursor);
    if (cursor->left < UDP_HEADER)
        return too_little(cursor);
    udp_length = get_u16(cursor->at + 4);
    if (udp_length < UDP_HEADER || udp_length > length)
        return malformed(cursor);
    if (udp_length > cursor->left)
        return too_little(cursor);
    out->sender.port = get_u16(cursor->at);
    out->destination_port = get_u16(cursor->at + 2);
    out->data = cursor->at + UDP_HEADER;
    out->length = udp_length - UDP_HEADER;
    return true;
}

static bool take_ipv4(struct cursor *cursor, struct intake_datagram *out)
{
    const uint8_t *header = cursor->at;
    size_t header_length;
    size_t total;

    if (cursor->left < IPV4_HEADER)
        return too_little(cursor);
    header_length = (size_t)(header[0] & 0x0f) * 4;
    total = get_u16(header + 2);
    if (header[0] >> 4 != 4 || header_length < IPV4_HEADER ||
        total < header_length)
        return malformed(cursor);
    if (cursor->left < header_length)
        return too_little(cursor);
    /* "More fragments", or an offset. */
    if ((get_u16(header + 6) & 0x3fff) != 0) {
        cursor->skipped->fragment++;
        return false;
    }
    out->sender.ipv6 = false;
    memset(out->sender.address, 0, sizeof out->sender.address);
    memset(out->destination, 0, sizeof out->destination);
    memcpy(out->sender.address, header + 12, 4);
    memcpy(out->destination, header + 16, 4);
    advance(cursor, header_length);
    return take_udp(cursor, header[9], total - header_length, out);
}

static bool is_extension(unsigned next)
{
    return next == NEXT_HOP_BY_HOP || next == NEXT_ROUTING ||
           next == NEXT_FRAGMENT || next == NEXT_AUTHENTICATION ||
           next == NEXT_DESTINATION || next == NEXT_MOBILITY;
}

/* Length of an extension header, from its second byte. */
static size_t extension_length(unsigned next, unsigned count)
{
    if (next == NEXT_FRAGMENT)
        return 8;
    if (next == NEXT_AUTHENTICATION)
        return ((size_t)count + 2) * 4;
    return ((size_t)count + 1) * 8;
}

static bool take_ipv6(struct cursor *cursor, struct intake_datagram *out)
{
    const uint8_t *header = cursor->at;
    size_t length;
    unsigned next;

    if (cursor->left < IPV6_HEADER)
        return too_little(cursor);
    if (header[0] >> 4 != 6)
        return malformed(cursor);
    length = get_u16(header + 4);
    next = header[6];
    out->sender.ipv6 = true;
    memcpy(out->sender.address, header + 8, 16);
    memcpy(out->destination, header + 24, 16);
    advance(cursor, IPV6_HEADER);
    while (is_extension(next)) {
        const uint8_t *extension = cursor->at;
        size_t size;

        if (length < 8)
            return malformed(cursor);
        if (cursor->left < 8)
            return too_little(cursor);
        size = extension_length(next, extension[1]);
        if (size > length)
            return malformed(cursor);
        if (size > cursor->left)
            return too_little(cursor);
        /* Offset and "more" both zero: a whole datagram after all (RFC 6946
         * calls it an atomic fragment). */
        if (next == NEXT_FRAGMENT && (get_u16(extension + 2) & 0xfff9) != 0) {
            cursor->skipped->fragment++;
            return false;
        }
        next = extension[0];
        length -= size;
        advance(cursor, size);
    }
    return take_udp(cursor, next, length, out);
}

static bool take_ip(struct cursor *cursor, struct intake_datagram *out)
{
    if (cursor->left == 0)
        return too_little(cursor);
    switch (cursor->at[0] >> 4) {
    case 4: return take_ipv4(cursor, out);
    case 6: return take_ipv6(cursor, out);
    default: return malformed(cursor);
    }
}

/* ---- link -------------------------------------------------------------- */

/* The cursor stands behind a protocol field that holds `type`. */
static bool take_ether_type(struct cursor *cursor, unsigned type,
                            struct intake_datagram *out)
{
    while (type == ETHER_VLAN || type == ETHER_VLAN_SERVICE) {
        if (cursor->left < VLAN_TAG)
            return too_little(cursor);
        type = get_u16(cursor->at + 2);
        advance(cursor, VLAN_TAG);
    }
    if (type == ETHER_IPV4)
        return cursor->left == 0 ? too_little(cursor) : take_ipv4(cursor, out);
    if (type == ETHER_IPV6)
        return cursor->left == 0 ? too_little(cursor) : take_ipv6(cursor, out);
    cursor->skipped->not_ip++;
    return false;
}

/* Address families of IPv4 and IPv6 as the systems number them, in the byte
 * order of the machine that captured: both are tried. */
static bool is_ip_family(const uint8_t *b)
{
    static const uint8_t family[] = {2, 10, 23, 24, 28, 30};

    for (size_t i = 0; i < sizeof family; i++) {
        if ((b[0] == family[i] && b[1] == 0 && b[2] == 0 && b[3] == 0) ||
            (b[3] == family[i] && b[0] == 0 && b[1] == 0 && b[2] == 0))
            return true;
    }
    return false;
}

static bool take_loopback(struct cursor *cursor, struct intake_datagram *out)
{
    if (!is_ip_family(cursor->at)) {
        cursor->skipped->not_ip++;
        return false;
    }
    advance(cursor, 4);
    return take_ip(cursor, out);
}

/* Header length, and where the EtherType stands in it. */
struct link_row {
    size_t header;
    size_t type_at;
};

static const struct link_row row_of_link[FRAME_LINK_COUNT] = {
    [FRAME_ETHERNET] = {14, 12}, [FRAME_IP] = {0, 0},
    [FRAME_LOOPBACK] = {4, 0},   [FRAME_COOKED_1] = {16, 14},
    [FRAME_COOKED_2] = {20, 0},
};

bool frame_find_datagram(enum frame_link link, const struct frame *frame,
                         struct intake_datagram *out,
                         struct intake_skipped *skipped)
{
    const struct link_row *row = &row_of_link[link];
    struct cursor cursor = {frame->data, frame->length, frame->whole, skipped};
    unsigned type;

    if (cursor.left < row->header)
        return too_little(&cursor);
    if (link == FRAME_IP)
        return take_ip(&cursor, out);
    if (link == FRAME_LOOPBACK)
        return take_loopback(&cursor, out);
    type = get_u16(cursor.at + row->type_at);
    advance(&cursor, row->header);
    return take_ether_type(&cursor, type, out);
}

/* ---- writing ----------------------------------------------------------- */

/* Source: RFC 1071, the ones' complement sum of 16-bit words. */
static uint32_t sum_words(uint32_t sum, const uint8_t *at, size_t length)
{
    for (size_t i = 0; i + 1 < length; i += 2)
        sum += get_u16(at + i);
    if (length % 2 != 0)
        sum += (unsigned)at[length - 1] << 8;
    while (sum >> 16 != 0)
        sum = (sum & 0xffff) + (sum >> 16);
    return sum;
}

static void put_udp(uint8_t *at, const struct intake_sender *sender,
                    uint16_t port, size_t length)
{
    put_u16(at, sender->port);
    put_u16(at + 2, port);
    put_u16(at + 4, (unsigned)(UDP_HEADER + length));
}

static void put_ipv4(uint8_t *out, const struct intake_sender *sender,
                     size_t length)
{
    out[0] = 0x45;
    put_u16(out + 2, (unsigned)(IPV4_HEADER + UDP_HEADER + length));
    put_u16(out + 6, 0x4000); /* whole: the identification may stay 0 */
    out[8] = 64;
    out[9] = NEXT_UDP;
    memcpy(out + 12, sender->address, 4);
    memcpy(out + 16, loopback_address, sizeof loopback_address);
    put_u16(out + 10, ~sum_words(0, out, IPV4_HEADER) & 0xffff);
    /* The UDP checksum stays 0, which says "not given" (RFC 768). */
}

/* RFC 8200 8.1: over IPv6 the checksum may not be left out; it covers both
 * addresses, the length and the kind. */
static void put_ipv6(uint8_t *out, const struct intake_sender *sender,
                     const uint8_t *data, size_t length)
{
    size_t udp_length = UDP_HEADER + length;
    uint32_t sum;

    out[0] = 0x60;
    put_u16(out + 4, (unsigned)udp_length);
    out[6] = NEXT_UDP;
    out[7] = 64;
    memcpy(out + 8, sender->address, 16);
    out[39] = 1; /* to ::1 */
    sum = sum_words((uint32_t)udp_length + NEXT_UDP, out + 8, 32);
    sum = sum_words(sum, out + IPV6_HEADER, UDP_HEADER);
    sum = ~sum_words(sum, data, length) & 0xffff;
    put_u16(out + IPV6_HEADER + 6, sum != 0 ? sum : 0xffff);
}

size_t frame_write_headers(uint8_t out[FRAME_MOST_HEADERS], uint16_t port,
                           const struct intake_sender *sender,
                           const uint8_t *data, size_t length)
{
    static const struct intake_sender unknown = {.address = {127, 0, 0, 1}};

    if (sender == NULL)
        sender = &unknown;
    memset(out, 0, FRAME_MOST_HEADERS);
    if (sender->ipv6) {
        put_udp(out + IPV6_HEADER, sender, port, length);
        put_ipv6(out, sender, data, length);
        return IPV6_HEADER + UDP_HEADER;
    }
    put_udp(out + IPV4_HEADER, sender, port, length);
    put_ipv4(out, sender, length);
    return IPV4_HEADER + UDP_HEADER;
}
