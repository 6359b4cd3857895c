/* test_audio_click.c - nothing clicks, measured in what is rendered.
 *
 * Two measures, each the loudest 5 ms of a scene, root mean square:
 *
 * - Excess: what is rendered less what should be, which the test makes for
 *   itself in double precision, with raised-cosine fades. At most the rounding
 *   of a 16-bit sample, 2^-15 / sqrt(12), which the clips have in them anyway.
 * - Splatter: what the cuts add above 10 kHz, where a click has much and the
 *   voice little: the high-passed scene less the clips, high-passed before
 *   they are faded. At most -80 dB of full scale: the threshold of hearing in
 *   quiet at 10 kHz is 13.9 dB (ISO 226:2003, from memory), and shorter sounds
 *   than 0.2 s need more; the clips, at -20 LUFS, would have to be played at
 *   74 dB, louder than talk beside one (60 to 65 dB; common knowledge, no
 *   source), to bring -80 dB up to it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/units.h"
#include "sound.h"

enum {
    SPAN = 84000,
    WINDOW = AUDIO_RATE_HZ / 200,
    FADE = 480,
    TAIL = 480, /* of the high-pass */
    SECTIONS = 4
};

static const int64_t never = INT64_MAX / 2;
static const double most_excess_db = -101.1;
static const double most_splatter_db = -80.0;

static struct audio_bank bank;
static double *high[CLIP_COUNT]; /* the clips, high-passed */
static struct audio_mixer mixer;
static float out[SPAN];
static double ideal[SPAN];
static double ideal_high[SPAN];
static double work[SPAN];
static uint32_t seed;

/* Butterworth of eighth order, by the bilinear transform. */
static void high_pass(double *x, int64_t count)
{
    const double w = tan(UNITS_PI * 10000.0 / AUDIO_RATE_HZ);

    for (int k = 0; k < SECTIONS; k++) {
        double d = 2.0 * sin(UNITS_PI * (2 * k + 1) / (4.0 * SECTIONS)) * w;
        double a0 = 1.0 + d + w * w;
        double a1 = 2.0 * (w * w - 1.0) / a0, a2 = (1.0 - d + w * w) / a0;
        double s1 = 0.0, s2 = 0.0;

        for (int64_t i = 0; i < count; i++) {
            double in = x[i] / a0;

            x[i] = in + s1;
            s1 = -2.0 * in - a1 * x[i] + s2;
            s2 = in - a2 * x[i];
        }
    }
}

static int load_voice(void **state)
{
    char why[800];

    (void)state;
    if (audio_bank_load("sounds/voice", &bank, why, sizeof why) != 0)
        return -1;
    for (int i = 0; i < CLIP_COUNT; i++) {
        const struct audio_clip *clip = &bank.clip[i];

        high[i] = calloc((size_t)clip->frames + TAIL, sizeof *high[i]);
        if (high[i] == NULL)
            return -1;
        for (uint32_t k = 0; k < clip->frames; k++)
            high[i][k] = (double)sound_sample(clip, k);
        high_pass(high[i], (int64_t)clip->frames + TAIL);
    }
    return 0;
}

static int free_voice(void **state)
{
    (void)state;
    for (int i = 0; i < CLIP_COUNT; i++)
        free(high[i]);
    audio_bank_free(&bank);
    return 0;
}

static void begin(void)
{
    audio_mixer_init(&mixer, &bank);
    memset(ideal, 0, sizeof ideal);
    memset(ideal_high, 0, sizeof ideal_high);
}

static int set_up(void **state)
{
    (void)state;
    seed = 1;
    begin();
    return 0;
}

/* ---- what is told, and what should be heard ------------------------------ */

/* The frame of a command is that of what is first heard. */
static int64_t head_of(enum audio_action action, int argument)
{
    return action == AUDIO_PLAY   ? bank.clip[argument].head_frames
           : action == AUDIO_TONE ? bank.clip[CLIP_NEAR_STALL].head_frames
                                  : 0;
}

