/* needs.h - what a missing channel turns off. */
#ifndef COMMANDS_NEEDS_H
#define COMMANDS_NEEDS_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/intake.h"

/* Go through what is missing, the worst first.
 * given: CHANNEL_BITs of the channels there are.
 * say: called with one text each, "altitude: ... are off"; required: without
 *    it the manoeuvre cannot be followed at all.
 * Returns: whether a required channel is missing. */
bool needs_tell_missing(uint32_t given,
                        void (*say)(void *context, const char *text,
                                    bool required),
                        void *context);

/* The same for a layout, to the log.
 * Returns: 0, or EXIT_WRONG_USAGE when the manoeuvre cannot be followed. */
int needs_explain_layout(const struct intake_layout *layout);

#endif
