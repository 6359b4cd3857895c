/* test_loopback.c - the real worker, the real library, a private server:
 * what is asked for is heard, in order and apart to the sample, also after
 * the server was killed or stood still. Started by tests/audio/run. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/units.h"
#include "rig.h"
#include "sound.h"

enum { QUIET_FRAMES = 2400, MOST_HEARD = 32, SEARCH = 480 };

static const char voice[] = "sounds/voice";

static struct rig rig;
static struct audio_bank bank;
static struct audio_output *output;
static uint32_t calls;

/* One clip that was found in the recording. */
struct heard {
    enum callout_clip clip;
    int64_t frame; /* of its first sample */
    double likeness;
};

/* ---- hearing ------------------------------------------------------------- */

/* Cosine of the angle between a clip and a stretch of the recording. */
static double likeness(const struct audio_clip *clip, const float *sound)
{
    double product = 0.0;
    double clip_power = 0.0;
    double sound_power = 1e-12;

    for (uint32_t i = 0; i < clip->frames; i++) {
        product += (double)clip->sample[i] * (double)sound[i];
        clip_power += (double)clip->sample[i] * (double)clip->sample[i];
        sound_power += (double)sound[i] * (double)sound[i];
    }
    return product / sqrt(clip_power * sound_power);
}

/* The clip that fits best with its beginning within SEARCH frames before. */
static struct heard recognise(int64_t onset)
{
    const float *sound = rig_heard(&rig);
    int64_t end = rig_heard_frames(&rig);
    struct heard best = {.likeness = -1.0};

    for (int c = 0; c < CLIP_COUNT; c++) {
        const struct audio_clip *clip = &bank.clip[c];

        for (int64_t at = onset - SEARCH; at <= onset; at++) {
            double fit;

            if (at < 0 || at + clip->frames > end)
                continue;
            fit = likeness(clip, sound + at);
            if (fit > best.likeness)
                best = (struct heard){(enum callout_clip)c, at, fit};
        }
    }
    return best;
}

/* Each sound that follows 50 ms of silence. */
static int find_all(struct heard out[MOST_HEARD])
{
    const float *sound = rig_heard(&rig);
    int64_t frames = rig_heard_frames(&rig);
    int64_t quiet = QUIET_FRAMES;
    int64_t at = 0;
    int count = 0;

    while (at < frames && count < MOST_HEARD) {
        if (fabsf(sound[at]) < 0.002F) {
            quiet++;
        } else if (quiet >= QUIET_FRAMES) {
            struct heard found = recognise(at);

            out[count++] = found;
            at = found.frame + bank.clip[found.clip].frames;
            quiet = 0;
            continue;
        } else {
            quiet = 0;
        }
        at++;
    }
    return count;
}

static bool has_heard_until(void *context)
{
    const int64_t *until_ns = context;

    return rig.heard_from_ns + (int64_t)rig_heard_frames(&rig) *
                                   UNITS_NS_PER_S / AUDIO_RATE_HZ >
           *until_ns;
}

static void hear_until(int64_t until_ns)
{
    rig_await(&rig, has_heard_until, &until_ns, "the recording goes on");
}

/* ---- the output ---------------------------------------------------------- */

static struct audio_status status(void)
{
    struct audio_status now;

    audio_output_status(output, &now);
    return now;
}

static bool is_playing(void *context)
{
    const uint32_t *callbacks = context;

    return status().state == AUDIO_PLAYING && status().callbacks > *callbacks;
}

static bool is_not_playing(void *context)
{
    (void)context;
    return status().state != AUDIO_PLAYING;
}

static bool has_no_device(void *context)
{
    (void)context;
    return status().state == AUDIO_NO_DEVICE;
}

static void await_playing(void)
{
    /* A quarter of a second of buffers: the latency has settled. */
    uint32_t callbacks = status().callbacks + 50;

    rig_await(&rig, is_playing, &callbacks, "the worker plays");
}

static void play(enum callout_clip clip, int64_t start_ns)
{
    struct audio_command command = {
        .start_ns = start_ns,
        .expiry_ns = start_ns + 200000000,
        .sequence = calls + 1,
        .action = AUDIO_PLAY,
        .argument = (uint16_t)clip,
        .gain = 1.0F,
    };

    calls++;
    assert_int_equal(audio_output_submit(output, &command), 0);
}

/* The instant that was asked for is that of what is first heard. */
static int64_t audible(const struct heard *heard)
{
    return heard->frame + bank.clip[heard->clip].head_frames;
}

static int64_t soon_ns(int64_t ms)
{
    return (int64_t)uv_hrtime() + ms * 1000000;
}