/* frame: at which it begins, its head included. */
static void tell(enum audio_action action, int argument, uint32_t sequence,
                 int64_t frame)
{
    struct audio_command command = {.action = (uint16_t)action,
                                    .argument = (uint16_t)argument,
                                    .sequence = sequence,
                                    .gain = 1.0F};

    frame += head_of(action, argument);
    assert_true(audio_mixer_command(&mixer, &command, frame, frame));
}

static void expect(int64_t frame, int clip, int64_t at, double gain)
{
    if (at < bank.clip[clip].frames)
        ideal[frame] +=
            gain * (double)sound_sample(&bank.clip[clip], (uint32_t)at);
    ideal_high[frame] += gain * high[clip][at];
}

/* A clip from start on, faded out from cut on. */
static void expect_clip(int clip, int64_t start, int64_t cut)
{
    int64_t end = start + bank.clip[clip].frames + TAIL;

    for (int64_t i = start; i < end && i < SPAN; i++) {
        double gain = 1.0;

        if (i >= cut + FADE)
            return;
        if (i >= cut)
            gain = 0.5 + 0.5 * cos(UNITS_PI * (double)(i - cut) / FADE);
        expect(i, clip, i - start, gain);
    }
}

/* Pulses of the quickest tone until end, 9 dB down under speech. */
static void expect_tone(int64_t start, int64_t end, int64_t speech_from,
                        int64_t speech_to)
{
    const double depth = 1.0 - pow(10.0, -9.0 / 20.0);
    const int64_t frames = (int64_t)bank.clip[CLIP_NEAR_STALL].frames + TAIL;
    double down = 0.0;
    int64_t hold = 0;

    for (int64_t i = 0; i < SPAN; i++) {
        int64_t at = (i - start) % 9600;

        if (i >= speech_from && i < speech_to) {
            down = fmin(1.0, down + 1.0 / 480);
            hold = 4800;
        } else if (hold > 0) {
            hold--;
        } else {
            down = fmax(0.0, down - 1.0 / 4800);
        }
        if (i >= start && i - at < end && at < frames)
            expect(i, CLIP_NEAR_STALL, at,
                   1.0 - depth * 0.5 * (1.0 - cos(UNITS_PI * down)));
    }
}

static void render(void)
{
    for (int64_t at = 0; at < SPAN; at += 250)
        audio_mixer_render(&mixer, at, out + at, 250);
}

/* ---- the measures -------------------------------------------------------- */

static double loudest_db(void)
{
    double sum = 0.0, most = 1e-30;

    for (int i = 0; i < SPAN; i++) {
        sum += work[i] * work[i];
        if (i >= WINDOW)
            sum -= work[i - WINDOW] * work[i - WINDOW];
        most = fmax(most, sum);
    }
    return 10.0 * log10(most / WINDOW);
}

static double excess_db(void)
{
    for (int i = 0; i < SPAN; i++)
        work[i] = (double)out[i] - ideal[i];
    return loudest_db();
}

static double splatter_db(void)
{
    for (int i = 0; i < SPAN; i++)
        work[i] = (double)out[i];
    high_pass(work, SPAN);
    for (int i = 0; i < SPAN; i++)
        work[i] -= ideal_high[i];
    return loudest_db();
}

static void assert_no_click(void)
{
    render();
    assert_true(excess_db() < most_excess_db);
    assert_true(splatter_db() < most_splatter_db);
}

/* ---- where to cut -------------------------------------------------------- */

static int64_t draw(int64_t below)
{
    seed = seed * 1664525U + 1013904223U;
    return (int64_t)(((uint64_t)seed * (uint64_t)below) >> 32);
}

/* The worst places of a clip come first: its highest sample and its steepest;
 * then any. */
static int64_t cut_at(int clip, int trial)
{
    const struct audio_clip *c = &bank.clip[clip];
    uint32_t high_at = 1, steep_at = 1;

    for (uint32_t i = 1; i < c->frames; i++) {
        if (abs(c->sample[i]) > abs(c->sample[high_at]))
            high_at = i;
        if (abs(c->sample[i] - c->sample[i - 1]) >
            abs(c->sample[steep_at] - c->sample[steep_at - 1]))
            steep_at = i;
    }
    return trial == 0 ? high_at : trial == 1 ? steep_at : draw(c->frames);
}

