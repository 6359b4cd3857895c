/* test_audio_player.c - from the ring to a device's buffer, on virtual time. */
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

enum { BUFFER = 256, WAVE = 4800, SPAN = 192000 };

static const int64_t epoch_ns = INT64_C(5000000000000);
static const double latency_s = 0.025;
static const double half_buffer_ns = 0.5e9 * BUFFER / AUDIO_RATE_HZ;

static int16_t kept[WAVE];
static float wave[WAVE]; /* what is heard of it */
static int16_t pulse[WAVE];
static struct audio_bank bank;
static struct audio_share share;
static struct audio_player player;
static float out[2 * SPAN];

static int set_up(void **state)
{
    (void)state;
    for (int i = 0; i < WAVE; i++)
        wave[i] = 0.8F * (float)cos(2 * UNITS_PI * 300.0 * i / AUDIO_RATE_HZ);
    sound_keep(kept, wave, WAVE);
    memset(pulse, 0, sizeof pulse);
    pulse[0] = AUDIO_FULL_SCALE / 2;
    bank = sound_bank(kept, WAVE, pulse, WAVE);
    memset(&share, 0, sizeof share);
    audio_ring_init(&share.ring);
    atomic_init(&share.latency_ns, -1);
    audio_player_init(&player, &share, &bank);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    audio_resampler_fini(&player.resampler);
    return 0;
}

static void submit(uint16_t action, uint16_t argument, int64_t start_ns)
{
    struct audio_command command = {
        .start_ns = start_ns,
        .expiry_ns = start_ns + 100000000,
        .action = action,
        .argument = argument,
        .gain = 1.0F,
    };

    assert_true(audio_ring_push(&share.ring, &command));
}

/* The instant at which a device frame is heard. */
static int64_t heard_ns(int64_t frame, double rate_hz)
{
    return epoch_ns + llround((double)frame / rate_hz * 1e9);
}

/* Callbacks from frame to end, each latency_s before its sound is heard. */
static void run(int64_t frame, int64_t end, double rate_hz, uint32_t channels)
{
    for (; frame < end; frame += BUFFER)
        audio_player_fill(&player,
                          heard_ns(frame, rate_hz) - llround(latency_s * 1e9),
                          latency_s, out + frame * channels, BUFFER);
}

static int64_t first_sound(int64_t from, int64_t to, uint32_t channels)
{
    while (from < to && out[from * channels] == 0.0F)
        from++;
    return from;
}

static void is_heard_at_the_frame_of_its_instant(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 2, 0.0), 0);
    run(0, 48128, AUDIO_RATE_HZ, 2);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(60001, AUDIO_RATE_HZ));
    run(48128, 96000, AUDIO_RATE_HZ, 2);
    assert_int_equal(first_sound(0, 96000, 2), 60001);
    for (int i = 0; i < WAVE; i++) {
        assert_true(out[2 * (60001 + i)] == wave[i]);
        assert_true(out[2 * (60001 + i) + 1] == wave[i]);
    }
    assert_near((double)atomic_load(&share.latency_ns),
                latency_s * 1e9 + half_buffer_ns, 1.0);
}

static void adds_the_calibration_to_the_latency(void **state)
{
    (void)state;
    share.settings.calibration_s = 0.010;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(24000, AUDIO_RATE_HZ));
    run(0, 48000, AUDIO_RATE_HZ, 1);
    assert_int_equal(first_sound(0, 48000, 1), 24000 - 480);
}

static void believes_the_device_until_the_callbacks_tell(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.040), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, epoch_ns + 140000000);
    /* This device gives no lead at all. */
    for (int64_t at = 0; at < 24064; at += BUFFER)
        audio_player_fill(&player, heard_ns(at, AUDIO_RATE_HZ), 0.0, out + at,
                          BUFFER);
    assert_int_equal(first_sound(0, 24064, 1), 4800);
    assert_near((double)atomic_load(&share.latency_ns), 40e6 + half_buffer_ns,
                1.0);
}

