/* say_in_noise.c - what the program says, in the noise of a piston engine:
 * what tests/voice/recognise has a recogniser listen to.
 *
 *   say_in_noise VOICE FOLDER clips|digits|grouped SEED TURNS A|Z SNR-DB...
 *
 * "clips": every clip of speech by itself; "digits", "grouped": every sentence
 * with a number in that style, as the mixer renders it. TURNS of the engine a
 * minute. Speech and noise are compared with the frequency weighting A or
 * without (Z, IEC 61672-1), the speech over each phrase by itself.
 * Writes FOLDER/grammar.jsgf (every phrase there is), FOLDER/phrases (name,
 * tab, text of what is spoken) and FOLDER/SNR/NAME.raw: 16 kHz, one channel,
 * 16 bit, little-endian. Same arguments, same samples. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../../daemon/audio/resample.h"
#include "engine.h"
#include "quarterturn/audio.h"
#include "quarterturn/error.h"

enum {
    HEARD_RATE_HZ = 16000,
    MOST_FRAMES = 12 * AUDIO_RATE_HZ,
    MARGIN_FRAMES = AUDIO_RATE_HZ * 3 / 10, /* of noise, on either side */
    GAP_FRAMES = AUDIO_RATE_HZ / 25         /* between clips: 40 ms */
};

struct phrase {
    enum callout_clip clip[CALLOUT_MAX_CLIPS];
    uint32_t count;
};

struct speaker {
    struct audio_bank bank;
    enum callout_numbers style;
    const char *folder;
    uint64_t seed;
    double turns_per_minute;
    bool weighted;
    char **snr;
    int snr_count;
    FILE *phrases;
    FILE *grammar;
    int spoken;
    int alternatives;
};

static float speech[MOST_FRAMES];
static float noise[MOST_FRAMES];
static float heard[MOST_FRAMES];

/* The mixer's own sound of a phrase.
 * Returns: frames from its first to its last sample. */
static uint32_t render_phrase(const struct speaker *speaker,
                              const struct phrase *phrase)
{
    static struct audio_mixer mixer;
    uint32_t at = 0;

    audio_mixer_init(&mixer, &speaker->bank);
    for (uint32_t i = 0; i < phrase->count; i++) {
        struct audio_command command = {.sequence = 1,
                                        .action = AUDIO_PLAY,
                                        .argument = (uint16_t)phrase->clip[i],
                                        .gain = 1.0F};
        const struct audio_clip *clip = &speaker->bank.clip[phrase->clip[i]];
        uint32_t behind_head;

        at += i > 0 ? GAP_FRAMES : 0;
        behind_head = at + clip->head_frames;
        (void)audio_mixer_command(&mixer, &command, behind_head, behind_head);
        at += clip->frames;
    }
    audio_mixer_render(&mixer, 0, speech, at);
    return at;
}

struct reader {
    uint32_t at;
    uint32_t end;
};

static void give(void *context, float *out, uint32_t frames)
{
    struct reader *reader = context;

    for (uint32_t i = 0; i < frames; i++)
        out[i] = reader->at < reader->end ? heard[reader->at++] : 0.0F;
}

static int write_samples(FILE *file, const float *samples, uint32_t count)
{
    for (uint32_t i = 0; i < count; i++) {
        long value =
            lround(32767.0 * fmax(-1.0, fmin(1.0, (double)samples[i])));
        uint8_t bytes[2] = {(uint8_t)(value & 0xff),
                            (uint8_t)((value >> 8) & 0xff)};

        if (fwrite(bytes, 1, 2, file) != 2)
            return ERR_IO;
    }
    return 0;
}

static int write_raw(const char *path, uint32_t frames)
{
    static struct audio_resampler resampler;
    static float out[MOST_FRAMES];
    struct reader reader = {0, frames};
    uint32_t count =
        (uint32_t)((uint64_t)frames * HEARD_RATE_HZ / AUDIO_RATE_HZ);
    int status = audio_resampler_init(&resampler, HEARD_RATE_HZ);
    FILE *file;

    if (status != 0)
        return status;
    audio_resampler_fill(&resampler, give, &reader, out, count);
    audio_resampler_fini(&resampler);
    file = fopen(path, "wb");
    if (file == NULL)
        return ERR_IO;
    status = write_samples(file, out, count);
    if (fclose(file) != 0)
        status = ERR_IO;
    return status;
}

static double power(const struct speaker *speaker, const float *samples,
                    uint32_t frames)
{
    double sum = 0.0;

    if (speaker->weighted)
        return engine_weighted(samples, frames);
    for (uint32_t i = 0; i < frames; i++)
        sum += (double)samples[i] * (double)samples[i];
    return sum / frames;
}

static int speak(struct speaker *speaker, const struct phrase *phrase)
{
    uint32_t spoken = render_phrase(speaker, phrase);
    uint32_t frames = spoken + 2 * MARGIN_FRAMES;
    double wanted = power(speaker, speech, spoken);
    double have;

    engine_noise(speaker->seed * 1000 + (uint64_t)speaker->spoken,
                 speaker->turns_per_minute, noise, frames);
    have = power(speaker, noise, frames);
    for (int s = 0; s < speaker->snr_count; s++) {
        double factor = sqrt(wanted / have /
                             pow(10.0, strtod(speaker->snr[s], NULL) / 10.0));
        char path[512];
        float most = 0.0F;

        for (uint32_t i = 0; i < frames; i++) {
            bool inside = i >= MARGIN_FRAMES && i < MARGIN_FRAMES + spoken;

            heard[i] = (float)(factor * noise[i]) +
                       (inside ? speech[i - MARGIN_FRAMES] : 0.0F);
            most = fmaxf(most, fabsf(heard[i]));
        }
        for (uint32_t i = 0; i < frames; i++)
            heard[i] *= 0.5F / most;
        (void)snprintf(path, sizeof path, "%s/%s/%03d.raw", speaker->folder,
                       speaker->snr[s], speaker->spoken);
        if (write_raw(path, frames) != 0) {
            perror(path);
            return ERR_IO;
        }
    }
    return 0;
}

