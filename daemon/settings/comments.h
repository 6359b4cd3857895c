/* comments.h - private to the settings room: a configuration file without its
 * comments. */
#ifndef SETTINGS_COMMENTS_H
#define SETTINGS_COMMENTS_H

#include <stddef.h>
#include <stdio.h>

#include "places.h"

/* What a file holds beside its comments; lines and columns stay. */
struct comments_text {
    char *text; /* without a NUL */
    size_t length;
};

/* Copy a file with blanks in place of its comments.
 * file: open for reading, read to its end.
 * no_end: the place of a comment that is not ended, else its line is 0.
 * Returns: a temporary file at its beginning, to be closed, that holds what
 *    *left holds, whose text is to be freed; NULL when there is such a
 *    comment, or the file cannot be had or read (errno says why). */
FILE *comments_leave_out(FILE *file, struct comments_text *left,
                         struct place *no_end);

#endif
