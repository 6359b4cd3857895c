/* cues.c - the cue table and the names of the clips. */
#include <stdio.h>
#include <string.h>

#include "quarterturn/callout.h"
#include "quarterturn/error.h"

/* The words are as few as carry the meaning. Expiry: how long after its
 * moment a cue still helps (ours). Ranks as design: a stall warns, what needs
 * the hands now is a caution, a point of the manoeuvre is a phase call. */
static const struct callout_cue_info info_of_cue[CUE_COUNT] = {
    [CUE_STALL] = {"stall", "stall", "the wing has stalled", RANK_WARNING, 1.0},
    [CUE_PITCH_LIMIT] = {"pitch-limit", "pitch limit",
                         "the pitch reaches its limit", RANK_CAUTION, 1.0},
    [CUE_MORE_BANK] = {"more-bank", "more bank", "first half: bank too shallow",
                       RANK_CAUTION, 1.0},
    [CUE_LESS_BANK] = {"less-bank", "less bank", "first half: bank too steep",
                       RANK_CAUTION, 1.0},
    [CUE_LEFT_RUDDER] = {"left-rudder", "left rudder",
                         "the ball is out to the left", RANK_CAUTION, 1.0},
    [CUE_RIGHT_RUDDER] = {"right-rudder", "right rudder",
                          "the ball is out to the right", RANK_CAUTION, 1.0},
    [CUE_HOLD_ALTITUDE] = {"hold-altitude", "hold altitude",
                           "after the finish: altitude left its band",
                           RANK_CAUTION, 1.5},
    [CUE_NINETY] = {"ninety", "ninety", "90 degrees turned", RANK_PHASE, 0.4},
    [CUE_TEN_TO_GO] = {"ten-to-go", "ten to go", "170 degrees turned",
                       RANK_PHASE, 1.0},
    [CUE_WINGS_LEVEL] = {"wings-level", "wings level",
                         "level, and staying level", RANK_PHASE, 4.0},
    [CUE_HOLD_PITCH] = {"hold-pitch", "hold pitch",
                        "second half: held pitch lost or rising", RANK_ADVICE,
                        1.5},
    [CUE_ROLL_FASTER] = {"roll-faster", "roll faster",
                         "the turn will end past 180", RANK_ADVICE, 1.5},
    [CUE_ROLL_SLOWER] = {"roll-slower", "roll slower",
                         "the turn will end short of 180", RANK_ADVICE, 1.5},
    [CUE_READY] = {"ready", "ready", "steady: a maneuver may begin",
                   RANK_ADVICE, 3.0},
    [CUE_RESULT] = {"result", "", "heading error, gain, margin at wings level",
                    RANK_ADVICE, 10.0},
    [CUE_VERDICT] = {"verdict", "", "in standard, or what to work on",
                     RANK_ADVICE, 10.0},
};

struct clip_row {
    const char *name;
    const char *text;
};

