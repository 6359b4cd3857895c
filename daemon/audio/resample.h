/* resample.h - for a device that does not run at the mixer's rate. */
#ifndef QUARTERTURN_AUDIO_RESAMPLE_H
#define QUARTERTURN_AUDIO_RESAMPLE_H

#include <stdint.h>

enum { AUDIO_RESAMPLE_BLOCK = 32 };

struct audio_resampler {
    void *state;
    double ratio; /* device rate / AUDIO_RATE_HZ */
    float in[AUDIO_RESAMPLE_BLOCK];
    uint32_t in_at;
    uint32_t in_frames;
};

/* Writes AUDIO_RESAMPLE_BLOCK frames at AUDIO_RATE_HZ. */
typedef void (*audio_source)(void *context, float *out, uint32_t frames);

/* device_rate_hz: 8000 to 384000.
 * Returns: 0, ERR_RANGE or ERR_NO_MEMORY. */
int audio_resampler_init(struct audio_resampler *resampler,
                         double device_rate_hz);
void audio_resampler_fini(struct audio_resampler *resampler);
/* Write frames at the device's rate; neither allocates nor locks.
 * Thread: sound callback. */
void audio_resampler_fill(struct audio_resampler *resampler,
                          audio_source source, void *context, float *out,
                          uint32_t frames);

#endif
