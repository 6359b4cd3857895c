/* topics.c - which items of a grade belong to which calls. */
#include <string.h>

#include "lessons.h"
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

/* What a call can say in its own words. The others are in the written debrief:
 * a word that means something else would confuse. After the flight "pitch
 * limit" asks for it, and how to end on 180 takes more words than "roll slower"
 * has. */
static const struct {
    enum lesson lesson;
    enum callout_cue cue;
} words[] = {
    {LESSON_BANK_SHALLOW, CUE_MORE_BANK},
    {LESSON_BANK_FELL, CUE_MORE_BANK},
    {LESSON_BANK_STEEP, CUE_LESS_BANK},
    {LESSON_BANK_GREW, CUE_LESS_BANK},
    {LESSON_PITCH_SAGGED, CUE_HOLD_PITCH},
    {LESSON_PITCH_ROSE, CUE_HOLD_PITCH},
    {LESSON_BALL_LEFT, CUE_LEFT_RUDDER},
    {LESSON_BALL_RIGHT, CUE_RIGHT_RUDDER},
    {LESSON_SANK, CUE_HOLD_ALTITUDE},
    {LESSON_ROSE, CUE_HOLD_ALTITUDE},
};

/* A stall is not talked over by a lesser miss. */
static bool has_stalled(const struct debrief_grade *grade)
{
    for (uint32_t i = 0; i < grade->item_count; i++)
        if (grade->item[i].verdict == VERDICT_MISSED &&
            grade->item[i].lesson == lesson_of(LESSON_STALLED))
            return true;
    return false;
}

enum callout_cue debrief_next_cue(const struct debrief_grade *grade)
{
    if (has_stalled(grade))
        return CUE_COUNT;
    for (uint32_t i = 0; i < grade->item_count; i++) {
        const struct debrief_item *item = &grade->item[i];

        for (size_t k = 0; k < sizeof words / sizeof words[0]; k++)
            if (item->verdict == VERDICT_MISSED &&
                item->lesson == lesson_of(words[k].lesson))
                return words[k].cue;
    }
    return CUE_COUNT;
}
