/* test_recording_write.c - recordings that are written, and the one stream in
 * a recording of many. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "folder.h"
#include "process.h"
#include "quarterturn/error.h"
#include "quarterturn/intake.h"

static const int64_t t_ns = INT64_C(1700000000123456789);

static struct intake_recorder *open_recorder(const char *path, uint16_t port)
{
    struct intake_recorder *recorder;
    char why[512] = "";

    if (intake_recorder_open(path, port, &recorder, why, sizeof why) != 0)
        fail_msg("%s", why);
    return recorder;
}

static uint32_t native_32(const char *at)
{
    uint32_t value;

    memcpy(&value, at, sizeof value);
    return value;
}

/* Source: IETF draft-ietf-opsawg-pcap, sections 4 and 5: header of 24 bytes
 * in the writer's byte order, magic A1B23C4D for nanoseconds, version 2.4,
 * two zero words, snap length, link type; record: seconds, nanoseconds,
 * captured, original length, data without padding. Link type 101 is raw IP
 * (LINKTYPE registry of tcpdump.org). */
static void writes_the_published_format(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct intake_recorder *recorder;
    size_t length;
    char *file;

    recorder = open_recorder(folder_path(*state, "a.pcap", path), 52180);
    assert_int_equal(
        intake_recorder_write(recorder, t_ns, NULL, (const uint8_t *)"abc", 3),
        0);
    assert_int_equal(intake_recorder_close(recorder, true), 0);
    file = folder_read_file(path, &length);
    assert_int_equal(length, 24 + 16 + 28 + 3);
    assert_int_equal(native_32(file), 0xa1b23c4d);
    assert_int_equal(native_32(file + 8), 0);
    assert_int_equal(native_32(file + 12), 0);
    assert_int_equal(native_32(file + 16), 65575);
    assert_int_equal(native_32(file + 20), 101);
    assert_int_equal(native_32(file + 24), 1700000000);
    assert_int_equal(native_32(file + 28), 123456789);
    assert_int_equal(native_32(file + 32), 31);
    assert_int_equal(native_32(file + 36), 31);
    assert_memory_equal(file + 24 + 16 + 28, "abc", 3);
    free(file);
}

/* Source: RFC 791 section 3.1 and RFC 1071 (the sum of a good header is all
 * ones), RFC 768 (source port 0 and checksum 0: not given). */
static void synthesizes_headers_that_hold(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct intake_recorder *recorder;
    const uint8_t *ip;
    uint32_t sum = 0;
    size_t length;
    char *file;

    recorder = open_recorder(folder_path(*state, "a.pcap", path), 52180);
    (void)intake_recorder_write(recorder, t_ns, NULL, (const uint8_t *)"abc",
                                3);
    assert_int_equal(intake_recorder_close(recorder, true), 0);
    file = folder_read_file(path, &length);
    ip = (const uint8_t *)file + 40;
    for (int i = 0; i < 20; i += 2)
        sum += (uint32_t)ip[i] << 8 | ip[i + 1];
    assert_int_equal((sum & 0xffff) + (sum >> 16), 0xffff);
    assert_int_equal(ip[0], 0x45);
    assert_int_equal(ip[3], 31);
    assert_int_equal(ip[9], 17);
    assert_memory_equal(ip + 12, "\x7f\0\0\x01\x7f\0\0\x01", 8);
    assert_memory_equal(ip + 20, "\0\0\xcb\xd4\0\x0b\0\0", 8);
    free(file);
}

/* Both families in one file; tcpdump, the reference reader of the format, says
 * the same senders, and finds the checksum that IPv6 asks for right. */
static void keeps_senders_of_both_families(void **state)
{
    static const struct intake_sender sender[2] = {
        {.address = {192, 0, 2, 7}, .port = 49000},
        {.ipv6 = true,
         .address = {0x20, 0x01, 0x0d, 0xb8, [15] = 7},
         .port = 49001}};
    const char *words[] = {"-n", "-v", "-v", "-r", NULL, NULL};
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";
    struct intake_recorder *recorder;
    struct intake_recording *recording;
    struct intake_datagram datagram;
    struct process tcpdump;

    words[4] = folder_path(*state, "two.pcap", path);
    recorder = open_recorder(path, 52180);
    for (int i = 0; i < 2; i++)
        assert_int_equal(intake_recorder_write(recorder, t_ns + i, &sender[i],
                                               (const uint8_t *)"odd", 3),
                         0);
    assert_int_equal(intake_recorder_close(recorder, true), 0);
    assert_int_equal(intake_recording_open(path, &recording, why, sizeof why),
                     0);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(
            intake_recording_next(recording, &datagram, why, sizeof why), 1);
        assert_int_equal(datagram.sender.ipv6, sender[i].ipv6);
        assert_memory_equal(datagram.sender.address, sender[i].address, 16);
        assert_int_equal(datagram.sender.port, sender[i].port);
        assert_int_equal(datagram.destination_port, 52180);
    }
    intake_recording_close(recording);
    process_run_other(&tcpdump, "tcpdump", words);
    assert_int_equal(tcpdump.status, 0);
    assert_non_null(strstr(tcpdump.out, "192.0.2.7.49000 > "));
    assert_non_null(strstr(tcpdump.out, "2001:db8::7.49001 > "));
    assert_non_null(strstr(tcpdump.out, "[udp sum ok]"));
    assert_null(strstr(tcpdump.out, "bad"));
}

