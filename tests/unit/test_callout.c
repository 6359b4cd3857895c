/* test_callout.c - which cue is said, and when. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "caller.h"
#include "near.h"
#include "quarterturn/callout.h"
#include "quarterturn/error.h"

static void plan_ninety(int64_t now_ns, int64_t moment_ns)
{
    struct maneuver_outlook outlook = caller_outlook(now_ns);

    outlook.ninety_ns = moment_ns;
    callout_plan(&caller, &outlook);
}

static void ninety_follows_the_prediction_until_it_is_committed(void **state)
{
    struct callout_call call;

    (void)state;
    plan_ninety(0, 2000 * MS);
    caller_expect_none(0);
    assert_int_equal(callout_deadline_ns(&caller), 1880 * MS);
    plan_ninety(1000 * MS, 1500 * MS);
    caller_expect_none(1000 * MS);
    assert_int_equal(callout_deadline_ns(&caller), 1380 * MS);
    call = caller_expect(1380 * MS, CUE_NINETY);
    assert_int_equal(call.onset_ns, 1500 * MS);
    assert_int_equal(call.moment_ns, 1500 * MS);
    /* Committed: a later prediction changes nothing, nor does the crossing. */
    plan_ninety(1400 * MS, 1700 * MS);
    caller_expect_none(1700 * MS);
    {
        struct maneuver_event mark = caller_event(EVENT_MARK, 1700 * MS);

        mark.angle_rad = units_rad(90.0);
        callout_offer(&caller, 1700 * MS, &mark);
    }
    caller_expect_none(1800 * MS);
}

static void a_prediction_that_goes_away_takes_its_call_with_it(void **state)
{
    (void)state;
    plan_ninety(0, 2000 * MS);
    plan_ninety(500 * MS, INT64_MAX);
    assert_int_equal(callout_deadline_ns(&caller), INT64_MAX);
    caller_expect_none(3000 * MS);
}

static void ninety_is_said_at_the_crossing_when_nobody_foresaw_it(void **state)
{
    struct maneuver_event mark = caller_event(EVENT_MARK, 990 * MS);
    struct callout_call call;

    (void)state;
    mark.angle_rad = units_rad(90.0);
    callout_offer(&caller, 1000 * MS, &mark);
    call = caller_expect(1000 * MS, CUE_NINETY);
    assert_int_equal(call.onset_ns, 1000 * MS);
    assert_int_equal(call.moment_ns, 990 * MS);
}

static void a_call_that_would_be_too_late_is_dropped(void **state)
{
    struct maneuver_event event = caller_event(EVENT_PITCH_LIMIT, 0);

    (void)state;
    callout_offer(&caller, 1500 * MS, &event);
    caller_expect_none(1500 * MS);
    assert_int_equal(caller.dropped, 1);
}

static void a_higher_rank_cuts_in(void **state)
{
    struct callout_call call;

    (void)state;
    caller_offer(EVENT_PITCH_LIMIT, 1000 * MS);
    call = caller_expect(1000 * MS, CUE_PITCH_LIMIT);
    assert_false(call.cuts_in);
    caller_offer(EVENT_STALL, 1200 * MS);
    call = caller_expect(1200 * MS, CUE_STALL);
    assert_true(call.cuts_in);
    assert_int_equal(call.onset_ns, 1200 * MS);
}

static void a_lower_or_equal_rank_waits_for_its_turn(void **state)
{
    struct maneuver_event ball = caller_event(EVENT_BALL, 1200 * MS);
    struct callout_call call;

    (void)state;
    caller_offer(EVENT_PITCH_LIMIT, 1000 * MS);
    (void)caller_expect(1000 * MS, CUE_PITCH_LIMIT);
    ball.side = -1;
    callout_offer(&caller, 1200 * MS, &ball);
    caller_expect_none(1200 * MS);
    /* 0.5 s of speech, 0.5 s of silence; handed over 0.12 s before. */
    assert_int_equal(callout_deadline_ns(&caller), 1880 * MS);
    call = caller_expect(1880 * MS, CUE_LEFT_RUDDER);
    assert_int_equal(call.onset_ns, 2000 * MS);
    assert_false(call.cuts_in);
}

static void of_two_at_once_the_higher_rank_goes_first(void **state)
{
    struct maneuver_event advice =
        caller_event(EVENT_ROLL_OUT_ADVICE, 1000 * MS);

    (void)state;
    advice.side = 1;
    callout_offer(&caller, 1000 * MS, &advice);
    caller_offer(EVENT_PITCH_LIMIT, 1000 * MS);
    (void)caller_expect(1000 * MS, CUE_PITCH_LIMIT);
    (void)caller_expect(1900 * MS, CUE_ROLL_FASTER);
}

