/* misses.h - in which order a debrief speaks of misses. Private. */
#ifndef DEBRIEF_MISSES_H
#define DEBRIEF_MISSES_H

#include "quarterturn/debrief.h"

/* What endangers an airplane goes first, then what was furthest out.
 * Returns: how many were missed; out points into the grade. */
uint32_t misses_find(const struct debrief_grade *grade,
                     const struct debrief_item *out[DEBRIEF_MAX_ITEMS]);

#endif
