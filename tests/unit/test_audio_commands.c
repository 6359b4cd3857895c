/* test_audio_commands.c - what the sinks are told of calls and tones. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "quarterturn/audio.h"

static const struct callout_call call = {
    .number = 42,
    .onset_ns = 1000,
    .expiry_ns = 5000,
    .clip_count = 2,
    .clip = {CLIP_HEADING, CLIP_PLUS},
    .clip_onset_ns = {1000, 3000},
};

static void plays_each_clip_at_its_instant(void **state)
{
    struct audio_command out[AUDIO_MAX_COMMANDS];

    (void)state;
    assert_int_equal(audio_commands_of_call(&call, 100, 0.5F, out), 2);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(out[i].action, AUDIO_PLAY);
        assert_int_equal(out[i].argument, call.clip[i]);
        assert_int_equal(out[i].start_ns, call.clip_onset_ns[i] + 100);
        assert_int_equal(out[i].sequence, 42);
        assert_true(out[i].gain == 0.5F);
    }
}

static void lets_each_clip_be_as_late_as_the_first(void **state)
{
    struct audio_command out[AUDIO_MAX_COMMANDS];

    (void)state;
    (void)audio_commands_of_call(&call, 100, 1.0F, out);
    assert_int_equal(out[0].expiry_ns - out[0].start_ns, 4000);
    assert_int_equal(out[1].expiry_ns - out[1].start_ns, 4000);
}

static void cuts_before_it_plays(void **state)
{
    struct callout_call cutting = call;
    struct audio_command out[AUDIO_MAX_COMMANDS];

    (void)state;
    cutting.cuts_in = true;
    assert_int_equal(audio_commands_of_call(&cutting, 0, 1.0F, out), 3);
    assert_int_equal(out[0].action, AUDIO_CUT);
    assert_int_equal(out[0].start_ns, 1000);
    assert_int_equal(out[0].sequence, 42);
    assert_int_equal(out[1].action, AUDIO_PLAY);
}

static void never_writes_more_than_there_is_room_for(void **state)
{
    struct callout_call full = call;
    struct audio_command out[AUDIO_MAX_COMMANDS];

    (void)state;
    full.cuts_in = true;
    full.clip_count = CALLOUT_MAX_CLIPS + 5;
    assert_int_equal(audio_commands_of_call(&full, 0, 1.0F, out),
                     AUDIO_MAX_COMMANDS);
}

static void passes_the_band_of_a_tone_on(void **state)
{
    const struct callout_tone tone = {.t_ns = 777, .band = 2};
    struct audio_command out;

    (void)state;
    audio_command_of_tone(&tone, 3, 0.25F, &out);
    assert_int_equal(out.action, AUDIO_TONE);
    assert_int_equal(out.argument, 2);
    assert_int_equal(out.start_ns, 780);
    assert_true(out.gain == 0.25F);
}

static void names_every_state(void **state)
{
    (void)state;
    assert_string_equal(audio_state_name(AUDIO_PLAYING), "playing");
    assert_string_equal(audio_state_name(AUDIO_NO_DEVICE), "no device");
    assert_string_equal(audio_state_name((enum audio_state)77), "unknown");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plays_each_clip_at_its_instant),
        cmocka_unit_test(lets_each_clip_be_as_late_as_the_first),
        cmocka_unit_test(cuts_before_it_plays),
        cmocka_unit_test(never_writes_more_than_there_is_room_for),
        cmocka_unit_test(passes_the_band_of_a_tone_on),
        cmocka_unit_test(names_every_state),
    };

    return cmocka_run_group_tests_name("audio commands", tests, NULL, NULL) !=
           0;
}
