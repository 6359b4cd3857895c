/* caller.c - a callout that is offered events and asked what it says. */
#include "caller.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

struct callout caller;

int caller_begin(void **state)
{
    struct callout_settings settings;

    (void)state;
    callout_defaults(&settings);
    callout_init(&caller, &settings);
    return 0;
}

struct maneuver_event caller_event(enum maneuver_event_kind kind, int64_t t_ns)
{
    struct maneuver_event event;

    memset(&event, 0, sizeof event);
    event.kind = kind;
    event.t_ns = t_ns;
    event.attempt = 1;
    event.direction = 1;
    event.angle_rad = event.length_m = event.stall_margin_mps = (double)NAN;
    return event;
}

void caller_offer(enum maneuver_event_kind kind, int64_t t_ns)
{
    struct maneuver_event event = caller_event(kind, t_ns);

    callout_offer(&caller, t_ns, &event);
}

/* Nothing in sight, nothing wrong. */
struct maneuver_outlook caller_outlook(int64_t now_ns)
{
    return (struct maneuver_outlook){.now_ns = now_ns,
                                     .attempt = 1,
                                     .ninety_ns = INT64_MAX,
                                     .ten_to_go_ns = INT64_MAX,
                                     .pitch_limit_ns = INT64_MAX};
}

/* Advance and expect exactly one call, of this cue. */
struct callout_call caller_expect(int64_t now_ns, enum callout_cue cue)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];

    assert_int_equal(callout_advance(&caller, now_ns, calls), 1);
    assert_int_equal(calls[0].cue, cue);
    return calls[0];
}

void caller_expect_none(int64_t now_ns)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];

    assert_int_equal(callout_advance(&caller, now_ns, calls), 0);
}
