/* ear_pulse.c - an ear at a PulseAudio server.
 *
 * Each null sink has a monitor. When pieces of its sound arrive depends on how
 * they are handed on, so their arrival tells little: the server is asked which
 * frame is heard when. It answers how much it has put into the recording, how
 * much is on its way there, and in what time the sink plays what it has mixed.
 * The pieces are long: an ear that wants short ones has the sink mix in short
 * ones too, and the players would be asked for sound otherwise than when nobody
 * listens. */
#include <math.h>
#include <pulse/pulseaudio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>

#include "ear.h"
#include "report.h"

enum { PIECE_MS = 50, ASK_MS = 100, MARKED_MS = 1000 };

struct pulse_lane {
    struct pulse_ear *pulse;
    int lane;
    pa_stream *stream;
    int64_t frames; /* read since the stream began */
};

struct pulse_ear {
    struct ear *ear;
    pa_threaded_mainloop *loop;
    pa_context *context;
    pa_time_event *timer;
    struct pulse_lane lane[EAR_LANES];
};

static pa_usec_t wall_us(void)
{
    struct timeval now;

    return pa_timeval_load(pa_gettimeofday(&now));
}

/* The server's answer counts from the beginning of the stream, on the wall
 * clock. */
static void on_timing(pa_stream *stream, int success, void *context)
{
    struct pulse_lane *lane = context;
    struct ear *ear = lane->pulse->ear;
    const pa_timing_info *timing = pa_stream_get_timing_info(stream);
    int64_t shift_ns, heard_frame, at_ns;

    if (success == 0 || timing == NULL || timing->write_index_corrupt != 0)
        return;
    shift_ns = ear_now_ns() - (int64_t)wall_us() * 1000;
    at_ns = (int64_t)pa_timeval_load(&timing->timestamp) * 1000 + shift_ns;
    heard_frame = timing->write_index / (int64_t)sizeof(float);
    /* A frame later for each that is not heard yet. */
    at_ns += ((int64_t)timing->sink_usec - (int64_t)timing->source_usec) * 1000;
    (void)pthread_mutex_lock(&ear->mutex);
    ear_mark(ear, lane->lane,
             heard_frame - (lane->frames - ear->lane[lane->lane].frames),
             at_ns);
    (void)pthread_mutex_unlock(&ear->mutex);
}

static void ask_all(pa_mainloop_api *api, pa_time_event *timer,
                    const struct timeval *at, void *context)
{
    struct pulse_ear *pulse = context;

    (void)at;
    for (int i = 0; i < pulse->ear->lanes; i++) {
        struct pulse_lane *lane = &pulse->lane[i];
        pa_operation *asked =
            pa_stream_update_timing_info(lane->stream, on_timing, lane);

        if (asked != NULL)
            pa_operation_unref(asked);
    }
    pa_context_rttime_restart(pulse->context, timer,
                              pa_rtclock_now() + ASK_MS * PA_USEC_PER_MSEC);
    (void)api;
}

static void on_sound(pa_stream *stream, size_t bytes, void *context)
{
    static const float silence[EAR_RATE_HZ];
    struct pulse_lane *lane = context;
    struct ear *ear = lane->pulse->ear;
    const void *piece;

    while (pa_stream_peek(stream, &piece, &bytes) == 0 && bytes > 0) {
        size_t frames = bytes / sizeof(float);

        /* A hole counts too. */
        if (piece == NULL && frames > EAR_RATE_HZ)
            report_fail("a second of what is heard is missing");
        (void)pthread_mutex_lock(&ear->mutex);
        ear_append(ear, lane->lane, piece != NULL ? piece : silence, frames);
        lane->frames += (int64_t)frames;
        (void)pthread_mutex_unlock(&ear->mutex);
        (void)pa_stream_drop(stream);
    }
}

static void on_change(pa_context *server, void *context)
{
    struct pulse_ear *pulse = context;

    (void)server;
    pa_threaded_mainloop_signal(pulse->loop, 0);
}

