/* capture.h - capture files put together byte by byte, for tests that read
 * them with something else than what wrote them.
 *
 * After the published formats: classic pcap (IETF draft-ietf-opsawg-pcap),
 * pcapng (IETF draft-ietf-opsawg-pcapng), link types (LINKTYPE registry of
 * tcpdump.org), IEEE 802.1Q, RFC 791, RFC 8200, RFC 768. */
#ifndef SUPPORT_CAPTURE_H
#define SUPPORT_CAPTURE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CAPTURE_SECOND = 1700000000, CAPTURE_PORT = 52180 };

/* As the registry numbers them. */
enum capture_link {
    LINK_NULL = 0,
    LINK_ETHERNET = 1,
    LINK_RAW = 101,
    LINK_LOOP = 108,
    LINK_SLL = 113,
    LINK_IPV4 = 228,
    LINK_IPV6 = 229,
    LINK_SLL2 = 276
};

/* A file or a frame that grows; the test fails when it grows too far. */
struct capture_bytes {
    uint8_t at[4096];
    size_t length;
    bool big; /* byte order of what is put in words */
};

void capture_put(struct capture_bytes *bytes, const void *data, size_t length);
void capture_put_zeros(struct capture_bytes *bytes, size_t length);
void capture_put_16(struct capture_bytes *bytes, unsigned value);
void capture_put_32(struct capture_bytes *bytes, uint32_t value);

/* What every datagram holds, from port 50123 to CAPTURE_PORT. */
extern const char capture_payload[10];

/* Empty a frame; it is in network order. */
void capture_begin_frame(struct capture_bytes *frame);
/* type: the EtherType of what follows. */
void capture_put_link(struct capture_bytes *frame, enum capture_link link,
                      unsigned type);
/* The network header and the datagram. fragment: flags and offset. */
void capture_put_ipv4(struct capture_bytes *frame, unsigned protocol,
                      unsigned fragment);
/* next: of the fixed header; extra: bytes of extension headers behind it. */
void capture_put_ipv6(struct capture_bytes *frame, unsigned next,
                      const void *extra, size_t length);

/* Begin a classic file; then a record at CAPTURE_SECOND and a fraction.
 * cut: bytes of the frame that were not captured. */
void capture_begin_pcap(struct capture_bytes *file, enum capture_link link,
                        bool big, bool nano);
void capture_put_record(struct capture_bytes *file,
                        const struct capture_bytes *frame, uint32_t fraction,
                        size_t cut);

/* Begin a pcapng file; then its interface and a packet.
 * resolution: the option if_tsresol, 0 leaves it out (microseconds). */
void capture_begin_pcapng(struct capture_bytes *file, bool big);
void capture_put_interface(struct capture_bytes *file, enum capture_link link,
                           uint8_t resolution);
void capture_put_packet(struct capture_bytes *file,
                        const struct capture_bytes *frame, uint64_t time);

#endif
