/* table.h - the table of a voice, cues.tsv. */
#ifndef QUARTERTURN_AUDIO_TABLE_H
#define QUARTERTURN_AUDIO_TABLE_H

#include "quarterturn/audio.h"

enum { AUDIO_TABLE_FIELD = 64, AUDIO_FULL_PATH = AUDIO_PATH_SIZE + 80 };

struct audio_table_row {
    unsigned line; /* 0: the table has no such row */
    char file[AUDIO_TABLE_FIELD];
    char text[AUDIO_TABLE_FIELD];
};

struct audio_table {
    char folder[AUDIO_PATH_SIZE];
    struct audio_table_row row[CLIP_COUNT];
};

/* Takes one finding, "file:line: what is wrong". */
typedef void (*audio_report)(void *context, const char *line);

/* Read FOLDER/cues.tsv; every row that is wrong and every clip without a row
 * is reported.
 * Returns: number of findings (the table holds the rows that are right), or
 *    ERR_ABSENT when it cannot be read (reported too). */
int audio_table_read(const char *folder, struct audio_table *table,
                     audio_report report, void *context);
/* FOLDER/FILE of a row. */
void audio_table_path(const struct audio_table *table, enum callout_clip clip,
                      char out[AUDIO_FULL_PATH]);

/* Read one clip: mono, AUDIO_RATE_HZ, at most AUDIO_MAX_CLIP_S.
 * folder: of the voice; a link that leads out of it is refused.
 * why: one line on failure, "file: what is wrong".
 * Owns: *samples, from malloc, until freed by the caller.
 * Returns: 0; ERR_ABSENT, ERR_FORMAT, ERR_RANGE, ERR_NO_MEMORY. */
int audio_clip_read(const char *folder, const char *path, float **samples,
                    uint32_t *frames, char *why, size_t why_size);

/* Programme loudness of a clip as if it were repeated without end.
 * Source: Recommendation ITU-R BS.1770-4, Annex 1: K-weighting, equations 1
 *    and 2, without the gate.
 * Returns: LUFS; -INFINITY for silence. */
double audio_loudness_lufs(const float *samples, uint32_t frames);

#endif
