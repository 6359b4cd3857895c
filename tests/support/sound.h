/* sound.h - made-up voices and WAV files for the tests of the audio room. */
#ifndef SUPPORT_SOUND_H
#define SUPPORT_SOUND_H

#include <stddef.h>
#include <stdint.h>

#include "folder.h"
#include "quarterturn/audio.h"

/* A bank whose clips are all the same wave, except for the pulse of the
 * near-stall tone. Owns nothing: the waves are borrowed. */
struct audio_bank sound_bank(const float *wave, uint32_t frames,
                             const float *pulse, uint32_t pulse_frames);

/* Write a WAV file of 16-bit PCM. Fails the test if it cannot. */
void sound_write_wav(const struct folder *folder, const char *name,
                     uint32_t rate_hz, uint16_t channels,
                     const int16_t *samples, uint32_t count);
/* Samples of a WAV file of 16-bit PCM; count: set. The caller frees. */
int16_t *sound_read_wav(const char *path, uint32_t *count);
/* Write a voice: cues.tsv with a row for each clip, all with the same file.
 * Returns: number of lines written. */
unsigned sound_write_table(const struct folder *folder, const char *file);

#endif
