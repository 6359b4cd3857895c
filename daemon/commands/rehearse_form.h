/* rehearse_form.h - what a layout cannot carry of a rehearsal. */
#ifndef COMMANDS_REHEARSE_FORM_H
#define COMMANDS_REHEARSE_FORM_H

#include "quarterturn/layout.h"
#include "quarterturn/rehearse.h"

/* Say in the log what who listens will miss, a line for each kind of it;
 * nothing when it is nothing.
 * speed: of the flight's time, 1 for a recording. */
void rehearse_form_tell(const struct intake_layout *layout,
                        const struct rehearse_plan *plan, double speed);

#endif
