/* words.c - what a worker prints, line by line into the log. */
#include "words.h"

#include <string.h>

#include "quarterturn/log.h"

enum { MOST_LINES = 200 };

/* Its own lines carry the program's name and matter; the libraries' do not.
 * A worker that fails says the same at each try: once is enough. */
static void end_line(struct audio_words *words, char last[AUDIO_WORDS_LINE])
{
    static const char own[] = "quarterturn: ";

    words->line[words->used] = '\0';
    words->used = 0;
    if (strncmp(words->line, own, sizeof own - 1) == 0) {
        if (strcmp(words->line, last) != 0)
            log_line(LOG_LEVEL_WARNING, "%s", words->line + sizeof own - 1);
        memcpy(last, words->line, sizeof words->line);
    } else if (words->lines < MOST_LINES && words->line[0] != '\0') {
        words->lines++;
        log_line(LOG_LEVEL_DETAIL, "sound: %s", words->line);
    }
}

void audio_words_take(struct audio_words *words, char last[AUDIO_WORDS_LINE],
                      const char *piece, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        if (piece[i] == '\n' || words->used == AUDIO_WORDS_LINE - 1)
            end_line(words, last);
        if (piece[i] != '\n')
            words->line[words->used++] = piece[i];
    }
}