/* Advice that would still be sounding at the predicted ninety waits. */
static void a_planned_call_keeps_its_moment_free(void **state)
{
    struct maneuver_event advice = caller_event(EVENT_PITCH_SAG, 1000 * MS);
    struct callout_call call;

    (void)state;
    plan_ninety(1000 * MS, 1700 * MS);
    callout_offer(&caller, 1000 * MS, &advice);
    caller_expect_none(1000 * MS);
    call = caller_expect(1580 * MS, CUE_NINETY);
    assert_int_equal(call.onset_ns, 1700 * MS);
    /* It would come at 2.7 s, beyond its 1.5 s: dropped. */
    caller_expect_none(2580 * MS);
    assert_int_equal(caller.dropped, 1);
}

static void the_same_call_is_not_repeated_within_three_seconds(void **state)
{
    (void)state;
    caller_offer(EVENT_STALL, 1000 * MS);
    (void)caller_expect(1000 * MS, CUE_STALL);
    caller_offer(EVENT_STALL, 3900 * MS);
    caller_expect_none(3900 * MS);
    caller_offer(EVENT_STALL, 4100 * MS);
    (void)caller_expect(4100 * MS, CUE_STALL);
}

static void losing_the_signal_takes_back_what_was_waiting(void **state)
{
    struct maneuver_event near_stall = caller_event(EVENT_NEAR_STALL, 500 * MS);
    struct callout_tone tone;

    (void)state;
    near_stall.band = 2;
    callout_offer(&caller, 500 * MS, &near_stall);
    assert_true(callout_take_tone(&caller, &tone));
    assert_int_equal(tone.band, 2);
    assert_false(callout_take_tone(&caller, &tone));
    plan_ninety(1000 * MS, 2000 * MS);
    caller_offer(EVENT_SIGNAL_LOST, 1500 * MS);
    caller_expect_none(2500 * MS);
    assert_true(callout_take_tone(&caller, &tone));
    assert_int_equal(tone.band, 0);
}

/* The result still sounds when the attempt ends, so that the verdict waits. */
static void
how_it_was_flown_is_said_when_the_flight_is_out_of_sight(void **state)
{
    static const enum maneuver_event_kind gone[] = {
        EVENT_SIGNAL_LOST, EVENT_PAUSED, EVENT_JUMPED, EVENT_ABANDONED};

    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++) {
        struct maneuver_event level =
            caller_event(EVENT_WINGS_LEVEL, 1000 * MS);
        struct maneuver_event over = caller_event(EVENT_FINISHED, 2500 * MS);

        (void)caller_begin(state);
        level.angle_rad = units_rad(2.0);
        callout_offer(&caller, 1000 * MS, &level);
        (void)caller_expect(1000 * MS, CUE_WINGS_LEVEL);
        caller_offer(EVENT_HOLD_BROKEN, 1100 * MS);
        callout_verdict(&caller, 2500 * MS, &over, true, CUE_COUNT);
        caller_offer(gone[i], 1200 * MS);
        if (gone[i] == EVENT_ABANDONED) {
            caller_expect_none(9000 * MS);
            continue;
        }
        /* "hold altitude" is true no more. */
        (void)caller_expect(2500 * MS, CUE_RESULT);
        (void)caller_expect(6000 * MS, CUE_VERDICT);
        caller_expect_none(20000 * MS);
    }
}

static void ready_is_spoken_only_when_asked_for(void **state)
{
    struct callout_settings settings;

    (void)state;
    caller_offer(EVENT_READY, 1000 * MS);
    caller_expect_none(1000 * MS);
    callout_defaults(&settings);
    settings.say_ready = true;
    callout_init(&caller, &settings);
    caller_offer(EVENT_READY, 1000 * MS);
    (void)caller_expect(1000 * MS, CUE_READY);
}

static void the_result_is_a_sentence_of_clips(void **state)
{
    struct maneuver_event level = caller_event(EVENT_WINGS_LEVEL, 1000 * MS);
    struct callout_call call;

    (void)state;
    level.angle_rad = units_rad(6.2);
    level.length_m = 790.0 * UNITS_M_PER_FT;
    level.stall_margin_mps = 4.1 * UNITS_MPS_PER_KT;
    callout_offer(&caller, 1000 * MS, &level);
    (void)caller_expect(1000 * MS, CUE_WINGS_LEVEL);
    call = caller_expect(1880 * MS, CUE_RESULT);
    assert_string_equal(call.text,
                        "heading plus six; gained eight hundred feet; four "
                        "above the stall");
    assert_int_equal(call.clip_count, 9);
    assert_int_equal(call.clip[0], CLIP_HEADING);
    assert_int_equal(call.clip[8], CLIP_ABOVE_THE_STALL);
    for (uint32_t i = 1; i < call.clip_count; i++)
        assert_int_equal(call.clip_onset_ns[i] - call.clip_onset_ns[i - 1],
                         540 * MS);
}

