/* outputs.c - captions, event lines, pages, and files of sound. */
#include "outputs.h"

#include <errno.h>
#include <math.h>
#include <string.h>
#include <uv.h>

#include "keeper.h"
#include "outputs_sound.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"
#include "targets.h"

static double stream_seconds(const struct outputs *outputs, int64_t t_ns)
{
    return (double)(t_ns - outputs->origin_ns) * 1e-9;
}

/* ---- opening ------------------------------------------------------------ */

/* A file of its own is written beside its place and takes it when all went
 * well. What somebody may be reading meanwhile is written in place: the lines
 * of a live session, a pipe, a device. */
static bool written_in_place(const struct outputs_choice *choice)
{
    return choice->live || file_is_special(choice->events);
}

/* Whoever reads a pipe may stall; the loop then does not. */
static int open_pipe(struct outputs *outputs)
{
    struct writers *writers = outputs->choice.writers;
    int error = writers_open_events(writers, outputs->choice.events);

    if (error != 0) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s",
                 outputs->choice.events, uv_strerror(error));
        return EXIT_COULD_NOT;
    }
    outputs->events_file = writers_file(writers, WRITERS_EVENTS);
    outputs->events_lent = true;
    return 0;
}

static int open_events(struct outputs *outputs)
{
    struct writers *writers = outputs->choice.writers;
    const char *path = outputs->choice.events;
    int written;

    if (path == NULL)
        return 0;
    if (targets_is_output(path)) {
        outputs->events_file = outputs->out;
        outputs->events_lent = true;
        /* Event lines and captions do not mix in one pipe. */
        outputs->captions = stderr;
        if (writers != NULL) {
            outputs->captions = writers_file(writers, WRITERS_ERR);
            writers_hold_events(writers);
        }
        return 0;
    }
    if (writers != NULL && file_is_special(path))
        return open_pipe(outputs);
    if (!written_in_place(&outputs->choice)) {
        written = snprintf(outputs->events_part, sizeof outputs->events_part,
                           "%s.part", path);
        if (written < 0 || (size_t)written >= sizeof outputs->events_part) {
            outputs->events_part[0] = '\0';
            log_line(LOG_LEVEL_ERROR, "%s: the path is too long", path);
            return EXIT_WRONG_USAGE;
        }
        outputs->events_file = file_open_part(outputs->events_part);
    } else {
        outputs->events_file = file_open_in_place(path);
    }
    if (outputs->events_file == NULL) {
        outputs->events_part[0] = '\0';
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", path,
                 strerror(errno));
        return EXIT_COULD_NOT;
    }
    return 0;
}

static int open_pages(struct outputs *outputs)
{
    char why[2 * SETTINGS_PATH_SIZE];
    const char *folder = outputs->choice.pages != NULL
                             ? outputs->choice.pages
                             : outputs->settings->pages_folder;

    if (folder[0] == '\0' ||
        pages_open(folder, &outputs->pages, why, sizeof why) == 0)
        return 0;
    log_plain(LOG_LEVEL_ERROR, "%s", why);
    return EXIT_COULD_NOT;
}

void outputs_use_loop(struct outputs *outputs, struct uv_loop_s *loop)
{
    if (outputs->pages != NULL)
        pages_use_loop(outputs->pages, loop);
}

int outputs_open(struct outputs *outputs, const struct outputs_choice *choice,
                 struct settings *settings)
{
    char why[SETTINGS_PATH_SIZE];
    int status;

    memset(outputs, 0, sizeof *outputs);
    outputs->choice = *choice;
    outputs->settings = settings;
    outputs->out = choice->writers != NULL
                       ? writers_file(choice->writers, WRITERS_OUT)
                       : stdout;
    outputs->captions = outputs->out;
    if (audio_bank_load(settings->audio.voice_folder, &outputs->bank, why,
                        sizeof why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_COULD_NOT;
    }
    audio_bank_durations(&outputs->bank, settings->callout.clip_s);
    /* The sound worker has clips of its own: only a WAV file needs them here,
     * and they are half of what the program would hold. */
    if (choice->wav == NULL)
        audio_bank_free(&outputs->bank);
    status = open_events(outputs);
    if (status == 0)
        status = open_pages(outputs);
    if (status == 0 && choice->wav != NULL) {
        /* Opened now, so that a folder that cannot be written to is known
         * before an hour has been flown; begun with the first packet. */
        if (audio_wav_open(choice->wav, &outputs->bank, 0, &outputs->wav, why,
                           sizeof why) < 0) {
            log_plain(LOG_LEVEL_ERROR, "%s", why);
            status = EXIT_COULD_NOT;
        }
    }
    if (status != 0)
        (void)outputs_close(outputs, 0, false);
    return status;
}

void outputs_begin(struct outputs *outputs, int64_t origin_ns)
{
    if (outputs->has_origin)
        return;
    outputs->has_origin = true;
    outputs->origin_ns = origin_ns;
    outputs->wav_ns = outputs->wav_due_ns = origin_ns;
    if (outputs->events_file != NULL &&
        debrief_log_open(outputs->events_file, origin_ns, &outputs->log) < 0)
        outputs->failed = true;
}

/* ---- what a session gives ----------------------------------------------- */

static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct outputs *outputs = context;
    char text[128];