static void on_stream_change(pa_stream *stream, void *context)
{
    struct pulse_lane *lane = context;

    (void)stream;
    pa_threaded_mainloop_signal(lane->pulse->loop, 0);
}

/* Call with the loop's lock held, which waiting gives away. */
static void connect_server(struct pulse_ear *pulse)
{
    pulse->context =
        pa_context_new(pa_threaded_mainloop_get_api(pulse->loop), "ear");
    pa_context_set_state_callback(pulse->context, on_change, pulse);
    if (pa_context_connect(pulse->context, NULL, PA_CONTEXT_NOAUTOSPAWN, NULL) <
        0)
        report_fail("the PulseAudio server does not answer");
    while (pa_context_get_state(pulse->context) != PA_CONTEXT_READY) {
        if (!PA_CONTEXT_IS_GOOD(pa_context_get_state(pulse->context)))
            report_fail("the PulseAudio server does not answer");
        pa_threaded_mainloop_wait(pulse->loop);
    }
}

static void start_lane(struct pulse_lane *lane)
{
    const pa_sample_spec form = {
        .format = PA_SAMPLE_FLOAT32LE, .rate = EAR_RATE_HZ, .channels = 1};
    const pa_buffer_attr piece = {
        .maxlength = UINT32_MAX,
        .fragsize = (uint32_t)(PIECE_MS * EAR_RATE_HZ / 1000 * sizeof(float))};
    char device[40];

    (void)snprintf(device, sizeof device, "cap%d.monitor", lane->lane);
    lane->stream = pa_stream_new(lane->pulse->context, "ear", &form, NULL);
    if (lane->stream == NULL)
        report_fail("no ear can be had");
    pa_stream_set_state_callback(lane->stream, on_stream_change, lane);
    pa_stream_set_read_callback(lane->stream, on_sound, lane);
    if (pa_stream_connect_record(lane->stream, device, &piece,
                                 PA_STREAM_DONT_MOVE) < 0)
        report_fail("nobody may listen to %s", device);
    while (pa_stream_get_state(lane->stream) != PA_STREAM_READY) {
        if (!PA_STREAM_IS_GOOD(pa_stream_get_state(lane->stream)))
            report_fail("nobody may listen to %s", device);
        pa_threaded_mainloop_wait(lane->pulse->loop);
    }
}

void ear_pulse_open(struct ear *ear, int lanes)
{
    struct pulse_ear *pulse = calloc(1, sizeof *pulse);

    if (pulse == NULL)
        report_fail("out of memory");
    ear_begin(ear, lanes);
    ear->private = pulse;
    ear->near_frames = EAR_RATE_HZ * MARKED_MS / 2000;
    ear->takes_middle = true;
    pulse->ear = ear;
    pulse->loop = pa_threaded_mainloop_new();
    if (pulse->loop == NULL || pa_threaded_mainloop_start(pulse->loop) < 0)
        report_fail("no thread can be had");
    pa_threaded_mainloop_lock(pulse->loop);
    connect_server(pulse);
    for (int i = 0; i < lanes; i++) {
        pulse->lane[i] = (struct pulse_lane){.pulse = pulse, .lane = i};
        start_lane(&pulse->lane[i]);
    }
    pulse->timer =
        pa_context_rttime_new(pulse->context, pa_rtclock_now(), ask_all, pulse);
    pa_threaded_mainloop_unlock(pulse->loop);
}

void ear_pulse_close(struct ear *ear)
{
    struct pulse_ear *pulse = ear->private;

    pa_threaded_mainloop_lock(pulse->loop);
    pa_threaded_mainloop_get_api(pulse->loop)->time_free(pulse->timer);
    for (int i = 0; i < ear->lanes; i++) {
        (void)pa_stream_disconnect(pulse->lane[i].stream);
        pa_stream_unref(pulse->lane[i].stream);
    }
    pa_context_disconnect(pulse->context);
    pa_context_unref(pulse->context);
    pa_threaded_mainloop_unlock(pulse->loop);
    pa_threaded_mainloop_stop(pulse->loop);
    pa_threaded_mainloop_free(pulse->loop);
    ear_end(ear);
    free(pulse);
}
