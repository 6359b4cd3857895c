/* speak.h - calls that are composed of several clips. Private to callout. */
#ifndef CALLOUT_SPEAK_H
#define CALLOUT_SPEAK_H

#include "quarterturn/callout.h"

/* Fill the clips and the text of a call from a wings-level event: "heading
 * plus six; gained eight hundred feet; four above the stall". What is not
 * known is left out. */
void speak_result(const struct maneuver_event *event,
                  enum callout_numbers style, struct callout_call *call);
/* Fill the clips and the text of a call: "in standard", "not in standard; next
 * time hold pitch". next: CLIP_COUNT: no word for it. */
void speak_verdict(bool in_standard, enum callout_clip next,
                   struct callout_call *call);

#endif
