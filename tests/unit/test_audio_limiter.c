/* test_audio_limiter.c - what is too loud together is held below the ceiling,
 * with little distortion, and what is not is left alone. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/units.h"
#include "sound.h"

enum { CLIP = 96000, SPAN = 120000, PULSE = 4800 };

/* The highest peak that EBU R 128 allows, -1 dB of full scale. */
static const double ceiling = 0.8912510;

static float first[CLIP];
static float second[CLIP];
static float pulse[PULSE];
static int16_t kept_first[CLIP];
static int16_t kept_second[CLIP];
static int16_t kept_pulse[PULSE];
static struct audio_bank bank;
static struct audio_mixer mixer;
static float out[SPAN];
static uint32_t seed;

static void sine(float *wave, double level, double hz)
{
    for (int i = 0; i < CLIP; i++)
        wave[i] = (float)(level * sin(2 * UNITS_PI * hz * i / AUDIO_RATE_HZ));
}

static int set_up(void **state)
{
    (void)state;
    seed = 7;
    memset(pulse, 0, sizeof pulse);
    bank = sound_bank(kept_first, CLIP, kept_pulse, PULSE);
    bank.clip[CLIP_STALL].sample = kept_second;
    audio_mixer_init(&mixer, &bank);
    return 0;
}

static double noise(void)
{
    seed = seed * 1664525U + 1013904223U;
    return (double)seed / 2147483648.0 - 1.0;
}

static void say(enum callout_clip clip, uint32_t sequence, int64_t frame)
{
    struct audio_command command = {.action = AUDIO_PLAY,
                                    .argument = (uint16_t)clip,
                                    .sequence = sequence,
                                    .gain = 1.0F};

    assert_true(audio_mixer_command(&mixer, &command, frame, frame));
}

static void sound_the_tone(int64_t frame)
{
    struct audio_command command = {
        .action = AUDIO_TONE, .argument = 3, .gain = 1.0F};

    assert_true(audio_mixer_command(&mixer, &command, frame, frame));
}

/* The waves become what is kept of them. */
static void render(uint32_t block)
{
    sound_keep(kept_first, first, CLIP);
    sound_keep(kept_second, second, CLIP);
    sound_keep(kept_pulse, pulse, PULSE);
    for (int64_t at = 0; at < SPAN; at += block) {
        uint32_t left = (uint32_t)(SPAN - at);

        audio_mixer_render(&mixer, at, out + at, left < block ? left : block);
    }
}

static double peak(int64_t from, int64_t to)
{
    float most = 0.0F;

    for (int64_t i = from; i < to; i++)
        most = fmaxf(most, fabsf(out[i]));
    return (double)most;
}

/* Power of one tone in a second of sound; hz is whole, so that tones of other
 * whole frequencies do not count. */
static double tone_power(int64_t from, double hz)
{
    double a = 0.0, b = 0.0;

    for (int64_t i = 0; i < AUDIO_RATE_HZ; i++) {
        double phase = 2 * UNITS_PI * hz * (double)i / AUDIO_RATE_HZ;

        a += (double)out[from + i] * cos(phase);
        b += (double)out[from + i] * sin(phase);
    }
    return 2.0 * (a * a + b * b) / AUDIO_RATE_HZ / AUDIO_RATE_HZ;
}

/* All that is neither tone, against all there is, dB. */
static double distortion_db(int64_t from, double hz, double other_hz)
{
    double all = 0.0;
    double tones = tone_power(from, hz) + tone_power(from, other_hz);

    for (int64_t i = 0; i < AUDIO_RATE_HZ; i++)
        all += (double)out[from + i] * (double)out[from + i] / AUDIO_RATE_HZ;
    return 10.0 * log10(fmax((all - tones) / all, 1e-15));
}

