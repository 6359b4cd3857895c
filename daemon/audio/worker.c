/* worker.c - the process that owns PortAudio.
 *
 * The library may block for ever or end the process when a sound server goes
 * away, so nothing here tries to save a stream: a lost one ends the worker,
 * and the daemon starts another. Only the first search for a device is done
 * over and over, since a list of devices is frozen until the library is
 * started again. */
#include <ctype.h>
#include <portaudio.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "player.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "share.h"

enum {
    WAIT_MS = 100,            /* between two heartbeats */
    USUAL_PATIENCE_MS = 1000, /* heartbeats come each WAIT_MS */
    OPENING_PATIENCE_MS = 10000,
    LOOKS_EVERY_MS = 1000,
    LEAVE_LOOK_MS = 5,
    LEAVE_MARGIN_MS = 40, /* for the rest of the buffer, and the server */
    LEAVE_MS = 300,       /* the daemon gives a worker a second to end */
    STREAM_LOST = 3       /* exit status */
};

/* Some servers take a breath at the start; longer is a dead stream. */
static const int64_t still_limit_ns = INT64_C(2500000000);

struct worker {
    struct audio_share *share;
    struct audio_bank bank;
    struct audio_player player;
    PaStream *stream;
    _Atomic bool finished;
    uint32_t seen_callbacks;
    int64_t seen_ns;
};

/* ---- the sound callback ------------------------------------------------- */

static int on_sound(const void *input, void *output, unsigned long frames,
                    const PaStreamCallbackTimeInfo *times,
                    PaStreamCallbackFlags flags, void *context)
{
    int64_t now_ns = audio_now_ns();
    struct worker *worker = context;

    (void)input;
    if ((flags & paOutputUnderflow) != 0)
        atomic_fetch_add_explicit(&worker->share->underruns, 1,
                                  memory_order_relaxed);
    /* The library's clock has another base on each kind of device: only the
     * difference within one callback means anything. */
    audio_player_fill(&worker->player, now_ns,
                      times->outputBufferDacTime - times->currentTime, output,
                      (uint32_t)frames);
    return paContinue;
}

static void on_finished(void *context)
{
    struct worker *worker = context;

    atomic_store(&worker->finished, true);
}

/* ---- finding and opening a device --------------------------------------- */

static bool contains(const char *text, const char *part)
{
    size_t length = strlen(part);

    for (; *text != '\0'; text++) {
        size_t i = 0;

        while (i < length && tolower((unsigned char)text[i]) ==
                                 tolower((unsigned char)part[i]))
            i++;
        if (i == length)
            return true;
    }
    return false;
}

static bool can_play(PaDeviceIndex index)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(index);

    return info != NULL && info->maxOutputChannels > 0;
}

/* The device asked for, else the usual one of ALSA, which every Linux desktop
 * routes to its own server, else the library's choice. */
static PaDeviceIndex choose_device(const char *name)
{
    PaHostApiIndex alsa = Pa_HostApiTypeIdToHostApiIndex(paALSA);

    if (name[0] != '\0') {
        for (PaDeviceIndex i = 0; i < Pa_GetDeviceCount(); i++) {
            if (can_play(i) && contains(Pa_GetDeviceInfo(i)->name, name))
                return i;
        }
        return paNoDevice;
    }
    if (alsa >= 0) {
        PaDeviceIndex usual = Pa_GetHostApiInfo(alsa)->defaultOutputDevice;

        if (usual != paNoDevice && can_play(usual))
            return usual;
    }
    return Pa_GetDefaultOutputDevice();
}

/* A JACK server's buffer is the same for everybody: to ask for another would
 * put one of the library's own between. */
static unsigned long buffer_frames(const struct worker *worker,
                                   PaDeviceIndex index)
{
    const PaHostApiInfo *host =
        Pa_GetHostApiInfo(Pa_GetDeviceInfo(index)->hostApi);

    return host != NULL && host->type == paJACK
               ? paFramesPerBufferUnspecified
               : worker->share->settings.buffer_frames;
}

static PaError open_at(struct worker *worker, PaDeviceIndex index,
                       double rate_hz, int channels)
{
    PaStreamParameters parameters = {
        .device = index,
        .channelCount = channels,
        .sampleFormat = paFloat32,
        .suggestedLatency = worker->share->settings.latency_s,
    };

    return Pa_OpenStream(&worker->stream, NULL, &parameters, rate_hz,
                         buffer_frames(worker, index), paNoFlag, on_sound,
                         worker);
}

/* The clips' own rate and two channels fit nearly every device. */
static PaError open_somehow(struct worker *worker, PaDeviceIndex index,
                            double *rate_hz, int *channels)
{
    const PaDeviceInfo *info = Pa_GetDeviceInfo(index);
    const double rates_hz[] = {AUDIO_RATE_HZ, info->defaultSampleRate};
    int most = info->maxOutputChannels < 2 ? 1 : 2;
    PaError error = paInvalidDevice;

    for (size_t i = 0; i < sizeof rates_hz / sizeof rates_hz[0]; i++) {
        for (int count = most; count >= 1; count--) {
            *rate_hz = rates_hz[i];
            *channels = count;
            error = open_at(worker, index, *rate_hz, count);
            if (error == paNoError)
                return error;
        }
    }
    return error;
}

