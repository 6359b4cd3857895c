/* test_audio_mixer.c - clips start on their frame, and nothing clicks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/units.h"
#include "sound.h"

enum { WAVE = 6000, PULSE = 4800, SPAN = 48000 };

static int16_t kept[WAVE];
static float wave[WAVE]; /* what is heard of it */
static int16_t pulse[PULSE];
static struct audio_bank bank;
static struct audio_mixer mixer;
static float out[SPAN];

/* A sine, so that a jump cannot hide; never 0 at its first sample. */
static int set_up(void **state)
{
    (void)state;
    for (int i = 0; i < WAVE; i++)
        wave[i] = 0.8F * (float)cos(2 * UNITS_PI * 300.0 * i / AUDIO_RATE_HZ);
    sound_keep(kept, wave, WAVE);
    memset(pulse, 0, sizeof pulse);
    bank = sound_bank(kept, WAVE, pulse, PULSE);
    audio_mixer_init(&mixer, &bank);
    return 0;
}

static struct audio_command play(uint32_t sequence)
{
    return (struct audio_command){.sequence = sequence,
                                  .action = AUDIO_PLAY,
                                  .argument = CLIP_NINETY,
                                  .gain = 1.0F};
}

static bool submit(struct audio_command command, int64_t start)
{
    return audio_mixer_command(&mixer, &command, start, start + 4800);
}

static void render(int64_t first, int64_t frames, uint32_t block)
{
    for (int64_t at = 0; at < frames; at += block) {
        uint32_t now = frames - at < block ? (uint32_t)(frames - at) : block;

        audio_mixer_render(&mixer, first + at, out + at, now);
    }
}

/* Frame of the first sound in [from, to), or to. */
static int64_t first_sound(int64_t from, int64_t to)
{
    while (from < to && out[from] == 0.0F)
        from++;
    return from;
}

static void starts_a_clip_on_its_very_frame(void **state)
{
    static const int64_t start[] = {0, 1, 255, 256, 257, 511, 12345};
    static const uint32_t block[] = {1, 64, 256, 1000, SPAN};

    for (size_t b = 0; b < sizeof block / sizeof block[0]; b++) {
        for (size_t s = 0; s < sizeof start / sizeof start[0]; s++) {
            (void)set_up(state);
            assert_true(submit(play(1), start[s]));
            render(0, 24000, block[b]);
            assert_int_equal(first_sound(0, 24000), start[s]);
            assert_memory_equal(out + start[s], wave, sizeof wave);
            assert_int_equal(first_sound(start[s] + WAVE, 24000), 24000);
            assert_int_equal(mixer.dropped, 0);
        }
    }
}

static void sounds_the_same_in_any_size_of_buffer(void **state)
{
    static float once[SPAN];
    static const uint32_t block[] = {1, 37, 256, 4096};
    struct audio_command cut = {.sequence = 3, .action = AUDIO_CUT};
    struct audio_command tone = {
        .action = AUDIO_TONE, .argument = 3, .gain = 1.0F};

    for (int i = 0; i < PULSE; i++)
        pulse[i] =
            (int16_t)lround(0.3 * AUDIO_FULL_SCALE * sin(UNITS_PI * i / PULSE));
    for (size_t b = 0; b < sizeof block / sizeof block[0]; b++) {
        audio_mixer_init(&mixer, &bank);
        assert_true(submit(tone, 101));
        assert_true(submit(play(1), 2000));
        assert_true(submit(play(2), 5003));
        assert_true(submit(cut, 7001));
        assert_true(submit(play(3), 7001));
        render(0, SPAN, block[b]);
        if (b == 0)
            memcpy(once, out, sizeof once);
        assert_memory_equal(out, once, sizeof once);
    }
    (void)state;
}

static void fades_without_a_click_when_a_higher_rank_cuts_in(void **state)
{
    static float fade[SPAN];
    struct audio_command cut = {.sequence = 2, .action = AUDIO_CUT};
    double most_step = 0.0;

    (void)state;
    assert_true(submit(play(1), 0));
    assert_true(submit(cut, 3000));
    render(0, 12000, 256);
    memcpy(fade, out, sizeof fade);
    for (int i = 1; i < 12000; i++)
        most_step =
            fmax(most_step, fabs((double)fade[i] - (double)fade[i - 1]));
    /* The steepest step of the sine, and of a fade over 480 frames. */
    assert_true(most_step < 0.8 * 2 * UNITS_PI * 300.0 / AUDIO_RATE_HZ +
                                0.8 * UNITS_PI / 2 / 480 + 1e-6);
    assert_memory_equal(fade, wave, 3000 * sizeof fade[0]);
    assert_true(fabsf(fade[3010]) < fabsf(wave[3010]));
    assert_int_equal(first_sound(3000 + AUDIO_FADE_FRAMES, 12000), 12000);
}