static int any_word(void)
{
    int clip = (int)draw(CLIP_COUNT);

    return clip == CLIP_NEAR_STALL ? CLIP_STALL : clip;
}

/* ---- the scenes ---------------------------------------------------------- */

static void cuts_speech_off_for_speech_without_a_click(void **state)
{
    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++) {
        for (int trial = 0; trial < 4; trial++) {
            int64_t start = 1000 + draw(500);
            int64_t cut = start + cut_at(clip, trial);
            int next = any_word();

            begin();
            tell(AUDIO_PLAY, clip, 1, start);
            tell(AUDIO_CUT, 0, 2, cut);
            tell(AUDIO_PLAY, next, 2, cut);
            expect_clip(clip, start, cut);
            expect_clip(next, cut, never);
            assert_no_click();
        }
    }
}

static void warns_over_speech_and_tone_without_a_click(void **state)
{
    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++) {
        for (int trial = 0; trial < 3; trial++) {
            int64_t start = 700 + draw(9600);
            int64_t cut = start + cut_at(clip, trial);

            begin();
            tell(AUDIO_TONE, 3, 0, 500);
            tell(AUDIO_PLAY, clip, 1, start);
            tell(AUDIO_CUT, 0, 2, cut);
            tell(AUDIO_PLAY, CLIP_STALL, 2, cut);
            expect_clip(clip, start, cut);
            expect_clip(CLIP_STALL, cut, never);
            expect_tone(500, never, start, cut + bank.clip[CLIP_STALL].frames);
            assert_no_click();
        }
    }
}

/* In every phase of the pulse, both where speech begins and where it ends. */
static void ducks_the_tone_without_a_click(void **state)
{
    (void)state;
    for (int trial = 0; trial < 40; trial++) {
        int word = any_word();
        int64_t start = 500 + 240 * trial;

        begin();
        tell(AUDIO_TONE, 3, 0, 500);
        tell(AUDIO_PLAY, word, 1, start);
        expect_clip(word, start, never);
        expect_tone(500, never, start, start + bank.clip[word].frames);
        assert_no_click();
    }
}

/* Muted in the middle of a word and of a pulse, and told again of the tone. */
static void mutes_and_unmutes_without_a_click(void **state)
{
    (void)state;
    for (int trial = 0; trial < 40; trial++) {
        int word = any_word();
        int64_t start = 600 + draw(4000);
        int64_t cut = start + cut_at(word, trial);
        int64_t spoken = start + bank.clip[word].frames;
        int64_t end = cut + FADE < spoken ? cut + FADE : spoken;

        begin();
        tell(AUDIO_TONE, 3, 0, 500);
        tell(AUDIO_PLAY, word, 1, start);
        tell(AUDIO_CUT, 0, 2, cut);
        tell(AUDIO_TONE, 0, 0, cut);
        expect_clip(word, start, cut);
        expect_tone(500, cut, start, end);
        assert_no_click();
        assert_true(audio_mixer_idle(&mixer));
    }
    begin();
    tell(AUDIO_TONE, 3, 0, 20000);
    expect_tone(20000, never, never, never);
    assert_no_click();
}

static void says_every_clip_as_it_is(void **state)
{
    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++) {
        begin();
        tell(AUDIO_PLAY, clip, 1, 1000);
        expect_clip(clip, 1000, never);
        assert_no_click();
        for (uint32_t i = 0; i < bank.clip[clip].frames; i++)
            assert_true(out[1000 + i] == sound_sample(&bank.clip[clip], i));
    }
}

/* A sound that nobody could foresee leaves out its head, or a part of it. */
static void expect_late(int clip, int64_t start, int64_t skipped)
{
    const int64_t rise = AUDIO_RATE_HZ / 2000;
    int64_t end = (int64_t)bank.clip[clip].frames + TAIL;

    for (int64_t i = skipped; i < end; i++) {
        int64_t risen = skipped > 0 && i - skipped < rise ? i - skipped : rise;

        expect(start + i - skipped, clip, i,
               0.5 - 0.5 * cos(UNITS_PI * (double)risen / (double)rise));
    }
}

