/* sound.c - made-up voices and WAV files for the tests of the audio room. */
#include "sound.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <math.h>

struct audio_bank sound_bank(const int16_t *wave, uint32_t frames,
                             const int16_t *pulse, uint32_t pulse_frames)
{
    struct audio_bank bank = {0};

    for (int i = 0; i < CLIP_COUNT; i++)
        bank.clip[i] = (struct audio_clip){wave, frames, 0};
    bank.clip[CLIP_NEAR_STALL] = (struct audio_clip){pulse, pulse_frames, 0};
    return bank;
}

void sound_keep(int16_t *kept, float *wave, uint32_t frames)
{
    for (uint32_t i = 0; i < frames; i++) {
        double step = round(32768.0 * (double)wave[i]);

        kept[i] = (int16_t)fmax(-32768.0, fmin(32767.0, step));
        wave[i] = (float)kept[i] / 32768.0F;
    }
}

float sound_sample(const struct audio_clip *clip, uint32_t at)
{
    return (float)clip->sample[at] / 32768.0F;
}

static void put(uint8_t *at, uint32_t value, int bytes)
{
    for (int i = 0; i < bytes; i++)
        at[i] = (uint8_t)(value >> (8 * i));
}

static uint32_t get(const uint8_t *at)
{
    return (uint32_t)at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 |
           (uint32_t)at[3] << 24;
}

/* Owns: the file, and room for its samples from 44 on; the caller frees. */
static uint8_t *begin_wav(uint32_t rate_hz, uint16_t channels, uint32_t bytes,
                          uint32_t count)
{
    uint8_t *file = calloc(1, 44 + (size_t)count * bytes);

    assert_non_null(file);
    memcpy(file, "RIFF....WAVEfmt ", 16);
    put(file + 4, 36 + count * bytes, 4);
    put(file + 16, 16, 4);
    put(file + 20, 1, 2); /* PCM */
    put(file + 22, channels, 2);
    put(file + 24, rate_hz, 4);
    put(file + 28, rate_hz * channels * bytes, 4);
    put(file + 32, channels * bytes, 2);
    put(file + 34, 8 * bytes, 2);
    memcpy(file + 36, "data", 4);
    put(file + 40, count * bytes, 4);
    return file;
}

void sound_write_wav(const struct folder *folder, const char *name,
                     uint32_t rate_hz, uint16_t channels,
                     const int16_t *samples, uint32_t count)
{
    char path[FOLDER_PATH_SIZE];
    uint8_t *file = begin_wav(rate_hz, channels, 2, count);

    for (uint32_t i = 0; i < count; i++)
        put(file + 44 + 2 * (size_t)i, (uint16_t)samples[i], 2);
    (void)folder_write(folder, name, file, 44 + 2 * (size_t)count, path);
    free(file);
}

void sound_write_wav_bits(const struct folder *folder, const char *name,
                          int bits, const int32_t *samples, uint32_t count)
{
    /* Samples of 8 bits have no sign: silence is 128. */
    const uint32_t silence = bits == 8 ? 128 : 0;
    const int bytes = bits / 8;
    const size_t length = 44 + (size_t)bytes * count;
    char path[FOLDER_PATH_SIZE];
    uint8_t *file = begin_wav(AUDIO_RATE_HZ, 1, (uint32_t)bytes, count);

    for (uint32_t i = 0; i < count; i++)
        put(file + 44 + (size_t)bytes * i, (uint32_t)samples[i] + silence,
            bytes);
    (void)folder_write(folder, name, file, length, path);
    free(file);
}

int16_t *sound_read_wav(const char *path, uint32_t *count)
{
    size_t length;
    uint8_t *file = (uint8_t *)folder_read_file(path, &length);
    size_t at = 12;
    int16_t *samples;

    assert_true(length > 12 && memcmp(file, "RIFF", 4) == 0);
    assert_int_equal(get(file + 4), length - 8);
    while (at + 8 <= length && memcmp(file + at, "data", 4) != 0)
        at += 8 + get(file + at + 4);
    assert_true(at + 8 <= length);
    *count = get(file + at + 4) / 2;
    assert_true(at + 8 + *count * 2 <= length);
    samples = calloc(*count + 1, sizeof *samples);
    assert_non_null(samples);
    for (uint32_t i = 0; i < *count; i++) {
        const uint8_t *p = file + at + 8 + 2 * (size_t)i;

        samples[i] = (int16_t)(p[0] | p[1] << 8);
    }
    free(file);
    return samples;
}

unsigned sound_write_table(const struct folder *folder, const char *file)
{
    char path[FOLDER_PATH_SIZE];
    char text[CLIP_COUNT * 96];
    int used = 0;

    for (int i = 0; i < CLIP_COUNT; i++)
        used += snprintf(text + used, sizeof text - (size_t)used,
                         "%s\t%s\tword\t1.00\n",
                         callout_clip_name((enum callout_clip)i), file);
    (void)folder_write(folder, "cues.tsv", text, (size_t)used, path);
    return CLIP_COUNT;
}
