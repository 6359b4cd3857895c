/* test_recording_read.c - captures of every kind that is read.
 *
 * The files are put together by capture.c after the published formats. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "capture.h"
#include "folder.h"
#include "quarterturn/error.h"
#include "quarterturn/intake.h"

enum { FRACTION_NS = 123456789 };

/* ---- reading ------------------------------------------------------------ */

/* What a file held. */
struct read {
    int status; /* of the open, else of the last read */
    int count;
    struct intake_datagram first;
    uint8_t data[64];
    struct intake_skipped skipped;
    char why[512];
};

static void read_file(const struct folder *folder,
                      const struct capture_bytes *file, struct read *out)
{
    struct intake_recording *recording;
    struct intake_datagram datagram;
    char path[FOLDER_PATH_SIZE];

    memset(out, 0, sizeof *out);
    folder_write(folder, "capture", file->at, file->length, path);
    out->status =
        intake_recording_open(path, &recording, out->why, sizeof out->why);
    if (out->status != 0)
        return;
    while ((out->status = intake_recording_next(recording, &datagram, out->why,
                                                sizeof out->why)) == 1) {
        if (out->count++ == 0) {
            out->first = datagram;
            assert_true(datagram.length <= sizeof out->data);
            memcpy(out->data, datagram.data, datagram.length);
        }
    }
    out->skipped = *intake_recording_skipped(recording);
    intake_recording_close(recording);
}

static void expect_datagram(const struct read *read, bool ipv6, int64_t t_ns)
{
    assert_int_equal(read->status, 0);
    assert_int_equal(read->count, 1);
    assert_int_equal(read->first.t_ns, t_ns);
    assert_int_equal(read->first.length, sizeof capture_payload);
    assert_memory_equal(read->data, capture_payload, sizeof capture_payload);
    assert_int_equal(read->first.sender.port, 50123);
    assert_int_equal(read->first.destination_port, CAPTURE_PORT);
    assert_int_equal(read->first.sender.ipv6, ipv6);
    if (ipv6) {
        assert_int_equal(read->first.sender.address[15], 1);
        assert_int_equal(read->first.destination[15], 2);
    } else {
        assert_memory_equal(read->first.sender.address, "\x7f\0\0\x01", 4);
        assert_memory_equal(read->first.destination, "\x7f\0\0\x02", 4);
    }
}

static const int64_t t_nano =
    CAPTURE_SECOND * INT64_C(1000000000) + FRACTION_NS;
static const int64_t t_micro =
    CAPTURE_SECOND * INT64_C(1000000000) + FRACTION_NS / 1000 * 1000;

static void reads_every_link_type_order_and_resolution(void **state)
{
    static const enum capture_link link[] = {
        LINK_NULL, LINK_ETHERNET, LINK_RAW,  LINK_LOOP,
        LINK_SLL,  LINK_IPV4,     LINK_IPV6, LINK_SLL2};
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    for (unsigned i = 0; i < 8 * 8; i++) {
        enum capture_link kind = link[i / 8];
        bool big = (i & 1) != 0;
        bool nano = (i & 2) != 0;
        bool ipv6 = (i & 4) != 0;

        if ((kind == LINK_IPV4 && ipv6) || (kind == LINK_IPV6 && !ipv6))
            continue;
        capture_begin_frame(&frame);
        /* The null link's family is in the order of the machine that wrote;
         * the loop link's in network order. */
        frame.big = kind == LINK_NULL ? big : true;
        capture_put_link(&frame, kind, ipv6 ? 0x86dd : 0x0800);
        frame.big = true;
        if (ipv6)
            capture_put_ipv6(&frame, 17, "", 0);
        else
            capture_put_ipv4(&frame, 17, 0x4000);
        capture_begin_pcap(&file, kind, big, nano);
        capture_put_record(&file, &frame,
                           nano ? FRACTION_NS : FRACTION_NS / 1000, 0);
        read_file(*state, &file, &read);
        expect_datagram(&read, ipv6, nano ? t_nano : t_micro);
    }
}

