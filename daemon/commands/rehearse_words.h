/* rehearse_words.h - what a rehearsal was asked to be. */
#ifndef COMMANDS_REHEARSE_WORDS_H
#define COMMANDS_REHEARSE_WORDS_H

#include "commands.h"
#include "quarterturn/rehearse.h"

struct rehearse_choice {
    const char *address; /* numeric */
    double port;         /* below 0: as configured */
    const char *record;  /* NULL: sent */
    const char *truth;   /* NULL: none */
    double rate_hz;
    double speed;   /* 0: at once */
    double hold_at; /* deg of turn; 0: nowhere */
    bool list;
    bool force; /* replaces earlier files */
};

/* Read the words of the command into the choice and over the plan, which
 * holds the defaults.
 * argv: its --error words are taken out.
 * Returns: 0, or EXIT_WRONG_USAGE after saying what is wrong. */
int rehearse_words_read(int argc, char **argv, struct rehearse_choice *choice,
                        struct rehearse_plan *plan);
/* Explain each error in a line. */
void rehearse_words_list(void);
/* Say what is going to be flown. */
void rehearse_words_tell(const struct rehearse_plan *plan);

#endif
