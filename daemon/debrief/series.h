/* series.h - the columns of a series of points. Private. */
#ifndef DEBRIEF_SERIES_H
#define DEBRIEF_SERIES_H

#include "quarterturn/debrief.h"

enum { SERIES_COLUMNS = sizeof(struct debrief_point) / sizeof(double) };

struct series_column {
    const char *name;
    enum unit unit; /* it is shown in */
    int decimals;
    size_t offset; /* of the double in struct debrief_point */
};

extern const struct series_column series_column[];

/* In the internal unit. */
double series_value(const struct debrief_point *point, int column);

#endif
