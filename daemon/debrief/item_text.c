/* item_text.c - an item of a grade in words. */
#include "item_text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static int decimals_of(const struct debrief_item *item)
{
    return strcmp(item->unit, "ft") == 0 ? 0 : 1;
}

void item_wanted_text(const struct debrief_item *item, char *out, size_t size)
{
    int decimals = decimals_of(item);
    double target = isnan(item->target) ? 0.0 : item->target;

    out[0] = '\0';
    if (item->rule != RULE_INFORMATION &&
        (isnan(item->tolerance) ||
         (isnan(item->target) && item->rule != RULE_WITHIN)))
        return;
    switch (item->rule) {
    case RULE_WITHIN:
        if (item->tolerance <= 0.0)
            (void)snprintf(out, size, "none");
        else if (strcmp(item->unit, "s") == 0)
            (void)snprintf(out, size, "at most %.*f", decimals,
                           target + item->tolerance);
        else
            (void)snprintf(out, size, "%.*f to %.*f", decimals,
                           target - item->tolerance, decimals,
                           target + item->tolerance);
        break;
    case RULE_AT_MOST:
        (void)snprintf(out, size, "at most %.*f", decimals,
                       target + item->tolerance);
        break;
    case RULE_AT_LEAST:
        (void)snprintf(out, size, "at least %.*f", decimals,
                       target - item->tolerance);
        break;
    case RULE_INFORMATION:
        if (!isnan(item->target))
            (void)snprintf(out, size, "could be %.*f", decimals, item->target);
        break;
    }
}

void item_flown_text(const struct debrief_item *item, char *out, size_t size)
{
    /* No minus in front of a nought. */
    double scale = decimals_of(item) > 0 ? 10.0 : 1.0;

    if (isnan(item->flown))
        (void)snprintf(out, size, "not known");
    else
        (void)snprintf(out, size, "%.*f %s", decimals_of(item),
                       round(item->flown * scale) / scale + 0.0, item->unit);
}

void item_when_text(const struct debrief_item *item, char *out, size_t size)
{
    out[0] = '\0';
    if (!isnan(item->t_s) && !isnan(item->turn_rad))
        (void)snprintf(out, size, "%.0f s, %.0f deg", fmax(item->t_s, 0.0),
                       fmax(units_deg(item->turn_rad), 0.0));
}

uint32_t item_count_verdict(const struct debrief_grade *grade,
                            enum debrief_verdict verdict)
{
    uint32_t count = 0;

    for (uint32_t i = 0; i < grade->item_count; i++)
        count += grade->item[i].verdict == verdict;
    return count;
}
