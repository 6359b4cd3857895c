/* check.c - every fault of a voice, not only the first. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "table.h"

/* What a clip must keep to. A call is a word or two: a longer clip ends after
 * the moment it speaks of. A late first sound makes an exact start useless.
 * The loudness keeps all calls alike; the programme measure of ITU-R BS.1770
 * is used as in EBU R 128, the target is our own. */
static const double longest_speech_s = 0.9;
static const double longest_pulse_s = 0.2; /* the quickest band's period */
static const double shortest_s = 0.05;
static const double latest_onset_s = 0.010;
static const double onset_level = 0.01; /* of full scale */
static const double target_db = -20.0;
static const double tolerance_db = 1.0;
static const double highest_peak = 0.8913; /* -1 dB */
/* A clip that begins or ends in the middle of a wave clicks. Two steps of a
 * 16-bit sample count as silence. */
static const double highest_edge = 0.01;
static const double silence_level = 2.5 / 32768.0;

enum { CLIPPED_RUN = 3 };

struct check {
    char path[AUDIO_FULL_PATH]; /* of the clip in hand */
    int findings;
    audio_report report;
    void *context;
};

struct measure {
    double duration_s;
    double onset_s; /* negative: none */
    double peak;
    double first; /* level of the first sample that is not silence */
    double last;  /* and of the last */
    double rms_db;
    double loudness_lufs;
    bool clipped;
};

static void tell(struct check *check, const char *text)
{
    char line[AUDIO_FULL_PATH + 160];

    (void)snprintf(line, sizeof line, "%s: %s", check->path, text);
    check->findings++;
    check->report(check->context, line);
}

static void measure_clip(const float *samples, uint32_t frames,
                         struct measure *out)
{
    double sum = 0.0;
    int run = 0;

    memset(out, 0, sizeof *out);
    out->duration_s = (double)frames / AUDIO_RATE_HZ;
    out->onset_s = -1.0;
    for (uint32_t i = 0; i < frames; i++) {
        double level = fabs((double)samples[i]);

        if (out->onset_s < 0.0 && level > onset_level)
            out->onset_s = (double)i / AUDIO_RATE_HZ;
        out->peak = fmax(out->peak, level);
        if (level > silence_level) {
            out->first = out->first > 0.0 ? out->first : level;
            out->last = level;
        }
        sum += level * level;
        run = level > 0.999 ? run + 1 : 0;
        out->clipped = out->clipped || run >= CLIPPED_RUN;
    }
    out->rms_db = 10.0 * log10(sum / frames);
    out->loudness_lufs = audio_loudness_lufs(samples, frames);
}

static void judge_length(struct check *check, enum callout_clip clip,
                         const struct measure *m)
{
    double most_s =
        clip == CLIP_NEAR_STALL ? longest_pulse_s : longest_speech_s;
    char text[120];

    if (m->duration_s > most_s) {
        (void)snprintf(text, sizeof text, "lasts %.2f s; at most %.2f s",
                       m->duration_s, most_s);
        tell(check, text);
    }
    if (m->duration_s < shortest_s) {
        (void)snprintf(text, sizeof text, "lasts %.3f s; at least %.2f s",
                       m->duration_s, shortest_s);
        tell(check, text);
    }
}

static void judge_level(struct check *check, enum callout_clip clip,
                        const struct measure *m)
{
    bool pulse = clip == CLIP_NEAR_STALL;
    double level_db = pulse ? m->rms_db : m->loudness_lufs;
    char text[120];

    if (m->onset_s < 0.0) {
        tell(check, "is silent");
        return;
    }
    if (m->onset_s > latest_onset_s) {
        (void)snprintf(text, sizeof text,
                       "begins with %.0f ms of silence; at most %.0f ms",
                       m->onset_s * 1000.0, latest_onset_s * 1000.0);
        tell(check, text);
    }
    if (fabs(level_db - target_db) > tolerance_db) {
        (void)snprintf(text, sizeof text,
                       "is too %s: %.1f %s; %.0f to %.0f is wanted",
                       level_db < target_db ? "quiet" : "loud", level_db,
                       pulse ? "dB RMS" : "LUFS", target_db - tolerance_db,
                       target_db + tolerance_db);
        tell(check, text);
    }
    if (m->clipped) {
        tell(check, "is clipped");
    } else if (m->peak > highest_peak) {
        (void)snprintf(text, sizeof text,
                       "has a peak of %.1f dB; at most -1.0 dB",
                       20.0 * log10(m->peak));
        tell(check, text);
    }
}

static void judge_edges(struct check *check, const struct measure *m)
{
    if (m->first > highest_edge)
        tell(check, "begins in the middle of a wave, with a click; fade it in");
    if (m->last > highest_edge)
        tell(check, "ends in the middle of a wave, with a click; fade it out");
}

static void check_clip(const struct audio_table *table, enum callout_clip clip,
                       struct check *check)
{
    char why[AUDIO_FULL_PATH + 128];
    struct measure measure;
    float *samples;
    uint32_t frames;

    audio_table_path(table, clip, check->path);
    if (audio_clip_read(table->folder, check->path, &samples, &frames, why,
                        sizeof why) != 0) {
        check->findings++;
        check->report(check->context, why);
        return;
    }
    measure_clip(samples, frames, &measure);
    judge_length(check, clip, &measure);
    judge_level(check, clip, &measure);
    judge_edges(check, &measure);
    free(samples);
}

int audio_voice_check(const char *folder,
                      void (*report)(void *context, const char *line),
                      void *context)
{
    struct check check = {.report = report, .context = context};
    struct audio_table table;
    int findings = audio_table_read(folder, &table, report, context);

    if (findings < 0)
        return findings;
    for (int i = 0; i < CLIP_COUNT; i++) {
        if (table.row[i].line > 0)
            check_clip(&table, (enum callout_clip)i, &check);
    }
    return findings + check.findings;
}
