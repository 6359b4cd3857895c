/* topics.c - which items of a grade belong to which calls. */
#include <string.h>

#include "quarterturn/debrief.h"

struct topic_row {
    const char *item;
    enum callout_topic topic;
};

/* An item that no call helps with does not stand here. */
static const struct topic_row rows[] = {
    {"bank to 90", TOPIC_BANK},
    {"pitch kept from 90", TOPIC_PITCH},
    {"heading error at level", TOPIC_TURN},
    {"altitude after level", TOPIC_ALTITUDE},
    {"ball out", TOPIC_BALL},
};

static enum callout_topic topic_of(const char *item)
{
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (strcmp(rows[i].item, item) == 0)
            return rows[i].topic;
    return TOPIC_NONE;
}

enum debrief_verdict debrief_topic_verdict(const struct debrief_grade *grade,
                                           enum callout_topic topic)
{
    enum debrief_verdict verdict = VERDICT_NOT_JUDGED;

    for (uint32_t i = 0; i < grade->item_count; i++) {
        if (topic_of(grade->item[i].item) != topic ||
            grade->item[i].verdict == VERDICT_NOT_JUDGED)
            continue;
        if (verdict != VERDICT_MISSED)
            verdict = grade->item[i].verdict;
    }
    return verdict;
}
