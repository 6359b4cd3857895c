/* errors.c - the errors that can be made on purpose. */
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/rehearse.h"

/* The usual sizes are ours: large enough to miss the standards that come with
 * the program, small enough to happen to a student. The largest are those that
 * are still told for a chandelle that somebody means to finish. */
static const struct rehearse_error_about row_of_error[REHEARSE_ERRORS] = {
    [REHEARSE_BANK_SHALLOW] = {"bank-shallow", UNIT_DEG, 8, 1, 12,
                               "first bank too shallow by so much", "bank set"},
    [REHEARSE_BANK_STEEP] = {"bank-steep", UNIT_DEG, 8, 1, 11,
                             "first bank too steep by so much", "bank set"},
    [REHEARSE_BANK_GROWING] = {"bank-growing", UNIT_DEG, 9, 1, 12,
                               "bank grows by so much up to 90 degrees",
                               "bank to 90"},
    [REHEARSE_PITCH_EARLY] = {"pitch-early", UNIT_DEG, 30, 5, 45,
                              "highest pitch so many degrees before 90",
                              "highest pitch reached at"},
    [REHEARSE_PITCH_LATE] = {"pitch-late", UNIT_DEG, 30, 5, 45,
                             "highest pitch so many degrees after 90",
                             "highest pitch reached at"},
    [REHEARSE_PITCH_HIGH] = {"pitch-high", UNIT_DEG, 4, 1, 6,
                             "nose so much above the pitch limit",
                             "highest pitch"},
    [REHEARSE_PITCH_LOW] = {"pitch-low", UNIT_DEG, 7, 1, 9,
                            "nose too low by so much: the finish is fast",
                            "speed above stall"},
    [REHEARSE_PITCH_SAG] = {"pitch-sag", UNIT_DEG, 6, 1, 10,
                            "nose sinks by so much during the roll-out",
                            "pitch kept from 90"},
    [REHEARSE_ROLL_OUT_EARLY] = {"roll-out-early", UNIT_DEG, 25, 5, 40,
                                 "roll-out begun so many degrees before 90",
                                 "roll-out begun at"},
    [REHEARSE_ROLL_OUT_LATE] = {"roll-out-late", UNIT_DEG, 25, 5, 40,
                                "roll-out begun so many degrees after 90",
                                "roll-out begun at"},
    [REHEARSE_ROLL_OUT_UNEVEN] = {"roll-out-uneven", UNIT_DEG, 8, 1, 10,
                                  "bank comes off unevenly, by so much",
                                  "roll-out evenness"},
    [REHEARSE_LEVEL_SHORT] = {"level-short", UNIT_DEG, 18, 2, 28,
                              "wings level so many degrees before 180",
                              "heading error at level"},
    [REHEARSE_LEVEL_PAST] = {"level-past", UNIT_DEG, 20, 2, 50,
                             "wings level so many degrees past 180",
                             "heading error at level"},
    [REHEARSE_BALL] = {"ball-out", UNIT_G, 0.06, 0.01, 0.12,
                       "feet asleep: the ball hangs out by so much",
                       "ball out"},
    [REHEARSE_STALL] = {"stall", UNIT_DEG, 14, 10, 20,
                        "nose so much too high, early on: it stalls",
                        "time stalled"},
    [REHEARSE_SINK] = {"sink", UNIT_FT, 120, 20, 300,
                       "so much altitude lost after the finish",
                       "altitude after level"},
    [REHEARSE_ABANDON] = {"abandon", UNIT_DEG, 60, 35, 140,
                          "given up after so many degrees of turn", NULL},
};

const struct rehearse_error_about *
rehearse_error_about(enum rehearse_error error)
{
    return &row_of_error[error];
}

int rehearse_error_find(const char *name, enum rehearse_error *out)
{
    for (int i = 0; i < REHEARSE_ERRORS; i++) {
        if (strcmp(name, row_of_error[i].name) == 0) {
            *out = (enum rehearse_error)i;
            return 0;
        }
    }
    return ERR_ABSENT;
}