/* A phrase of the grammar; spoken: also one to listen to. */
static int add_phrase(struct speaker *speaker, const struct phrase *phrase,
                      bool spoken)
{
    char text[CALLOUT_TEXT_SIZE];

    callout_clips_text(phrase->clip, phrase->count, text, sizeof text);
    (void)fprintf(speaker->grammar, "%s%s",
                  speaker->alternatives++ > 0 ? "\n | " : "", text);
    if (!spoken)
        return 0;
    (void)fprintf(speaker->phrases, "%03d\t%s\n", speaker->spoken, text);
    if (speak(speaker, phrase) != 0)
        return ERR_IO;
    speaker->spoken++;
    return 0;
}

/* Every clip of speech by itself. */
static int say_clips(struct speaker *speaker)
{
    int status = 0;

    for (int clip = 0; clip < CLIP_NEAR_STALL && status == 0; clip++) {
        struct phrase phrase = {{(enum callout_clip)clip}, 1};

        status = add_phrase(speaker, &phrase, true);
    }
    return status;
}

/* A number between two clips; CLIP_COUNT: none there. */
static int add_number(struct speaker *speaker, enum callout_clip before,
                      long number, enum callout_clip after, bool spoken)
{
    struct phrase phrase = {.count = 0};

    if (before == CLIP_PLUS || before == CLIP_MINUS)
        phrase.clip[phrase.count++] = CLIP_HEADING;
    if (before != CLIP_COUNT)
        phrase.clip[phrase.count++] = before;
    if (callout_say_number(number, speaker->style, phrase.clip, &phrase.count,
                           CALLOUT_MAX_CLIPS - 1) != 0)
        return ERR_RANGE;
    if (after != CLIP_COUNT)
        phrase.clip[phrase.count++] = after;
    return add_phrase(speaker, &phrase, spoken);
}

/* The parts of a spoken result. */
static int say_numbers(struct speaker *speaker)
{
    int status = add_number(speaker, CLIP_HEADING, 0, CLIP_COUNT, true);

    for (long deg = 1; deg <= 45 && status == 0; deg++) {
        status = add_number(speaker, CLIP_PLUS, deg, CLIP_COUNT, deg % 2 == 0);
        if (status == 0)
            status =
                add_number(speaker, CLIP_MINUS, deg, CLIP_COUNT, deg % 2 == 1);
    }
    for (long ft = 0; ft <= 1500 && status == 0; ft += 50) {
        status = add_number(speaker, CLIP_GAINED, ft, CLIP_FEET, ft % 150 != 0);
        if (status == 0)
            status =
                add_number(speaker, CLIP_LOST, ft, CLIP_FEET, ft % 150 == 0);
    }
    for (long kt = 0; kt <= 40 && status == 0; kt++)
        status =
            add_number(speaker, CLIP_COUNT, kt, CLIP_ABOVE_THE_STALL, true);
    return status;
}

static FILE *open_in(const char *folder, const char *name)
{
    char path[512];
    FILE *file;

    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    file = fopen(path, "w");
    if (file == NULL)
        perror(path);
    return file;
}

static int say_all(struct speaker *speaker, const char *what)
{
    int status;

    speaker->phrases = open_in(speaker->folder, "phrases");
    speaker->grammar = open_in(speaker->folder, "grammar.jsgf");
    if (speaker->phrases == NULL || speaker->grammar == NULL)
        return ERR_IO;
    speaker->style =
        strcmp(what, "grouped") == 0 ? NUMBERS_GROUPED : NUMBERS_DIGITS;
    (void)fputs("#JSGF V1.0;\ngrammar calls;\npublic <call> = ",
                speaker->grammar);
    status =
        strcmp(what, "clips") == 0 ? say_clips(speaker) : say_numbers(speaker);
    (void)fputs(";\n", speaker->grammar);
    if (fclose(speaker->grammar) != 0 || fclose(speaker->phrases) != 0)
        status = ERR_IO;
    return status;
}

int main(int argc, char **argv)
{
    static struct speaker speaker;
    char why[AUDIO_PATH_SIZE + 256];
    int status;

    if (argc < 8) {
        (void)fprintf(stderr, "usage: say_in_noise VOICE FOLDER clips|digits|"
                              "grouped SEED TURNS A|Z SNR-DB...\n");
        return EXIT_FAILURE;
    }
    speaker.folder = argv[2];
    speaker.seed = strtoull(argv[4], NULL, 10);
    speaker.turns_per_minute = strtod(argv[5], NULL);
    speaker.weighted = strcmp(argv[6], "A") == 0;
    speaker.snr = argv + 7;
    speaker.snr_count = argc - 7;
    if (audio_bank_load(argv[1], &speaker.bank, why, sizeof why) != 0) {
        (void)fprintf(stderr, "%s\n", why);
        return EXIT_FAILURE;
    }
    status = say_all(&speaker, argv[3]);
    audio_bank_free(&speaker.bank);
    return status == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
