/* test_audio_wav.c - the file holds what the mixer made, or is not there. */
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
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "folder.h"
#include "near.h"
#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/units.h"
#include "sound.h"

enum { WAVE = 6000, PULSE = 4800, SPAN = 96000 };

static const int64_t origin_ns = INT64_C(777000000123);

static struct folder folder;
static char path[FOLDER_PATH_SIZE];
static char why[800];
static float wave[WAVE];
static int16_t kept[WAVE];
static int16_t pulse[PULSE];
static struct audio_bank bank;

static int set_up(void **state)
{
    (void)state;
    folder_make(&folder);
    (void)folder_path(&folder, "heard.wav", path);
    for (int i = 0; i < WAVE; i++)
        wave[i] = 0.8F * (float)cos(2 * UNITS_PI * 300.0 * i / AUDIO_RATE_HZ);
    for (int i = 0; i < PULSE; i++)
        pulse[i] =
            (int16_t)lround(0.4 * AUDIO_FULL_SCALE * sin(UNITS_PI * i / PULSE));
    sound_keep(kept, wave, WAVE);
    bank = sound_bank(kept, WAVE, pulse, PULSE);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    folder_remove(&folder);
    return 0;
}

static int64_t at_ns(int64_t frame)
{
    return origin_ns + llround((double)frame * 1e9 / AUDIO_RATE_HZ);
}

static struct audio_command scene[4];

/* Speech that is cut by speech, above a tone. */
static void set_scene(void)
{
    static const uint16_t action[] = {AUDIO_TONE, AUDIO_PLAY, AUDIO_CUT,
                                      AUDIO_PLAY};
    static const uint16_t argument[] = {2, CLIP_NINETY, 0, CLIP_STALL};
    static const int64_t frame[] = {100, 4801, 9000, 9000};

    for (int i = 0; i < 4; i++)
        scene[i] = (struct audio_command){
            .start_ns = at_ns(frame[i]),
            .expiry_ns = at_ns(frame[i] + 48000),
            .sequence = i < 2 ? 1 : 2,
            .action = action[i],
            .argument = argument[i],
            .gain = 1.0F,
        };
}

static void mix_scene(float *out)
{
    static const int64_t frame[] = {100, 4801, 9000, 9000};
    struct audio_mixer mixer;

    audio_mixer_init(&mixer, &bank);
    for (int i = 0; i < 4; i++)
        assert_true(
            audio_mixer_command(&mixer, &scene[i], frame[i], frame[i] + 48000));
    audio_mixer_render(&mixer, 0, out, SPAN);
}

static void holds_what_the_mixer_made(void **state)
{
    static float mixed[SPAN];
    struct audio_wav *wav;
    int16_t *samples;
    uint32_t count;

    (void)state;
    set_scene();
    mix_scene(mixed);
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), 0);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(audio_wav_submit(wav, &scene[i]), 0);
        assert_int_equal(audio_wav_advance(wav, scene[i].start_ns), 0);
    }
    /* Uneven steps, and one that goes back. */
    for (int64_t frame = 9001; frame < SPAN; frame += 1237)
        assert_int_equal(audio_wav_advance(wav, at_ns(frame)), 0);
    assert_int_equal(audio_wav_advance(wav, at_ns(5000)), 0);
    assert_int_equal(audio_wav_advance(wav, at_ns(SPAN)), 0);
    assert_int_equal(audio_wav_close(wav, true), 0);
    samples = sound_read_wav(path, &count);
    assert_int_equal(count, SPAN);
    for (uint32_t i = 0; i < count; i++)
        assert_near(samples[i], 32767.0 * (double)mixed[i], 0.51);
    free(samples);
}

static void has_only_its_own_name_when_done(void **state)
{
    struct audio_wav *wav;
    char part[FOLDER_PATH_SIZE];
    FILE *file;

    (void)state;
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), 0);
    assert_int_equal(audio_wav_advance(wav, at_ns(SPAN)), 0);
    assert_null(fopen(path, "rb"));
    file = fopen(folder_path(&folder, "heard.wav.part", part), "rb");
    assert_non_null(file);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(audio_wav_close(wav, true), 0);
    assert_int_equal(folder_count(&folder), 1);
}

