/* words.h - the words of a command line behind the command's name. */
#ifndef COMMANDS_WORDS_H
#define COMMANDS_WORDS_H

#include <stdbool.h>
#include <stdint.h>

/* One option of a command. Exactly one of the targets is set. */
struct words_option {
    const char *name; /* with its two dashes */
    const char **text;
    bool *flag;
    double *number; /* least..most */
    double least;
    double most;
};

/* Read options, "--name value" or "--name=value", and up to most plain words.
 * options: ended by a row without a name.
 * plain: receives the plain words. plain_count: set.
 * Returns: 0, or EXIT_WRONG_USAGE after saying what is wrong. */
int words_read(int argc, char **argv, const struct words_option *options,
               const char **plain, int most, int *plain_count);

#endif
