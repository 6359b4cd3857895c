/* test_audio_voice.c - the voice that is shipped, and how voices are
 * judged. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../../daemon/audio/table.h"
#include "folder.h"
#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/units.h"
#include "sound.h"

enum { MOST_LINES = 200, LINE = 800, SECOND = AUDIO_RATE_HZ, PULSE = 4800 };

static const char shipped[] = "sounds/voice";

static char said[MOST_LINES][LINE];
static int said_count;

static void hear(void *context, const char *line)
{
    (void)context;
    if (said_count < MOST_LINES)
        (void)snprintf(said[said_count++], LINE, "%s", line);
}

static int set_up(void **state)
{
    (void)state;
    said_count = 0;
    return 0;
}

static bool was_said(const char *part)
{
    for (int i = 0; i < said_count; i++) {
        if (strstr(said[i], part) != NULL)
            return true;
    }
    return false;
}

static void shipped_voice_has_nothing_to_complain_of(void **state)
{
    (void)state;
    assert_int_equal(audio_voice_check(shipped, hear, NULL), 0);
    assert_int_equal(said_count, 0);
}

static void shipped_clips_begin_at_once_and_are_short(void **state)
{
    struct audio_bank bank;
    char why[LINE];

    (void)state;
    assert_int_equal(audio_bank_load(shipped, &bank, why, sizeof why), 0);
    for (int i = 0; i < CLIP_COUNT; i++) {
        const struct audio_clip *clip = &bank.clip[i];
        uint32_t onset = 0;

        while (onset < clip->frames && fabsf(sound_sample(clip, onset)) < 0.01F)
            onset++;
        assert_true(onset <= 480); /* 10 ms */
        assert_true(clip->frames >= 4800);
        assert_true(clip->frames <= 43200); /* 0.9 s */
    }
    assert_int_equal(bank.clip[CLIP_NEAR_STALL].frames, PULSE);
    audio_bank_free(&bank);
}

/* Power of a pulse at one frequency, against all of it. */
static double part_at(const float pulse[PULSE], double hz)
{
    double re = 0.0;
    double im = 0.0;
    double all = 0.0;

    for (uint32_t i = 0; i < PULSE; i++) {
        double phase = 2 * UNITS_PI * hz * i / AUDIO_RATE_HZ;

        re += (double)pulse[i] * cos(phase);
        im += (double)pulse[i] * sin(phase);
        all += (double)pulse[i] * (double)pulse[i];
    }
    return 2.0 * (re * re + im * im) / (all * PULSE);
}

/* MIL-STD-1472E, 5.3.3.1.1: audio signals between 200 and 5,000 Hz,
 * preferably 500 to 3,000 Hz. FAA human factors guidance: 500 to 5,000 Hz
 * with four components or more. */
static void
near_stall_pulse_has_six_harmonics_in_the_band_of_alerts(void **state)
{
    static float pulse[PULSE];
    struct audio_bank bank;
    char why[LINE];
    double sum = 0.0;
    int strong = 0;

    (void)state;
    assert_int_equal(audio_bank_load(shipped, &bank, why, sizeof why), 0);
    assert_int_equal(bank.clip[CLIP_NEAR_STALL].frames, PULSE);
    for (uint32_t i = 0; i < PULSE; i++)
        pulse[i] = sound_sample(&bank.clip[CLIP_NEAR_STALL], i);
    for (int harmonic = 1; harmonic <= 6; harmonic++) {
        double part = part_at(pulse, 554.0 * harmonic);

        sum += part;
        strong += part > 0.03 ? 1 : 0;
    }
    assert_int_equal(strong, 6);
    /* The attack and the decay spread the rest around these six. */
    assert_true(sum > 0.7);
    assert_true(part_at(pulse, 831.0) < 0.01);
    audio_bank_free(&bank);
}

/* What the mixer makes of the near-stall tone in the shipped voice. */
static void render_tone(const struct audio_bank *bank, uint16_t band,
                        float *out, uint32_t frames)
{
    static struct audio_mixer mixer;
    struct audio_command command = {
        .action = AUDIO_TONE, .argument = band, .gain = 1.0F};

    audio_mixer_init(&mixer, bank);
    assert_true(audio_mixer_command(&mixer, &command, 0, 0));
    audio_mixer_render(&mixer, 0, out, frames);
}

/* Frames at which sound begins after 50 ms of silence; at most four. */
static int pulses_in(const float *out, uint32_t frames, uint32_t begins[4])
{
    uint32_t quiet = SECOND / 20;
    int count = 0;

    for (uint32_t i = 0; i < frames; i++) {
        if (fabsf(out[i]) <= 0.01F) {
            quiet++;
            continue;
        }
        if (quiet >= SECOND / 20 && count < 4)
            begins[count++] = i;
        quiet = 0;
    }
    return count;
}