static void knows_the_loopback_family_of_every_system(void **state)
{
    /* AF_INET6 of Windows, NetBSD, FreeBSD, Darwin, Linux. */
    static const uint8_t family[] = {23, 24, 28, 30, 10};
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    for (size_t i = 0; i < sizeof family; i++) {
        capture_begin_frame(&frame);
        capture_put(&frame, &family[i], 1);
        capture_put_zeros(&frame, 3);
        capture_put_ipv6(&frame, 17, "", 0);
        capture_begin_pcap(&file, LINK_NULL, false, true);
        capture_put_record(&file, &frame, FRACTION_NS, 0);
        read_file(*state, &file, &read);
        expect_datagram(&read, true, t_nano);
    }
    capture_begin_frame(&frame);
    capture_put_32(&frame, 7);
    capture_put_ipv4(&frame, 17, 0);
    capture_begin_pcap(&file, LINK_NULL, false, true);
    capture_put_record(&file, &frame, FRACTION_NS, 0);
    read_file(*state, &file, &read);
    assert_int_equal(read.skipped.not_ip, 1);
}

static void looks_through_vlan_tags(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    capture_begin_frame(&frame);
    capture_put_link(&frame, LINK_ETHERNET, 0x88a8);
    capture_put_16(&frame, 100);
    capture_put_16(&frame, 0x8100);
    capture_put_16(&frame, 7);
    capture_put_16(&frame, 0x0800);
    capture_put_ipv4(&frame, 17, 0);
    capture_begin_pcap(&file, LINK_ETHERNET, false, true);
    capture_put_record(&file, &frame, FRACTION_NS, 0);
    read_file(*state, &file, &read);
    expect_datagram(&read, false, t_nano);
}

static void ignores_the_padding_of_short_frames(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    capture_begin_frame(&frame);
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 17, 0);
    capture_put_zeros(&frame, 8);
    capture_begin_pcap(&file, LINK_ETHERNET, false, true);
    capture_put_record(&file, &frame, FRACTION_NS, 0);
    read_file(*state, &file, &read);
    expect_datagram(&read, false, t_nano);
}

static void looks_behind_ipv6_extension_headers(void **state)
{
    /* Hop-by-hop, destination, routing, authentication (12 bytes of 4), an
     * atomic fragment (RFC 6946); each begins with what follows it. */
    static const uint8_t chain[] = {
        60, 0, 1,  4, 0, 0, 0, 0, 43, 0, 1, 4, 0, 0, 0,  0, 51, 0, 0, 0, 0, 0,
        0,  0, 44, 1, 0, 0, 0, 0, 0,  1, 0, 0, 0, 1, 17, 0, 0,  0, 0, 0, 0, 9};
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    capture_begin_frame(&frame);
    capture_put_ipv6(&frame, 0, chain, sizeof chain);
    capture_begin_pcap(&file, LINK_RAW, false, true);
    capture_put_record(&file, &frame, FRACTION_NS, 0);
    read_file(*state, &file, &read);
    expect_datagram(&read, true, t_nano);
}