static void a_result_leaves_out_what_is_not_known(void **state)
{
    struct maneuver_event level = caller_event(EVENT_WINGS_LEVEL, 1000 * MS);

    (void)state;
    level.angle_rad = units_rad(-21.4);
    callout_offer(&caller, 1000 * MS, &level);
    (void)caller_expect(1000 * MS, CUE_WINGS_LEVEL);
    assert_string_equal(caller_expect(1880 * MS, CUE_RESULT).text,
                        "heading minus two one");
}

static void the_verdict_says_what_to_work_on_if_there_is_a_word(void **state)
{
    static const struct {
        bool in_standard;
        enum callout_cue next;
        const char *text;
    } row[] = {
        {true, CUE_COUNT, "in standard"},
        {false, CUE_COUNT, "not in standard"},
        {false, CUE_HOLD_PITCH, "not in standard; next time hold pitch"},
        {false, CUE_LEFT_RUDDER, "not in standard; next time left rudder"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        int64_t t_ns = (int64_t)(i + 1) * 60000 * MS;
        struct maneuver_event over = caller_event(EVENT_FINISHED, t_ns);
        struct callout_call call;

        callout_verdict(&caller, t_ns, &over, row[i].in_standard, row[i].next);
        call = caller_expect(t_ns, CUE_VERDICT);
        assert_string_equal(call.text, row[i].text);
        assert_int_equal(call.rank, RANK_ADVICE);
    }
}

static void every_clip_is_found_by_its_name(void **state)
{
    (void)state;
    for (int i = 0; i < CLIP_COUNT; i++) {
        enum callout_clip clip;

        assert_int_equal(
            callout_clip_find(callout_clip_name((enum callout_clip)i), &clip),
            0);
        assert_int_equal(clip, i);
    }
    for (int i = 0; i < CUE_COUNT; i++)
        assert_non_null(callout_cue_info((enum callout_cue)i)->name);
}

/* More cues than there is room for are counted, and nothing breaks. */
static void a_flood_of_events_stays_bounded(void **state)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];

    (void)state;
    for (int i = 0; i < 5000; i++) {
        enum maneuver_event_kind kind =
            (enum maneuver_event_kind)(i % EVENT_KIND_COUNT);
        struct maneuver_event event = caller_event(kind, i * 10 * MS);

        event.angle_rad = i % 2 ? 0.3 : -0.3;
        event.attempt = (uint32_t)(i / 100 + 1);
        callout_offer(&caller, event.t_ns, &event);
        while (callout_advance(&caller, event.t_ns, calls) == CALLOUT_MAX_CALLS)
            ;
        assert_true(caller.pending_count <= CALLOUT_MAX_PENDING);
    }
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup(name, caller_begin)
    const struct CMUnitTest tests[] = {
        TEST(ninety_follows_the_prediction_until_it_is_committed),
        TEST(a_prediction_that_goes_away_takes_its_call_with_it),
        TEST(ninety_is_said_at_the_crossing_when_nobody_foresaw_it),
        TEST(a_call_that_would_be_too_late_is_dropped),
        TEST(a_higher_rank_cuts_in),
        TEST(a_lower_or_equal_rank_waits_for_its_turn),
        TEST(of_two_at_once_the_higher_rank_goes_first),
        TEST(a_planned_call_keeps_its_moment_free),
        TEST(the_same_call_is_not_repeated_within_three_seconds),
        TEST(losing_the_signal_takes_back_what_was_waiting),
        TEST(how_it_was_flown_is_said_when_the_flight_is_out_of_sight),
        TEST(ready_is_spoken_only_when_asked_for),
        TEST(the_result_is_a_sentence_of_clips),
        TEST(a_result_leaves_out_what_is_not_known),
        TEST(the_verdict_says_what_to_work_on_if_there_is_a_word),
        TEST(every_clip_is_found_by_its_name),
        TEST(a_flood_of_events_stays_bounded),
    };

    return cmocka_run_group_tests_name("callout", tests, NULL, NULL) != 0;
}
