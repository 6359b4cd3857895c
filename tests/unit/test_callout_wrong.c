/* test_callout_wrong.c - what is said while something stays wrong. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/callout.h"
#include "quarterturn/error.h"

#define MS INT64_C(1000000)

static struct callout callout;

static int begin(void **state)
{
    struct callout_settings settings;

    (void)state;
    callout_defaults(&settings);
    callout_init(&callout, &settings);
    return 0;
}

static struct maneuver_event event_at(enum maneuver_event_kind kind,
                                      int64_t t_ns)
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

static void offer(enum maneuver_event_kind kind, int64_t t_ns)
{
    struct maneuver_event event = event_at(kind, t_ns);

    callout_offer(&callout, t_ns, &event);
}

/* Nothing in sight, nothing wrong. */
static struct maneuver_outlook outlook_at(int64_t now_ns)
{
    return (struct maneuver_outlook){.now_ns = now_ns,
                                     .attempt = 1,
                                     .ninety_ns = INT64_MAX,
                                     .ten_to_go_ns = INT64_MAX,
                                     .pitch_limit_ns = INT64_MAX};
}

/* Advance and expect exactly one call, of this cue. */
static struct callout_call expect(int64_t now_ns, enum callout_cue cue)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];

    assert_int_equal(callout_advance(&callout, now_ns, calls), 1);
    assert_int_equal(calls[0].cue, cue);
    return calls[0];
}

static void expect_none(int64_t now_ns)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];

    assert_int_equal(callout_advance(&callout, now_ns, calls), 0);
}

/* ---- a stall ------------------------------------------------------------
 */

static void offer_stalled(enum maneuver_event_kind kind, int64_t t_ns)
{
    struct maneuver_event event = event_at(kind, t_ns);

    event.stalled = true;
    event.stall_margin_mps = 2.0;
    callout_offer(&callout, t_ns, &event);
}

static void nothing_talks_over_a_stall(void **state)
{
    static const enum maneuver_event_kind kinds[] = {
        EVENT_PITCH_SAG,       EVENT_PITCH_RISE,  EVENT_BANK_DRIFT,
        EVENT_ROLL_OUT_ADVICE, EVENT_WINGS_LEVEL, EVENT_HOLD_BROKEN};

    (void)state;
    offer(EVENT_WINGS_LEVEL, 1000 * MS);
    offer(EVENT_STALL, 1100 * MS);
    (void)expect(1100 * MS, CUE_STALL);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        offer_stalled(kinds[i], (1200 + 10 * (int64_t)i) * MS);
    expect_none(12000 * MS);
}

static void what_stays_wrong_is_said_again(void **state)
{
    struct maneuver_outlook wrong = outlook_at(1000 * MS);

    (void)state;
    wrong.bank_out = -1;
    callout_plan(&callout, &wrong);
    (void)expect(1000 * MS, CUE_MORE_BANK);
    wrong.now_ns = 10900 * MS;
    callout_plan(&callout, &wrong);
    expect_none(10900 * MS);
    wrong.now_ns = 11100 * MS;
    wrong.ball_out = 1;
    callout_plan(&callout, &wrong);
    (void)expect(11100 * MS, CUE_MORE_BANK);
    (void)expect(11980 * MS, CUE_RIGHT_RUDDER);
    wrong.now_ns = 21500 * MS;
    wrong.bank_out = wrong.ball_out = 0;
    callout_plan(&callout, &wrong);
    expect_none(21500 * MS);
}

static void a_stall_is_said_until_it_is_over(void **state)
{
    struct maneuver_outlook wrong = outlook_at(1000 * MS);

    (void)state;
    wrong.stalled = true;
    wrong.bank_out = -1;
    offer(EVENT_STALL, 1000 * MS);
    callout_plan(&callout, &wrong);
    (void)expect(1000 * MS, CUE_STALL);
    wrong.now_ns = 5900 * MS;
    callout_plan(&callout, &wrong);
    expect_none(5900 * MS);
    wrong.now_ns = 6100 * MS;
    callout_plan(&callout, &wrong);
    (void)expect(6100 * MS, CUE_STALL);
}

static void expect_tone(int band)
{
    struct callout_tone tone;

    assert_true(callout_take_tone(&callout, &tone));
    assert_int_equal(tone.band, band);
}

/* Out of sight the tone is silent; but what it warned of is still there. */
static void the_tone_comes_back_with_the_flight(void **state)
{
    static const enum maneuver_event_kind away[] = {EVENT_PAUSED,
                                                    EVENT_SIGNAL_LOST};
    static const enum maneuver_event_kind back[] = {EVENT_RESUMED,
                                                    EVENT_SIGNAL_BACK};

    for (int i = 0; i < 2; i++) {
        struct maneuver_event near = event_at(EVENT_NEAR_STALL, 1000 * MS);

        (void)begin(state);
        near.band = 2;
        callout_offer(&callout, 1000 * MS, &near);
        expect_tone(2);
        offer(away[i], 2000 * MS);
        expect_tone(0);
        offer(back[i], 9000 * MS);
        expect_tone(2);
        offer(EVENT_JUMPED, 9500 * MS);
        expect_tone(0);
        offer(back[i], 9600 * MS);
        assert_false(callout_take_tone(&callout, &(struct callout_tone){0}));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(nothing_talks_over_a_stall, begin),
        cmocka_unit_test_setup(what_stays_wrong_is_said_again, begin),
        cmocka_unit_test_setup(a_stall_is_said_until_it_is_over, begin),
        cmocka_unit_test_setup(the_tone_comes_back_with_the_flight, begin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
