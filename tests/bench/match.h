/* match.h - finding a clip in a recording. */
#ifndef BENCH_MATCH_H
#define BENCH_MATCH_H

#include <stdint.h>

#include "quarterturn/audio.h"

/* Where a clip fits a recording best: the normalised cross-correlation of the
 * two at every frame.
 * from, to: first frames to try, within the recording.
 * sound_frames: length of the recording.
 * found: frame of the clip's first sample.
 * Returns: the correlation there, 0 to 1; 0 when nothing sounds. */
double match_find(const struct audio_clip *clip, const float *sound,
                  int64_t sound_frames, int64_t from, int64_t to,
                  int64_t *found);
/* The clip's first audible sample: 40 dB below its peak. */
int64_t match_audible(const struct audio_clip *clip);

#endif