    if (outputs->log != NULL &&
        debrief_log_event(outputs->log, event, grade) < 0)
        outputs->failed = true;
    debrief_event_text(event, text, sizeof text);
    if (!outputs->choice.quiet && text[0] != '\0')
        (void)fprintf(outputs->captions, "%8.2f s    %s\n",
                      stream_seconds(outputs, event->t_ns), text);
}

/* A turn that was never meant as an attempt is given up soon: the line about
 * it is enough. */
static bool worth_a_debrief(const struct debrief_attempt *attempt)
{
    return attempt->ending == ENDING_FINISHED || !isnan(attempt->ninety_s) ||
           attempt->reason == REASON_STALLED;
}

static void on_attempt(void *context, const struct debrief_attempt *attempt)
{
    struct outputs *outputs = context;
    const char *help = callout_help_name(outputs->help);

    /* Of the next one it is said when it is not full. */
    outputs->help = HELP_FULL;
    if (!worth_a_debrief(attempt))
        return;
    debrief_attempt_print(outputs->captions, attempt);
    (void)fputc('\n', outputs->captions);
    if (outputs->keeper != NULL)
        keeper_add(outputs->keeper, attempt, help);
    if (outputs->pages != NULL)
        pages_write(outputs->pages, attempt);
}

static void on_call(void *context, const struct callout_call *call)
{
    struct outputs *outputs = context;

    outputs->calls++;
    (void)fprintf(outputs->captions, "%8.2f s  > %s\n",
                  stream_seconds(outputs, call->onset_ns), call->text);
    if (outputs->log != NULL && debrief_log_call(outputs->log, call) < 0)
        outputs->failed = true;
    if (!outputs->muted)
        outputs_sound_call(outputs, call);
}

static void on_tone(void *context, const struct callout_tone *tone)
{
    struct outputs *outputs = context;

    outputs->tone = *tone;
    if (!outputs->muted)
        outputs_sound_tone(outputs, tone);
}

static void on_help(void *context, int64_t t_ns, enum callout_help help,
                    uint32_t silent)
{
    struct outputs *outputs = context;

    outputs->help = help;
    if (outputs->log != NULL &&
        debrief_log_help(outputs->log, t_ns, help, silent) < 0)
        outputs->failed = true;
    if (outputs->choice.quiet)
        return;
    (void)fprintf(outputs->captions, "%8.2f s    help: %s",
                  stream_seconds(outputs, t_ns), callout_help_name(help));
    for (int i = 0; i < TOPIC_COUNT; i++)
        if ((silent >> i & 1) != 0)
            (void)fprintf(outputs->captions, ", silent on %s",
                          callout_topic_name((enum callout_topic)i));
    (void)fputc('\n', outputs->captions);
}

/* Said once: a full disk stays full. */
static void advance_wav(struct outputs *outputs, int64_t now_ns)
{
    if (outputs->wav == NULL || outputs->wav_failed ||
        audio_wav_advance(outputs->wav, now_ns - outputs->origin_ns) == 0)
        return;
    outputs->failed = outputs->wav_failed = true;
    log_line(LOG_LEVEL_WARNING,
             "%s: the sound cannot be written any more; flying on without",
             outputs->choice.wav);
}

/* An hour of silence takes half a second to write, for which a loop that hears
 * packets has no time: a live flight catches up in steps of 5 ms. What sounds
 * meanwhile has its time and waits for it. */
static const int64_t wav_step_ns = 30 * UNITS_NS_PER_S;

