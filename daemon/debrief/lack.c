/* lack.c - why an attempt could not begin, for people and programs. */
#include <math.h>
#include <stdio.h>

#include "quarterturn/debrief.h"

/* Before a figure that is positive or negative, and behind it. */
struct words {
    const char *before[2];
    const char *behind;
};

struct about {
    struct words now;
    struct words flown; /* the same of a turn that was flown */
    enum unit unit;     /* UNIT_NONE: no figure */
    int decimals;
};

/* A caption of them fits a line of 80 columns. */
static const struct about about_lack[LACK_COUNT] = {
    [LACK_NONE] = {{{"", ""}, ""}, {{"", ""}, ""}, UNIT_NONE, 0},
    [LACK_DATA] = {{{"nothing is known of the flight", ""}, ""},
                   {{"", ""}, ""},
                   UNIT_NONE,
                   0},
    [LACK_AIR] = {{{"on the ground", ""}, ""}, {{"", ""}, ""}, UNIT_NONE, 0},
    [LACK_SPEED] = {{{"airspeed ", "airspeed "}, ""},
                    {{"entered at ", "entered at "}, ""},
                    UNIT_KT,
                    1},
    [LACK_LEVEL_WINGS] = {{{"bank ", "bank "}, ""},
                          {{"entered banked ", "entered banked "}, ""},
                          UNIT_DEG,
                          1},
    [LACK_STRAIGHT] = {{{"turning right ", "turning left "}, ""},
                       {{"entered turning ", "entered turning "}, ""},
                       UNIT_DEG_PER_S,
                       1},
    [LACK_LEVEL_FLIGHT] = {{{"climbing ", "sinking "}, ""},
                           {{"entered climbing ", "entered sinking "}, ""},
                           UNIT_FT_PER_MIN,
                           0},
    [LACK_TIME] = {{{"steady for ", ""}, ""},
                   {{"entered after ", ""}, " steady"},
                   UNIT_S,
                   1},
    [LACK_BRISK_ROLL] = {{{"", ""}, ""},
                         {{"entered ", ""}, " after steady flight"},
                         UNIT_S,
                         1},
    [LACK_MEDIUM_BANK] = {{{"", ""}, ""}, {{"banked ", ""}, ""}, UNIT_DEG, 1},
    [LACK_EARLY_CLIMB] = {{{"", ""}, ""},
                          {{"climbed after ", ""}, " of turn"},
                          UNIT_DEG,
                          0},
    [LACK_PROMPT_CLIMB] = {{{"", ""}, ""},
                           {{"climbed after ", ""}, " of turn"},
                           UNIT_S,
                           1},
};

void debrief_lack_of(const struct maneuver_lack *lack, struct debrief_lack *out)
{
    enum unit unit = about_lack[lack->kind].unit;

    *out = (struct debrief_lack){maneuver_lack_name(lack->kind), NAN, NAN, NAN,
                                 ""};
    if (unit == UNIT_NONE)
        return;
    out->flown = units_from_internal(unit, lack->flown);
    out->least = units_from_internal(unit, lack->least);
    out->most = units_from_internal(unit, lack->most);
    out->unit = units_name(unit);
}

/* "95 to 115 kt", "at most 5 deg", "at least 3 s". */
static void wanted_text(const struct debrief_lack *told, char *out, size_t size)
{
    if (isnan(told->most))
        (void)snprintf(out, size, "at least %.4g %s", told->least, told->unit);
    else if (isnan(told->least) || told->least < 0.0)
        (void)snprintf(out, size, "at most %.4g %s", told->most, told->unit);
    else
        (void)snprintf(out, size, "%.4g to %.4g %s", told->least, told->most,
                       told->unit);
}

void debrief_lack_text(const struct maneuver_lack *lack, bool flown,
                       char out[DEBRIEF_LACK_SIZE])
{
    const struct about *about = &about_lack[lack->kind];
    const struct words *words = flown ? &about->flown : &about->now;
    const char *before = words->before[lack->flown < 0.0];
    struct debrief_lack told;
    char wanted[40];

    debrief_lack_of(lack, &told);
    if (about->unit == UNIT_NONE) {
        (void)snprintf(out, DEBRIEF_LACK_SIZE, "%s", before);
        return;
    }
    wanted_text(&told, wanted, sizeof wanted);
    (void)snprintf(out, DEBRIEF_LACK_SIZE, "%s%.*f %s%s, %s wanted", before,
                   about->decimals, fabs(told.flown), told.unit, words->behind,
                   wanted);
}
