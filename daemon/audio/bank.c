/* bank.c - clips from files into memory. */
#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "share.h"
#include "table.h"

/* More than five seconds of 24-bit samples and a header take. */
enum { MOST_FILE_BYTES = 1 << 20 };

/* A longer one is a fault of the voice, not a matter of its rendering: calls
 * are handed over only so long before they are heard. */
enum { MOST_HEAD_FRAMES = AUDIO_RATE_HZ / 50 };

static int refuse(char *why, size_t why_size, int error, const char *path,
                  const char *text)
{
    (void)snprintf(why, why_size, "%s: %s", path, text);
    return error;
}

/* Only two kinds of file ever reach the library's parsers. */
static bool begins_as_wav_or_flac(FILE *file)
{
    char magic[4];

    return fread(magic, 1, sizeof magic, file) == sizeof magic &&
           (memcmp(magic, "RIFF", 4) == 0 || memcmp(magic, "fLaC", 4) == 0);
}

static const char *reason_not_opened(int64_t error)
{
    switch (error) {
    case ERR_ABSENT: return "there is no such file";
    case ERR_USAGE: return "is a link that leads out of the voice's folder";
    case ERR_FORMAT: return "is not a file";
    default: return strerror(errno);
    }
}

/* The library reads the very file that was looked at, not what may have its
 * name by then. */
struct source {
    FILE *file;
    int64_t size;
};

static int open_clip(const char *folder, const char *path, struct source *out,
                     char *why, size_t why_size)
{
    int error = 0;

    out->file = file_open_inside(folder, path, &out->size);
    if (out->file == NULL)
        return refuse(why, why_size,
                      out->size == ERR_USAGE ? ERR_FORMAT : (int)out->size,
                      path, reason_not_opened(out->size));
    if (out->size > MOST_FILE_BYTES)
        error = refuse(why, why_size, ERR_RANGE, path,
                       "is too large for a clip; at most 1 MiB");
    else if (!begins_as_wav_or_flac(out->file))
        error = refuse(why, why_size, ERR_FORMAT, path,
                       "is neither a WAV nor a FLAC file");
    if (error != 0)
        (void)fclose(out->file);
    return error;
}

static sf_count_t source_size(void *context)
{
    const struct source *source = context;

    return source->size;
}

static sf_count_t source_tell(void *context)
{
    const struct source *source = context;

    return ftell(source->file);
}

static sf_count_t source_seek(sf_count_t offset, int whence, void *context)
{
    const struct source *source = context;

    return fseek(source->file, (long)offset, whence) == 0 ? source_tell(context)
                                                          : -1;
}

static sf_count_t source_read(void *to, sf_count_t count, void *context)
{
    const struct source *source = context;

    return (sf_count_t)fread(to, 1, (size_t)count, source->file);
}

static SNDFILE *open_sound(struct source *source, SF_INFO *info)
{
    /* The library takes a copy. */
    SF_VIRTUAL_IO calls = {.get_filelen = source_size,
                           .seek = source_seek,
                           .read = source_read,
                           .tell = source_tell};

    rewind(source->file);
    return sf_open_virtual(&calls, SFM_READ, info, source);
}

static bool is_pcm(int format)
{
    int subtype = format & SF_FORMAT_SUBMASK;

    return subtype == SF_FORMAT_PCM_S8 || subtype == SF_FORMAT_PCM_U8 ||
           subtype == SF_FORMAT_PCM_16 || subtype == SF_FORMAT_PCM_24 ||
           subtype == SF_FORMAT_PCM_32;
}

static int check_info(const SF_INFO *info, const char *path, char *why,
                      size_t why_size)
{
    if (info->channels != 1) {
        (void)snprintf(why, why_size, "%s: has %d channels; one is wanted",
                       path, info->channels);
        return ERR_FORMAT;
    }
    if (info->samplerate != AUDIO_RATE_HZ) {
        (void)snprintf(why, why_size,
                       "%s: has %d samples a second; %d are wanted", path,
                       info->samplerate, AUDIO_RATE_HZ);
        return ERR_FORMAT;
    }
    if (!is_pcm(info->format))
        return refuse(why, why_size, ERR_FORMAT, path,
                      "is packed in a way that is not accepted; PCM or FLAC");
    if (info->frames < 1 ||
        info->frames > (sf_count_t)AUDIO_MAX_CLIP_S * AUDIO_RATE_HZ) {
        (void)snprintf(why, why_size,
                       "%s: lasts %.2f s; above 0 and at most %d s is wanted",
                       path, (double)info->frames / AUDIO_RATE_HZ,
                       AUDIO_MAX_CLIP_S);
        return ERR_RANGE;
    }
    return 0;
}