static void starts_the_cutting_call_at_the_same_frame(void **state)
{
    struct audio_command cut = {.sequence = 2, .action = AUDIO_CUT};
    struct audio_command before = play(1);
    struct audio_command after = play(2);

    (void)state;
    before.gain = 0.5F; /* both together stay below the limiter */
    after.gain = 0.5F;
    assert_true(submit(before, 0));
    assert_true(submit(cut, 3000));
    assert_true(submit(after, 3000));
    render(0, 12000, 256);
    for (int i = 0; i < AUDIO_FADE_FRAMES; i++) {
        double left = 0.5 + 0.5 * cos(UNITS_PI * i / AUDIO_FADE_FRAMES);

        assert_near(out[3000 + i],
                    0.5 * ((double)wave[i] + left * (double)wave[3000 + i]),
                    1e-6);
    }
    for (int i = AUDIO_FADE_FRAMES; i < WAVE; i++)
        assert_true(out[3000 + i] == 0.5F * wave[i]);
    assert_int_equal(first_sound(3000 + WAVE, 12000), 12000);
}

static void takes_off_what_the_cut_call_had_still_to_say(void **state)
{
    struct audio_command cut = {.sequence = 2, .action = AUDIO_CUT};

    (void)state;
    assert_true(submit(play(1), 0));
    assert_true(submit(play(1), 10000));
    assert_true(submit(cut, 3000));
    assert_true(submit(play(2), 3000));
    assert_true(submit(play(2), 20000));
    assert_true(submit(play(3), 30000));
    render(0, SPAN, 256);
    assert_int_equal(first_sound(3000 + WAVE, SPAN), 20000);
    assert_int_equal(first_sound(20000 + WAVE, SPAN), 30000);
    assert_int_equal(mixer.dropped, 0);
}

static void never_exceeds_full_scale(void **state)
{
    double most = 0.0;
    double most_step = 0.0;

    (void)state;
    for (uint32_t i = 0; i < AUDIO_VOICES; i++)
        assert_true(submit(play(i + 1), 10));
    render(0, 12000, 256);
    for (int i = 1; i < 12000; i++)
        most = fmax(most, fabs((double)out[i]));
    for (int i = 12; i < 10 + WAVE - 1; i++)
        most_step = fmax(most_step, fabs((double)out[i] - (double)out[i - 1]));
    assert_true(most < 0.8913);
    assert_true(most > 0.89);
    /* Eight voices at 0.8 would step by eight times the sine's. */
    assert_true(most_step < 6.4 * 2 * UNITS_PI * 300.0 / AUDIO_RATE_HZ + 1e-3);
}

static void is_gentle_again_after_a_loud_moment(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < AUDIO_VOICES; i++)
        assert_true(submit(play(i + 1), 0));
    assert_true(submit(play(20), 24000));
    render(0, 36000, 256);
    assert_memory_equal(out + 24000, wave, sizeof wave);
}

static void follows_the_gain_of_the_command(void **state)
{
    struct audio_command half = play(1);

    (void)state;
    half.gain = 0.5F;
    assert_true(submit(half, 5));
    render(0, 12000, 256);
    for (int i = 0; i < WAVE; i++)
        assert_near(out[5 + i], 0.5 * (double)wave[i], 1e-7);
}

static void says_a_late_call_whole_while_it_still_helps(void **state)
{
    struct audio_command late = play(1);

    (void)state;
    render(0, 1000, 256);
    assert_true(audio_mixer_command(&mixer, &late, 400, 1000));
    audio_mixer_render(&mixer, 1000, out, 12000);
    assert_memory_equal(out, wave, sizeof wave);
    assert_int_equal(mixer.dropped, 0);
}

static void drops_what_comes_too_late_and_counts_it(void **state)
{
    struct audio_command late = play(1);

    (void)state;
    render(0, 1000, 256);
    assert_true(audio_mixer_command(&mixer, &late, 400, 999));
    audio_mixer_render(&mixer, 1000, out, 12000);
    assert_int_equal(first_sound(0, 12000), 12000);
    assert_int_equal(mixer.dropped, 1);
    assert_true(audio_mixer_idle(&mixer));
}

static void drops_a_late_call_whole(void **state)
{
    struct audio_command late = play(7);
    struct audio_command next = play(8);

    (void)state;
    render(0, 1000, 256);
    assert_true(audio_mixer_command(&mixer, &late, 400, 999));
    assert_true(audio_mixer_command(&mixer, &late, 5000, 9000));
    assert_true(audio_mixer_command(&mixer, &next, 20000, 24000));
    audio_mixer_render(&mixer, 1000, out, 40000);
    assert_int_equal(first_sound(0, 40000), 19000);
    assert_int_equal(mixer.dropped, 2);
}

