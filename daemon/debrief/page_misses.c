/* page_misses.c - which misses a page speaks of first. */
#include <math.h>
#include <string.h>

#include "page.h"

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

/* Two items that teach the same are one. */
static bool is_named(const struct page_misses *misses,
                     const struct debrief_item *item)
{
    for (uint32_t i = 0; i < misses->count; i++)
        if (misses->item[i] == item || misses->item[i]->lesson == item->lesson)
            return true;
    return false;
}

void page_find_misses(const struct debrief_grade *grade,
                      struct page_misses *out)
{
    uint32_t missed = 0;

    *out = (struct page_misses){.count = 0};
    for (uint32_t i = 0; i < grade->item_count; i++)
        missed += grade->item[i].verdict == VERDICT_MISSED;
    while (out->count < PAGE_MISSES) {
        const struct debrief_item *worst = NULL;

        for (uint32_t i = 0; i < grade->item_count; i++) {
            const struct debrief_item *item = &grade->item[i];

            if (item->verdict == VERDICT_MISSED && item->lesson != NULL &&
                !is_named(out, item) &&
                (worst == NULL || weight_of(item) > weight_of(worst)))
                worst = item;
        }
        if (worst == NULL)
            break;
        out->item[out->count++] = worst;
    }
    out->more = missed - out->count;
}
