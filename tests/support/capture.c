/* capture.c - capture files put together byte by byte. */
#include "capture.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

void capture_put(struct capture_bytes *bytes, const void *data, size_t length)
{
    assert_true(bytes->length + length <= sizeof bytes->at);
    memcpy(bytes->at + bytes->length, data, length);
    bytes->length += length;
}

void capture_put_zeros(struct capture_bytes *bytes, size_t length)
{
    static const uint8_t zeros[64];

    capture_put(bytes, zeros, length);
}

void capture_put_16(struct capture_bytes *bytes, unsigned value)
{
    uint8_t high = (uint8_t)(value >> 8);
    uint8_t low = (uint8_t)(value & 0xff);
    uint8_t pair[2] = {bytes->big ? high : low, bytes->big ? low : high};

    capture_put(bytes, pair, 2);
}

void capture_put_32(struct capture_bytes *bytes, uint32_t value)
{
    unsigned high = value >> 16;
    unsigned low = value & 0xffff;

    capture_put_16(bytes, bytes->big ? high : low);
    capture_put_16(bytes, bytes->big ? low : high);
}

/* ---- frames, in network order ------------------------------------------- */

const char capture_payload[10] = "290.0,1.0";

static void put_udp(struct capture_bytes *frame)
{
    capture_put_16(frame, 50123);
    capture_put_16(frame, CAPTURE_PORT);
    capture_put_16(frame, 8 + sizeof capture_payload);
    capture_put_16(frame, 0);
    capture_put(frame, capture_payload, sizeof capture_payload);
}

void capture_put_ipv4(struct capture_bytes *frame, unsigned protocol,
                      unsigned fragment)
{
    capture_put(frame, "\x45\0", 2);
    capture_put_16(frame, 20 + 8 + sizeof capture_payload);
    capture_put_16(frame, 0);
    capture_put_16(frame, fragment);
    capture_put_16(frame, 64 << 8 | protocol);
    capture_put_16(frame, 0);
    capture_put(frame, "\x7f\0\0\x01\x7f\0\0\x02", 8);
    put_udp(frame);
}

void capture_put_ipv6(struct capture_bytes *frame, unsigned next,
                      const void *extra, size_t length)
{
    capture_put(frame, "\x60\0\0\0", 4);
    capture_put_16(frame, (unsigned)(length + 8 + sizeof capture_payload));
    capture_put_16(frame, next << 8 | 64);
    capture_put_zeros(frame, 15);
    capture_put(frame, "\x01", 1);
    capture_put_zeros(frame, 15);
    capture_put(frame, "\x02", 1);
    capture_put(frame, extra, length);
    put_udp(frame);
}

void capture_put_link(struct capture_bytes *frame, enum capture_link link,
                      unsigned type)
{
    switch (link) {
    case LINK_ETHERNET:
        capture_put(frame, "\x02\0\0\0\0\x01\x02\0\0\0\0\x02", 12);
        capture_put_16(frame, type);
        break;
    case LINK_SLL:
        capture_put(frame, "\0\0\x03\x04\0\x06\0\0\0\0\0\0\0\0", 14);
        capture_put_16(frame, type);
        break;
    case LINK_SLL2:
        capture_put_16(frame, type);
        capture_put(frame, "\0\0\0\0\0\x01\x03\x04\0\x06\0\0\0\0\0\0\0\0", 18);
        break;
    case LINK_NULL:
    case LINK_LOOP: capture_put_32(frame, type == 0x0800 ? 2 : 10); break;
    case LINK_RAW:
    case LINK_IPV4:
    case LINK_IPV6: break;
    }
}

void capture_begin_frame(struct capture_bytes *frame)
{
    frame->length = 0;
    frame->big = true;
}

/* ---- classic files ------------------------------------------------------ */

void capture_begin_pcap(struct capture_bytes *file, enum capture_link link,
                        bool big, bool nano)
{
    file->length = 0;
    file->big = big;
    capture_put_32(file, nano ? 0xa1b23c4d : 0xa1b2c3d4);
    capture_put_16(file, 2);
    capture_put_16(file, 4);
    capture_put_32(file, 0);
    capture_put_32(file, 0);
    capture_put_32(file, 65535);
    capture_put_32(file, link);
}

void capture_put_record(struct capture_bytes *file,
                        const struct capture_bytes *frame, uint32_t fraction,
                        size_t cut)
{
    capture_put_32(file, CAPTURE_SECOND);
    capture_put_32(file, fraction);
    capture_put_32(file, (uint32_t)(frame->length - cut));
    capture_put_32(file, (uint32_t)frame->length);
    capture_put(file, frame->at, frame->length - cut);
}

/* ---- pcapng ------------------------------------------------------------- */

void capture_begin_pcapng(struct capture_bytes *file, bool big)
{
    file->length = 0;
    file->big = big;
    capture_put_32(file, 0x0a0d0d0a);
    capture_put_32(file, 28);
    capture_put_32(file, 0x1a2b3c4d);
    capture_put_16(file, 1);
    capture_put_16(file, 0);
    capture_put_32(file, 0xffffffff);
    capture_put_32(file, 0xffffffff);
    capture_put_32(file, 28);
}

void capture_put_interface(struct capture_bytes *file, enum capture_link link,
                           uint8_t resolution)
{
    uint32_t length = resolution != 0 ? 32 : 20;

    capture_put_32(file, 1);
    capture_put_32(file, length);
    capture_put_16(file, link);
    capture_put_16(file, 0);
    capture_put_32(file, 65535);
    if (resolution != 0) {
        capture_put_16(file, 9);
        capture_put_16(file, 1);
        capture_put(file, &resolution, 1);
        capture_put_zeros(file, 3);
        capture_put_32(file, 0);
    }
    capture_put_32(file, length);
}

void capture_put_packet(struct capture_bytes *file,
                        const struct capture_bytes *frame, uint64_t time)
{
    size_t padding = (4 - frame->length % 4) % 4;
    uint32_t length = (uint32_t)(32 + frame->length + padding);

    capture_put_32(file, 6);
    capture_put_32(file, length);
    capture_put_32(file, 0);
    capture_put_32(file, (uint32_t)(time >> 32));
    capture_put_32(file, (uint32_t)(time & 0xffffffff));
    capture_put_32(file, (uint32_t)frame->length);
    capture_put_32(file, (uint32_t)frame->length);
    capture_put(file, frame->at, frame->length);
    capture_put_zeros(file, padding);
    capture_put_32(file, length);
}
