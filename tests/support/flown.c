/* flown.c - flights for replay tests. */
#include "flown.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/encode.h"
#include "sample.h"

/* ---- settings ----------------------------------------------------------- */

static void load_settings(const char *layout, const char *aircraft,
                          struct settings *out)
{
    struct settings_choice choice = {.layout = layout, .aircraft = aircraft};
    char why[512] = "";

    /* Tests run in the top folder, which holds config/ and sounds/. */
    if (settings_load(&choice, ".", out, why, sizeof why) != 0)
        fail_msg("%s", why);
}

/* The clips' lengths; reading the sound of them takes longer than a flight. */
static void load_durations(struct settings *settings)
{
    static char folder[sizeof settings->audio.voice_folder];
    static double clip_s[sizeof settings->callout.clip_s /
                         sizeof settings->callout.clip_s[0]];

    if (strcmp(folder, settings->audio.voice_folder) != 0) {
        struct audio_bank bank;
        char why[512] = "";

        if (audio_bank_load(settings->audio.voice_folder, &bank, why,
                            sizeof why))
            fail_msg("%s", why);
        audio_bank_durations(&bank, clip_s);
        audio_bank_free(&bank);
        memcpy(folder, settings->audio.voice_folder, sizeof folder);
    }
    memcpy(settings->callout.clip_s, clip_s, sizeof clip_s);
}

/* ---- streams ------------------------------------------------------------ */

void stream_append(struct stream *stream, const struct stream_packet *packet)
{
    if (stream->count == stream->capacity) {
        stream->capacity = stream->capacity > 0 ? 2 * stream->capacity : 4096;
        stream->packet =
            realloc(stream->packet, stream->capacity * sizeof *stream->packet);
        assert_non_null(stream->packet);
    }
    stream->packet[stream->count++] = *packet;
}

void stream_join(struct stream *stream, const struct stream *other,
                 double pause_s)
{
    const struct stream_packet *last =
        stream->count > 0 ? &stream->packet[stream->count - 1] : NULL;
    int64_t shift_ns = 0;
    double shift_s = 0.0;

    if (last != NULL) {
        shift_ns = last->arrival_ns + (int64_t)(pause_s * 1e9);
        shift_s = last->sample.value[CHANNEL_SIM_TIME] + pause_s -
                  other->packet[0].sample.value[CHANNEL_SIM_TIME];
    }
    for (size_t i = 0; i < other->count; i++) {
        struct stream_packet packet = other->packet[i];

        packet.arrival_ns += shift_ns;
        packet.sample.value[CHANNEL_SIM_TIME] += shift_s;
        stream_append(stream, &packet);
    }
}

void stream_load(struct stream *stream, const char *flight, const char *layout)
{
    struct settings settings;
    struct sample_recording recording;
    char path[256];

    memset(stream, 0, sizeof *stream);
    load_settings(layout, NULL, &settings);
    (void)snprintf(path, sizeof path, "tests/replay/%s.pcap", flight);
    sample_recording_load(path, &recording);
    for (size_t i = 0; i < recording.count; i++) {
        const struct sample_datagram *datagram = &recording.datagram[i];
        struct stream_packet packet;

        packet.arrival_ns = datagram->t_ns - recording.datagram[0].t_ns;
        assert_int_equal(intake_decode(&settings.layout,
                                       recording.bytes + datagram->at,
                                       datagram->length, &packet.sample),
                         INTAKE_TAKEN);
        stream_append(stream, &packet);
    }
    sample_recording_free(&recording);
}

void stream_free(struct stream *stream)
{
    free(stream->packet);
    memset(stream, 0, sizeof *stream);
}

/* The generator of C's own example (C11 7.22.2.2), so that a run is the same
 * everywhere. Returns: 0..1. */
static double chance(unsigned *seed)
{
    *seed = *seed * 1103515245u + 12345u;
    return ((*seed / 65536u) % 32768u) / 32768.0;
}

