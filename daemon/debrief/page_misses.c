/* page_misses.c - which misses a page speaks of first. */
#include "misses.h"
#include "page.h"

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
    const struct debrief_item *missed[DEBRIEF_MAX_ITEMS];
    uint32_t count = misses_find(grade, missed);

    *out = (struct page_misses){.count = 0};
    for (uint32_t i = 0; i < count && out->count < PAGE_MISSES; i++)
        if (!is_named(out, missed[i]))
            out->item[out->count++] = missed[i];
    out->more = count - out->count;
}
