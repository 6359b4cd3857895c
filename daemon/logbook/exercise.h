/* exercise.h - an item of a grade as something to practise. Private. */
#ifndef LOGBOOK_EXERCISE_H
#define LOGBOOK_EXERCISE_H

#include <stddef.h>

/* What to practise when an item was missed: "to keep the bank up to 90". An
 * item that is not known, from a column of somebody's own, is named. */
void exercise_text(const char *item, char *out, size_t size);

#endif
