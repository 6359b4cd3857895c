/* topics.c - which items of a grade belong to which calls. */
#include <string.h>

#include "quarterturn/debrief.h"

struct topic_row {
    const char *item;
    enum callout_topic topic;
};

/* What the calls of a topic help with. An item that no call helps with does not
 * stand here: the entry, the height, the pull up to 90, the limit and the stall
 * (their warnings never fade), the margin at the finish, the gain. */
static const struct topic_row rows[] = {
    {"bank set", TOPIC_BANK},
    {"bank to 90", TOPIC_BANK},
    {"pitch kept from 90", TOPIC_PITCH},
    {"roll-out begun at", TOPIC_TURN},
    {"roll-out evenness", TOPIC_TURN},
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
