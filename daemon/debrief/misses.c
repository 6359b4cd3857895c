/* misses.c - in which order a debrief speaks of misses. */
#include "misses.h"

#include <math.h>
#include <string.h>

/* What endangers an airplane outside a simulator; the order is ours. */
static const char *const dangers[] = {"time stalled", "least height",
                                      "maneuvering speed"};

/* The greater the sooner: dangers by their order, then how many tolerances an
 * item was out; without a tolerance a tenth of the target counts as one. */
static double weight_of(const struct debrief_item *item)
{
    double target = isnan(item->target) ? 0.0 : item->target;
    double unit = item->tolerance > 0.0 ? item->tolerance
                                        : fmax(fabs(target) / 10.0, 1.0);
    size_t count = sizeof dangers / sizeof dangers[0];

    for (size_t i = 0; i < count; i++)
        if (strcmp(item->item, dangers[i]) == 0)
            return 1e9 * (double)(count - i);
    return fmin(fabs(item->flown - target) / unit, 1e6);
}

uint32_t misses_find(const struct debrief_grade *grade,
                     const struct debrief_item *out[DEBRIEF_MAX_ITEMS])
{
    uint32_t count = 0;

    /* Of two alike the one that comes first in the flight. */
    for (uint32_t i = 0; i < grade->item_count; i++) {
        const struct debrief_item *item = &grade->item[i];
        uint32_t place = count;

        if (item->verdict != VERDICT_MISSED || item->lesson == NULL)
            continue;
        for (; place > 0 && weight_of(out[place - 1]) < weight_of(item);
             place--)
            out[place] = out[place - 1];
        out[place] = item;
        count++;
    }
    return count;
}
