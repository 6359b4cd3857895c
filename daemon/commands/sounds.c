/* sounds.c - list, play, render and check the cue set. */
#include <stdio.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "quarterturn/units.h"
#include "words.h"

enum { MOST_NAMES = 64, MOST_CLIPS = MOST_NAMES * CALLOUT_MAX_CLIPS };

/* Between the pieces of one call, and between two names. */
static const int64_t clip_gap_ns = INT64_C(40000000);
static const int64_t name_gap_ns = INT64_C(400000000);
static const int64_t lead_ns = INT64_C(300000000);
static const int64_t ahead_ns = INT64_C(500000000);

enum { LOOK_MS = 100, DEVICE_WAIT_MS = 10000, DRAIN_MS = 3000 };

/* What was asked for, as commands whose instants count from 0. */
struct sequence {
    struct audio_command command[MOST_CLIPS];
    uint32_t count;
    int64_t end_ns;
};

static const enum callout_clip example_result[] = {
    CLIP_HEADING, CLIP_PLUS, CLIP_6, CLIP_GAINED,          CLIP_8,
    CLIP_HUNDRED, CLIP_FEET, CLIP_4, CLIP_ABOVE_THE_STALL,
};

static const enum callout_clip example_verdict[] = {
    CLIP_NOT_IN_STANDARD,
    CLIP_NEXT_TIME,
    CLIP_HOLD_PITCH,
};

/* ---- names -------------------------------------------------------------- */

static void append_clips(struct sequence *sequence,
                         const struct audio_bank *bank,
                         const enum callout_clip *clips, size_t count,
                         float gain)
{
    int64_t at_ns = sequence->count > 0 ? sequence->end_ns + name_gap_ns : 0;

    for (size_t i = 0; i < count; i++) {
        uint32_t frames = bank->clip[clips[i]].frames;

        sequence->command[sequence->count++] = (struct audio_command){
            .start_ns = at_ns,
            .expiry_ns = at_ns + DRAIN_MS * INT64_C(1000000),
            .action = AUDIO_PLAY,
            .argument = (uint16_t)clips[i],
            .gain = gain,
        };
        sequence->end_ns =
            at_ns + (int64_t)frames * UNITS_NS_PER_S / AUDIO_RATE_HZ;
        at_ns = sequence->end_ns + clip_gap_ns;
    }
}

/* A cue's name is the name of its clip; only the spoken result and the verdict
 * are composed, of which an example is heard. */
static int append_name(struct sequence *sequence, const struct audio_bank *bank,
                       const char *name, float gain)
{
    enum callout_clip clip;

    if (strcmp(name, callout_cue_info(CUE_RESULT)->name) == 0) {
        append_clips(sequence, bank, example_result,
                     sizeof example_result / sizeof example_result[0], gain);
        return EXIT_DONE;
    }
    if (strcmp(name, callout_cue_info(CUE_VERDICT)->name) == 0) {
        append_clips(sequence, bank, example_verdict,
                     sizeof example_verdict / sizeof example_verdict[0], gain);
        return EXIT_DONE;
    }
    if (callout_clip_find(name, &clip) != 0) {
        log_line(LOG_LEVEL_ERROR,
                 "sounds: there is no cue or clip \"%s\"; \"quarterturn "
                 "sounds\" lists them",
                 name);
        return EXIT_WRONG_USAGE;
    }
    append_clips(sequence, bank, &clip, 1, gain);
    return EXIT_DONE;
}

static int append_names(struct sequence *sequence,
                        const struct audio_bank *bank, const char **names,
                        int count, float gain)
{
    if (count == 0) {
        log_line(LOG_LEVEL_ERROR, "sounds: name the cues or clips to hear; "
                                  "\"quarterturn sounds\" lists them");
        return EXIT_WRONG_USAGE;
    }
    for (int i = 0; i < count; i++) {
        int status = append_name(sequence, bank, names[i], gain);

        if (status != EXIT_DONE)
            return status;
    }
    return EXIT_DONE;
}

/* ---- listing ------------------------------------------------------------ */

static void list_cues(void)
{
    (void)printf("%-13s %-7s %-13s %s\n", "cue", "rank", "text", "meaning");
    for (int i = 0; i < CUE_COUNT; i++) {
        const struct callout_cue_info *info =
            callout_cue_info((enum callout_cue)i);

        (void)printf(
            "%-13s %-7s %-13s %s\n", info->name, callout_rank_name(info->rank),
            info->text[0] != '\0' ? info->text : "(composed)", info->meaning);
    }
}

static void list_clips(const char *folder, const struct audio_bank *bank)
{
    double seconds[CLIP_COUNT];

    audio_bank_durations(bank, seconds);
    (void)printf("\nclips of %s, seconds\n", folder);
    for (int i = 0; i < CLIP_COUNT; i++) {
        bool last = i % 3 == 2 || i == CLIP_COUNT - 1;

        (void)printf("%-16s %.3f%s", callout_clip_name((enum callout_clip)i),
                     seconds[i], last ? "\n" : "   ");
    }
}

/* ---- a file ------------------------------------------------------------- */

static int render(const struct sequence *sequence,
                  const struct audio_bank *bank, const char *path)
{
    char why[AUDIO_PATH_SIZE + 128];
    struct audio_wav *wav;
    int error = audio_wav_open(path, bank, 0, &wav, why, sizeof why);

    if (error != 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_COULD_NOT;
    }
    for (uint32_t i = 0; i < sequence->count && error == 0; i++) {
        error = audio_wav_submit(wav, &sequence->command[i]);
        if (error == 0)
            error = audio_wav_advance(wav, sequence->command[i].start_ns);
    }
    if (error == 0)
        error = audio_wav_advance(wav, sequence->end_ns + clip_gap_ns);
    if (error != 0) {
        (void)audio_wav_close(wav, false);
    } else {
        error = audio_wav_close(wav, true);
    }
    if (error != 0) {
        log_plain(LOG_LEVEL_ERROR, "%s: %s", path, error_name(error));
        return EXIT_COULD_NOT;
    }
    return EXIT_DONE;
}