static void leaves_nothing_when_it_is_not_kept(void **state)
{
    struct audio_wav *wav;

    (void)state;
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), 0);
    assert_int_equal(audio_wav_advance(wav, at_ns(SPAN)), 0);
    assert_int_equal(audio_wav_close(wav, false), 0);
    assert_int_equal(folder_count(&folder), 0);
}

static void says_in_one_line_why_it_cannot_write(void **state)
{
    char wanted[400];
    struct audio_wav *wav;

    (void)state;
    (void)folder_path(&folder, "none/heard.wav", path);
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), ERR_IO);
    (void)snprintf(wanted, sizeof wanted,
                   "%s: cannot be written (No such file or directory)", path);
    assert_string_equal(why, wanted);
    assert_int_equal(folder_count(&folder), 0);
}

static void never_takes_the_place_of_a_folder_or_a_pipe(void **state)
{
    struct audio_wav *wav;

    (void)state;
    assert_int_equal(
        audio_wav_open(folder.path, &bank, origin_ns, &wav, why, sizeof why),
        ERR_IO);
    assert_non_null(strstr(why, ": is there and is not a file"));
    assert_int_equal(mkfifo(folder_path(&folder, "pipe", path), 0600), 0);
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), ERR_IO);
    assert_true(file_is_special(path));
    assert_int_equal(folder_count(&folder), 1);
}

/* A write past a limit on the size of files fails as on a full disk. */
static void tells_when_the_disk_is_full(void **state)
{
    struct audio_wav *wav;
    struct rlimit before, small;

    (void)state;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    small = before;
    small.rlim_cur = 2000;
    (void)signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), 0);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    (void)audio_wav_advance(wav, at_ns(SPAN));
    assert_int_equal(audio_wav_advance(wav, at_ns(2 * SPAN)), ERR_IO);
    assert_int_equal(audio_wav_close(wav, true), ERR_IO);
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &before), 0);
    (void)signal(SIGXFSZ, SIG_DFL);
    assert_int_equal(folder_count(&folder), 0);
}

/* What takes its bytes in the file's place is not written to. */
static void writes_into_no_link_or_device(void **state)
{
    struct audio_wav *wav;
    char part[FOLDER_PATH_SIZE];

    (void)state;
    assert_int_equal(
        symlink("/dev/full", folder_path(&folder, "heard.wav.part", part)), 0);
    assert_int_equal(
        audio_wav_open(path, &bank, origin_ns, &wav, why, sizeof why), ERR_IO);
    assert_int_equal(folder_count(&folder), 1);
}

static void keeps_exact_instants_after_many_hours(void **state)
{
    struct audio_wav *wav;
    struct audio_command word = {
        .action = AUDIO_PLAY, .argument = CLIP_NINETY, .gain = 1.0F};
    int16_t *samples;
    uint32_t count;
    /* The stream began 100 days before the file does. */
    int64_t start = INT64_C(8640000) * AUDIO_RATE_HZ;

    (void)state;
    word.start_ns = start / AUDIO_RATE_HZ * UNITS_NS_PER_S + 20833333;
    word.expiry_ns = word.start_ns + UNITS_NS_PER_S;
    assert_int_equal(audio_wav_open(path, &bank,
                                    start / AUDIO_RATE_HZ * UNITS_NS_PER_S,
                                    &wav, why, sizeof why),
                     0);
    assert_int_equal(audio_wav_submit(wav, &word), 0);
    assert_int_equal(audio_wav_advance(wav, word.start_ns + UNITS_NS_PER_S), 0);
    assert_int_equal(audio_wav_close(wav, true), 0);
    samples = sound_read_wav(path, &count);
    assert_int_equal(samples[999], 0);
    assert_int_equal(samples[1000], lround(32767 * (double)wave[0]));
    free(samples);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(holds_what_the_mixer_made),
        CASE(has_only_its_own_name_when_done),
        CASE(leaves_nothing_when_it_is_not_kept),
        CASE(says_in_one_line_why_it_cannot_write),
        CASE(never_takes_the_place_of_a_folder_or_a_pipe),
        CASE(tells_when_the_disk_is_full),
        CASE(writes_into_no_link_or_device),
        CASE(keeps_exact_instants_after_many_hours),
    };

    return cmocka_run_group_tests_name("WAV file", tests, NULL, NULL) != 0;
}