static void begins_late_without_a_click(void **state)
{
    const int64_t end = 60000; /* two pulses */

    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++) {
        int64_t head = bank.clip[clip].head_frames;

        assert_true(head > 0);
        for (int64_t late = 0; late <= head; late += late + 7 < head ? 7 : 1) {
            begin();
            audio_mixer_render(&mixer, 0, out, 1000);
            if (clip == CLIP_NEAR_STALL)
                tell(AUDIO_TONE, 1, 0, 1000 - late);
            else
                tell(AUDIO_PLAY, clip, 1, 1000 - late);
            for (int64_t at = 1000; at < end; at += 250)
                audio_mixer_render(&mixer, at, out + at, 250);
            memset(out + end, 0, (size_t)(SPAN - end) * sizeof *out);
            expect_late(clip, 1000, late);
            if (clip == CLIP_NEAR_STALL)
                expect_late(clip, 1000 - late + 38400, 0);
            assert_true(excess_db() < most_excess_db);
            assert_true(splatter_db() < most_splatter_db);
        }
    }
}

/* The highest of the samples at which a clip begins and ends, silence apart:
 * two steps of a 16-bit sample are silence. */
static double edge_of(const struct audio_clip *clip)
{
    const int silence = 2;
    uint32_t from = 0, to = clip->frames - 1;

    while (from < to && abs(clip->sample[from]) <= silence)
        from++;
    while (to > from && abs(clip->sample[to]) <= silence)
        to--;
    return (double)fmaxf(fabsf(sound_sample(clip, from)),
                         fabsf(sound_sample(clip, to)));
}

/* A clip that began or ended in the middle of a wave would click, however the
 * mixer plays it: a step of -60 dB has -91 dB above 10 kHz over 5 ms. */
static void shipped_clips_begin_and_end_in_silence(void **state)
{
    static const int16_t torn[] = {0, 0, 328, 9830, 0};
    static const struct audio_clip bad = {torn, 5, 0};

    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++)
        assert_true(edge_of(&bank.clip[clip]) < 0.001);
    assert_true(edge_of(&bad) > 0.001);
}

/* Both measures hear a cut without a fade, and one that is too short. */
static void hears_a_click_where_there_is_one(void **state)
{
    static const int frames[] = {1, 24};

    (void)state;
    for (int clip = 0; clip < CLIP_COUNT; clip++) {
        for (int k = 0; k < 2; k++) {
            int64_t cut = 1000 + cut_at(clip, 0);

            begin();
            tell(AUDIO_PLAY, clip, 1, 1000);
            expect_clip(clip, 1000, cut);
            render();
            for (int64_t i = cut; i < SPAN; i++)
                out[i] *=
                    fmaxf(0.0F, 1.0F - (float)(i - cut + 1) / (float)frames[k]);
            assert_true(excess_db() > most_excess_db + 60.0);
            assert_true(splatter_db() >
                        most_splatter_db + (k == 0 ? 30.0 : 0.0));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(cuts_speech_off_for_speech_without_a_click,
                               set_up),
        cmocka_unit_test_setup(warns_over_speech_and_tone_without_a_click,
                               set_up),
        cmocka_unit_test_setup(ducks_the_tone_without_a_click, set_up),
        cmocka_unit_test_setup(mutes_and_unmutes_without_a_click, set_up),
        cmocka_unit_test_setup(says_every_clip_as_it_is, set_up),
        cmocka_unit_test_setup(begins_late_without_a_click, set_up),
        cmocka_unit_test_setup(shipped_clips_begin_and_end_in_silence, set_up),
        cmocka_unit_test_setup(hears_a_click_where_there_is_one, set_up),
    };

    return cmocka_run_group_tests_name("clicks", tests, load_voice,
                                       free_voice) != 0;
}
