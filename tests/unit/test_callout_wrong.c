/* test_callout_wrong.c - what is said while something stays wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "caller.h"

static void offer_stalled(enum maneuver_event_kind kind, int64_t t_ns)
{
    struct maneuver_event event = caller_event(kind, t_ns);

    event.stalled = true;
    event.stall_margin_mps = 2.0;
    callout_offer(&caller, t_ns, &event);
}

static void nothing_talks_over_a_stall(void **state)
{
    static const enum maneuver_event_kind kinds[] = {
        EVENT_PITCH_SAG,       EVENT_PITCH_RISE,  EVENT_BANK_DRIFT,
        EVENT_ROLL_OUT_ADVICE, EVENT_WINGS_LEVEL, EVENT_HOLD_BROKEN};
    struct maneuver_event level = caller_event(EVENT_WINGS_LEVEL, 1000 * MS);

    (void)state;
    level.angle_rad = 0.0;
    callout_offer(&caller, 1000 * MS, &level);
    caller_offer(EVENT_STALL, 1100 * MS);
    (void)caller_expect(1100 * MS, CUE_STALL);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        offer_stalled(kinds[i], (1200 + 10 * (int64_t)i) * MS);
    caller_expect_none(12000 * MS);
}

static void what_stays_wrong_is_said_again(void **state)
{
    struct maneuver_outlook wrong = caller_outlook(1000 * MS);

    (void)state;
    wrong.bank_out = -1;
    callout_plan(&caller, &wrong);
    (void)caller_expect(1000 * MS, CUE_MORE_BANK);
    wrong.now_ns = 10900 * MS;
    callout_plan(&caller, &wrong);
    caller_expect_none(10900 * MS);
    wrong.now_ns = 11100 * MS;
    wrong.ball_out = 1;
    callout_plan(&caller, &wrong);
    (void)caller_expect(11100 * MS, CUE_MORE_BANK);
    (void)caller_expect(11980 * MS, CUE_RIGHT_RUDDER);
    wrong.now_ns = 21500 * MS;
    wrong.bank_out = wrong.ball_out = 0;
    callout_plan(&caller, &wrong);
    caller_expect_none(21500 * MS);
}

static void a_stall_is_said_until_it_is_over(void **state)
{
    struct maneuver_outlook wrong = caller_outlook(1000 * MS);

    (void)state;
    wrong.stalled = true;
    wrong.bank_out = -1;
    caller_offer(EVENT_STALL, 1000 * MS);
    callout_plan(&caller, &wrong);
    (void)caller_expect(1000 * MS, CUE_STALL);
    wrong.now_ns = 5900 * MS;
    callout_plan(&caller, &wrong);
    caller_expect_none(5900 * MS);
    wrong.now_ns = 6100 * MS;
    callout_plan(&caller, &wrong);
    (void)caller_expect(6100 * MS, CUE_STALL);
}

static void expect_tone(int band)
{
    struct callout_tone tone;

    assert_true(callout_take_tone(&caller, &tone));
    assert_int_equal(tone.band, band);
}

/* At 1 s. */
static void come_near(void)
{
    struct maneuver_event near = caller_event(EVENT_NEAR_STALL, 1000 * MS);

    near.band = 2;
    callout_offer(&caller, 1000 * MS, &near);
    expect_tone(2);
}

/* Out of sight the tone is silent; but what it warned of is still there. */
static void the_tone_comes_back_with_the_flight(void **state)
{
    static const enum maneuver_event_kind away[] = {EVENT_PAUSED,
                                                    EVENT_SIGNAL_LOST};
    static const enum maneuver_event_kind back[] = {EVENT_RESUMED,
                                                    EVENT_SIGNAL_BACK};

    for (int i = 0; i < 2; i++) {
        (void)caller_begin(state);
        come_near();
        caller_offer(away[i], 2000 * MS);
        expect_tone(0);
        caller_offer(back[i], 9000 * MS);
        expect_tone(2);
        caller_offer(EVENT_JUMPED, 9500 * MS);
        expect_tone(0);
        caller_offer(back[i], 9600 * MS);
        assert_false(callout_take_tone(&caller, &(struct callout_tone){0}));
    }
}

/* Lost while it is paused, and seen again while it still is. */
static void a_flight_that_is_back_but_paused_has_no_tone(void **state)
{
    (void)state;
    come_near();
    caller_offer(EVENT_PAUSED, 2000 * MS);
    expect_tone(0);
    caller_offer(EVENT_SIGNAL_LOST, 5000 * MS);
    caller_offer(EVENT_SIGNAL_BACK, 9000 * MS);
    assert_false(callout_take_tone(&caller, &(struct callout_tone){0}));
    callout_set_help(&caller, 9100 * MS, HELP_SUMMARY);
    callout_set_help(&caller, 9200 * MS, HELP_FULL);
    assert_false(callout_take_tone(&caller, &(struct callout_tone){0}));
    caller_offer(EVENT_RESUMED, 9500 * MS);
    expect_tone(2);
}

/* Lost first, and paused when it is seen again. */
static void a_flight_that_was_paused_unseen_has_no_tone(void **state)
{
    (void)state;
    come_near();
    caller_offer(EVENT_SIGNAL_LOST, 2000 * MS);
    expect_tone(0);
    caller_offer(EVENT_SIGNAL_BACK, 4000 * MS);
    caller_offer(EVENT_PAUSED, 4000 * MS);
    expect_tone(0);
    caller_offer(EVENT_RESUMED, 9500 * MS);
    expect_tone(2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(nothing_talks_over_a_stall, caller_begin),
        cmocka_unit_test_setup(what_stays_wrong_is_said_again, caller_begin),
        cmocka_unit_test_setup(a_stall_is_said_until_it_is_over, caller_begin),
        cmocka_unit_test_setup(the_tone_comes_back_with_the_flight,
                               caller_begin),
        cmocka_unit_test_setup(a_flight_that_is_back_but_paused_has_no_tone,
                               caller_begin),
        cmocka_unit_test_setup(a_flight_that_was_paused_unseen_has_no_tone,
                               caller_begin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