static int read_samples(SNDFILE *file, const SF_INFO *info, const char *path,
                        float **samples, char *why, size_t why_size)
{
    float *memory = malloc((size_t)info->frames * sizeof *memory);

    if (memory == NULL)
        return refuse(why, why_size, ERR_NO_MEMORY, path, "out of memory");
    if (sf_readf_float(file, memory, info->frames) != info->frames) {
        free(memory);
        return refuse(why, why_size, ERR_FORMAT, path, "ends before it should");
    }
    *samples = memory;
    return 0;
}

int audio_clip_read(const char *folder, const char *path, float **samples,
                    uint32_t *frames, char *why, size_t why_size)
{
    struct source source;
    SF_INFO info = {0};
    SNDFILE *file;
    int error = open_clip(folder, path, &source, why, why_size);

    if (error != 0)
        return error;
    file = open_sound(&source, &info);
    if (file == NULL) {
        (void)fclose(source.file);
        return refuse(why, why_size, ERR_FORMAT, path, sf_strerror(NULL));
    }
    error = check_info(&info, path, why, why_size);
    if (error == 0)
        error = read_samples(file, &info, path, samples, why, why_size);
    if (error == 0)
        *frames = (uint32_t)info.frames;
    (void)sf_close(file);
    (void)fclose(source.file);
    return error;
}

struct first_line {
    char *text;
    size_t size;
    bool taken;
};

static void keep_first(void *context, const char *line)
{
    struct first_line *first = context;

    if (!first->taken)
        (void)snprintf(first->text, first->size, "%s", line);
    first->taken = true;
}

/* What is below a hundredth of a sound's peak (-40 dB) is not heard beside it;
 * ours. */
static uint32_t count_head(const float *sample, uint32_t frames)
{
    float peak = 0.0F;
    uint32_t head = 0;

    for (uint32_t i = 0; i < frames; i++)
        peak = fmaxf(peak, fabsf(sample[i]));
    while (head + 1 < frames && fabsf(sample[head]) < 0.01F * peak)
        head++;
    return head < MOST_HEAD_FRAMES ? head : MOST_HEAD_FRAMES;
}

/* Half of what the bank would take in float, and exact for a 16-bit file, as
 * all of the shipped voice are. A finer sample becomes the nearest one, for to
 * cut it off would be off by twice as much; what is nearest to one more than
 * there is becomes the highest. */
static int16_t round_sample(float sample)
{
    long step = lroundf(sample * (float)AUDIO_FULL_SCALE);

    return (int16_t)(step > INT16_MAX   ? INT16_MAX
                     : step < INT16_MIN ? INT16_MIN
                                        : step);
}

/* Append a clip to the bank's memory; the pointers into it are set when it
 * has stopped moving. */
static int append(struct audio_bank *bank, size_t *used,
                  const struct audio_table *table, enum callout_clip which,
                  char *why, size_t why_size)
{
    struct audio_clip *clip = &bank->clip[which];
    char path[AUDIO_FULL_PATH];
    float *samples;
    int16_t *memory;
    int error;

    audio_table_path(table, which, path);
    error = audio_clip_read(table->folder, path, &samples, &clip->frames, why,
                            why_size);

    if (error != 0)
        return error;
    memory = realloc(bank->memory, (*used + clip->frames) * sizeof *memory);
    if (memory == NULL) {
        free(samples);
        return refuse(why, why_size, ERR_NO_MEMORY, path, "out of memory");
    }
    for (uint32_t i = 0; i < clip->frames; i++)
        memory[*used + i] = round_sample(samples[i]);
    clip->head_frames = count_head(samples, clip->frames);
    free(samples);
    bank->memory = memory;
    *used += clip->frames;
    return 0;
}

int audio_bank_load(const char *folder, struct audio_bank *bank, char *why,
                    size_t why_size)
{
    struct first_line first = {.text = why, .size = why_size};
    struct audio_table table;
    size_t used = 0;
    const int16_t *at;
    int findings;

    memset(bank, 0, sizeof *bank);
    findings = audio_table_read(folder, &table, keep_first, &first);
    if (findings != 0)
        return findings < 0 ? findings : ERR_FORMAT;
    for (int i = 0; i < CLIP_COUNT; i++) {
        int error =
            append(bank, &used, &table, (enum callout_clip)i, why, why_size);

        if (error != 0) {
            audio_bank_free(bank);
            return error;
        }
    }
    at = bank->memory;
    for (int i = 0; i < CLIP_COUNT; i++) {
        bank->clip[i].sample = at;
        at += bank->clip[i].frames;
    }
    /* Each clip was decoded in memory that nobody asks for again. */
    audio_heap_trim();
    return 0;
}

void audio_bank_free(struct audio_bank *bank)
{
    free(bank->memory);
    memset(bank, 0, sizeof *bank);
}

void audio_bank_durations(const struct audio_bank *bank, double *seconds)
{
    for (int i = 0; i < CLIP_COUNT; i++)
        seconds[i] = (double)bank->clip[i].frames / AUDIO_RATE_HZ;
}
