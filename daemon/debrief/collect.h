/* collect.h - what the files of collecting share. Private. */
#ifndef DEBRIEF_COLLECT_H
#define DEBRIEF_COLLECT_H

#include "quarterturn/debrief.h"

/* ---- place (place.c) ---------------------------------------------------- */

void place_begin(struct debrief_collector *collector);
/* Set north_m and east_m of a point, whose t_s is set. */
void place_set(struct debrief_collector *collector,
               const struct debrief_raw *before, const struct debrief_raw *now,
               struct debrief_point *point);

#endif
