/* lessons.c - what each kind of miss teaches.
 *
 * The errors marked "handbook" are among those that the Airplane Flying
 * Handbook FAA-H-8083-3C, chapter 10, lists for the chandelle; their wording
 * here, the causes and the advice are ours. */
#include "lessons.h"

#include <stddef.h>

static const struct debrief_lesson lessons[LESSON_COUNT] = {
    [LESSON_ENTRY_SLOW] = {"entered too slowly",
                           "the roll-in began before the speed was there",
                           "hold level until the entry speed stands still, "
                           "then roll in"},
    [LESSON_ENTRY_FAST] = {"entered too fast",
                           "cruise power or a descent was carried into the "
                           "entry",
                           "set entry power early and wait for the speed "
                           "before you roll in"},
    [LESSON_ENTRY_LIMIT] = {"entered above maneuvering speed",
                            "that limit falls with the weight; today's is "
                            "lower than the placard's",
                            "work it out for today's weight and enter at or "
                            "below it"},
    [LESSON_HEIGHT] = {"flown too near the ground",
                       "the practice altitude was chosen without the terrain "
                       "below",
                       "start higher: add the terrain to the least height, "
                       "and some to spare"},
    /* handbook */
    [LESSON_BANK_SHALLOW] = {"bank too shallow at the start",
                             "the roll was stopped early; the turn then takes "
                             "so long that the speed runs out",
                             "roll in until the horizon cuts the cowling at "
                             "the planned bank, then stop the roll"},
    /* handbook */
    [LESSON_BANK_STEEP] = {"bank too steep at the start",
                           "the roll went past the mark; lift turns the "
                           "airplane instead of raising it",
                           "take the aileron out a moment before the planned "
                           "bank and check it on the horizon"},
    [LESSON_BANK_SLOW] = {"bank set slowly",
                          "bank and pitch were brought in together",
                          "set the bank first, in two or three seconds, then "
                          "raise the nose"},
    [LESSON_BANK_FELL] = {"bank not kept up to 90",
                          "aileron came in with the back pressure, or the "
                          "roll-out began early",
                          "pull straight back, and leave the bank alone until "
                          "the 90-degree point"},
    /* handbook */
    [LESSON_BANK_GREW] = {"bank growing after it was set",
                          "the airplane overbanks by itself as the speed "
                          "falls",
                          "hold a touch of opposite aileron and look at the "
                          "low wingtip now and then"},
    /* handbook: it ends in a stall */
    [LESSON_PITCH_HIGH] = {"nose raised too high",
                           "the pull was judged by the stick and not by the "
                           "horizon",
                           "choose the highest pitch before the entry, and "
                           "stop the nose there"},
    [LESSON_PEAK_EARLY] = {"highest pitch long before 90",
                           "the nose was pulled up at once",
                           "spread the pull: half of the pitch at 45 degrees "
                           "of turn, all of it at 90"},
    /* handbook */
    [LESSON_PEAK_LATE] = {"pitch still rising after 90",
                          "the pull was too timid in the first half",
                          "spread the pull: half of the pitch at 45 degrees "
                          "of turn, all of it at 90"},
    [LESSON_RISE_BEHIND] = {"pitch not raised evenly",
                            "the nose stayed low and was then pulled up in a "
                            "hurry",
                            "begin to pull as soon as the bank is set, and "
                            "keep pulling at the same rate"},
    [LESSON_RISE_AHEAD] = {"pitch not raised evenly",
                           "most of the pull came right after the roll-in",
                           "pull less at first: half of the pitch at 45 "
                           "degrees of turn"},
    /* handbook */
    [LESSON_ROLL_OUT_EARLY] = {"roll-out begun before 90",
                               "no point for the 90 degrees was picked, or "
                               "the eyes were inside",
                               "before the entry pick a point off the "
                               "wingtip; roll out when the nose is on it"},
    /* handbook */
    [LESSON_ROLL_OUT_LATE] = {"roll-out not begun at 90",
                              "no point for the 90 degrees was picked, or it "
                              "was passed unseen",
                              "before the entry pick a point off the wingtip; "
                              "roll out when the nose is on it"},
    /* handbook: rough control */
    [LESSON_ROLL_OUT_UNEVEN] = {"bank taken off unevenly",
                                "the roll-out went in steps, each of them "
                                "checked against the compass",
                                "start a slow roll and keep its rate; look at "
                                "the 180-degree point, not at the heading"},
    [LESSON_PITCH_SAGGED] = {"pitch lost in the second half",
                             "the back pressure was not increased as the "
                             "speed fell",
                             "pull a little more all the way to 180: the "
                             "elevator needs it as the speed falls"},
    /* handbook */
    [LESSON_PITCH_ROSE] = {"pitch rising in the second half",
                           "as the bank comes off, the same pull raises the "
                           "nose further",
                           "at 90 freeze the nose on the horizon; from there "
                           "the hands only roll"},
    /* handbook */
    [LESSON_TURNED_SHORT] = {"wings level before 180",
                             "the bank came off too quickly",
                             "roll slower: half of the bank is still on with "
                             "about 20 degrees to go"},
    [LESSON_TURNED_LONG] = {"turned past 180", "the bank came off too slowly",
                            "roll faster: no more than half of the bank is "
                            "left with about 20 degrees to go"},
    [LESSON_FINISH_SLOW] = {"below the stall speed at the finish",
                            "more pitch was held than the speed could carry",
                            "take a few degrees less pitch at 90"},
    /* handbook */
    [LESSON_FINISH_FAST] = {"nose low at the finish, too much speed left",
                            "the pitch at 90 was too low, or it was let down "
                            "on the way",
                            "take a few degrees more pitch at 90, and keep it "
                            "up to 180"},
    /* handbook */
    [LESSON_STALLED] = {"stalled during the maneuver",
                        "too much pitch for the speed that was left",
                        "less pitch at 90; when the tone quickens, lower the "
                        "nose at once"},
    /* handbook, both: poor coordination */
    [LESSON_BALL_LEFT] = {"poor coordination: ball out to the left",
                          "aileron without rudder, or right rudder held too "
                          "long",
                          "step on the ball: left rudder, and some rudder "
                          "with every aileron"},
    [LESSON_BALL_RIGHT] = {"poor coordination: ball out to the right",
                           "too little right rudder as the speed fell at full "
                           "power",
                           "step on the ball: right rudder, more of it all "
                           "the way to 180"},
    [LESSON_SANK] = {"sank after the finish",
                     "the nose was lowered faster than the speed came back",
                     "lower the nose slowly and let the speed build at the "
                     "altitude you reached"},
    [LESSON_ROSE] = {"kept climbing after the finish",
                     "the nose was held up after the wings were level",
                     "once it has been shown, lower the nose just enough to "
                     "hold the altitude"},
    /* handbook */
    [LESSON_GAIN] = {"a steep turn rather than a climb",
                     "power came late, or too little pitch was used",
                     "full power as the bank goes in, and all of the pitch "
                     "by 90"},
};

const struct debrief_lesson *lesson_of(enum lesson lesson)
{
    return lesson == LESSON_NONE ? NULL : &lessons[lesson];
}
