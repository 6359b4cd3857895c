/* help.h - which cues the present amount of help allows. Private to callout. */
#ifndef CALLOUT_HELP_H
#define CALLOUT_HELP_H

#include "quarterturn/callout.h"

/* Whether a cue may be said now. */
bool help_allows(const struct callout *callout, enum callout_cue cue);

#endif
