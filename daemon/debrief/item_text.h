/* item_text.h - an item of a grade in words. Private. */
#ifndef DEBRIEF_ITEM_TEXT_H
#define DEBRIEF_ITEM_TEXT_H

#include <stddef.h>

#include "quarterturn/debrief.h"

/* "25.0 to 35.0", "at most 5"; "" when nothing was wanted. */
void item_wanted_text(const struct debrief_item *item, char *out, size_t size);
/* "28.4 deg"; "not known". */
void item_flown_text(const struct debrief_item *item, char *out, size_t size);
/* "12 s, 84 deg"; "" when there is no instant. */
void item_when_text(const struct debrief_item *item, char *out, size_t size);

/* How many items of a grade have a verdict. */
uint32_t item_count_verdict(const struct debrief_grade *grade,
                            enum debrief_verdict verdict);

#endif