static void fades_away_before_a_stream_is_broken_off(void **state)
{
    static const double rate_hz[] = {44100.0, 48000.0, 192000.0};

    for (int r = 0; r < 3; r++) {
        const int64_t from = 200 * BUFFER;
        const int64_t all = llround(rate_hz[r] / 100.0);
        int64_t i = 0;

        (void)set_up(state);
        for (int k = 0; k < WAVE; k++)
            kept[k] = AUDIO_FULL_SCALE / 4;
        pulse[0] = 0;
        assert_int_equal(audio_player_attach(&player, rate_hz[r], 2, 0.0), 0);
        submit(AUDIO_PLAY, CLIP_NINETY,
               heard_ns(from - (int64_t)rate_hz[r] / 40, rate_hz[r]));
        run(0, from, rate_hz[r], 2);
        assert_near(out[2 * (from - 1)], 0.25, 1e-4);
        audio_player_leave(&player);
        assert_false(audio_player_has_left(&player));
        run(from, from + 10 * BUFFER, rate_hz[r], 2);
        for (; i < all; i++) {
            double gain = 0.5 + 0.5 * cos(UNITS_PI * (double)i / (double)all);

            assert_near(out[2 * (from + i)], 0.25 * gain, 1e-4);
            assert_true(out[2 * (from + i)] == out[2 * (from + i) + 1]);
        }
        for (; i < 10 * BUFFER; i++)
            assert_true(out[2 * (from + i)] == 0.0F);
        assert_true(audio_player_has_left(&player));
        (void)tear_down(state);
    }
}

static void refuses_a_device_of_an_absurd_rate(void **state)
{
    (void)state;
    assert_true(audio_player_attach(&player, 100.0, 1, 0.0) < 0);
    assert_true(audio_player_attach(&player, (double)NAN, 1, 0.0) < 0);
}

/* Callbacks that come in twos, as a server makes them: the lead of each says
 * by how much. */
static void sees_through_callbacks_that_come_unevenly(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(24001, AUDIO_RATE_HZ));
    for (int64_t at = 0; at < 48128; at += BUFFER) {
        double lead_s = at / BUFFER % 2 == 0 ? 0.0211 : 0.0264;

        audio_player_fill(&player,
                          heard_ns(at, AUDIO_RATE_HZ) - llround(lead_s * 1e9),
                          lead_s, out + at, BUFFER);
    }
    assert_int_equal(first_sound(0, 48128, 1), 24001);
    assert_near((double)atomic_load(&share.latency_ns),
                23.75e6 + half_buffer_ns, 1.0);
}

static void leaves_commands_waiting_until_the_latency_is_known(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(9600, AUDIO_RATE_HZ));
    run(0, 15 * BUFFER, AUDIO_RATE_HZ, 1);
    assert_int_equal(audio_ring_count(&share.ring), 1);
    run(15 * BUFFER, 12032, AUDIO_RATE_HZ, 1);
    assert_int_equal(audio_ring_count(&share.ring), 0);
    assert_int_equal(first_sound(0, 12032, 1), 9600);
}

static void takes_a_full_ring_a_part_at_a_time(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    run(0, 16 * BUFFER, AUDIO_RATE_HZ, 1);
    for (int i = 0; i < 40; i++)
        submit(AUDIO_TONE, 0, heard_ns(0, AUDIO_RATE_HZ));
    run(16 * BUFFER, 17 * BUFFER, AUDIO_RATE_HZ, 1);
    assert_int_equal(audio_ring_count(&share.ring), 24);
    run(17 * BUFFER, 19 * BUFFER, AUDIO_RATE_HZ, 1);
    assert_int_equal(audio_ring_count(&share.ring), 0);
    assert_int_equal(atomic_load(&share.callbacks), 19);
}

static void tells_whether_something_sounds_or_waits(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    run(0, 16 * BUFFER, AUDIO_RATE_HZ, 1);
    assert_int_equal(atomic_load(&share.sounding), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(9600, AUDIO_RATE_HZ));
    run(16 * BUFFER, 17 * BUFFER, AUDIO_RATE_HZ, 1);
    assert_int_equal(atomic_load(&share.sounding), 1);
    run(17 * BUFFER, 14336, AUDIO_RATE_HZ, 1);
    assert_int_equal(atomic_load(&share.sounding), 1);
    run(14336, 16384, AUDIO_RATE_HZ, 1);
    assert_int_equal(atomic_load(&share.sounding), 0);
}

static void drops_in_the_callback_what_came_too_late(void **state)
{
    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    run(0, 48128, AUDIO_RATE_HZ, 1);
    /* It expired 100 ms after its start, and that is 1 ms ago. */
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(48128, AUDIO_RATE_HZ) - 101000000);
    run(48128, 96000, AUDIO_RATE_HZ, 1);
    assert_int_equal(first_sound(0, 96000, 1), 96000);
    assert_int_equal(atomic_load(&share.dropped), 1);
}

static void makes_up_for_nothing_when_sound_comes_back(void **state)
{
    struct audio_command command = {.start_ns = epoch_ns - 150000000,
                                    .expiry_ns = INT64_MAX,
                                    .action = AUDIO_PLAY,
                                    .argument = CLIP_NINETY,
                                    .gain = 1.0F};

    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    assert_true(audio_ring_push(&share.ring, &command));
    run(0, SPAN, AUDIO_RATE_HZ, 1);
    assert_int_equal(first_sound(0, SPAN, 1), SPAN);
    assert_int_equal(share.dropped, 1);
}