static bool start_stream(struct worker *worker)
{
    const char *wanted = worker->share->settings.device;
    PaDeviceIndex index = choose_device(wanted);
    const PaStreamInfo *stated;
    double rate_hz;
    int channels;
    PaError error;

    if (index == paNoDevice)
        return false;
    error = open_somehow(worker, index, &rate_hz, &channels);
    if (error != paNoError) {
        log_line(LOG_LEVEL_DETAIL, "%s: %s", Pa_GetDeviceInfo(index)->name,
                 Pa_GetErrorText(error));
        return false;
    }
    stated = Pa_GetStreamInfo(worker->stream);
    if (audio_player_attach(&worker->player, rate_hz, (uint32_t)channels,
                            stated != NULL ? stated->outputLatency : 0.0) !=
            0 ||
        Pa_SetStreamFinishedCallback(worker->stream, on_finished) !=
            paNoError ||
        Pa_StartStream(worker->stream) != paNoError) {
        (void)Pa_CloseStream(worker->stream);
        return false;
    }
    (void)snprintf(worker->share->device, sizeof worker->share->device, "%s",
                   Pa_GetDeviceInfo(index)->name);
    return true;
}

static void beat(struct worker *worker, uint32_t patience_ms)
{
    atomic_store(&worker->share->patience_ms, patience_ms);
    atomic_fetch_add(&worker->share->heartbeat, 1);
}

static void tell_state(struct worker *worker, enum audio_state state)
{
    atomic_store(&worker->share->state, (uint32_t)state);
}

/* Returns: whether sound now flows. */
static bool look_for_device(struct worker *worker)
{
    bool found = false;

    beat(worker, OPENING_PATIENCE_MS);
    if (Pa_Initialize() == paNoError) {
        found = start_stream(worker);
        if (!found)
            (void)Pa_Terminate();
    }
    worker->seen_ns = audio_now_ns();
    worker->seen_callbacks = atomic_load(&worker->share->callbacks);
    beat(worker, USUAL_PATIENCE_MS);
    tell_state(worker, found ? AUDIO_PLAYING : AUDIO_NO_DEVICE);
    return found;
}

/* ---- the worker's life -------------------------------------------------- */

static bool is_lost(struct worker *worker)
{
    uint32_t callbacks = atomic_load(&worker->share->callbacks);
    int64_t now_ns = audio_now_ns();

    if (callbacks != worker->seen_callbacks) {
        worker->seen_callbacks = callbacks;
        worker->seen_ns = now_ns;
    }
    return atomic_load(&worker->finished) ||
           now_ns - worker->seen_ns > still_limit_ns;
}

/* A stream that is broken off while it sounds would click. The daemon waits
 * for a worker to end; not for ever. */
static void end_stream(struct worker *worker)
{
    int64_t rest_ns = atomic_load(&worker->share->latency_ns) +
                      INT64_C(1000000) * LEAVE_MARGIN_MS;
    int waited_ms = 0;

    if (atomic_load(&worker->share->sounding) != 0) {
        audio_player_leave(&worker->player);
        for (; waited_ms < LEAVE_MS && !audio_player_has_left(&worker->player);
             waited_ms += LEAVE_LOOK_MS)
            Pa_Sleep(LEAVE_LOOK_MS);
        for (; waited_ms < LEAVE_MS && rest_ns > 0;
             waited_ms += LEAVE_LOOK_MS) {
            Pa_Sleep(LEAVE_LOOK_MS);
            rest_ns -= INT64_C(1000000) * LEAVE_LOOK_MS;
        }
    }
    (void)Pa_AbortStream(worker->stream);
    (void)Pa_CloseStream(worker->stream);
    (void)Pa_Terminate();
}

static void run(struct worker *worker)
{
    bool playing = look_for_device(worker);
    int waited_ms = 0;

    while (audio_worker_wait(WAIT_MS)) {
        beat(worker, USUAL_PATIENCE_MS);
        if (playing) {
            /* Closing a lost stream can hang or abort: leave it behind,
             * exit handlers of the sound libraries too. */
            if (is_lost(worker))
                _Exit(STREAM_LOST);
            continue;
        }
        audio_player_idle(&worker->player, audio_now_ns());
        waited_ms += WAIT_MS;
        if (waited_ms >= LOOKS_EVERY_MS) {
            waited_ms = 0;
            playing = look_for_device(worker);
        }
    }
    if (playing)
        end_stream(worker);
}

int audio_worker_main(int argc, char **argv)
{
    /* Too large for a stack, and there is one worker in a process. */
    static struct worker worker;
    char why[AUDIO_PATH_SIZE + 256];

    (void)argv;
    worker.share = argc == 1 ? audio_share_map(AUDIO_SHARE_FD) : NULL;
    if (worker.share == NULL) {
        log_line(LOG_LEVEL_ERROR, "sound-worker is started by the program "
                                  "itself; see \"quarterturn sounds\"");
        return 2;
    }
    audio_worker_tie();
    beat(&worker, OPENING_PATIENCE_MS);
    if (audio_bank_load(worker.share->settings.voice_folder, &worker.bank, why,
                        sizeof why) != 0) {
        log_line(LOG_LEVEL_ERROR, "%s", why);
        return 1;
    }
    audio_player_init(&worker.player, worker.share, &worker.bank);
    run(&worker);
    audio_bank_free(&worker.bank);
    return 0;
}
