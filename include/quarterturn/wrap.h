/* wrap.h - text broken between words, for a terminal. Pure but for printing. */
#ifndef QUARTERTURN_WRAP_H
#define QUARTERTURN_WRAP_H

#include <stdio.h>

enum { WRAP_COLUMNS = 80 };

/* Take the next line off a text: as many words as fit, at least one.
 * text: UTF-8; moved behind that line and the blanks that follow it.
 * room: columns that there are for it.
 * Returns: its length in bytes. */
int wrap_take(const char **text, int room);

/* Print a text in WRAP_COLUMNS, without a line end behind it.
 * column: where it begins, from 0. indent: where its later lines begin. */
void wrap_print(FILE *file, int column, int indent, const char *text);

#endif
