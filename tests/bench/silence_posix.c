/* silence_posix.c - what sound costs before a program does anything. */
#include <portaudio.h>
#include <string.h>
#include <unistd.h>

#include "quarterturn/audio.h"
#include "report.h"
#include "silence.h"

enum { CHANNELS = 2 };

static int on_sound(const void *input, void *output, unsigned long frames,
                    const PaStreamCallbackTimeInfo *times,
                    PaStreamCallbackFlags flags, void *context)
{
    (void)input;
    (void)times;
    (void)flags;
    (void)context;
    memset(output, 0, frames * CHANNELS * sizeof(float));
    return paContinue;
}

static PaDeviceIndex usual_device(PaHostApiTypeId kind)
{
    PaHostApiIndex host = Pa_HostApiTypeIdToHostApiIndex(kind);

    return host < 0 ? paNoDevice : Pa_GetHostApiInfo(host)->defaultOutputDevice;
}

void silence_play(bool jack)
{
    struct audio_settings settings;
    PaStreamParameters wanted = {.channelCount = CHANNELS,
                                 .sampleFormat = paFloat32};
    PaStream *stream = NULL;

    audio_settings_defaults(&settings);
    wanted.suggestedLatency = settings.latency_s;
    if (Pa_Initialize() != paNoError)
        report_fail("PortAudio cannot be started");
    wanted.device = usual_device(jack ? paJACK : paALSA);
    if (wanted.device == paNoDevice ||
        Pa_OpenStream(&stream, NULL, &wanted, AUDIO_RATE_HZ,
                      jack ? paFramesPerBufferUnspecified
                           : settings.buffer_frames,
                      paNoFlag, on_sound, NULL) != paNoError ||
        Pa_StartStream(stream) != paNoError)
        report_fail("silence cannot be played");
    for (;;)
        (void)pause();
}