/* MIL-STD-1472E, 5.3.4.3.3: the first half second of a signal must tell it from
 * the others. */
static void tone_bands_are_told_apart_in_their_first_half_second(void **state)
{
    static const uint32_t period[] = {0, 0, 19200, 9600};
    static float out[SECOND / 2];
    struct audio_bank bank;
    char why[LINE];

    (void)state;
    assert_int_equal(audio_bank_load(shipped, &bank, why, sizeof why), 0);
    for (uint16_t band = 1; band <= 3; band++) {
        uint32_t begins[4];
        int count;

        render_tone(&bank, band, out, SECOND / 2);
        count = pulses_in(out, SECOND / 2, begins);
        assert_int_equal(count, band); /* one pulse, two or three */
        for (int i = 1; i < count; i++)
            assert_int_equal(begins[i] - begins[i - 1], period[band]);
    }
    audio_bank_free(&bank);
}

/* MIL-STD-1472E, 5.3.3.1.1: preferably 500 to 3,000 Hz. FAA human factors
 * guidance: four components or more. Looked for, not known beforehand. */
static void tone_has_four_components_from_500_to_3000_hz(void **state)
{
    enum { LOW_HZ = 500, HIGH_HZ = 3000, STEP_HZ = 10 };
    static float out[SECOND / 2];
    struct audio_bank bank;
    char why[LINE];

    (void)state;
    assert_int_equal(audio_bank_load(shipped, &bank, why, sizeof why), 0);
    for (uint16_t band = 1; band <= 3; band++) {
        int components = 0;

        render_tone(&bank, band, out, SECOND / 2);
        for (int hz = LOW_HZ; hz <= HIGH_HZ; hz += STEP_HZ) {
            double part = part_at(out, hz);

            components += part > 0.03 && part > part_at(out, hz - STEP_HZ) &&
                                  part >= part_at(out, hz + STEP_HZ)
                              ? 1
                              : 0;
        }
        assert_true(components >= 4);
    }
    audio_bank_free(&bank);
}

/* Recommendation ITU-R BS.1770-4, Annex 1: "If a 0 dB FS, 1 kHz (997 Hz to
 * be exact) sine wave is applied to the left, centre, or right channel input,
 * the indicated loudness will equal -3.01 LKFS." */
static void measures_the_loudness_of_the_standards_own_sine(void **state)
{
    static float sine[SECOND];

    (void)state;
    for (int i = 0; i < SECOND; i++)
        sine[i] = (float)sin(2 * UNITS_PI * 997.0 * i / AUDIO_RATE_HZ);
    assert_near(audio_loudness_lufs(sine, SECOND), -3.01, 0.01);
    for (int i = 0; i < SECOND; i++)
        sine[i] *= 0.1F;
    assert_near(audio_loudness_lufs(sine, SECOND), -23.01, 0.01);
}

/* A voice of one file for all clips, judged. faded: over half a millisecond
 * at both ends. */
static void judge_as(const int16_t *clip, uint32_t count, bool faded)
{
    enum { FADE = 24 };
    static int16_t samples[2 * SECOND];
    struct folder folder = {0};

    memcpy(samples, clip, count * sizeof *samples);
    for (uint32_t i = 0; faded && i < FADE; i++) {
        samples[i] = (int16_t)(samples[i] * (int)i / FADE);
        samples[count - 1 - i] =
            (int16_t)(samples[count - 1 - i] * (int)i / FADE);
    }
    folder_make(&folder);
    said_count = 0;
    sound_write_wav(&folder, "word.wav", AUDIO_RATE_HZ, 1, samples, count);
    (void)sound_write_table(&folder, "word.wav");
    (void)audio_voice_check(folder.path, hear, NULL);
    folder_remove(&folder);
}

static void judge(const int16_t *clip, uint32_t count)
{
    judge_as(clip, count, true);
}

static int16_t tone_at(uint32_t i, double level)
{
    return (int16_t)lround(32767 * level *
                           sin(2 * UNITS_PI * 997.0 * i / AUDIO_RATE_HZ));
}

