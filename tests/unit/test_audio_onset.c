/* test_audio_onset.c - a clip lies in the device's buffers at the very sample
 * that was asked for, at any rate of the device and any size of its buffers.
 *
 * The mixer runs at 48 kHz: an instant is rounded to its nearest sample, at
 * most 10.4 us away. Beside that nothing may be out of place: what a device of
 * another rate is given is compared with the wave itself, which is a formula,
 * taken at the device's own instants; for a word, with an interpolation by a
 * long windowed sinc in double precision; a device of 22.05 kHz has no room for
 * its highest sounds, which blurs its place by some 30 ns. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "../../daemon/audio/player.h"
#include "near.h"
#include "quarterturn/units.h"
#include "sound.h"

enum { WAVE = 4800, SPAN = 160000, MOST_BUFFER = 4096, PART_MS = 450 };

static const int64_t epoch_ns = INT64_C(5000000000123);
static const double latency_s = 0.025;
static const double rates_hz[] = {8000.0,  22050.0, 44100.0,
                                  48000.0, 96000.0, 192000.0};
enum { RATES = sizeof rates_hz / sizeof rates_hz[0] };

static float wave[WAVE];
static int16_t kept[WAVE];
static int16_t pulse[WAVE];
static struct audio_bank bank;
static struct audio_share share;
static struct audio_player player;
static float out[SPAN];
static float buffer[6 * MOST_BUFFER];
static uint32_t seed = 3;

/* A sound without corners, all of it between 1 and 2 kHz. */
static double sound(double t_s)
{
    const double long_s = (double)WAVE / AUDIO_RATE_HZ;
    double window;

    if (t_s <= 0.0 || t_s >= long_s)
        return 0.0;
    window = sin(UNITS_PI * t_s / long_s);
    return 0.7 * window * window * cos(2 * UNITS_PI * 1500.0 * t_s + 0.4);
}

static void begin(void)
{
    memset(&share, 0, sizeof share);
    audio_ring_init(&share.ring);
    audio_player_init(&player, &share, &bank);
}

static int set_up(void **state)
{
    (void)state;
    for (int i = 0; i < WAVE; i++)
        wave[i] = (float)sound((double)i / AUDIO_RATE_HZ);
    sound_keep(kept, wave, WAVE);
    bank = sound_bank(kept, WAVE, pulse, WAVE);
    begin();
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    audio_resampler_fini(&player.resampler);
    return 0;
}

static double draw(void)
{
    seed = seed * 1664525U + 1013904223U;
    return (double)seed / 4294967296.0;
}

/* An instant 200 to 300 ms after the first frame is heard, and the mixer's
 * frame that is nearest; never one that lies between two. */
static int64_t draw_start(int64_t *frame)
{
    for (;;) {
        int64_t after_ns = 200000000 + (int64_t)(100000000.0 * draw());
        double at = (double)after_ns * AUDIO_RATE_HZ / 1e9;

        if (fabs(at - floor(at) - 0.5) < 0.01)
            continue;
        *frame = llround(at);
        return epoch_ns + after_ns;
    }
}

static void submit(int64_t start_ns)
{
    struct audio_command command = {
        .start_ns = start_ns,
        .expiry_ns = start_ns + 100000000,
        .action = AUDIO_PLAY,
        .argument = CLIP_NINETY,
        .gain = 1.0F,
    };

    assert_true(audio_ring_push(&share.ring, &command));
}

/* Play from the first frame on; all channels must be alike.
 * size: of a buffer; 0: another one each time.
 * Returns: number of frames in out. */
static int64_t play(double rate_hz, uint32_t size, uint32_t channels)
{
    const int64_t end = (int64_t)(rate_hz * PART_MS / 1000.0);
    int64_t at = 0;

    assert_true(end + MOST_BUFFER <= SPAN);
    while (at < end) {
        int64_t heard_ns = epoch_ns + llround((double)at / rate_hz * 1e9);
        uint32_t frames = size > 0 ? size : 1 + (uint32_t)(200.0 * draw());

        audio_player_fill(&player, heard_ns - llround(latency_s * 1e9),
                          latency_s, buffer, frames);
        for (uint32_t i = 0; i < frames * channels; i++)
            assert_true(buffer[i] == buffer[i / channels * channels]);
        for (uint32_t i = 0; i < frames; i++)
            out[at + i] = buffer[i * channels];
        at += frames;
    }
    return at;
}

