/* test_callout_help.c - the amount of help: what each level says, and how it
 * fades. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/callout.h"
#include "quarterturn/error.h"

#define MS INT64_C(1000000)

static struct callout callout;

static void begin(enum callout_help help)
{
    struct callout_settings settings;

    callout_defaults(&settings);
    settings.help = help;
    settings.say_ready = true;
    callout_init(&callout, &settings);
}

/* The cues that a level ever says, each with a blank behind it. */
static const char *said_at(enum callout_help help)
{
    static char names[256];
    size_t used = 0;

    for (int i = 0; i < CUE_COUNT; i++)
        if (callout_help_says(help, (enum callout_cue)i))
            used +=
                (size_t)snprintf(names + used, sizeof names - used, "%s ",
                                 callout_cue_info((enum callout_cue)i)->name);
    return names;
}

static const char all_cues[] =
    "stall pitch-limit more-bank less-bank left-rudder right-rudder "
    "hold-altitude ninety ten-to-go wings-level hold-pitch roll-faster "
    "roll-slower ready result verdict ";

static void each_level_says_its_own_cues(void **state)
{
    (void)state;
    assert_string_equal(said_at(HELP_FULL), all_cues);
    assert_string_equal(said_at(HELP_FADING), all_cues);
    assert_string_equal(said_at(HELP_SPARSE),
                        "stall pitch-limit more-bank less-bank left-rudder "
                        "right-rudder hold-altitude ninety ready result "
                        "verdict ");
    assert_string_equal(said_at(HELP_WARNINGS), "stall pitch-limit ");
    assert_string_equal(said_at(HELP_SUMMARY), "result verdict ");
}

static struct maneuver_event event_of(enum maneuver_event_kind kind,
                                      int64_t t_ns)
{
    struct maneuver_event event;

    memset(&event, 0, sizeof event);
    event.kind = kind;
    event.t_ns = t_ns;
    event.attempt = 1;
    event.direction = 1;
    return event;
}

/* The cues said for one event, apart from any other. */
static const char *said_for(enum callout_help help,
                            const struct maneuver_event *event)
{
    static char names[128];
    struct callout_call calls[CALLOUT_MAX_CALLS];

    begin(help);
    names[0] = '\0';
    callout_offer(&callout, event->t_ns, event);
    for (int step = 0; step < 10; step++) {
        uint32_t n =
            callout_advance(&callout, event->t_ns + step * 500 * MS, calls);

        for (uint32_t i = 0; i < n; i++)
            (void)snprintf(names + strlen(names), sizeof names - strlen(names),
                           "%s ", callout_cue_info(calls[i].cue)->name);
    }
    return names;
}

static void events_are_called_at_the_levels_of_their_cues(void **state)
{
    struct maneuver_event stall = event_of(EVENT_STALL, 1000 * MS);
    struct maneuver_event ball = event_of(EVENT_BALL, 1000 * MS);
    struct maneuver_event sag = event_of(EVENT_PITCH_SAG, 1000 * MS);
    struct maneuver_event level = event_of(EVENT_WINGS_LEVEL, 1000 * MS);

    (void)state;
    ball.side = 1;
    for (int i = 0; i < HELP_COUNT; i++)
        assert_string_equal(said_for((enum callout_help)i, &stall),
                            i == HELP_SUMMARY ? "" : "stall ");
    assert_string_equal(said_for(HELP_SPARSE, &ball), "right-rudder ");
    assert_string_equal(said_for(HELP_WARNINGS, &ball), "");
    assert_string_equal(said_for(HELP_SUMMARY, &ball), "");
    assert_string_equal(said_for(HELP_FADING, &sag), "hold-pitch ");
    assert_string_equal(said_for(HELP_SPARSE, &sag), "");
    assert_string_equal(said_for(HELP_FULL, &level), "wings-level result ");
    assert_string_equal(said_for(HELP_SPARSE, &level), "result ");
    assert_string_equal(said_for(HELP_WARNINGS, &level), "");
    assert_string_equal(said_for(HELP_SUMMARY, &level), "result ");
}