static int set_up(void **state)
{
    struct audio_settings settings;
    char why[800];

    (void)state;
    if (audio_bank_load(voice, &bank, why, sizeof why) != 0)
        fail_msg("%s", why);
    rig_open(&rig);
    audio_settings_defaults(&settings);
    (void)snprintf(settings.voice_folder, sizeof settings.voice_folder, "%s",
                   voice);
    assert_int_equal(audio_output_open(&rig.loop, getenv("QUARTERTURN"),
                                       &settings, NULL, NULL, &output),
                     0);
    await_playing();
    rig_listen(&rig);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    if (output != NULL)
        audio_output_close(output, 0);
    output = NULL;
    print_message("           worst lag of the loop: %.1f ms\n",
                  (double)rig.worst_lag_ns / 1e6);
    rig_close(&rig);
    audio_bank_free(&bank);
    return 0;
}

/* ---- tests --------------------------------------------------------------- */

static void hears_clips_in_order_and_as_far_apart_as_asked(void **state)
{
    static const enum callout_clip clip[] = {CLIP_NINETY, CLIP_PITCH_LIMIT,
                                             CLIP_STALL, CLIP_WINGS_LEVEL};
    /* Not on the edges of buffers. */
    static const int64_t after_ns[] = {0, 800012345, 1700054321, 2600000001};
    struct heard heard[MOST_HEARD];
    int64_t start_ns = soon_ns(300);

    (void)state;
    for (int i = 0; i < 4; i++)
        play(clip[i], start_ns + after_ns[i]);
    hear_until(start_ns + after_ns[3] + 1200000000);
    assert_int_equal(find_all(heard), 4);
    for (int i = 0; i < 4; i++) {
        double apart_ms = (double)(audible(&heard[i]) - audible(&heard[0])) *
                          1e3 / AUDIO_RATE_HZ;

        assert_int_equal(heard[i].clip, clip[i]);
        assert_true(heard[i].likeness > 0.99);
        assert_near(apart_ms, (double)after_ns[i] / 1e6, 2.0);
        print_message("           %-12s likeness %.4f, onset off by %+.2f ms "
                      "(spacing by %+.3f ms)\n",
                      callout_clip_name(clip[i]), heard[i].likeness,
                      (double)(rig.heard_from_ns - start_ns - after_ns[i]) /
                              1e6 +
                          (double)audible(&heard[i]) * 1e3 / AUDIO_RATE_HZ,
                      apart_ms - (double)after_ns[i] / 1e6);
    }
    print_message("           output latency %.1f ms, %u underruns\n",
                  status().latency_s * 1e3, status().underruns);
    assert_int_equal(status().dropped, 0);
}

static void hears_the_near_stall_tone_at_the_rate_of_its_band(void **state)
{
    struct heard heard[MOST_HEARD];
    struct audio_command tone = {.start_ns = soon_ns(300),
                                 .action = AUDIO_TONE,
                                 .argument = 3,
                                 .gain = 1.0F};
    int count;

    (void)state;
    assert_int_equal(audio_output_submit(output, &tone), 0);
    hear_until(tone.start_ns + 2000000000);
    count = find_all(heard);
    assert_true(count >= 8);
    for (int i = 0; i < 8; i++) {
        assert_int_equal(heard[i].clip, CLIP_NEAR_STALL);
        assert_int_equal(heard[i].frame - heard[0].frame, i * 9600);
    }
}

static void lets_what_is_being_said_end_when_it_closes(void **state)
{
    struct heard heard[MOST_HEARD];
    int64_t start_ns = soon_ns(200);

    (void)state;
    play(CLIP_HOLD_ALTITUDE, start_ns);
    audio_output_close(output, 5000);
    output = NULL;
    hear_until(start_ns + 1500000000);
    assert_int_equal(find_all(heard), 1);
    assert_int_equal(heard[0].clip, CLIP_HOLD_ALTITUDE);
    assert_true(heard[0].likeness > 0.99);
}

/* In the middle of a word: the last 10 ms that are heard are the word under a
 * raised cosine. */