static void reads_back_what_it_wrote(void **state)
{
    static uint8_t data[65507];
    static const size_t length[] = {0, 1, 60, 1472, 9000, 65507};
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";
    struct intake_recorder *recorder;
    struct intake_recording *recording;
    struct intake_datagram datagram;

    for (size_t i = 0; i < sizeof data; i++)
        data[i] = (uint8_t)(i * 7);
    recorder = open_recorder(folder_path(*state, "a.pcap", path), 4000);
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(intake_recorder_write(recorder, t_ns + (int64_t)i,
                                               NULL, data, length[i]),
                         0);
    assert_int_equal(intake_recorder_write(recorder, t_ns, NULL, data, 65508),
                     ERR_RANGE);
    assert_int_equal(intake_recorder_write(recorder, -1, NULL, data, 1),
                     ERR_RANGE);
    assert_int_equal(intake_recorder_close(recorder, true), 0);
    assert_int_equal(intake_recording_open(path, &recording, why, sizeof why),
                     0);
    for (size_t i = 0; i < 6; i++) {
        assert_int_equal(
            intake_recording_next(recording, &datagram, why, sizeof why), 1);
        assert_int_equal(datagram.t_ns, t_ns + (int64_t)i);
        assert_int_equal(datagram.destination_port, 4000);
        assert_int_equal(datagram.length, length[i]);
        assert_memory_equal(datagram.data, data, length[i]);
    }
    assert_int_equal(
        intake_recording_next(recording, &datagram, why, sizeof why), 0);
    intake_recording_close(recording);
}

static void bears_its_name_only_when_it_is_whole(void **state)
{
    char path[FOLDER_PATH_SIZE];
    char part[FOLDER_PATH_SIZE];
    struct intake_recorder *recorder;
    size_t length;
    char *file;

    folder_path(*state, "a.pcap", path);
    recorder = open_recorder(path, 1);
    (void)intake_recorder_write(recorder, t_ns, NULL, (const uint8_t *)"abc",
                                3);
    assert_int_equal(intake_recorder_flush(recorder), 0);
    assert_int_equal(folder_count(*state), 1);
    file = folder_read_file(folder_path(*state, "a.pcap.part", part), &length);
    assert_int_equal(length, 71);
    free(file);
    assert_int_equal(intake_recorder_close(recorder, true), 0);
    assert_int_equal(folder_count(*state), 1);
    free(folder_read_file(path, &length));
    /* Not kept: what was there before stays as it was. */
    recorder = open_recorder(path, 1);
    assert_int_equal(intake_recorder_close(recorder, false), 0);
    assert_int_equal(folder_count(*state), 1);
    file = folder_read_file(path, &length);
    assert_int_equal(length, 71);
    free(file);
}

static void says_where_it_cannot_write(void **state)
{
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";
    struct intake_recorder *recorder;

    folder_path(folder, "nowhere/a.pcap", path);
    assert_int_equal(intake_recorder_open(path, 1, &recorder, why, sizeof why),
                     ERR_IO);
    assert_non_null(strstr(why, "nowhere/a.pcap"));
    assert_null(strchr(why, '\n'));
    assert_int_equal(
        intake_recorder_open(folder->path, 1, &recorder, why, sizeof why),
        ERR_IO);
    assert_non_null(strstr(why, folder->path));
    assert_int_equal(folder_count(folder), 0);
    /* Nothing takes the place of a pipe, nor waits for its reader. */
    folder_path(folder, "pipe", path);
    assert_int_equal(mkfifo(path, 0600), 0);
    assert_int_equal(intake_recorder_open(path, 1, &recorder, why, sizeof why),
                     ERR_IO);
    assert_non_null(strstr(why, ": is there and is not a file"));
    assert_int_equal(folder_count(folder), 1);
}