static void negate(struct intake_sample *sample, enum intake_channel channel)
{
    sample->value[channel] = -sample->value[channel];
}

void stream_mirror(struct stream *stream)
{
    for (size_t i = 0; i < stream->count; i++) {
        struct intake_sample *sample = &stream->packet[i].sample;

        negate(sample, CHANNEL_HEADING);
        negate(sample, CHANNEL_BANK);
        negate(sample, CHANNEL_LATERAL_G);
        negate(sample, CHANNEL_SIDESLIP);
    }
    stream_rotate(stream, 0.0);
}

void stream_rotate(struct stream *stream, double rad)
{
    for (size_t i = 0; i < stream->count; i++) {
        double *heading_rad = &stream->packet[i].sample.value[CHANNEL_HEADING];

        *heading_rad = angle_wrap_circle(*heading_rad + rad);
    }
}

void stream_thin(struct stream *stream, double rate_hz)
{
    size_t kept = 0;
    double next_s = 0.0;

    for (size_t i = 0; i < stream->count; i++) {
        double t_s = flown_seconds(stream->packet[i].arrival_ns);

        if (t_s < next_s - 1e-4)
            continue;
        next_s = fmax(next_s + 1.0 / rate_hz, t_s);
        stream->packet[kept++] = stream->packet[i];
    }
    stream->count = kept;
}

void stream_lose(struct stream *stream, double part, unsigned seed)
{
    size_t kept = 0;

    for (size_t i = 0; i < stream->count; i++)
        if (chance(&seed) >= part)
            stream->packet[kept++] = stream->packet[i];
    stream->count = kept;
}

static int by_arrival(const void *a, const void *b)
{
    const struct stream_packet *x = a;
    const struct stream_packet *y = b;

    return (x->arrival_ns > y->arrival_ns) - (x->arrival_ns < y->arrival_ns);
}

void stream_jitter(struct stream *stream, double most_s, unsigned seed)
{
    for (size_t i = 0; i < stream->count; i++)
        stream->packet[i].arrival_ns += (int64_t)(most_s * chance(&seed) * 1e9);
    qsort(stream->packet, stream->count, sizeof *stream->packet, by_arrival);
}

void stream_double(struct stream *stream, double part, unsigned seed)
{
    size_t count = stream->count;

    for (size_t i = 0; i < count; i++) {
        struct stream_packet copy = stream->packet[i];

        copy.arrival_ns += 1000000;
        if (chance(&seed) < part)
            stream_append(stream, &copy);
    }
    qsort(stream->packet, stream->count, sizeof *stream->packet, by_arrival);
}

void stream_reorder(struct stream *stream, double part, unsigned seed)
{
    int64_t interval_ns = (stream->packet[stream->count - 1].arrival_ns -
                           stream->packet[0].arrival_ns) /
                          (int64_t)stream->count;

    for (size_t i = 0; i < stream->count; i++)
        if (chance(&seed) < part)
            stream->packet[i].arrival_ns +=
                (int64_t)((1.2 + 2.3 * chance(&seed)) * (double)interval_ns);
    qsort(stream->packet, stream->count, sizeof *stream->packet, by_arrival);
}

void stream_keep_channels(struct stream *stream, uint32_t channels)
{
    for (size_t i = 0; i < stream->count; i++) {
        stream->packet[i].sample.valid &= channels;
        stream->packet[i].sample.fresh &= channels;
    }
}

/* ---- flying ------------------------------------------------------------- */

static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct flown *flown = context;

    assert_true(flown->event_count < FLOWN_EVENTS);
    flown->event[flown->event_count++] = *event;
    if (grade != NULL)
        flown->grade = *grade;
    if (event->kind == EVENT_FINISHED || event->kind == EVENT_ABANDONED)
        flown->summary = *maneuver_summary(&flown->session->maneuver);
}

