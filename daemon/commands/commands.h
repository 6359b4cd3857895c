/* commands.h - the command table's contract: one file, one function each. */
#ifndef QUARTERTURN_COMMANDS_H
#define QUARTERTURN_COMMANDS_H

#include <stdbool.h>
#include <stdio.h>

#include "quarterturn/settings.h"

/* What main has read off the command line for every command. */
struct command_context {
    const char *program;     /* path of this executable */
    const char *data_folder; /* holds config/ and sounds/ */
    struct settings_choice choice;
    const char *events; /* --events: a path, "-" or NULL */
    bool quiet;
    bool verbose;
};

/* Exit status of the program. */
enum { EXIT_DONE = 0, EXIT_COULD_NOT = 1, EXIT_WRONG_USAGE = 2 };

/* Each takes its own name in argv[0] and its own words behind it, the common
 * options taken out, and returns the exit status. */
int command_listen(int argc, char **argv,
                   const struct command_context *context);
int command_replay(int argc, char **argv,
                   const struct command_context *context);
int command_rehearse(int argc, char **argv,
                     const struct command_context *context);
int command_inspect(int argc, char **argv,
                    const struct command_context *context);
int command_discover(int argc, char **argv,
                     const struct command_context *context);
int command_brief(int argc, char **argv, const struct command_context *context);
int command_sounds(int argc, char **argv,
                   const struct command_context *context);
int command_debrief(int argc, char **argv,
                    const struct command_context *context);
int command_tell(int argc, char **argv, const struct command_context *context);
int command_sound_worker(int argc, char **argv,
                         const struct command_context *context);

/* What --version prints: first "quarterturn 1.2.3", then a line each on the
 * build, the libraries and the data. */
void version_print(FILE *file);

#endif