void outputs_catch_up(struct outputs *outputs)
{
    int64_t step_ns = outputs->wav_due_ns - outputs->wav_ns;

    if (!outputs->has_origin)
        return;
    if (outputs->choice.live && step_ns > wav_step_ns)
        step_ns = wav_step_ns;
    outputs->wav_ns += step_ns;
    advance_wav(outputs, outputs->wav_ns);
}

/* Said once: a reader that has gone does not come back. */
static void check_captions(struct outputs *outputs)
{
    if (outputs->captions_failed || ferror(outputs->captions) == 0)
        return;
    outputs->failed = outputs->captions_failed = true;
    log_line(LOG_LEVEL_WARNING,
             "captions cannot be written any more; flying on without");
}

static void on_progress(void *context, int64_t now_ns, int64_t settled_ns)
{
    struct outputs *outputs = context;

    if (outputs->log != NULL &&
        debrief_log_settle(outputs->log, settled_ns) < 0)
        outputs->failed = true;
    outputs->wav_due_ns = now_ns;
    outputs_catch_up(outputs);
    check_captions(outputs);
}

struct session_sink outputs_sink(struct outputs *outputs)
{
    return (struct session_sink){.context = outputs,
                                 .event = on_event,
                                 .call = on_call,
                                 .tone = on_tone,
                                 .help = on_help,
                                 .attempt = on_attempt,
                                 .progress = on_progress};
}

/* ---- what the user asks for --------------------------------------------- */

void outputs_note(struct outputs *outputs, int64_t t_ns, const char *text)
{
    if (outputs->log != NULL && debrief_log_note(outputs->log, t_ns, text) < 0)
        outputs->failed = true;
    if (!outputs->choice.quiet)
        (void)fprintf(outputs->captions, "%8.2f s    note: %s\n",
                      stream_seconds(outputs, t_ns), text);
}

void outputs_command(struct outputs *outputs, int64_t t_ns, const char *ask,
                     const char *value)
{
    if (outputs->log != NULL &&
        debrief_log_command(outputs->log, t_ns, ask, value) < 0)
        outputs->failed = true;
}

/* ---- closing ------------------------------------------------------------ */

/* What is not whole takes nobody's place. */
static void place_events(struct outputs *outputs, bool good)
{
    const char *path = outputs->choice.events;

    if (good && file_take_place(outputs->events_part, path) == 0)
        return;
    outputs->failed = true;
    if (good) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", path,
                 strerror(errno));
        return;
    }
    (void)remove(outputs->events_part);
    log_line(LOG_LEVEL_ERROR,
             "%s: the event lines are not whole, and what was there is left",
             path);
}

static void close_events(struct outputs *outputs, bool keep)
{
    bool good = outputs->log != NULL || !outputs->has_origin;

    if (outputs->events_file == NULL)
        return;
    if (outputs->log != NULL && debrief_log_close(outputs->log) < 0)
        good = false;
    outputs->log = NULL;
    if (outputs->events_lent) {
        outputs->failed |= fflush(outputs->events_file) != 0 || !good;
        return;
    }
    if (fclose(outputs->events_file) != 0)
        good = false;
    outputs->events_file = NULL;
    outputs->failed |= !good;
    if (outputs->events_part[0] == '\0')
        return;
    if (keep)
        place_events(outputs, good);
    else
        (void)remove(outputs->events_part);
}

/* How long the last call and its fade may take to sound. */
static const int64_t drain_ns = 8 * UNITS_NS_PER_S;

int outputs_close(struct outputs *outputs, int64_t end_ns, bool keep)
{
    if (outputs->wav != NULL) {
        struct callout_tone silence = {end_ns, 0};

        if (keep && outputs->has_origin) {
            outputs_sound_tone(outputs, &silence);
            advance_wav(outputs, end_ns + drain_ns);
        }
        if (audio_wav_close(outputs->wav, keep) < 0 && keep) {
            if (!outputs->wav_failed)
                log_line(LOG_LEVEL_ERROR, "%s: the sound cannot be written",
                         outputs->choice.wav);
            outputs->failed = true;
        }
        outputs->wav = NULL;
    }
    if (outputs->pages != NULL && pages_close(outputs->pages) < 0)
        outputs->failed = true;
    outputs->pages = NULL;
    close_events(outputs, keep);
    if (fflush(outputs->captions) != 0)
        outputs->failed = true;
    audio_bank_free(&outputs->bank);
    return outputs->failed ? EXIT_COULD_NOT : 0;
}
