/* sound.h - made-up voices and WAV files for the tests of the audio room. */
#ifndef SUPPORT_SOUND_H
#define SUPPORT_SOUND_H

#include <stddef.h>
#include <stdint.h>

#include "folder.h"
#include "quarterturn/audio.h"

/* A bank whose clips are all the same wave, except for the pulse of the
 * near-stall tone. Owns nothing: the waves are borrowed. */
struct audio_bank sound_bank(const int16_t *wave, uint32_t frames,
                             const int16_t *pulse, uint32_t pulse_frames);
/* Round a wave to 16 bits, as a clip keeps it. kept: its samples; wave: becomes
 * what is heard of them at gain 1, so that it can be compared to the bit. */
void sound_keep(int16_t *kept, float *wave, uint32_t frames);
/* What is heard of a clip's sample at gain 1. */
float sound_sample(const struct audio_clip *clip, uint32_t at);

/* Write a WAV file of 16-bit PCM. Fails the test if it cannot. */
void sound_write_wav(const struct folder *folder, const char *name,
                     uint32_t rate_hz, uint16_t channels,
                     const int16_t *samples, uint32_t count);
/* As that, one channel of AUDIO_RATE_HZ, of 8, 16, 24 or 32 bits a sample. */
void sound_write_wav_bits(const struct folder *folder, const char *name,
                          int bits, const int32_t *samples, uint32_t count);
/* Samples of a WAV file of 16-bit PCM; count: set. The caller frees. */
int16_t *sound_read_wav(const char *path, uint32_t *count);
/* Write a voice: cues.tsv with a row for each clip, all with the same file.
 * Returns: number of lines written. */
unsigned sound_write_table(const struct folder *folder, const char *file);

#endif
