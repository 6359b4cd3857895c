/* fitting.h - which of the ready layouts a recording fits. */
#ifndef COMMANDS_FITTING_H
#define COMMANDS_FITTING_H

#include <stdint.h>

#include "commands.h"

/* When the command line names no layout and the configured one understands
 * nothing of a recording, take the one ready layout that understands it, and
 * say so. Otherwise, and when two do, nothing changes.
 * choice: its layout is set to a constant when one was taken.
 * settings: loaded by choice; loaded again when one was taken.
 * port: the stream to this port; 0: any.
 * Thread: main, before the loop runs. */
void fitting_take(const struct command_context *context, const char *file,
                  uint16_t port, struct settings_choice *choice,
                  struct settings *settings);

/* Find the one ready layout that understands something of a recording.
 * port: as above. Thread: as above.
 * Returns: its name, a constant; NULL when none does, or several. */
const char *fitting_find(const struct command_context *context,
                         const char *file, uint16_t port);

#endif