static void counts_what_is_no_whole_datagram_by_reason(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    capture_begin_pcap(&file, LINK_ETHERNET, true, true);
    capture_begin_frame(&frame); /* ARP, and an IEEE 802.3 length */
    capture_put_link(&frame, LINK_ETHERNET, 0x0806);
    capture_put_zeros(&frame, 28);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame);
    capture_put_link(&frame, LINK_ETHERNET, 0x0040);
    capture_put_zeros(&frame, 64);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame); /* TCP */
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 6, 0);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame); /* first and last fragment, and one of IPv6 */
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 17, 0x2000);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame);
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 17, 0x0010);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame);
    capture_put_link(&frame, LINK_ETHERNET, 0x86dd);
    capture_put_ipv6(&frame, 44, "\x11\0\0\x01\0\0\0\x09", 8);
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(&frame); /* a length beyond the frame; version 5 */
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 17, 0);
    frame.at[14 + 20 + 4] = 1;
    capture_put_record(&file, &frame, 0, 0);
    frame.at[14] = 0x55;
    capture_put_record(&file, &frame, 0, 0);
    capture_begin_frame(
        &frame); /* a UDP length beyond IP's, but not the frame's */
    capture_put_link(&frame, LINK_ETHERNET, 0x0800);
    capture_put_ipv4(&frame, 17, 0);
    capture_put_zeros(&frame, 8);
    frame.at[14 + 20 + 5] = (uint8_t)(frame.at[14 + 20 + 5] + 1);
    capture_put_record(&file, &frame, 0, 0);
    read_file(*state, &file, &read);
    assert_int_equal(read.status, 0);
    assert_int_equal(read.count, 0);
    assert_int_equal(read.skipped.not_ip, 2);
    assert_int_equal(read.skipped.not_udp, 1);
    assert_int_equal(read.skipped.fragment, 3);
    assert_int_equal(read.skipped.malformed, 3);
    assert_int_equal(read.skipped.cut_short, 0);
}

/* Cut by the capture at every length: never a datagram, never a surprise. */
static void counts_frames_that_were_cut_at_any_length(void **state)
{
    static const struct {
        enum capture_link link;
        unsigned type;
    } kind[] = {{LINK_ETHERNET, 0x0800}, {LINK_ETHERNET, 0x86dd},
                {LINK_SLL, 0x0800},      {LINK_SLL2, 0x86dd},
                {LINK_NULL, 0x0800},     {LINK_RAW, 0x86dd}};
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    for (size_t i = 0; i < sizeof kind / sizeof kind[0]; i++) {
        capture_begin_frame(&frame);
        capture_put_link(&frame, kind[i].link, kind[i].type);
        if (kind[i].type == 0x0800)
            capture_put_ipv4(&frame, 17, 0);
        else
            capture_put_ipv6(&frame, 60, "\x11\0\x01\x04\0\0\0\0", 8);
        for (size_t cut = 1; cut <= frame.length; cut++) {
            capture_begin_pcap(&file, kind[i].link, false, true);
            capture_put_record(&file, &frame, 0, cut);
            read_file(*state, &file, &read);
            assert_int_equal(read.status, 0);
            assert_int_equal(read.count, 0);
            assert_int_equal(read.skipped.cut_short, 1);
        }
    }
}

/* Any byte of any header may be wrong; a sanitizer watches. */
static void survives_any_byte_of_a_frame(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    for (int ipv6 = 0; ipv6 < 2; ipv6++) {
        capture_begin_frame(&frame);
        capture_put_link(&frame, LINK_ETHERNET, ipv6 ? 0x86dd : 0x0800);
        if (ipv6)
            capture_put_ipv6(&frame, 0, "\x11\0\x01\x04\0\0\0\0", 8);
        else
            capture_put_ipv4(&frame, 17, 0);
        for (size_t at = 12; at < frame.length; at++) {
            uint8_t kept = frame.at[at];
            int total = 0;

            capture_begin_pcap(&file, LINK_ETHERNET, false, true);
            for (int bit = 0; bit < 8; bit++) {
                frame.at[at] = (uint8_t)(kept ^ (1 << bit));
                capture_put_record(&file, &frame, 0, 0);
            }
            frame.at[at] = kept;
            read_file(*state, &file, &read);
            assert_int_equal(read.status, 0);
            total = read.count + (int)read.skipped.not_ip +
                    (int)read.skipped.not_udp + (int)read.skipped.fragment +
                    (int)read.skipped.cut_short + (int)read.skipped.malformed;
            assert_int_equal(total, 8);
        }
    }
}

/* ---- pcapng ------------------------------------------------------------- */

