/* comments.h - private to the settings room: a configuration file without its
 * comments. */
#ifndef SETTINGS_COMMENTS_H
#define SETTINGS_COMMENTS_H

#include <stdio.h>

/* Copy a file with blanks in place of its comments; lines and columns stay.
 * file: open for reading, read to its end.
 * no_end: the line of a comment that is not ended, else 0.
 * Returns: a temporary file at its beginning, to be closed; NULL when there is
 *    such a comment, or the file cannot be had or read (errno says why). */
FILE *comments_leave_out(FILE *file, int *no_end);

#endif
