/* channels.h - private to the intake room: storing a channel's value. */
#ifndef INTAKE_CHANNELS_H
#define INTAKE_CHANNELS_H

#include "quarterturn/intake.h"

/* Store a finite value (internal unit) and mark its channel valid; a bool
 * becomes 0 or 1.
 * Returns: INTAKE_TAKEN, or INTAKE_OUT_OF_RANGE with the value kept as beyond.
 */
enum intake_reject channel_store(enum intake_channel channel, double value,
                                 struct intake_sample *out);

/* Keep a value that is out of range, for whoever looks for the reason. */
void channel_put_beyond(enum intake_channel channel, double value,
                        struct intake_sample *out);

#endif
