/* wav.c - the same sound as the worker's, on virtual time, into a file. */
#include <errno.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/units.h"
#include "share.h"

enum { BLOCK_FRAMES = 4096, NAME_SIZE = AUDIO_PATH_SIZE + 8 };

struct audio_wav {
    FILE *stream;
    SNDFILE *file;
    struct audio_mixer mixer;
    int64_t origin_ns;
    int64_t frames; /* rendered so far */
    bool failed;
    char path[AUDIO_PATH_SIZE];
    char part[NAME_SIZE];
    float block[BLOCK_FRAMES];
};

static int open_part(struct audio_wav *wav, char *why, size_t why_size)
{
    /* No clipping is asked for: the mixer keeps to full scale, and without it
     * the library rounds instead of cutting off. Becomes an ordinary WAV file
     * at its close unless it has grown beyond the 4 GiB that such a file can
     * say. */
    SF_INFO info = {.samplerate = AUDIO_RATE_HZ,
                    .channels = 1,
                    .format = SF_FORMAT_RF64 | SF_FORMAT_PCM_16};

    wav->stream = file_open_part(wav->part);
    if (wav->stream != NULL)
        wav->file = sf_open_fd(fileno(wav->stream), SFM_WRITE, &info, SF_FALSE);
    if (wav->file == NULL) {
        (void)snprintf(why, why_size, "%s: cannot be written (%s)", wav->path,
                       errno != 0 ? strerror(errno) : sf_strerror(NULL));
        if (wav->stream != NULL)
            (void)fclose(wav->stream);
        return ERR_IO;
    }
    (void)sf_command(wav->file, SFC_RF64_AUTO_DOWNGRADE, NULL, SF_TRUE);
    return 0;
}

int audio_wav_open(const char *path, const struct audio_bank *bank,
                   int64_t origin_ns, struct audio_wav **out, char *why,
                   size_t why_size)
{
    struct audio_wav *wav;
    int error;

    if (strlen(path) >= AUDIO_PATH_SIZE) {
        (void)snprintf(why, why_size, "%.40s...: the path is too long", path);
        return ERR_IO;
    }
    /* At the end the name is taken over: never that of a folder or device. */
    if (file_is_special(path)) {
        (void)snprintf(why, why_size, "%s: is there and is not a file", path);
        return ERR_IO;
    }
    wav = calloc(1, sizeof *wav);
    if (wav == NULL) {
        (void)snprintf(why, why_size, "%s: out of memory", path);
        return ERR_NO_MEMORY;
    }
    (void)snprintf(wav->path, sizeof wav->path, "%s", path);
    (void)snprintf(wav->part, sizeof wav->part, "%s.part", path);
    wav->origin_ns = origin_ns;
    audio_mixer_init(&wav->mixer, bank);
    errno = 0;
    error = open_part(wav, why, why_size);
    if (error != 0) {
        free(wav);
        return error;
    }
    *out = wav;
    return 0;
}

/* Whole seconds apart, so that a long stream loses no exactness. */
static int64_t frame_at(const struct audio_wav *wav, int64_t t_ns)
{
    int64_t since_ns = t_ns - wav->origin_ns;
    int64_t seconds = since_ns / UNITS_NS_PER_S;
    double rest_s = (double)(since_ns % UNITS_NS_PER_S) / 1e9;

    return seconds * AUDIO_RATE_HZ + llround(rest_s * AUDIO_RATE_HZ);
}

int audio_wav_submit(struct audio_wav *wav, const struct audio_command *command)
{
    bool taken = audio_mixer_command(&wav->mixer, command,
                                     frame_at(wav, command->start_ns),
                                     frame_at(wav, command->expiry_ns));

    return taken ? 0 : ERR_FULL;
}

int audio_wav_advance(struct audio_wav *wav, int64_t now_ns)
{
    int64_t end = frame_at(wav, now_ns);

    while (wav->frames < end && !wav->failed) {
        int64_t left = end - wav->frames;
        uint32_t block = left < BLOCK_FRAMES ? (uint32_t)left : BLOCK_FRAMES;

        audio_mixer_render(&wav->mixer, wav->frames, wav->block, block);
        wav->failed = sf_writef_float(wav->file, wav->block, block) != block;
        wav->frames += block;
    }
    return wav->failed ? ERR_IO : 0;
}

int audio_wav_close(struct audio_wav *wav, bool keep)
{
    bool good = !wav->failed;

    if (sf_close(wav->file) != 0)
        good = false;
    if (fclose(wav->stream) != 0)
        good = false;
    if (keep && good)
        good = file_take_place(wav->part, wav->path) == 0;
    if (!keep || !good)
        (void)remove(wav->part);
    free(wav);
    return good ? 0 : ERR_IO;
}