static void reads_pcapng_in_both_orders_and_resolutions(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;

    for (int i = 0; i < 4; i++) {
        bool nano = (i & 2) != 0;

        capture_begin_frame(&frame);
        capture_put_link(&frame, LINK_ETHERNET, 0x0800);
        capture_put_ipv4(&frame, 17, 0);
        capture_begin_pcapng(&file, (i & 1) != 0);
        capture_put_interface(&file, LINK_ETHERNET, nano ? 9 : 0);
        capture_put_packet(&file, &frame,
                           (uint64_t)(nano ? t_nano : t_micro / 1000));
        read_file(*state, &file, &read);
        expect_datagram(&read, false, nano ? t_nano : t_micro);
    }
}

/* ---- what cannot be read ------------------------------------------------ */

static void expect_failure(const struct read *read, int status,
                           const char *words)
{
    assert_int_equal(read->status, status);
    assert_non_null(strstr(read->why, "/capture: "));
    assert_non_null(strstr(read->why, words));
    assert_null(strchr(read->why, '\n'));
}

static void says_when_a_file_ends_in_the_middle(void **state)
{
    static struct capture_bytes frame;
    static struct capture_bytes file;
    struct read read;
    size_t whole;

    capture_begin_frame(&frame);
    capture_put_ipv4(&frame, 17, 0);
    capture_begin_pcap(&file, LINK_RAW, false, true);
    capture_put_record(&file, &frame, 0, 0);
    capture_put_record(&file, &frame, 0, 0);
    whole = file.length;
    for (size_t length = 1; length < whole; length++) {
        file.length = length;
        read_file(*state, &file, &read);
        if (length < 24) {
            expect_failure(&read, ERR_FORMAT, "not a capture");
        } else if (length == 24 || length == 24 + (whole - 24) / 2) {
            assert_int_equal(read.status, 0);
        } else {
            expect_failure(&read, ERR_FORMAT, "ends in the middle");
            assert_int_equal(read.count, length > 24 + (whole - 24) / 2);
        }
    }
}

static void says_what_a_file_is_not(void **state)
{
    static struct capture_bytes file;
    struct read read;

    file.length = 0;
    read_file(*state, &file, &read);
    expect_failure(&read, ERR_FORMAT, "empty");
    capture_put(&file, "not a capture at all, only words and more words", 40);
    read_file(*state, &file, &read);
    expect_failure(&read, ERR_FORMAT, "not a capture");
    capture_begin_pcap(&file, (enum capture_link)105, false,
                       true); /* IEEE 802.11 */
    read_file(*state, &file, &read);
    expect_failure(&read, ERR_FORMAT, "IEEE802_11");
}

static void says_when_there_is_no_file(void **state)
{
    struct intake_recording *recording;
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";

    folder_path(folder, "nowhere", path);
    assert_int_equal(intake_recording_open(path, &recording, why, sizeof why),
                     ERR_ABSENT);
    assert_memory_equal(why, path, strlen(path));
    assert_int_equal(
        intake_recording_open(folder->path, &recording, why, sizeof why),
        ERR_IO);
    assert_memory_equal(why, folder->path, strlen(folder->path));
    assert_null(strchr(why, '\n'));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(reads_every_link_type_order_and_resolution),
        in_folder(knows_the_loopback_family_of_every_system),
        in_folder(looks_through_vlan_tags),
        in_folder(ignores_the_padding_of_short_frames),
        in_folder(looks_behind_ipv6_extension_headers),
        in_folder(counts_what_is_no_whole_datagram_by_reason),
        in_folder(counts_frames_that_were_cut_at_any_length),
        in_folder(survives_any_byte_of_a_frame),
        in_folder(reads_pcapng_in_both_orders_and_resolutions),
        in_folder(says_when_a_file_ends_in_the_middle),
        in_folder(says_what_a_file_is_not),
        in_folder(says_when_there_is_no_file),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
