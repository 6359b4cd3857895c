/* post_posix.c - recorded flights sent in real time. */
#include "post.h"

#include <arpa/inet.h>
#include <errno.h>
#include <math.h>
#include <netinet/in.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "flown.h"
#include "report.h"

/* The warning comes on so often, and stays on for so long: longer than the
 * program needs to be silent again. No multiple of any server's buffers: each
 * finds them at another point. */
static const double warning_every_s = 1.7831;
static const double warning_for_s = 0.7;

static double chance(unsigned *seed)
{
    *seed = *seed * 1103515245u + 12345u;
    return ((*seed / 65536u) % 32768u) / 32768.0;
}

static struct post_packet *append(struct post *post)
{
    if (post->count == post->capacity) {
        post->capacity = post->capacity > 0 ? 2 * post->capacity : 8192;
        post->packet =
            realloc(post->packet, post->capacity * sizeof *post->packet);
        if (post->packet == NULL)
            report_fail("out of memory");
    }
    return &post->packet[post->count++];
}

static void load_layout(bool warned, struct settings *out)
{
    struct settings_choice choice = {
        .layout = warned ? "tests/bench/warned.conf" : "plain-binary"};
    char why[512] = "";

    if (settings_load(&choice, ".", out, why, sizeof why) != 0)
        report_fail("%s", why);
}

static bool warns(const struct post_flight *flight, double t_s)
{
    return flight->warned && fmod(t_s - flight->from_s, warning_every_s) >=
                                 warning_every_s - warning_for_s;
}

static void encode(const struct settings *settings,
                   const struct post_flight *flight,
                   const struct stream_packet *flown, double t_s,
                   struct post_packet *out)
{
    struct intake_sample sample = flown->sample;
    int length;

    if (flight->warned) {
        sample.valid |= CHANNEL_BIT(CHANNEL_STALL_WARNING);
        sample.value[CHANNEL_STALL_WARNING] = warns(flight, t_s) ? 1.0 : 0.0;
    }
    length = intake_encode(&settings->layout, 0, &sample, out->bytes,
                           sizeof out->bytes);
    if (length <= 0)
        report_fail("%s: a packet cannot be made", flight->name);
    out->length = (size_t)length;
}

/* What follows begins so late: at slow rates it matters where the moments of
 * the packets lie. */
static void skip(struct stream *stream, double until_s)
{
    size_t first = 0;

    while (first < stream->count &&
           flown_seconds(stream->packet[first].arrival_ns) < until_s)
        first++;
    stream->count -= first;
    memmove(stream->packet, stream->packet + first,
            stream->count * sizeof *stream->packet);
}

void post_add(struct post *post, const struct post_flight *flight, int lane,
              int64_t start_ns)
{
    struct settings *settings = calloc(1, sizeof *settings);
    unsigned seed = flight->seed;
    struct stream stream;
    bool warned = false;

    if (settings == NULL)
        report_fail("out of memory");
    load_layout(flight->warned, settings);
    stream_load(&stream, flight->name, "plain-binary");
    if (flight->mirrored)
        stream_mirror(&stream);
    skip(&stream, flight->phase / flight->rate_hz);
    stream_thin(&stream, flight->rate_hz);
    for (size_t i = 0; i < stream.count; i++) {
        double t_s = flown_seconds(stream.packet[i].arrival_ns);
        double late_s = flight->jitter_s * chance(&seed);
        bool lost = chance(&seed) < flight->loss;
        struct post_packet *packet;

        if (t_s < flight->from_s || t_s > flight->to_s || lost)
            continue;
        packet = append(post);
        memset(packet, 0, sizeof *packet);
        packet->lane = lane;
        packet->due_ns = start_ns + llround((t_s + late_s) * 1e9);
        packet->warning = warns(flight, t_s) && !warned;
        warned = warns(flight, t_s);
        encode(settings, flight, &stream.packet[i], t_s, packet);
    }
    stream_free(&stream);
    free(settings);
}

static int by_due(const void *left, const void *right)
{
    int64_t a = ((const struct post_packet *)left)->due_ns;
    int64_t b = ((const struct post_packet *)right)->due_ns;

    return (a > b) - (a < b);
}

static void send_to(int socket_fd, uint16_t port,
                    const struct post_packet *packet)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port)};

    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    /* Nobody there is no fault of the sender's. */
    if (port != 0)
        (void)sendto(socket_fd, packet->bytes, packet->length, 0,
                     (const struct sockaddr *)&to, sizeof to);
}

static void wait_until(int64_t due_ns)
{
    struct timespec due = {.tv_sec = (time_t)(due_ns / 1000000000),
                           .tv_nsec = (long)(due_ns % 1000000000)};

    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL) == EINTR)
        continue;
}

void post_send(struct post *post, const uint16_t (*ports)[2])
{
    int socket_fd = socket(AF_INET, SOCK_DGRAM, 0);

    if (socket_fd < 0)
        report_fail("no socket can be had");
    if (post->count > 0)
        qsort(post->packet, post->count, sizeof *post->packet, by_due);
    for (size_t i = 0; i < post->count; i++) {
        struct post_packet *packet = &post->packet[i];
        struct timespec now;

        wait_until(packet->due_ns);
        (void)clock_gettime(CLOCK_MONOTONIC, &now);
        packet->sent_ns =
            (int64_t)now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
        send_to(socket_fd, ports[packet->lane][0], packet);
        send_to(socket_fd, ports[packet->lane][1], packet);
    }
    (void)close(socket_fd);
}

void post_free(struct post *post)
{
    free(post->packet);
    memset(post, 0, sizeof *post);
}