/* A limit on the size of files stands for a full disk: the write fails. */
static void says_when_the_disk_is_full(void **state)
{
    static const uint8_t data[10000];
    char path[FOLDER_PATH_SIZE];
    struct intake_recorder *recorder;
    struct intake_recording *recording;
    struct intake_datagram datagram;
    struct rlimit before;
    struct rlimit little;
    char why[512] = "";
    int status = 0;
    int written = 0;
    int read = 0;

    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    little = before;
    little.rlim_cur = 100000;
    (void)signal(SIGXFSZ, SIG_IGN);
    recorder = open_recorder(folder_path(*state, "a.pcap", path), 1);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &little), 0);
    while (status == 0 && written < 1000) {
        status = intake_recorder_write(recorder, t_ns, NULL, data, sizeof data);
        written++;
    }
    assert_int_equal(status, ERR_IO);
    assert_int_equal(intake_recorder_write(recorder, t_ns, NULL, data, 1),
                     ERR_IO);
    assert_int_equal(intake_recorder_flush(recorder), ERR_IO);
    assert_int_equal(intake_recorder_close(recorder, true), ERR_IO);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    /* What was written before can be read. */
    assert_int_equal(intake_recording_open(path, &recording, why, sizeof why),
                     0);
    while (intake_recording_next(recording, &datagram, why, sizeof why) == 1)
        read++;
    intake_recording_close(recording);
    assert_in_range(read, 5, written);
}

/* ---- the stream in a recording ------------------------------------------ */

/* Three ports: words to 9, lines to 52180, then words to 7. */
static void write_crowd(const struct folder *folder, char *path)
{
    struct intake_recorder *recorder;
    char *file[3];
    size_t length[3];
    char *all;
    static const uint16_t port[3] = {9, 52180, 7};
    static const char *const text[3] = {"who is there", "1,290,1,2,100",
                                        "2,90,1,2,100"};

    for (int i = 0; i < 3; i++) {
        recorder =
            open_recorder(folder_path(folder, "part.pcap", path), port[i]);
        for (int k = 0; k < 2; k++)
            (void)intake_recorder_write(recorder, t_ns + i * 10 + k, NULL,
                                        (const uint8_t *)text[i],
                                        strlen(text[i]));
        assert_int_equal(intake_recorder_close(recorder, true), 0);
        file[i] = folder_read_file(path, &length[i]);
    }
    all = malloc(length[0] + length[1] + length[2]);
    assert_non_null(all);
    memcpy(all, file[0], length[0]);
    memcpy(all + length[0], file[1] + 24, length[1] - 24);
    memcpy(all + length[0] + length[1] - 24, file[2] + 24, length[2] - 24);
    folder_write(folder, "crowd.pcap", all,
                 length[0] + length[1] + length[2] - 48, path);
    free(all);
    for (int i = 0; i < 3; i++)
        free(file[i]);
}

/* A line of numbers with the heading second. */
static void make_layout(struct intake_layout *layout)
{
    struct intake_field *field;

    memset(layout, 0, sizeof *layout);
    field = &layout->packet[0].field[0];
    layout->packet_count = 1;
    layout->packet[0].separator = ',';
    layout->packet[0].field_count = 1;
    field->channel = CHANNEL_HEADING;
    field->unit = UNIT_DEG;
    field->column = 2;
    field->scale = 1.0;
}

static void expect_stream(const char *path, const struct intake_layout *layout,
                          uint16_t asked, uint16_t port, uint64_t other)
{
    struct intake_source *source;
    struct intake_datagram datagram;
    char why[512] = "";
    int count = 0;

    assert_int_equal(
        intake_source_open(path, layout, asked, &source, why, sizeof why), 0);
    assert_int_equal(intake_source_port(source), port);
    while (intake_source_next(source, &datagram, why, sizeof why) == 1) {
        assert_int_equal(datagram.destination_port, port);
        count++;
    }
    assert_int_equal(count, 2);
    assert_int_equal(intake_source_other(source), other);
    assert_int_equal(intake_source_skipped(source)->not_udp, 0);
    intake_source_close(source);
}

static void the_stream_is_what_the_layout_can_decode(void **state)
{
    struct intake_layout layout;
    char path[FOLDER_PATH_SIZE];

    write_crowd(*state, path);
    make_layout(&layout);
    expect_stream(path, &layout, 0, 52180, 4);
    expect_stream(path, &layout, 7, 7, 4);
    /* Nothing decodes: the first port, so that the reasons can be told. */
    layout.packet[0].field[0].column = 200;
    expect_stream(path, &layout, 0, 9, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(writes_the_published_format),
        in_folder(synthesizes_headers_that_hold),
        in_folder(keeps_senders_of_both_families),
        in_folder(reads_back_what_it_wrote),
        in_folder(bears_its_name_only_when_it_is_whole),
        in_folder(says_where_it_cannot_write),
        in_folder(says_when_the_disk_is_full),
        in_folder(the_stream_is_what_the_layout_can_decode),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
