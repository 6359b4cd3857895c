/* words.h - what a worker prints, line by line into the log. */
#ifndef QUARTERTURN_AUDIO_WORDS_H
#define QUARTERTURN_AUDIO_WORDS_H

#include <stddef.h>

enum { AUDIO_WORDS_LINE = 400 };

/* Of one worker; begins as zeros. */
struct audio_words {
    int lines;
    size_t used;
    char line[AUDIO_WORDS_LINE];
};

/* Take a piece of what it printed. The program's own lines are warnings; the
 * sound libraries' go to the details, up to a number of them.
 * last: the warning before, of this worker or an earlier one; the same again
 *    is left out. Begins empty. */
void audio_words_take(struct audio_words *words, char last[AUDIO_WORDS_LINE],
                      const char *piece, size_t length);

#endif
