/* match.c - finding a clip in a recording.
 *
 * At every frame a sixteenth of the clip's samples is compared, which is
 * enough to tell where it may be; around the best place all of them are. */
#include "match.h"

#include <math.h>
#include <stdlib.h>

enum { SPARSE = 16, AROUND = 48 };

/* A clip fitted to silence fits nothing. */
static const double least_power = 1e-9;

static double likeness(const struct audio_clip *clip, const float *sound,
                       uint32_t step)
{
    double product = 0.0;
    double clip_power = 0.0;
    double sound_power = 0.0;

    for (uint32_t i = 0; i < clip->frames; i += step) {
        double a = clip->sample[i];
        double b = (double)sound[i];

        product += a * b;
        clip_power += a * a;
        sound_power += b * b;
    }
    if (sound_power < least_power)
        return 0.0;
    return product / sqrt(clip_power * sound_power);
}

static double best_of(const struct audio_clip *clip, const float *sound,
                      const int64_t range[2], uint32_t step, int64_t *found)
{
    double best = 0.0;

    for (int64_t at = range[0]; at <= range[1]; at++) {
        double fit = likeness(clip, sound + at, step);

        if (fit > best) {
            best = fit;
            *found = at;
        }
    }
    return best;
}

double match_find(const struct audio_clip *clip, const float *sound,
                  int64_t sound_frames, int64_t from, int64_t to,
                  int64_t *found)
{
    int64_t last = sound_frames - (int64_t)clip->frames;
    int64_t range[2] = {from > 0 ? from : 0, to < last ? to : last};

    *found = range[0];
    if (best_of(clip, sound, range, SPARSE, found) <= 0.0)
        return 0.0;
    if (range[0] < *found - AROUND)
        range[0] = *found - AROUND;
    if (range[1] > *found + AROUND)
        range[1] = *found + AROUND;
    return best_of(clip, sound, range, 1, found);
}

int64_t match_audible(const struct audio_clip *clip)
{
    int peak = 0;
    int64_t at = 0;

    for (uint32_t i = 0; i < clip->frames; i++)
        peak = abs(clip->sample[i]) > peak ? abs(clip->sample[i]) : peak;
    while (at < (int64_t)clip->frames && 100 * abs(clip->sample[at]) < peak)
        at++;
    return at;
}
