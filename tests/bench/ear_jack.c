/* ear_jack.c - an ear at a JACK server.
 *
 * The server's clients share one graph: what a player writes in a cycle
 * reaches the ear in the same cycle, and the device one playback latency
 * later, which the server tells for its playback ports. */
#include <jack/jack.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "ear.h"
#include "report.h"

/* Two clocks are read one after the other; longer apart they tell nothing. */
static const jack_time_t reading_us = 30;

struct jack_ear {
    struct ear *ear;
    jack_client_t *client;
    jack_port_t *port[EAR_LANES];
    int64_t shift_ns; /* CLOCK_MONOTONIC less the server's clock */
    bool has_shift;
};

static void read_shift(struct jack_ear *jack)
{
    jack_time_t before_us = jack_get_time();
    int64_t now_ns = ear_now_ns();
    jack_time_t after_us = jack_get_time();

    if (after_us - before_us > reading_us && jack->has_shift)
        return;
    jack->shift_ns =
        now_ns - (int64_t)(before_us + after_us) * INT64_C(1000) / 2;
    jack->has_shift = true;
}

static int on_cycle(jack_nframes_t frames, void *context)
{
    struct jack_ear *jack = context;
    jack_nframes_t first;
    jack_time_t start_us;
    jack_time_t next_us;
    float period_us;

    read_shift(jack);
    if (jack_get_cycle_times(jack->client, &first, &start_us, &next_us,
                             &period_us) != 0)
        return 0;
    /* The reader of the recording holds the lock only between flights. */
    if (pthread_mutex_trylock(&jack->ear->mutex) != 0)
        return 0;
    for (int i = 0; i < jack->ear->lanes; i++) {
        const float *sound = jack_port_get_buffer(jack->port[i], frames);

        ear_mark(jack->ear, i, jack->ear->lane[i].frames,
                 (int64_t)start_us * 1000 + jack->shift_ns);
        ear_append(jack->ear, i, sound, frames);
    }
    (void)pthread_mutex_unlock(&jack->ear->mutex);
    return 0;
}

static void read_latency(struct jack_ear *jack)
{
    jack_port_t *device = jack_port_by_name(jack->client, "system:playback_1");
    jack_latency_range_t range;

    if (device == NULL)
        report_fail("the JACK server has no playback port");
    jack_port_get_latency_range(device, JackPlaybackLatency, &range);
    jack->ear->ahead_ns =
        (int64_t)range.max * INT64_C(1000000000) / EAR_RATE_HZ;
}

char *ear_jack_port(int lane, char *out, size_t size)
{
    (void)snprintf(out, size, "ear:lane%d", lane);
    return out;
}

void ear_jack_open(struct ear *ear, int lanes)
{
    struct jack_ear *jack = calloc(1, sizeof *jack);

    if (jack == NULL)
        report_fail("out of memory");
    ear_begin(ear, lanes);
    ear->private = jack;
    jack->ear = ear;
    jack->client = jack_client_open("ear", JackNoStartServer, NULL);
    if (jack->client == NULL)
        report_fail("the JACK server does not answer");
    for (int i = 0; i < lanes; i++) {
        char name[16];

        (void)snprintf(name, sizeof name, "lane%d", i);
        jack->port[i] = jack_port_register(
            jack->client, name, JACK_DEFAULT_AUDIO_TYPE, JackPortIsInput, 0);
        if (jack->port[i] == NULL)
            report_fail("the JACK server gives no port");
    }
    read_latency(jack);
    /* Every cycle tells its own beginning; one that came late moves all that
     * follow. */
    ear->near_frames = 2 * jack_get_buffer_size(jack->client);
    if (jack_set_process_callback(jack->client, on_cycle, jack) != 0 ||
        jack_activate(jack->client) != 0)
        report_fail("the JACK server does not let us listen");
}

static bool is_heard(struct jack_ear *jack, const char *name)
{
    const char **ends = jack_port_get_all_connections(
        jack->client, jack_port_by_name(jack->client, name));
    bool heard = false;

    for (size_t i = 0; ends != NULL && ends[i] != NULL; i++)
        if (strncmp(ends[i], "ear:", 4) == 0)
            heard = true;
    jack_free(ends);
    return heard;
}

/* A player has two outputs with the same sound: the first is enough. */
bool ear_jack_adopt(struct ear *ear, int lane)
{
    struct jack_ear *jack = ear->private;
    const char **names = jack_get_ports(
        jack->client, "out_0$", JACK_DEFAULT_AUDIO_TYPE, JackPortIsOutput);
    bool adopted = false;
    char to[32];

    for (size_t i = 0; names != NULL && names[i] != NULL && !adopted; i++)
        if (!is_heard(jack, names[i]))
            adopted = jack_connect(jack->client, names[i],
                                   ear_jack_port(lane, to, sizeof to)) == 0;
    jack_free(names);
    return adopted;
}

void ear_jack_close(struct ear *ear)
{
    struct jack_ear *jack = ear->private;

    (void)jack_deactivate(jack->client);
    (void)jack_client_close(jack->client);
    ear_end(ear);
    free(jack);
}
