/* recording.c - captures of packets, by libpcap.
 *
 * The formats (classic pcap: IETF draft-ietf-opsawg-pcap; pcapng:
 * draft-ietf-opsawg-pcapng) are the library's business; what is inside a
 * frame is frame.c's. */
/* pcap.h speaks of u_char and u_int, which strict POSIX headers hide. */
#define _DEFAULT_SOURCE 1 /* NOLINT: the name is the C library's */

#include <errno.h>
#include <pcap.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"

/* libpcap gives DLT_RAW, IPv4 and IPv6 alike, its number 101 in a file. An
 * IPv6 datagram may be 20 bytes longer than an IPv4 one: past 65535. */
enum { LONGEST_IPV4 = 65507, LONGEST_IPV6 = 65527, WRITTEN_SNAP = 65575 };
/* Of a record in a classic file; and what is held back, the longest record at
 * least, so that the file only ever grows by whole ones. */
enum { RECORD_HEADER = 16, HELD_BACK = 98304 };

struct intake_recording {
    pcap_t *pcap;
    enum frame_link link;
    struct intake_skipped skipped;
    char *path;
};

struct intake_recorder {
    pcap_t *pcap;
    pcap_dumper_t *dumper;
    char *path;
    char *part_path;
    uint16_t port;
    bool failed;
    size_t held; /* bytes in the buffer */
    uint8_t frame[WRITTEN_SNAP];
    char buffer[HELD_BACK];
};

static char *join(const char *path, const char *ending)
{
    size_t size = strlen(path) + strlen(ending) + 1;
    char *out = malloc(size);

    if (out != NULL)
        (void)snprintf(out, size, "%s%s", path, ending);
    return out;
}

/* ---- reading ----------------------------------------------------------- */

static int link_of_pcap(int datalink, enum frame_link *out)
{
    switch (datalink) {
    case DLT_EN10MB: *out = FRAME_ETHERNET; return 0;
    case DLT_RAW:
    case DLT_IPV4:
    case DLT_IPV6: *out = FRAME_IP; return 0;
    case DLT_NULL:
    case DLT_LOOP: *out = FRAME_LOOPBACK; return 0;
    case DLT_LINUX_SLL: *out = FRAME_COOKED_1; return 0;
    case DLT_LINUX_SLL2: *out = FRAME_COOKED_2; return 0;
    default: return ERR_FORMAT;
    }
}

/* Open a file that has at least one byte. A folder can be opened but not
 * read; saying so here is clearer than the library's words. */
static int open_content(const char *path, FILE **out, char *why,
                        size_t why_size)
{
    FILE *file = fopen(path, "rb");
    int first;

    if (file == NULL) {
        int error = errno;

        (void)snprintf(why, why_size, "%s: %s", path, strerror(error));
        return error == ENOENT ? ERR_ABSENT : ERR_IO;
    }
    errno = 0;
    first = getc(file);
    if (first == EOF) {
        int error = errno;

        (void)fclose(file);
        if (error != 0) {
            (void)snprintf(why, why_size, "%s: %s", path, strerror(error));
            return ERR_IO;
        }
        (void)snprintf(why, why_size, "%s: the file is empty", path);
        return ERR_FORMAT;
    }
    (void)ungetc(first, file);
    *out = file;
    return 0;
}

/* file: taken over. */
static int open_pcap(struct intake_recording *recording, FILE *file, char *why,
                     size_t why_size)
{
    char error[PCAP_ERRBUF_SIZE] = "";
    int datalink;

    recording->pcap = pcap_fopen_offline_with_tstamp_precision(
        file, PCAP_TSTAMP_PRECISION_NANO, error);
    if (recording->pcap == NULL) {
        (void)fclose(file);
        (void)snprintf(why, why_size,
                       "%s: not a capture that can be read (pcap or pcapng): "
                       "%s",
                       recording->path, error);
        return ERR_FORMAT;
    }
    datalink = pcap_datalink(recording->pcap);
    if (link_of_pcap(datalink, &recording->link) != 0) {
        const char *name = pcap_datalink_val_to_name(datalink);

        (void)snprintf(why, why_size,
                       "%s: link type %s is not read; accepted: Ethernet, raw "
                       "IP, null/loopback, Linux cooked",
                       recording->path, name == NULL ? "unknown" : name);
        return ERR_FORMAT;
    }
    return 0;
}

int intake_recording_open(const char *path, struct intake_recording **out,
                          char *why, size_t why_size)
{
    struct intake_recording *recording;
    FILE *file;
    int status = open_content(path, &file, why, why_size);

    if (status != 0)
        return status;
    recording = calloc(1, sizeof *recording);
    if (recording != NULL)
        recording->path = join(path, "");
    if (recording == NULL || recording->path == NULL) {
        free(recording);
        (void)fclose(file);
        (void)snprintf(why, why_size, "%s: out of memory", path);
        return ERR_NO_MEMORY;
    }
    status = open_pcap(recording, file, why, why_size);
    if (status != 0) {
        intake_recording_close(recording);
        return status;
    }
    *out = recording;
    return 0;
}

int intake_recording_next(struct intake_recording *recording,
                          struct intake_datagram *out, char *why,
                          size_t why_size)
{
    for (;;) {
        struct pcap_pkthdr *header;
        struct frame frame;
        int got = pcap_next_ex(recording->pcap, &header, &frame.data);

        if (got == PCAP_ERROR_BREAK)
            return 0;
        if (got != 1) {
            (void)snprintf(why, why_size,
                           "%s: ends in the middle of a record or is damaged: "
                           "%s",
                           recording->path, pcap_geterr(recording->pcap));
            return ERR_FORMAT;
        }
        frame.length = header->caplen;
        frame.whole = header->caplen >= header->len;
        if (!frame_find_datagram(recording->link, &frame, out,
                                 &recording->skipped))
            continue;
        /* With nanosecond precision the "microseconds" are nanoseconds. */
        out->t_ns = (int64_t)header->ts.tv_sec * UNITS_NS_PER_S +
                    (int64_t)header->ts.tv_usec;
        return 1;
    }
}

