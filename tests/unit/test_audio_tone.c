/* test_audio_tone.c - the near-stall tone: its rate, and speech above it. */
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

enum { PULSE = 4800, SPEECH = 30000, SPAN = 240000, MOST_PULSES = 64 };

/* Speech is silence here, so that all that is heard is the tone. */
static const int16_t speech[SPEECH];
static int16_t pulse[PULSE];
static struct audio_bank bank;
static struct audio_mixer mixer;
static float out[SPAN];

static int set_up(void **state)
{
    (void)state;
    for (int i = 0; i < PULSE; i++)
        pulse[i] = AUDIO_FULL_SCALE / 2;
    bank = sound_bank(speech, SPEECH, pulse, PULSE);
    audio_mixer_init(&mixer, &bank);
    memset(out, 0, sizeof out);
    return 0;
}

static void tone(uint16_t band, int64_t start)
{
    struct audio_command command = {
        .action = AUDIO_TONE, .argument = band, .gain = 1.0F};

    assert_true(audio_mixer_command(&mixer, &command, start, 0));
}

static void say(int64_t start)
{
    struct audio_command command = {
        .action = AUDIO_PLAY, .argument = CLIP_NINETY, .gain = 1.0F};

    assert_true(audio_mixer_command(&mixer, &command, start, start));
}

static void render(void)
{
    for (int64_t at = 0; at < SPAN; at += 256)
        audio_mixer_render(&mixer, at, out + at,
                           SPAN - at < 256 ? (uint32_t)(SPAN - at) : 256);
}

/* Frames at which sound begins after silence. */
static int onsets(int64_t frame[MOST_PULSES])
{
    int count = 0;

    for (int64_t i = 0; i < SPAN && count < MOST_PULSES; i++) {
        if (out[i] != 0.0F && (i == 0 || out[i - 1] == 0.0F))
            frame[count++] = i;
    }
    return count;
}

static void repeats_the_pulse_at_the_period_of_each_band(void **state)
{
    static const int64_t period[] = {0, 38400, 19200, 9600};
    int64_t frame[MOST_PULSES];

    for (uint16_t band = 1; band <= 3; band++) {
        int count;

        (void)set_up(state);
        tone(band, 777);
        render();
        count = onsets(frame);
        assert_int_equal(count, (SPAN - 777 + period[band] - 1) / period[band]);
        for (int i = 0; i < count; i++)
            assert_int_equal(frame[i], 777 + i * period[band]);
    }
}

static void quickens_from_the_last_pulse_on(void **state)
{
    int64_t frame[MOST_PULSES];

    (void)state;
    tone(1, 0);
    tone(3, 12000);
    tone(1, 23000);
    render();
    assert_true(onsets(frame) > 4);
    assert_int_equal(frame[0], 0);
    assert_int_equal(frame[1], 12000); /* 9600 has passed: at once */
    assert_int_equal(frame[2], 12000 + 9600);
    assert_int_equal(frame[3], 21600 + 38400);
}

static void waits_for_its_own_pulse_before_the_next(void **state)
{
    int64_t frame[MOST_PULSES];

    (void)state;
    tone(1, 0);
    tone(0, 1000);
    tone(2, 2000);
    render();
    /* The first pulse goes on to its end, and the next joins it there. */
    assert_true(onsets(frame) > 1);
    assert_int_equal(frame[0], 0);
    for (int i = 0; i < 2 * PULSE; i++)
        assert_true(out[i] == 0.5F);
    assert_true(out[2 * PULSE] == 0.0F);
    assert_int_equal(frame[1], PULSE + 19200);
}

static void falls_silent_at_band_zero_without_cutting_a_pulse(void **state)
{
    (void)state;
    tone(3, 0);
    tone(0, 9600 + 100);
    render();
    for (int i = 0; i < PULSE; i++)
        assert_true(out[9600 + i] == 0.5F);
    for (int i = 9600 + PULSE; i < SPAN; i++)
        assert_true(out[i] == 0.0F);
    assert_true(audio_mixer_idle(&mixer));
}

static void keeps_its_rhythm_when_the_band_is_told_again(void **state)
{
    int64_t frame[MOST_PULSES];

    (void)state;
    tone(2, 0);
    tone(2, 5000);
    tone(2, 19000);
    render();
    assert_true(onsets(frame) > 2);
    assert_int_equal(frame[1], 19200);
    assert_int_equal(frame[2], 38400);
}

static void stands_nine_decibels_lower_under_speech(void **state)
{
    (void)state;
    tone(3, 0);
    say(8000);
    render();
    assert_near(out[0], 0.5, 1e-6);
    assert_near(20 * log10((double)out[9600] / 0.5), -9.0, 0.01);
    assert_near(20 * log10((double)out[28800 + PULSE - 1] / 0.5), -9.0, 0.01);
    /* Speech ends at 38000; the hold and the rise take 200 ms. */
    assert_near(out[48000 + 4800 - 1], 0.5, 1e-4);
}

static void ducks_without_a_click(void **state)
{
    double most = 0.0;

    (void)state;
    tone(3, 0);
    say(1000); /* in the middle of a pulse */
    say(60000);
    render();
    for (int i = 1; i < SPAN; i++) {
        if (out[i] != 0.0F && out[i - 1] != 0.0F)
            most = fmax(most, fabs((double)out[i] - (double)out[i - 1]));
    }
    assert_true(most > 0.0);
    assert_true(most < 0.5 * 0.65 * UNITS_PI / 2 / 480 * 1.01);
}

static void stays_low_between_the_clips_of_a_call(void **state)
{
    float most = 0.0F;

    (void)state;
    tone(3, 0);
    say(4000);
    say(4000 + SPEECH + 1920); /* 40 ms later */
    render();
    /* In float: gcc 12 for arm64 fails over the maximum in double. */
    for (int i = 6000; i < 60000; i++)
        most = fmaxf(most, out[i]);
    assert_near(20 * log10((double)most / 0.5), -9.0, 0.01);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(repeats_the_pulse_at_the_period_of_each_band,
                               set_up),
        cmocka_unit_test_setup(quickens_from_the_last_pulse_on, set_up),
        cmocka_unit_test_setup(waits_for_its_own_pulse_before_the_next, set_up),
        cmocka_unit_test_setup(
            falls_silent_at_band_zero_without_cutting_a_pulse, set_up),
        cmocka_unit_test_setup(keeps_its_rhythm_when_the_band_is_told_again,
                               set_up),
        cmocka_unit_test_setup(stands_nine_decibels_lower_under_speech, set_up),
        cmocka_unit_test_setup(ducks_without_a_click, set_up),
        cmocka_unit_test_setup(stays_low_between_the_clips_of_a_call, set_up),
    };

    return cmocka_run_group_tests_name("near-stall tone", tests, NULL, NULL) !=
           0;
}