static void leaves_alone_what_stays_below_the_ceiling(void **state)
{
    (void)state;
    for (int i = 0; i < CLIP; i++) {
        first[i] = (float)(0.5 * noise());
        second[i] = (float)(0.39 * noise());
    }
    say(CLIP_NINETY, 1, 100);
    say(CLIP_STALL, 2, 7100);
    render(256);
    for (int i = 0; i < SPAN; i++) {
        float sum = 0.0F;

        if (i >= 100 && i < 100 + CLIP)
            sum += first[i - 100];
        if (i >= 7100 && i < 7100 + CLIP)
            sum += second[i - 7100];
        assert_true(out[i] == sum);
    }
    assert_true(peak(0, SPAN) > 0.88);
}

static void never_lets_a_sample_above_the_ceiling(void **state)
{
    static const uint32_t block[] = {1, 64, 441, 256, 4096};

    for (int trial = 0; trial < 5; trial++) {
        (void)set_up(state);
        /* Noise; a square wave; a ramp that grows; all at full scale. */
        for (int i = 0; i < CLIP; i++) {
            first[i] = (float)(trial % 2 == 0 ? noise()
                               : i / 50 % 2   ? 1.0
                                              : -1.0);
            second[i] = (float)(noise() * i / CLIP);
        }
        for (int i = 0; i < PULSE; i++)
            pulse[i] = (float)noise();
        sound_the_tone(10);
        for (uint32_t i = 1; i < AUDIO_VOICES; i++)
            say(i % 2 ? CLIP_NINETY : CLIP_STALL, i, 1000 * i);
        render(block[trial]);
        assert_true(peak(0, SPAN) <= ceiling);
        assert_true(peak(0, SPAN) > 0.999 * ceiling);
    }
}

/* A pair that together is 5 dB too loud, once it has been heard for 50 ms. */
static void distorts_a_pair_of_loud_tones_little(void **state)
{
    static const double pair[][2] = {
        {440.0, 1000.0}, {100.0, 3000.0}, {997.0, 1499.0}};

    for (int i = 0; i < 3; i++) {
        (void)set_up(state);
        sine(first, 0.8, pair[i][0]);
        sine(second, 0.8, pair[i][1]);
        say(CLIP_NINETY, 1, 0);
        say(CLIP_STALL, 2, 0);
        render(256);
        assert_true(distortion_db(2400, pair[i][0], pair[i][1]) < -40.0);
        assert_true(peak(2400, CLIP) <= ceiling);
    }
}

static void lets_go_after_a_loud_moment(void **state)
{
    enum { LOUD = 24000, HOLD = 960, RISE = 4800 };

    (void)state;
    sine(first, 0.6, 300.0);
    sine(second, 0.6, 300.0);
    bank.clip[CLIP_STALL].frames = LOUD;
    say(CLIP_NINETY, 1, 0);
    say(CLIP_STALL, 2, 0);
    render(256);
    /* The last loud peak stands within half a period of 160 frames; this is a
     * peak too. */
    assert_true(fabsf(out[LOUD + HOLD - 120]) <
                0.99F * fabsf(first[LOUD + HOLD - 120]));
    for (int i = LOUD + HOLD + RISE; i < CLIP; i++)
        assert_true(out[i] == first[i]);
    /* And rises without a step. */
    for (int i = LOUD; i < LOUD + HOLD + RISE; i++) {
        if (fabsf(first[i]) > 0.1F && fabsf(first[i + 1]) > 0.1F)
            assert_near((double)(out[i + 1] / first[i + 1]),
                        (double)(out[i] / first[i]), 1.0 / 4800 + 1e-5);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(leaves_alone_what_stays_below_the_ceiling,
                               set_up),
        cmocka_unit_test_setup(never_lets_a_sample_above_the_ceiling, set_up),
        cmocka_unit_test_setup(distorts_a_pair_of_loud_tones_little, set_up),
        cmocka_unit_test_setup(lets_go_after_a_loud_moment, set_up),
    };

    return cmocka_run_group_tests_name("limiter", tests, NULL, NULL) != 0;
}