static void on_call(void *context, const struct callout_call *call)
{
    struct flown *flown = context;

    assert_true(flown->call_count < FLOWN_CALLS);
    flown->call_now_ns[flown->call_count] = flown->session->now_ns;
    flown->call[flown->call_count++] = *call;
}

static void on_tone(void *context, const struct callout_tone *tone)
{
    struct flown *flown = context;

    assert_true(flown->tone_count < FLOWN_EVENTS);
    flown->tone[flown->tone_count++] = *tone;
}

static void on_attempt(struct flown *flown,
                       const struct debrief_attempt *attempt)
{
    if (flown->attempt == NULL)
        flown->attempt = malloc(sizeof *flown->attempt);
    assert_non_null(flown->attempt);
    *flown->attempt = *attempt;
    flown->attempt_count++;
}

/* What is written is written by the same code as in the program. */
struct writer {
    struct flown *flown;
    struct debrief_log *log;
};

static void write_event(void *context, const struct maneuver_event *event,
                        const struct debrief_grade *grade)
{
    struct writer *writer = context;

    on_event(writer->flown, event, grade);
    assert_int_equal(debrief_log_event(writer->log, event, grade), 0);
}

static void write_call(void *context, const struct callout_call *call)
{
    struct writer *writer = context;

    on_call(writer->flown, call);
    assert_int_equal(debrief_log_call(writer->log, call), 0);
}

static void write_tone(void *context, const struct callout_tone *tone)
{
    on_tone(((struct writer *)context)->flown, tone);
}

static void write_help(void *context, int64_t t_ns, enum callout_help help,
                       uint32_t silent)
{
    struct writer *writer = context;

    assert_int_equal(debrief_log_help(writer->log, t_ns, help, silent), 0);
}

static void write_attempt(void *context, const struct debrief_attempt *attempt)
{
    on_attempt(((struct writer *)context)->flown, attempt);
}

static void write_progress(void *context, int64_t now_ns, int64_t settled_ns)
{
    struct writer *writer = context;

    (void)now_ns;
    assert_int_equal(debrief_log_settle(writer->log, settled_ns), 0);
}

/* What one flight is written with. */
struct desk {
    struct writer writer;
    struct session_sink sink; /* the session borrows it */
    FILE *file;
};

static void begin_flight(struct flown *flown, const char *layout,
                         const char *aircraft, int64_t first_ns,
                         struct desk *desk)
{
    desk->writer = (struct writer){.flown = flown};
    desk->sink = (struct session_sink){.context = &desk->writer,
                                       .event = write_event,
                                       .call = write_call,
                                       .tone = write_tone,
                                       .help = write_help,
                                       .attempt = write_attempt,
                                       .progress = write_progress};
    memset(flown, 0, sizeof *flown);
    flown->session = calloc(1, sizeof *flown->session);
    assert_non_null(flown->session);
    load_settings(layout, aircraft, &flown->settings);
    load_durations(&flown->settings);
    desk->file = open_memstream(&flown->lines, &flown->lines_length);
    assert_non_null(desk->file);
    assert_int_equal(debrief_log_open(desk->file, first_ns, &desk->writer.log),
                     0);
    session_init(flown->session, &flown->settings, &desk->sink);
}

static void finish_flight(struct flown *flown, int64_t now_ns,
                          struct desk *desk)
{
    session_advance(flown->session, now_ns);
    session_end(flown->session);
    assert_int_equal(debrief_log_close(desk->writer.log), 0);
    (void)fclose(desk->file);
}

/* All datagrams of a moment. */
static void push_moment(struct flown *flown, struct intake_encoder *encoder,
                        const struct stream_packet *packet)
{
    for (uint32_t i = 0; i < intake_encoder_datagrams(encoder); i++) {
        uint8_t bytes[2048];
        int length = intake_encoder_put(encoder, i, &packet->sample, bytes,
                                        sizeof bytes);

        assert_true(length > 0);
        session_push(flown->session,
                     &(struct intake_datagram){.t_ns = packet->arrival_ns,
                                               .data = bytes,
                                               .length = (size_t)length});
    }
}

