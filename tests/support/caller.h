/* caller.h - a callout that is offered events and asked what it says. */
#ifndef SUPPORT_CALLER_H
#define SUPPORT_CALLER_H

#include "quarterturn/callout.h"

#define MS INT64_C(1000000)

extern struct callout caller;

/* With the defaults. For cmocka. */
int caller_begin(void **state);
/* An event of attempt 1; what it tells is not known. */
struct maneuver_event caller_event(enum maneuver_event_kind kind, int64_t t_ns);
/* Offer such an event when it happens. */
void caller_offer(enum maneuver_event_kind kind, int64_t t_ns);
/* Nothing in sight, nothing wrong. */
struct maneuver_outlook caller_outlook(int64_t now_ns);
/* Advance and expect exactly one call, of this cue; or none. */
struct callout_call caller_expect(int64_t now_ns, enum callout_cue cue);
void caller_expect_none(int64_t now_ns);

#endif