/* By how much what was played is off the wave: the worst of its samples, and
 * all of it in time, by least squares over the slope. */
struct off {
    double worst;
    double late_s;
};

static struct off measure(double start_s, double rate_hz, int64_t end)
{
    struct off off = {0.0, 0.0};
    double a = 0.0, b = 0.0;

    for (int64_t i = 0; i < end; i++) {
        double t_s = (double)i / rate_hz - start_s;
        double here = (double)out[i] - sound(t_s);
        double slope = (sound(t_s + 1e-7) - sound(t_s - 1e-7)) / 2e-7;

        off.worst = fmax(off.worst, fabs(here));
        a += here * slope;
        b += slope * slope;
    }
    off.late_s = -a / b;
    return off;
}

/* A clip's samples are rounded by half a step of 16 bits at most, 1.53e-5, and
 * so they are heard at 48 kHz. Between them a resampler may be another 2e-5
 * off, as for a wave that is not rounded; both together are 5 ns where the wave
 * is steepest. Rounding goes up and down alike: over the wave, 0.04 ns are
 * left of it. */
static void assert_in_place(int64_t start, double rate_hz, int64_t end)
{
    struct off off = measure((double)start / AUDIO_RATE_HZ, rate_hz, end);

    assert_true(off.worst < (rate_hz == AUDIO_RATE_HZ ? 1.53e-5 : 3.53e-5));
    assert_near(off.late_s, 0.0, 1e-10);
}

static void lies_at_its_sample_at_every_rate_of_a_device(void **state)
{
    static const uint32_t frames[] = {37, 0, 256, 441, 1023};

    (void)state;
    for (int r = 0; r < RATES; r++) {
        for (uint32_t trial = 0; trial < 20; trial++) {
            double rate_hz = rates_hz[r];
            /* Sixteen buffers must fit before the first start. */
            uint32_t size = frames[rate_hz < 90000.0 ? trial % 3 : trial % 5];
            uint32_t channels = (const uint32_t[]){1, 2, 6}[trial / 3 % 3];
            int64_t start, end;

            begin();
            assert_int_equal(
                audio_player_attach(&player, rate_hz, channels, 0.0), 0);
            submit(draw_start(&start));
            end = play(rate_hz, rate_hz < 9000.0 ? 37 : size, channels);
            assert_in_place(start, rate_hz, end);
            audio_resampler_fini(&player.resampler);
        }
    }
}

/* The wave one sample of the mixer later, as the test above must tell; and as
 * little as 1 ns, of all of it. */
static void tells_a_wave_that_is_late(void **state)
{
    int64_t start, end;
    double worst = 0.0;

    (void)state;
    for (int i = 0; i < WAVE; i++)
        worst = fmax(worst, fabs(sound((double)i / AUDIO_RATE_HZ) -
                                 sound((double)(i - 1) / AUDIO_RATE_HZ)));
    assert_true(worst > 0.1);
    for (int r = 0; r < RATES; r++) {
        begin();
        assert_int_equal(audio_player_attach(&player, rates_hz[r], 1, 0.0), 0);
        submit(draw_start(&start));
        end = play(rates_hz[r], 37, 1);
        assert_near(
            measure((double)start / AUDIO_RATE_HZ - 1e-9, rates_hz[r], end)
                .late_s,
            1e-9, 1e-10);
        audio_resampler_fini(&player.resampler);
    }
}

/* Kaiser's window of 64 samples to each side; the voice has nothing of note
 * above 8 kHz, so that no rate but the lowest has anything to cut off. */
static double sinc_at(const struct audio_clip *clip, double position)
{
    const double half = 64.0;
    double sum = 0.0;

    for (int64_t n = (int64_t)ceil(position - half);
         (double)n < position + half; n++) {
        double d = position - (double)n, u = d / half, i0 = 1.0, term = 1.0;

        if (n < 0 || n >= clip->frames)
            continue;
        for (int k = 1; k < 20; k++) {
            double x = 4.0 * sqrt(fmax(0.0, 1.0 - u * u)) / k;

            term *= x * x;
            i0 += term;
        }
        sum += (double)sound_sample(clip, (uint32_t)n) * i0 /
               427.56411572 * /* I0(8) */
               (fabs(d) < 1e-9 ? 1.0 : sin(UNITS_PI * d) / (UNITS_PI * d));
    }
    return sum;
}