static void a_planned_call_keeps_to_its_level_too(void **state)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];
    struct maneuver_outlook outlook = {.attempt = 1,
                                       .ninety_ns = 500 * MS,
                                       .ten_to_go_ns = 5000 * MS,
                                       .pitch_limit_ns = INT64_MAX};

    (void)state;
    begin(HELP_SPARSE);
    callout_plan(&callout, &outlook);
    assert_int_equal(callout_advance(&callout, 400 * MS, calls), 1);
    assert_int_equal(calls[0].cue, CUE_NINETY);
    assert_int_equal(callout_deadline_ns(&callout), INT64_MAX);
    begin(HELP_SUMMARY);
    callout_plan(&callout, &outlook);
    assert_int_equal(callout_deadline_ns(&callout), INT64_MAX);
}

static void the_tone_sounds_at_every_level_but_summary(void **state)
{
    (void)state;
    for (int i = 0; i < HELP_COUNT; i++) {
        struct maneuver_event near = event_of(EVENT_NEAR_STALL, 1000 * MS);
        struct callout_tone tone;

        near.band = 2;
        begin((enum callout_help)i);
        callout_offer(&callout, near.t_ns, &near);
        assert_int_equal(callout_take_tone(&callout, &tone), i != HELP_SUMMARY);
        if (i != HELP_SUMMARY)
            assert_int_equal(tone.band, 2);
    }
}

static void a_change_of_level_holds_at_once(void **state)
{
    struct maneuver_event near = event_of(EVENT_NEAR_STALL, 1000 * MS);
    struct maneuver_outlook outlook = {.now_ns = 1000 * MS,
                                       .attempt = 1,
                                       .ninety_ns = 3000 * MS,
                                       .ten_to_go_ns = INT64_MAX,
                                       .pitch_limit_ns = INT64_MAX};
    struct callout_tone tone;

    (void)state;
    begin(HELP_FULL);
    near.band = 3;
    callout_offer(&callout, near.t_ns, &near);
    assert_true(callout_take_tone(&callout, &tone));
    callout_plan(&callout, &outlook);
    assert_int_equal(callout_deadline_ns(&callout), 2880 * MS);
    callout_set_help(&callout, 1100 * MS, HELP_SUMMARY);
    assert_int_equal(callout_deadline_ns(&callout), INT64_MAX);
    assert_true(callout_take_tone(&callout, &tone));
    assert_int_equal(tone.band, 0);
    assert_int_equal(tone.t_ns, 1100 * MS);
    /* The wing is still where it was. */
    callout_set_help(&callout, 1200 * MS, HELP_WARNINGS);
    assert_true(callout_take_tone(&callout, &tone));
    assert_int_equal(tone.band, 3);
}

/* ---- fading -------------------------------------------------------------- */

/* Fly attempts of a topic, '+' in standard, '-' missed, '?' not judged, and
 * write for each whether its calls were said ('s') or silent ('.'). */
static void fade(const char *attempts, char *out)
{
    begin(HELP_FADING);
    for (; *attempts != '\0'; attempts++, out++) {
        *out = (callout_silent_topics(&callout) >> TOPIC_BANK & 1) != 0 ? '.'
                                                                        : 's';
        if (*attempts != '?')
            callout_judge(&callout, TOPIC_BANK, *attempts == '+');
    }
    *out = '\0';
}

static void help_fades_with_success_and_a_miss_brings_it_back(void **state)
{
    static const struct {
        const char *attempts;
        const char *calls;
    } series[] = {
        {"++++++++++", "ss.s.s...."}, {"----------", "ssssssssss"},
        {"+-+-+-+-+-", "ssssssssss"}, {"++-+++++++", "ss.ss.s.s."},
        {"++++++++-+", "ss.s.s...s"}, {"++??+?+", "ss...ss"},
        {"++-++-++-", "ss.ss.ss."},
    };
    char calls[16];

    (void)state;
    for (size_t i = 0; i < sizeof series / sizeof series[0]; i++) {
        fade(series[i].attempts, calls);
        assert_string_equal(calls, series[i].calls);
    }
}