const struct intake_skipped *
intake_recording_skipped(const struct intake_recording *recording)
{
    return &recording->skipped;
}

void intake_recording_close(struct intake_recording *recording)
{
    if (recording->pcap != NULL)
        pcap_close(recording->pcap);
    free(recording->path);
    free(recording);
}

/* ---- writing ----------------------------------------------------------- */

static void recorder_free(struct intake_recorder *recorder)
{
    if (recorder->pcap != NULL)
        pcap_close(recorder->pcap);
    free(recorder->path);
    free(recorder->part_path);
    free(recorder);
}

static struct intake_recorder *recorder_new(const char *path, uint16_t port)
{
    struct intake_recorder *recorder = calloc(1, sizeof *recorder);

    if (recorder == NULL)
        return NULL;
    recorder->path = join(path, "");
    recorder->part_path = join(path, ".part");
    recorder->pcap = pcap_open_dead_with_tstamp_precision(
        DLT_RAW, WRITTEN_SNAP, PCAP_TSTAMP_PRECISION_NANO);
    recorder->port = port;
    if (recorder->path == NULL || recorder->part_path == NULL ||
        recorder->pcap == NULL) {
        recorder_free(recorder);
        return NULL;
    }
    return recorder;
}

/* A program that is killed must leave a file that can be read to its end. */
static int open_dumper(struct intake_recorder *recorder, char *why,
                       size_t why_size)
{
    FILE *file = file_open_part(recorder->part_path);

    if (file == NULL) {
        (void)snprintf(why, why_size, "recording cannot be written: %s: %s",
                       recorder->part_path, strerror(errno));
        return ERR_IO;
    }
    (void)setvbuf(file, recorder->buffer, _IOFBF, sizeof recorder->buffer);
    recorder->dumper = pcap_dump_fopen(recorder->pcap, file);
    if (recorder->dumper == NULL || pcap_dump_flush(recorder->dumper) != 0) {
        (void)snprintf(why, why_size, "recording cannot be written: %s: %s",
                       recorder->part_path, strerror(errno));
        if (recorder->dumper != NULL)
            pcap_dump_close(recorder->dumper);
        else
            (void)fclose(file);
        (void)remove(recorder->part_path);
        return ERR_IO;
    }
    return 0;
}

int intake_recorder_open(const char *path, uint16_t port,
                         struct intake_recorder **out, char *why,
                         size_t why_size)
{
    struct intake_recorder *recorder;

    /* At the end the name is taken over: never that of a folder or device. */
    if (file_is_special(path)) {
        (void)snprintf(why, why_size, "%s: is there and is not a file", path);
        return ERR_IO;
    }
    recorder = recorder_new(path, port);
    if (recorder == NULL) {
        (void)snprintf(why, why_size, "%s: out of memory", path);
        return ERR_NO_MEMORY;
    }
    if (open_dumper(recorder, why, why_size) != 0) {
        recorder_free(recorder);
        return ERR_IO;
    }
    *out = recorder;
    return 0;
}

int intake_recorder_write(struct intake_recorder *recorder, int64_t t_ns,
                          const struct intake_sender *sender,
                          const uint8_t *data, size_t length)
{
    struct pcap_pkthdr header = {0};
    size_t headers;

    if (t_ns < 0 ||
        length > (sender != NULL && sender->ipv6 ? LONGEST_IPV6 : LONGEST_IPV4))
        return ERR_RANGE;
    if (recorder->failed)
        return ERR_IO;
    headers = frame_write_headers(recorder->frame, recorder->port, sender, data,
                                  length);
    if (length > 0)
        memcpy(recorder->frame + headers, data, length);
    header.ts.tv_sec = (time_t)(t_ns / UNITS_NS_PER_S);
    header.ts.tv_usec = (suseconds_t)(t_ns % UNITS_NS_PER_S);
    header.caplen = (bpf_u_int32)(headers + length);
    header.len = header.caplen;
    if (recorder->held + RECORD_HEADER + header.caplen > HELD_BACK &&
        intake_recorder_flush(recorder) != 0)
        return ERR_IO;
    recorder->held += RECORD_HEADER + header.caplen;
    pcap_dump((u_char *)recorder->dumper, &header, recorder->frame);
    /* pcap_dump returns nothing; the stream remembers. */
    if (ferror(pcap_dump_file(recorder->dumper))) {
        recorder->failed = true;
        return ERR_IO;
    }
    return 0;
}

int intake_recorder_flush(struct intake_recorder *recorder)
{
    if (!recorder->failed && pcap_dump_flush(recorder->dumper) != 0)
        recorder->failed = true;
    recorder->held = 0;
    return recorder->failed ? ERR_IO : 0;
}

int intake_recorder_close(struct intake_recorder *recorder, bool keep)
{
    int status = keep ? intake_recorder_flush(recorder) : 0;
    int why = errno;

    pcap_dump_close(recorder->dumper);
    /* A recording cut by a full disk is kept: all but its end can be read. */
    if (!keep)
        (void)remove(recorder->part_path);
    else if (file_take_place(recorder->part_path, recorder->path) != 0) {
        why = errno;
        if (file_size(recorder->part_path) < 0)
            status = ERR_IO;
        else if (status == 0)
            status = ERR_BUSY;
    }
    recorder_free(recorder);
    errno = why;
    return status;
}