static void push_stream(struct flown *flown, const struct stream *stream,
                        int64_t step_ns, struct desk *desk)
{
    struct intake_encoder encoder;
    int64_t now_ns = 0;

    intake_encoder_init(&encoder, &flown->settings.layout);
    for (size_t i = 0; i < stream->count; i++) {
        const struct stream_packet *packet = &stream->packet[i];

        while (step_ns > 0 && i > 0 && now_ns + step_ns < packet->arrival_ns) {
            now_ns += step_ns;
            session_advance(flown->session, now_ns);
        }
        now_ns = packet->arrival_ns;
        push_moment(flown, &encoder, packet);
    }
    finish_flight(flown, now_ns, desk);
}

void flown_fly_in(struct flown *flown, const struct stream *stream,
                  const char *layout, const char *aircraft, int64_t step_ns)
{
    struct desk desk;

    begin_flight(flown, layout, aircraft, stream->packet[0].arrival_ns, &desk);
    push_stream(flown, stream, step_ns, &desk);
}

void flown_fly_helped(struct flown *flown, const struct stream *stream,
                      const char *layout, enum callout_help help)
{
    struct desk desk;

    begin_flight(flown, layout, NULL, stream->packet[0].arrival_ns, &desk);
    callout_set_help(&flown->session->callout, 0, help);
    push_stream(flown, stream, 0, &desk);
}

void flown_datagrams(struct flown *flown, const char *path, const char *layout)
{
    struct sample_recording recording;
    struct desk desk;
    int64_t now_ns = 0;

    sample_recording_load(path, &recording);
    begin_flight(flown, layout, NULL, 0, &desk);
    for (size_t i = 0; i < recording.count; i++) {
        const struct sample_datagram *datagram = &recording.datagram[i];

        now_ns = datagram->t_ns - recording.datagram[0].t_ns;
        session_push(flown->session, &(struct intake_datagram){
                                         .t_ns = now_ns,
                                         .data = recording.bytes + datagram->at,
                                         .length = datagram->length});
    }
    finish_flight(flown, now_ns, &desk);
    sample_recording_free(&recording);
}

void flown_recording(struct flown *flown, const char *flight,
                     const char *layout)
{
    struct stream stream;

    stream_load(&stream, flight, layout);
    flown_fly(flown, &stream, layout, 0);
    stream_free(&stream);
}

void flown_free(struct flown *flown)
{
    free(flown->session);
    free(flown->lines);
    free(flown->attempt);
    memset(flown, 0, sizeof *flown);
}

/* ---- looking ------------------------------------------------------------ */

size_t flown_count(const struct flown *flown, enum maneuver_event_kind kind)
{
    size_t count = 0;

    for (size_t i = 0; i < flown->event_count; i++)
        count += flown->event[i].kind == kind;
    return count;
}

const struct maneuver_event *
flown_event(const struct flown *flown, enum maneuver_event_kind kind, size_t n)
{
    for (size_t i = 0; i < flown->event_count; i++)
        if (flown->event[i].kind == kind && n-- == 0)
            return &flown->event[i];
    return NULL;
}

const struct maneuver_event *flown_mark(const struct flown *flown,
                                        uint32_t attempt, double deg)
{
    for (size_t i = 0; i < flown->event_count; i++) {
        const struct maneuver_event *event = &flown->event[i];

        if (event->kind == EVENT_MARK && event->attempt == attempt &&
            fabs(units_deg(event->angle_rad) - deg) < 0.1)
            return event;
    }
    return NULL;
}

const struct callout_call *flown_call(const struct flown *flown,
                                      enum callout_cue cue, size_t n)
{
    for (size_t i = 0; i < flown->call_count; i++)
        if (flown->call[i].cue == cue && n-- == 0)
            return &flown->call[i];
    return NULL;
}

double flown_seconds(int64_t t_ns)
{
    return (double)t_ns * 1e-9;
}