static const struct clip_row row_of_clip[CLIP_COUNT] = {
    [CLIP_STALL] = {"stall", "stall"},
    [CLIP_PITCH_LIMIT] = {"pitch-limit", "pitch limit"},
    [CLIP_MORE_BANK] = {"more-bank", "more bank"},
    [CLIP_LESS_BANK] = {"less-bank", "less bank"},
    [CLIP_LEFT_RUDDER] = {"left-rudder", "left rudder"},
    [CLIP_RIGHT_RUDDER] = {"right-rudder", "right rudder"},
    [CLIP_HOLD_ALTITUDE] = {"hold-altitude", "hold altitude"},
    [CLIP_NINETY] = {"ninety", "ninety"},
    [CLIP_TEN_TO_GO] = {"ten-to-go", "ten to go"},
    [CLIP_WINGS_LEVEL] = {"wings-level", "wings level"},
    [CLIP_HOLD_PITCH] = {"hold-pitch", "hold pitch"},
    [CLIP_ROLL_FASTER] = {"roll-faster", "roll faster"},
    [CLIP_ROLL_SLOWER] = {"roll-slower", "roll slower"},
    [CLIP_READY] = {"ready", "ready"},
    [CLIP_HEADING] = {"heading", "heading"},
    [CLIP_PLUS] = {"plus", "plus"},
    [CLIP_MINUS] = {"minus", "minus"},
    [CLIP_GAINED] = {"gained", "gained"},
    [CLIP_LOST] = {"lost", "lost"},
    [CLIP_FEET] = {"feet", "feet"},
    [CLIP_ABOVE_THE_STALL] = {"above-the-stall", "above the stall"},
    [CLIP_IN_STANDARD] = {"in-standard", "in standard"},
    [CLIP_NOT_IN_STANDARD] = {"not-in-standard", "not in standard"},
    [CLIP_NEXT_TIME] = {"next-time", "next time"},
    [CLIP_FLY_STRAIGHT] = {"fly-straight", "fly straight"},
    [CLIP_TURN_LEFT] = {"turn-left", "turn left"},
    [CLIP_TURN_RIGHT] = {"turn-right", "turn right"},
    [CLIP_CLIMB_NOW] = {"climb-now", "climb now"},
    [CLIP_0] = {"n0", "zero"},
    [CLIP_1] = {"n1", "one"},
    [CLIP_2] = {"n2", "two"},
    [CLIP_3] = {"n3", "three"},
    [CLIP_4] = {"n4", "four"},
    [CLIP_5] = {"n5", "five"},
    [CLIP_6] = {"n6", "six"},
    [CLIP_7] = {"n7", "seven"},
    [CLIP_8] = {"n8", "eight"},
    [CLIP_9] = {"n9", "nine"},
    [CLIP_10] = {"n10", "ten"},
    [CLIP_11] = {"n11", "eleven"},
    [CLIP_12] = {"n12", "twelve"},
    [CLIP_13] = {"n13", "thirteen"},
    [CLIP_14] = {"n14", "fourteen"},
    [CLIP_15] = {"n15", "fifteen"},
    [CLIP_16] = {"n16", "sixteen"},
    [CLIP_17] = {"n17", "seventeen"},
    [CLIP_18] = {"n18", "eighteen"},
    [CLIP_19] = {"n19", "nineteen"},
    [CLIP_20] = {"n20", "twenty"},
    [CLIP_30] = {"n30", "thirty"},
    [CLIP_40] = {"n40", "forty"},
    [CLIP_50] = {"n50", "fifty"},
    [CLIP_60] = {"n60", "sixty"},
    [CLIP_70] = {"n70", "seventy"},
    [CLIP_80] = {"n80", "eighty"},
    [CLIP_90] = {"n90", "ninety"},
    [CLIP_HUNDRED] = {"hundred", "hundred"},
    [CLIP_THOUSAND] = {"thousand", "thousand"},
    [CLIP_NEAR_STALL] = {"near-stall", "(tone)"},
};

const char *callout_rank_name(enum callout_rank rank)
{
    static const char *const name[] = {[RANK_ADVICE] = "advice",
                                       [RANK_PHASE] = "phase",
                                       [RANK_CAUTION] = "caution",
                                       [RANK_WARNING] = "warning"};

    return name[rank];
}

const struct callout_cue_info *callout_cue_info(enum callout_cue cue)
{
    return &info_of_cue[cue];
}

const char *callout_clip_name(enum callout_clip clip)
{
    return row_of_clip[clip].name;
}

int callout_clip_find(const char *name, enum callout_clip *out)
{
    for (size_t i = 0; i < CLIP_COUNT; i++) {
        if (strcmp(row_of_clip[i].name, name) == 0) {
            *out = (enum callout_clip)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}

void callout_clips_text(const enum callout_clip *clips, uint32_t count,
                        char *out, size_t size)
{
    size_t used = 0;

    if (size == 0)
        return;
    out[0] = '\0';
    for (uint32_t i = 0; i < count && used < size; i++) {
        int n = snprintf(out + used, size - used, "%s%s", i > 0 ? " " : "",
                         row_of_clip[clips[i]].text);

        if (n < 0)
            return;
        used += (size_t)n;
    }
}