static void finds_each_fault_of_a_clip(void **state)
{
    static int16_t samples[2 * SECOND];
    /* -20 LUFS by the standard's sine: -16.99 dB of full scale. */
    const double right = pow(10.0, -16.99 / 20.0);

    (void)state;
    for (uint32_t i = 0; i < 7200; i++)
        samples[i] = tone_at(i, right);
    judge(samples, 7200);
    assert_int_equal(said_count, 0);
    for (uint32_t i = 0; i < 7200; i++)
        samples[i] = tone_at(i, right / 2);
    judge(samples, 7200);
    assert_true(was_said("word.wav: is too quiet: -26.0 LUFS; -21 to -19 is "
                         "wanted"));
    for (uint32_t i = 0; i < 7200; i++)
        samples[i] = tone_at(i, right * 2);
    judge(samples, 7200);
    assert_true(was_said("word.wav: is too loud: -14.0 LUFS"));
    for (uint32_t i = 0; i < 2 * SECOND; i++)
        samples[i] = tone_at(i, right);
    judge(samples, 48000);
    assert_true(was_said("word.wav: lasts 1.00 s; at most 0.90 s"));
    assert_true(was_said("word.wav: lasts 1.00 s; at most 0.20 s"));
    judge(samples, 1200);
    assert_true(was_said("word.wav: lasts 0.025 s; at least 0.05 s"));
    memset(samples, 0, 960 * sizeof samples[0]);
    judge(samples, 9600);
    assert_true(was_said("word.wav: begins with 20 ms of silence; at most 10"));
    memset(samples, 0, sizeof samples);
    judge(samples, 7200);
    assert_true(was_said("word.wav: is silent"));
    for (uint32_t i = 0; i < 7200; i++)
        samples[i] = tone_at(i, right);
    samples[300] = 32000;
    judge(samples, 7200);
    assert_true(was_said("word.wav: has a peak of -0.2 dB; at most -1.0 dB"));
    samples[300] = samples[301] = samples[302] = 32767;
    judge(samples, 7200);
    assert_true(was_said("word.wav: is clipped"));
}

static void finds_a_clip_that_begins_or_ends_with_a_click(void **state)
{
    static int16_t samples[SECOND];
    const double right = pow(10.0, -16.99 / 20.0);

    (void)state;
    for (uint32_t i = 0; i < 7200; i++)
        samples[i] = tone_at(i + 12, right);
    judge_as(samples, 7200, true);
    assert_int_equal(said_count, 0);
    judge_as(samples, 7200, false);
    assert_true(was_said("word.wav: begins in the middle of a wave, with a "
                         "click; fade it in"));
    assert_true(was_said("word.wav: ends in the middle of a wave, with a "
                         "click; fade it out"));
    assert_int_equal(said_count, 2 * CLIP_COUNT);
    for (uint32_t i = 0; i < 24; i++)
        samples[i] = (int16_t)(samples[i] * (int)i / 24);
    judge_as(samples, 7200, false);
    assert_false(was_said("begins in the middle"));
    assert_true(was_said("ends in the middle"));
}

static void finds_every_fault_of_a_table_and_not_only_the_first(void **state)
{
    struct folder folder = {0};
    int findings;
    char path[FOLDER_PATH_SIZE];
    const char *text = "stall\tgone.wav\tstall\t1.00\nwhat\n\n"
                       "feet\t/etc/passwd\tfeet\t1.00\n";

    (void)state;
    folder_make(&folder);
    (void)folder_write(&folder, "cues.tsv", text, strlen(text), path);
    findings = audio_voice_check(folder.path, hear, NULL);
    assert_int_equal(findings, said_count);
    assert_true(was_said("/cues.tsv:2: too few columns"));
    assert_true(was_said("/cues.tsv:4: file \"/etc/passwd\""));
    assert_true(was_said("without a row for clip \"n90\""));
    assert_true(was_said("/gone.wav: there is no such file"));
    assert_int_equal(said_count, 2 + CLIP_COUNT - 1 + 1);
    folder_remove(&folder);
    said_count = 0;
    assert_int_equal(audio_voice_check("/nowhere", hear, NULL), ERR_ABSENT);
    assert_int_equal(said_count, 1);
}

#define CASE(name) cmocka_unit_test_setup(name, set_up)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(shipped_voice_has_nothing_to_complain_of),
        CASE(shipped_clips_begin_at_once_and_are_short),
        CASE(near_stall_pulse_has_six_harmonics_in_the_band_of_alerts),
        CASE(tone_bands_are_told_apart_in_their_first_half_second),
        CASE(tone_has_four_components_from_500_to_3000_hz),
        CASE(measures_the_loudness_of_the_standards_own_sine),
        CASE(finds_each_fault_of_a_clip),
        CASE(finds_a_clip_that_begins_or_ends_with_a_click),
        CASE(finds_every_fault_of_a_table_and_not_only_the_first),
    };

    return cmocka_run_group_tests_name("voice", tests, NULL, NULL) != 0;
}