static void keeps_the_clips_of_a_late_call_apart(void **state)
{
    struct audio_command word = play(7);

    (void)state;
    render(0, 3000, 256);
    assert_true(audio_mixer_command(&mixer, &word, 1000, 8000));
    assert_true(audio_mixer_command(&mixer, &word, 1000 + WAVE, 8000 + WAVE));
    audio_mixer_render(&mixer, 3000, out, 24000);
    assert_memory_equal(out, wave, sizeof wave);
    assert_memory_equal(out + WAVE, wave, sizeof wave);
    assert_int_equal(first_sound(2 * WAVE, 24000), 24000);
}

static void moves_what_waits_and_ends_a_torn_word(void **state)
{
    (void)state;
    assert_true(submit(play(7), 0));
    assert_true(submit(play(8), 40000));
    render(0, 1000, 256);
    audio_mixer_move(&mixer, -20000);
    audio_mixer_render(&mixer, 1000, out, 30000);
    assert_memory_not_equal(out, wave + 1000, 480 * sizeof wave[0]);
    assert_int_equal(first_sound(AUDIO_FADE_FRAMES, 30000), 19000);
    assert_memory_equal(out + 19000, wave, sizeof wave);
}

static void goes_on_with_a_word_over_a_small_step(void **state)
{
    (void)state;
    assert_true(submit(play(7), 0));
    render(0, 1000, 256);
    audio_mixer_move(&mixer, -1200);
    audio_mixer_render(&mixer, 1000, out, 2000);
    assert_memory_equal(out, wave + 1000, 2000 * sizeof wave[0]);
}

static void refuses_what_it_does_not_understand(void **state)
{
    struct audio_command wrong_clip = play(1);
    struct audio_command wrong_action = play(1);
    struct audio_command wrong_band = {.action = AUDIO_TONE, .argument = 4};
    struct audio_command wrong_gain = play(1);

    (void)state;
    wrong_clip.argument = CLIP_COUNT;
    wrong_action.action = 99;
    wrong_gain.gain = NAN;
    assert_false(submit(wrong_clip, 0));
    assert_false(submit(wrong_action, 0));
    assert_false(submit(wrong_band, 0));
    assert_int_equal(mixer.dropped, 3);
    assert_true(submit(wrong_gain, 0));
    render(0, 12000, 256);
    assert_int_equal(first_sound(0, 12000), 12000);
}

static void counts_what_finds_no_room(void **state)
{
    (void)state;
    for (uint32_t i = 0; i < AUDIO_MAX_WAITING; i++)
        assert_true(submit(play(i + 1), 100));
    assert_false(submit(play(1000), 100));
    assert_int_equal(mixer.dropped, 1);
    render(0, 12000, 256);
    assert_int_equal(mixer.dropped,
                     1 + (uint32_t)AUDIO_MAX_WAITING - AUDIO_VOICES);
}

static void is_idle_only_when_nothing_sounds_or_waits(void **state)
{
    (void)state;
    assert_true(audio_mixer_idle(&mixer));
    assert_true(submit(play(1), 100));
    assert_false(audio_mixer_idle(&mixer));
    render(0, 100 + WAVE - 1, 256);
    assert_false(audio_mixer_idle(&mixer));
    audio_mixer_render(&mixer, 100 + WAVE - 1, out, 1);
    assert_true(audio_mixer_idle(&mixer));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(starts_a_clip_on_its_very_frame, set_up),
        cmocka_unit_test_setup(sounds_the_same_in_any_size_of_buffer, set_up),
        cmocka_unit_test_setup(fades_without_a_click_when_a_higher_rank_cuts_in,
                               set_up),
        cmocka_unit_test_setup(starts_the_cutting_call_at_the_same_frame,
                               set_up),
        cmocka_unit_test_setup(takes_off_what_the_cut_call_had_still_to_say,
                               set_up),
        cmocka_unit_test_setup(never_exceeds_full_scale, set_up),
        cmocka_unit_test_setup(is_gentle_again_after_a_loud_moment, set_up),
        cmocka_unit_test_setup(follows_the_gain_of_the_command, set_up),
        cmocka_unit_test_setup(says_a_late_call_whole_while_it_still_helps,
                               set_up),
        cmocka_unit_test_setup(drops_what_comes_too_late_and_counts_it, set_up),
        cmocka_unit_test_setup(drops_a_late_call_whole, set_up),
        cmocka_unit_test_setup(keeps_the_clips_of_a_late_call_apart, set_up),
        cmocka_unit_test_setup(moves_what_waits_and_ends_a_torn_word, set_up),
        cmocka_unit_test_setup(goes_on_with_a_word_over_a_small_step, set_up),
        cmocka_unit_test_setup(refuses_what_it_does_not_understand, set_up),
        cmocka_unit_test_setup(counts_what_finds_no_room, set_up),
        cmocka_unit_test_setup(is_idle_only_when_nothing_sounds_or_waits,
                               set_up),
    };

    return cmocka_run_group_tests_name("audio mixer", tests, NULL, NULL) != 0;
}
