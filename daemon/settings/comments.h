/* comments.h - private to the settings room: a configuration file without its
 * comments. */
#ifndef SETTINGS_COMMENTS_H
#define SETTINGS_COMMENTS_H

#include <stddef.h>
#include <stdio.h>

#include "places.h"

/* What a file holds beside its comments; lines and columns stay. */
struct comments_text {
    char *text; /* without a NUL; at least one byte */
    size_t length;
};

/* How much a file may hold: hundreds of airplanes and layouts. libConfuse
 * compares each section with all before it, so that many take long. */
enum { COMMENTS_MOST_KIB = 256, COMMENTS_MOST_BRACES = 4096 };

/* Read a file, with blanks in place of its comments.
 * file: open for reading, at its beginning.
 * left: its text is to be freed when 0 is returned.
 * at: for ERR_FORMAT and ERR_RANGE, where that begins.
 * Returns: 0; ERR_FORMAT: a comment has no end; ERR_RANGE: too many braces;
 *    ERR_FULL: the file is too large; ERR_IO (errno says why);
 *    ERR_NO_MEMORY. */
int comments_leave_out(FILE *file, struct comments_text *left,
                       struct place *at);

#endif
