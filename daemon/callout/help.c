/* help.c - the amount of help: which cues each level says, and what fades. */
#include "help.h"

#include <string.h>

#include "quarterturn/error.h"

/* What each level says, in one place; FADES: while its topic is not yet
 * flown in standard again and again. */
enum says { NO, YES, FADES };

struct help_row {
    enum callout_topic topic;
    enum says says[HELP_COUNT];
};

/* The stall and the limit of the airplane are no help to be weaned from: they
 * do not fade. The result and the verdict come when nothing is to be flown any
 * more and guide nobody, so that they may stay, and are all that "summary"
 * says. */
static const struct help_row row_of_cue[CUE_COUNT] = {
    /*                                  full sparse warnings fading summary */
    [CUE_STALL] = {TOPIC_NONE, {YES, YES, YES, YES, NO}},
    [CUE_PITCH_LIMIT] = {TOPIC_NONE, {YES, YES, YES, YES, NO}},
    [CUE_MORE_BANK] = {TOPIC_BANK, {YES, YES, NO, FADES, NO}},
    [CUE_LESS_BANK] = {TOPIC_BANK, {YES, YES, NO, FADES, NO}},
    [CUE_LEFT_RUDDER] = {TOPIC_BALL, {YES, YES, NO, FADES, NO}},
    [CUE_RIGHT_RUDDER] = {TOPIC_BALL, {YES, YES, NO, FADES, NO}},
    [CUE_HOLD_ALTITUDE] = {TOPIC_ALTITUDE, {YES, YES, NO, FADES, NO}},
    [CUE_NINETY] = {TOPIC_TURN, {YES, YES, NO, FADES, NO}},
    [CUE_TEN_TO_GO] = {TOPIC_TURN, {YES, NO, NO, FADES, NO}},
    [CUE_WINGS_LEVEL] = {TOPIC_TURN, {YES, NO, NO, FADES, NO}},
    [CUE_HOLD_PITCH] = {TOPIC_PITCH, {YES, NO, NO, FADES, NO}},
    [CUE_ROLL_FASTER] = {TOPIC_TURN, {YES, NO, NO, FADES, NO}},
    [CUE_ROLL_SLOWER] = {TOPIC_TURN, {YES, NO, NO, FADES, NO}},
    [CUE_READY] = {TOPIC_NONE, {YES, YES, NO, YES, NO}},
    [CUE_RESULT] = {TOPIC_NONE, {YES, YES, NO, YES, YES}},
    [CUE_VERDICT] = {TOPIC_NONE, {YES, YES, NO, YES, YES}},
};

static const char *const name_of_help[HELP_COUNT] = {
    [HELP_FULL] = "full",         [HELP_SPARSE] = "sparse",
    [HELP_WARNINGS] = "warnings", [HELP_FADING] = "fading",
    [HELP_SUMMARY] = "summary",
};

/* Ours: no study gives numbers for a maneuver. One good attempt may be luck;
 * after two help comes with every second attempt, after six with none. */
enum { EVERY_SECOND_FROM = 2, SILENT_FROM = 6 };

const char *callout_help_name(enum callout_help help)
{
    return name_of_help[help];
}

int callout_help_find(const char *name, enum callout_help *out)
{
    for (int i = 0; i < HELP_COUNT; i++) {
        if (strcmp(name_of_help[i], name) == 0) {
            *out = (enum callout_help)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

const char *callout_topic_name(enum callout_topic topic)
{
    static const char *const name[TOPIC_COUNT] = {
        [TOPIC_NONE] = "none",         [TOPIC_BANK] = "bank",
        [TOPIC_PITCH] = "pitch",       [TOPIC_TURN] = "turn",
        [TOPIC_ALTITUDE] = "altitude", [TOPIC_BALL] = "ball"};

    return name[topic];
}

enum callout_topic callout_cue_topic(enum callout_cue cue)
{
    return row_of_cue[cue].topic;
}

bool callout_help_says(enum callout_help help, enum callout_cue cue)
{
    return row_of_cue[cue].says[help] != NO;
}

bool callout_help_sounds_tone(enum callout_help help)
{
    /* With the stall warning, of which it is the beginning. */
    return row_of_cue[CUE_STALL].says[help] == YES;
}

bool callout_help_faded(uint32_t in_row)
{
    return in_row >= SILENT_FROM || (in_row >= EVERY_SECOND_FROM &&
                                     (in_row - EVERY_SECOND_FROM) % 2 == 0);
}

uint32_t callout_silent_topics(const struct callout *callout)
{
    uint32_t silent = 0;

    for (int i = TOPIC_NONE + 1; i < TOPIC_COUNT; i++)
        if (callout->settings.help == HELP_FADING &&
            callout_help_faded(callout->in_row[i]))
            silent |= UINT32_C(1) << i;
    return silent;
}

bool help_allows(const struct callout *callout, enum callout_cue cue)
{
    const struct help_row *row = &row_of_cue[cue];

    if (row->says[callout->settings.help] != FADES)
        return row->says[callout->settings.help] == YES;
    return !callout_help_faded(callout->in_row[row->topic]);
}

void callout_judge(struct callout *callout, enum callout_topic topic,
                   bool in_standard)
{
    if (!in_standard)
        callout->in_row[topic] = 0;
    else if (callout->in_row[topic] < UINT32_MAX)
        callout->in_row[topic]++;
}
