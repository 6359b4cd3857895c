/* resample.c - for a device that does not run at the mixer's rate. */
#include "resample.h"

#include <samplerate.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"

int audio_resampler_init(struct audio_resampler *resampler,
                         double device_rate_hz)
{
    int problem = 0;

    memset(resampler, 0, sizeof *resampler);
    if (!(device_rate_hz >= 8000.0 && device_rate_hz <= 384000.0))
        return ERR_RANGE;
    resampler->ratio = device_rate_hz / AUDIO_RATE_HZ;
    resampler->state = src_new(SRC_SINC_FASTEST, 1, &problem);
    return resampler->state == NULL ? ERR_NO_MEMORY : 0;
}

void audio_resampler_fini(struct audio_resampler *resampler)
{
    if (resampler->state != NULL)
        (void)src_delete(resampler->state);
    resampler->state = NULL;
}

void audio_resampler_fill(struct audio_resampler *resampler,
                          audio_source source, void *context, float *out,
                          uint32_t frames)
{
    uint32_t done = 0;

    while (done < frames) {
        SRC_DATA job = {0};

        if (resampler->in_at == resampler->in_frames) {
            source(context, resampler->in, AUDIO_RESAMPLE_BLOCK);
            resampler->in_at = 0;
            resampler->in_frames = AUDIO_RESAMPLE_BLOCK;
        }
        job.data_in = resampler->in + resampler->in_at;
        job.input_frames = (long)(resampler->in_frames - resampler->in_at);
        job.data_out = out + done;
        job.output_frames = (long)(frames - done);
        job.src_ratio = resampler->ratio;
        if (src_process(resampler->state, &job) != 0 ||
            (job.input_frames_used == 0 && job.output_frames_gen == 0)) {
            /* Cannot happen with these arguments; silence beats a hang. */
            memset(out + done, 0, (frames - done) * sizeof *out);
            return;
        }
        resampler->in_at += (uint32_t)job.input_frames_used;
        done += (uint32_t)job.output_frames_gen;
    }
}
