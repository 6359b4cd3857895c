/* waiting.h - cues that wait, and whose turn it is; private to callout. */
#ifndef CALLOUT_WAITING_H
#define CALLOUT_WAITING_H

#include "quarterturn/callout.h"

int64_t waiting_ns(double seconds);
void waiting_remove(struct callout *callout, uint32_t i);

#endif