/* The device asks for nothing from a frame on, for so many frames of time. */
static void run_with_a_stop(int64_t from, int64_t still)
{
    run(0, from, AUDIO_RATE_HZ, 1);
    for (int64_t frame = from; frame + BUFFER <= SPAN; frame += BUFFER)
        audio_player_fill(&player,
                          heard_ns(frame + still, 48000.0) -
                              llround(latency_s * 1e9),
                          latency_s, out + frame, BUFFER);
}

/* The device asks for nothing during half a second: what it plays then comes
 * by so much later. */
static void keeps_the_instant_after_the_device_stood_still(void **state)
{
    enum { STILL = AUDIO_RATE_HZ / 2, FROM = 100 * BUFFER };

    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(FROM + STILL + 5000, 48000.0));
    run_with_a_stop(FROM, STILL);
    assert_in_range(first_sound(0, SPAN, 1), FROM + 4999, FROM + 5001);
}

/* It runs dry for 10 ms: what is asked for 0.2 s later is in time again. */
static void keeps_the_instant_after_the_device_ran_dry(void **state)
{
    enum { STILL = 480, FROM = 420 * BUFFER };

    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(FROM + STILL + 9600, 48000.0));
    run_with_a_stop(FROM, STILL);
    assert_in_range(first_sound(0, SPAN, 1), FROM + 9599, FROM + 9601);
}

static void drops_what_fell_into_the_stillness_of_the_device(void **state)
{
    enum { STILL = AUDIO_RATE_HZ / 2, FROM = 100 * BUFFER };

    (void)state;
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    submit(AUDIO_PLAY, CLIP_NINETY, heard_ns(FROM + 5000, 48000.0));
    run_with_a_stop(FROM, STILL);
    assert_int_equal(first_sound(0, SPAN, 1), SPAN);
    assert_int_equal(share.dropped, 1);
}

static void drops_what_expires_while_there_is_no_device(void **state)
{
    (void)state;
    submit(AUDIO_PLAY, CLIP_NINETY, epoch_ns);
    submit(AUDIO_CUT, 0, epoch_ns);
    submit(AUDIO_TONE, 3, epoch_ns);
    submit(AUDIO_TONE, 2, epoch_ns);
    submit(AUDIO_PLAY, CLIP_NINETY, epoch_ns + 1000000000);
    audio_player_idle(&player, epoch_ns + 50000000);
    assert_int_equal(audio_ring_count(&share.ring), 5);
    audio_player_idle(&player, epoch_ns + 500000000);
    assert_int_equal(audio_ring_count(&share.ring), 1);
    assert_int_equal(atomic_load(&share.dropped), 1);
}

static void sounds_the_tone_of_before_when_a_device_comes(void **state)
{
    (void)state;
    submit(AUDIO_TONE, 1, epoch_ns);
    submit(AUDIO_TONE, 3, epoch_ns);
    audio_player_idle(&player, epoch_ns + 500000000);
    assert_int_equal(audio_player_attach(&player, AUDIO_RATE_HZ, 1, 0.0), 0);
    run(0, 48128, AUDIO_RATE_HZ, 1);
    assert_int_equal(first_sound(0, 48128, 1), 0);
    assert_int_equal(first_sound(1, 48128, 1), 9600);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(is_heard_at_the_frame_of_its_instant,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(adds_the_calibration_to_the_latency,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            believes_the_device_until_the_callbacks_tell, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            fades_away_before_a_stream_is_broken_off, set_up, tear_down),
        cmocka_unit_test_setup_teardown(refuses_a_device_of_an_absurd_rate,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            sees_through_callbacks_that_come_unevenly, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            leaves_commands_waiting_until_the_latency_is_known, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(takes_a_full_ring_a_part_at_a_time,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(tells_whether_something_sounds_or_waits,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            drops_in_the_callback_what_came_too_late, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            makes_up_for_nothing_when_sound_comes_back, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            keeps_the_instant_after_the_device_stood_still, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            keeps_the_instant_after_the_device_ran_dry, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            drops_what_fell_into_the_stillness_of_the_device, set_up,
            tear_down),
        cmocka_unit_test_setup_teardown(
            drops_what_expires_while_there_is_no_device, set_up, tear_down),
        cmocka_unit_test_setup_teardown(
            sounds_the_tone_of_before_when_a_device_comes, set_up, tear_down),
    };

    return cmocka_run_group_tests_name("audio player", tests, NULL, NULL) != 0;
}