static void topics_fade_apart_from_one_another(void **state)
{
    struct callout_call calls[CALLOUT_MAX_CALLS];
    struct maneuver_event ball = event_of(EVENT_BALL, 1000 * MS);
    struct maneuver_event drift = event_of(EVENT_BANK_DRIFT, 1000 * MS);

    (void)state;
    begin(HELP_FADING);
    callout_judge(&callout, TOPIC_BANK, true);
    callout_judge(&callout, TOPIC_BANK, true);
    callout_judge(&callout, TOPIC_BALL, true);
    callout_judge(&callout, TOPIC_BALL, false);
    assert_int_equal(callout_silent_topics(&callout), UINT32_C(1)
                                                          << TOPIC_BANK);
    callout_offer(&callout, 1000 * MS, &drift);
    assert_int_equal(callout_advance(&callout, 1000 * MS, calls), 0);
    callout_offer(&callout, 1000 * MS, &ball);
    assert_int_equal(callout_advance(&callout, 1000 * MS, calls), 1);
    /* At another level nothing is faded, and what was flown is not lost. */
    callout_set_help(&callout, 2000 * MS, HELP_FULL);
    assert_int_equal(callout_silent_topics(&callout), 0);
    callout_set_help(&callout, 2000 * MS, HELP_FADING);
    assert_int_equal(callout_silent_topics(&callout), UINT32_C(1)
                                                          << TOPIC_BANK);
}

static void warnings_and_the_result_never_fade(void **state)
{
    static const enum callout_cue cue[] = {CUE_STALL, CUE_PITCH_LIMIT,
                                           CUE_RESULT};

    (void)state;
    for (size_t i = 0; i < sizeof cue / sizeof cue[0]; i++)
        assert_int_equal(callout_cue_topic(cue[i]), TOPIC_NONE);
    begin(HELP_FADING);
    for (int i = TOPIC_NONE; i < TOPIC_COUNT; i++)
        for (int n = 0; n < 9; n++)
            callout_judge(&callout, (enum callout_topic)i, true);
    {
        struct maneuver_event stall = event_of(EVENT_STALL, 1000 * MS);
        struct callout_call calls[CALLOUT_MAX_CALLS];

        callout_offer(&callout, 1000 * MS, &stall);
        assert_int_equal(callout_advance(&callout, 1000 * MS, calls), 1);
        assert_int_equal(calls[0].cue, CUE_STALL);
    }
}

static void levels_are_found_by_their_names(void **state)
{
    enum callout_help help = HELP_FULL;

    (void)state;
    for (int i = 0; i < HELP_COUNT; i++) {
        assert_int_equal(
            callout_help_find(callout_help_name((enum callout_help)i), &help),
            0);
        assert_int_equal(help, i);
    }
    assert_int_equal(callout_help_find("Full", &help), ERR_ABSENT);
    assert_int_equal(help, HELP_COUNT - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_level_says_its_own_cues),
        cmocka_unit_test(events_are_called_at_the_levels_of_their_cues),
        cmocka_unit_test(a_planned_call_keeps_to_its_level_too),
        cmocka_unit_test(the_tone_sounds_at_every_level_but_summary),
        cmocka_unit_test(a_change_of_level_holds_at_once),
        cmocka_unit_test(help_fades_with_success_and_a_miss_brings_it_back),
        cmocka_unit_test(topics_fade_apart_from_one_another),
        cmocka_unit_test(warnings_and_the_result_never_fade),
        cmocka_unit_test(levels_are_found_by_their_names),
    };

    return cmocka_run_group_tests_name("callout: help", tests, NULL, NULL) != 0;
}