/* By how much a word is out of place, s: least squares over its slope. */
static double delay_s(const struct audio_clip *clip, int64_t start,
                      double rate_hz, int64_t end)
{
    double a = 0.0, b = 0.0;

    for (int64_t i = 0; i < end; i++) {
        double position = (double)i * AUDIO_RATE_HZ / rate_hz - (double)start;
        double here, slope;

        if (position < 0.0 || position > clip->frames)
            continue;
        here = sinc_at(clip, position);
        slope =
            (sinc_at(clip, position + 0.05) - sinc_at(clip, position - 0.05)) *
            AUDIO_RATE_HZ / 0.1;
        a += ((double)out[i] - here) * slope;
        b += slope * slope;
    }
    return -a / b;
}

static void says_a_word_at_its_sample_at_every_rate_of_a_device(void **state)
{
    struct audio_bank voice;
    char why[800];

    (void)state;
    assert_int_equal(audio_bank_load("sounds/voice", &voice, why, sizeof why),
                     0);
    for (int r = 1; r < RATES; r++) {
        int64_t start, end;

        begin();
        audio_mixer_init(&player.mixer, &voice);
        assert_int_equal(audio_player_attach(&player, rates_hz[r], 1, 0.0), 0);
        submit(draw_start(&start));
        end = play(rates_hz[r], 128, 1);
        /* What is first heard of it lies at the instant. */
        start -= voice.clip[CLIP_NINETY].head_frames;
        assert_near(delay_s(&voice.clip[CLIP_NINETY], start, rates_hz[r], end),
                    0.0, rates_hz[r] < 44100.0 ? 1e-7 : 5e-9);
        audio_resampler_fini(&player.resampler);
    }
    audio_bank_free(&voice);
}

/* The counters stand where they do after 300 days. */
static void lies_at_its_sample_after_many_days(void **state)
{
    const int64_t days_s = INT64_C(300) * 86400;

    (void)state;
    for (int r = 0; r < RATES; r++) {
        int64_t start, end;

        begin();
        assert_int_equal(audio_player_attach(&player, rates_hz[r], 1, 0.0), 0);
        player.mixed_frames = days_s * AUDIO_RATE_HZ;
        player.device_frames = days_s * (int64_t)rates_hz[r];
        submit(draw_start(&start));
        end = play(rates_hz[r], 64, 1);
        assert_in_place(start, rates_hz[r], end);
        audio_resampler_fini(&player.resampler);
    }
}

/* A device that ends is followed by one of another rate. */
static void keeps_the_instant_on_the_device_after_the_first(void **state)
{
    int64_t start, end;

    (void)state;
    assert_int_equal(audio_player_attach(&player, 44100.0, 2, 0.0), 0);
    (void)play(44100.0, 256, 2);
    assert_int_equal(audio_player_attach(&player, 96000.0, 1, 0.0), 0);
    submit(draw_start(&start));
    end = play(96000.0, 256, 1);
    assert_in_place(start, 96000.0, end);
}

/* Square waves, the worst there is between samples. */
static void never_leaves_full_scale_at_any_rate(void **state)
{
    (void)state;
    for (int i = 0; i < WAVE; i++)
        kept[i] = i / 3 % 2 ? INT16_MAX : INT16_MIN;
    for (int r = 0; r < RATES; r++) {
        float most = 0.0F;
        int64_t start, end;

        begin();
        assert_int_equal(audio_player_attach(&player, rates_hz[r], 1, 0.0), 0);
        submit(draw_start(&start));
        end = play(rates_hz[r], 37, 1);
        for (int64_t i = 0; i < end; i++)
            most = fmaxf(most, fabsf(out[i]));
        assert_true(most <= 1.0F);
        assert_true(most > 0.1F);
        audio_resampler_fini(&player.resampler);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(
            lies_at_its_sample_at_every_rate_of_a_device, set_up, tear_down),
        cmocka_unit_test_setup_teardown(tells_a_wave_that_is_late, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(
            says_a_word_at_its_sample_at_every_rate_of_a_device, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(lies_at_its_sample_after_many_days,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            keeps_the_instant_on_the_device_after_the_first, set_up, tear_down),
        cmocka_unit_test_setup_teardown(never_leaves_full_scale_at_any_rate,
                                        set_up, tear_down),
    };

    return cmocka_run_group_tests_name("onset", tests, NULL, NULL) != 0;
}
