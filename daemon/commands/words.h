/* words.h - the words of a command line behind the command's name. */
#ifndef COMMANDS_WORDS_H
#define COMMANDS_WORDS_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/performance.h"
#include "quarterturn/units.h"

/* One option of a command. Exactly one of the targets is set; or flag and text
 * both, for an option whose value may be left out and else stands behind "=".
 */
struct words_option {
    const char *name; /* with its two dashes */
    const char **text;
    bool *flag;
    bool utf8;        /* text must be */
    bool file;        /* text names one that is made, not "-" */
    double *number;   /* least..most, whole but for: */
    bool fraction;    /* number need not be whole */
    double *quantity; /* with a unit; becomes internal, like settings */
    double least;     /* of a quantity: in unit */
    double most;
    enum unit unit; /* of a quantity that comes without one */
};

/* Read options, "--name value" or "--name=value", and up to most plain words.
 * options: ended by a row without a name.
 * plain: receives the plain words. plain_count: set.
 * Returns: 0, or EXIT_WRONG_USAGE after saying what is wrong. */
int words_read(int argc, char **argv, const struct words_option *options,
               const char **plain, int most, int *plain_count);

/* Read a wind, "270/15": from west, 15 kt. text: NULL changes nothing.
 * Returns: 0, or EXIT_WRONG_USAGE after saying what is wrong. */
int words_read_wind(const char *command, const char *text,
                    struct performance_conditions *day);

/* Read a direction, "left" (-1) or "right" (+1). text: NULL changes nothing.
 * Returns: 0, or EXIT_WRONG_USAGE after saying what is wrong. */
int words_read_direction(const char *command, const char *text, int *direction);

#endif
