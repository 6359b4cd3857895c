/* outputs_sound.h - the part of the outputs that sounds. */
#ifndef COMMANDS_OUTPUTS_SOUND_H
#define COMMANDS_OUTPUTS_SOUND_H

#include "quarterturn/callout.h"

struct outputs;

/* Let a call, or a tone until the next one, be heard. */
void outputs_sound_call(struct outputs *outputs,
                        const struct callout_call *call);
void outputs_sound_tone(struct outputs *outputs,
                        const struct callout_tone *tone);

#endif