/* ---- a device ----------------------------------------------------------- */

struct playing {
    uv_loop_t loop;
    uv_timer_t timer;
    struct audio_output *output;
    const struct sequence *sequence;
    uint32_t submitted;
    int64_t origin_ns; /* 0 until a device plays */
    int64_t give_up_ns;
    bool heard;
};

static void stop_playing(struct playing *playing)
{
    audio_output_close(playing->output, DRAIN_MS);
    uv_close((uv_handle_t *)&playing->timer, NULL);
}

/* A piece at a time: the worker takes only what is soon to be heard. */
static void submit_soon(struct playing *playing, int64_t now_ns)
{
    const struct sequence *sequence = playing->sequence;

    while (playing->submitted < sequence->count) {
        struct audio_command command = sequence->command[playing->submitted];

        command.start_ns += playing->origin_ns;
        command.expiry_ns += playing->origin_ns;
        if (command.start_ns > now_ns + ahead_ns)
            return;
        (void)audio_output_submit(playing->output, &command);
        playing->submitted++;
    }
    playing->heard = true;
    stop_playing(playing);
}

static void on_look(uv_timer_t *timer)
{
    struct playing *playing = timer->data;
    int64_t now_ns = (int64_t)uv_hrtime();
    struct audio_status status;

    audio_output_status(playing->output, &status);
    if (playing->origin_ns == 0 && status.state == AUDIO_PLAYING &&
        status.callbacks > 0)
        playing->origin_ns = now_ns + lead_ns;
    if (status.state == AUDIO_NO_DEVICE || status.state == AUDIO_FAILED ||
        (playing->origin_ns == 0 && now_ns > playing->give_up_ns))
        stop_playing(playing);
    else if (playing->origin_ns != 0)
        submit_soon(playing, now_ns);
}

static int play(const struct sequence *sequence,
                const struct audio_settings *settings, const char *program)
{
    struct playing playing = {.sequence = sequence};

    if (uv_loop_init(&playing.loop) != 0) {
        log_line(LOG_LEVEL_ERROR, "sounds: out of memory");
        return EXIT_COULD_NOT;
    }
    (void)uv_timer_init(&playing.loop, &playing.timer);
    playing.timer.data = &playing;
    playing.give_up_ns =
        (int64_t)uv_hrtime() + DEVICE_WAIT_MS * INT64_C(1000000);
    if (audio_output_open(&playing.loop, program, settings, NULL, NULL,
                          &playing.output) == 0)
        (void)uv_timer_start(&playing.timer, on_look, LOOK_MS, LOOK_MS);
    else
        uv_close((uv_handle_t *)&playing.timer, NULL);
    (void)uv_run(&playing.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&playing.loop);
    if (!playing.heard) {
        log_line(LOG_LEVEL_ERROR,
                 "sounds: no sound device plays; \"sounds --wav FILE NAME\" "
                 "writes a file instead");
        return EXIT_COULD_NOT;
    }
    return EXIT_DONE;
}

/* ---- the command -------------------------------------------------------- */

static void print_finding(void *context, const char *line)
{
    (void)context;
    (void)printf("%s\n", line);
}

static int check(const char *folder)
{
    int findings = audio_voice_check(folder, print_finding, NULL);

    if (findings == 0)
        (void)printf("%s: %d clips, nothing to complain of\n", folder,
                     CLIP_COUNT);
    return findings == 0 ? EXIT_DONE : EXIT_COULD_NOT;
}

static int list(const char *folder, const struct audio_bank *bank)
{
    list_cues();
    list_clips(folder, bank);
    return EXIT_DONE;
}

int command_sounds(int argc, char **argv, const struct command_context *context)
{
    static struct settings settings;
    static struct sequence sequence;
    const char *names[MOST_NAMES];
    const char *wav = NULL;
    const char *folder = NULL;
    bool aloud = false;
    const struct words_option options[] = {
        {.name = "--play", .flag = &aloud},
        {.name = "--wav", .text = &wav, .file = true},
        {.name = "--check", .text = &folder},
        {0}};
    char why[AUDIO_PATH_SIZE + 256];
    struct audio_bank bank;
    int count;
    int status = words_read(argc, argv, options, names, MOST_NAMES, &count);

    if (status != 0)
        return status;
    if (folder != NULL)
        return check(folder);
    if (settings_load(&context->choice, context->data_folder, &settings, why,
                      sizeof why) != 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_WRONG_USAGE;
    }
    if (audio_bank_load(settings.audio.voice_folder, &bank, why, sizeof why) !=
        0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_WRONG_USAGE;
    }
    if (!aloud && wav == NULL && count == 0)
        status = list(settings.audio.voice_folder, &bank);
    else
        status = append_names(&sequence, &bank, names, count,
                              (float)settings.audio.gain);
    if (status == EXIT_DONE && wav != NULL)
        status = render(&sequence, &bank, wav);
    /* Names alone are played: what else would one want of them. */
    if (status == EXIT_DONE && sequence.count > 0 && (aloud || wav == NULL))
        status = play(&sequence, &settings.audio, context->program);
    audio_bank_free(&bank);
    return status;
}