static void fades_what_is_being_said_when_it_closes_at_once(void **state)
{
    const struct audio_clip *clip = &bank.clip[CLIP_HOLD_ALTITUDE];
    const float *sound;
    int64_t start_ns = soon_ns(150);
    int64_t first = 0, last, end;
    double worst = 0.0;

    (void)state;
    play(CLIP_HOLD_ALTITUDE, start_ns);
    hear_until(start_ns + 200000000);
    audio_output_close(output, 0);
    output = NULL;
    hear_until(start_ns + 1500000000);
    sound = rig_heard(&rig);
    end = rig_heard_frames(&rig);
    while (first < end && sound[first] == 0.0F)
        first++;
    for (uint32_t i = 0; clip->sample[i] == 0; i++)
        first--;
    assert_true(first >= 0 && first + clip->frames < end);
    last = end - 1;
    while (last > first && sound[last] == 0.0F)
        last--;
    print_message("           %.0f ms of the word, and a fade\n",
                  (double)(last - first) * 1e3 / AUDIO_RATE_HZ);
    assert_true(last - first > AUDIO_RATE_HZ / 10);
    assert_true(last - first < clip->frames - AUDIO_RATE_HZ / 20);
    for (int64_t i = first; i <= last; i++) {
        double to_end = fmax(0.0, (double)(AUDIO_FADE_FRAMES - 1 - (last - i)));
        double gain =
            0.5 + 0.5 * cos(UNITS_PI * to_end / (double)AUDIO_FADE_FRAMES);

        worst = fmax(worst, fabs((double)sound[i] -
                                 gain * (double)sound_sample(
                                            clip, (uint32_t)(i - first))));
    }
    /* The very last sample is too quiet to tell: it may be one later. */
    print_message("           off by at most %.6f\n", worst);
    assert_true(worst < 0.005);
}

static void hear_one(enum callout_clip clip)
{
    struct heard heard[MOST_HEARD];
    int64_t start_ns;

    rig_listen(&rig);
    start_ns = soon_ns(300);
    play(clip, start_ns);
    hear_until(start_ns + 1200000000);
    assert_int_equal(find_all(heard), 1);
    assert_int_equal(heard[0].clip, clip);
    assert_true(heard[0].likeness > 0.99);
}

static void is_heard_again_after_the_server_was_killed(void **state)
{
    uint32_t restarts = status().restarts;
    uint32_t dropped = status().dropped;
    uint32_t ticks;

    (void)state;
    rig_stop_listening(&rig);
    ticks = rig.ticks;
    rig_signal_server(&rig, SIGKILL);
    rig_await(&rig, has_no_device, NULL, "the worker finds no device");
    assert_true(rig.ticks - ticks > 10);
    assert_true(status().restarts > restarts);
    /* Said while nobody can hear it: gone, not kept for later. */
    play(CLIP_STALL, soon_ns(0));
    rig_start_server(&rig);
    await_playing();
    hear_one(CLIP_NINETY);
    assert_true(status().dropped > dropped);
}

static bool has_restarted(void *context)
{
    const uint32_t *restarts = context;

    return status().restarts > *restarts;
}

static void is_heard_again_after_the_server_stood_still(void **state)
{
    uint32_t restarts = status().restarts;
    uint32_t ticks = rig.ticks;

    (void)state;
    rig_signal_server(&rig, SIGSTOP);
    rig_await(&rig, has_restarted, &restarts, "the worker is replaced");
    assert_true(is_not_playing(NULL));
    assert_true(rig.ticks - ticks > 10);
    rig_signal_server(&rig, SIGCONT);
    await_playing();
    hear_one(CLIP_NINETY);
}

static void goes_on_with_a_tone_after_the_server_was_killed(void **state)
{
    struct heard heard[MOST_HEARD];
    struct audio_command tone = {.start_ns = soon_ns(0),
                                 .action = AUDIO_TONE,
                                 .argument = 3,
                                 .gain = 1.0F};
    int count;

    (void)state;
    assert_int_equal(audio_output_submit(output, &tone), 0);
    rig_stop_listening(&rig);
    rig_signal_server(&rig, SIGKILL);
    rig_await(&rig, is_not_playing, NULL, "the worker is lost");
    rig_start_server(&rig);
    await_playing();
    rig_listen(&rig);
    hear_until(soon_ns(1500));
    count = find_all(heard);
    assert_true(count >= 5);
    assert_int_equal(heard[2].clip, CLIP_NEAR_STALL);
    assert_int_equal(heard[3].frame - heard[2].frame, 9600);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(hears_clips_in_order_and_as_far_apart_as_asked),
        CASE(hears_the_near_stall_tone_at_the_rate_of_its_band),
        CASE(lets_what_is_being_said_end_when_it_closes),
        CASE(fades_what_is_being_said_when_it_closes_at_once),
        CASE(is_heard_again_after_the_server_was_killed),
        CASE(is_heard_again_after_the_server_stood_still),
        CASE(goes_on_with_a_tone_after_the_server_was_killed),
    };

    return cmocka_run_group_tests_name("sound, heard", tests, NULL, NULL) != 0;
}
