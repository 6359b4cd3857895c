/* test_told.c - what a user asks for in the middle of a recorded flight. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/told.h"
#include "flown.h"

/* Good_left (good_left.txt): rolls in at 8.6 s, is level at 46 s, finished at
 * 66 s, and ends at 70 s. */
struct rig {
    struct settings settings;
    struct session session;
    struct outputs outputs;
    struct recording recording;
    struct told told;
    struct stream stream;
    size_t next;
    enum maneuver_reason reason; /* of the last attempt given up */
    size_t abandoned;
    size_t finished;
    size_t calls;
    struct callout_call call;       /* the last */
    struct debrief_attempt attempt; /* the last that was over */
};

static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct rig *rig = context;

    (void)grade;
    rig->finished += event->kind == EVENT_FINISHED;
    if (event->kind == EVENT_ABANDONED) {
        rig->abandoned++;
        rig->reason = event->reason;
    }
}

static void on_call(void *context, const struct callout_call *call)
{
    struct rig *rig = context;

    rig->calls++;
    rig->call = *call;
}

static void on_attempt(void *context, const struct debrief_attempt *attempt)
{
    ((struct rig *)context)->attempt = *attempt;
}

static int set_up(void **state)
{
    struct rig *rig = calloc(1, sizeof *rig);
    const struct settings_choice choice = {.layout = "plain-binary"};
    struct session_sink sink = {.context = rig,
                                .event = on_event,
                                .call = on_call,
                                .attempt = on_attempt};
    struct told_parts parts;
    char why[512] = "";

    assert_non_null(rig);
    if (settings_load(&choice, ".", &rig->settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    rig->outputs.choice.quiet = true;
    session_init(&rig->session, &rig->settings, &sink);
    parts = (struct told_parts){.settings = &rig->settings,
                                .session = &rig->session,
                                .outputs = &rig->outputs,
                                .recording = &rig->recording,
                                .data_folder = "."};
    told_begin(&rig->told, &parts, &choice);
    stream_load(&rig->stream, "good_left", "plain-binary");
    *state = rig;
    return 0;
}

static int tear_down(void **state)
{
    struct rig *rig = *state;

    stream_free(&rig->stream);
    free(rig);
    return 0;
}

static void fly_until(struct rig *rig, double t_s)
{
    while (rig->next < rig->stream.count) {
        const struct stream_packet *packet = &rig->stream.packet[rig->next];
        uint8_t bytes[2048];
        int length;

        if (flown_seconds(packet->arrival_ns) > t_s)
            return;
        length = intake_encode(&rig->settings.layout, 0, &packet->sample, bytes,
                               sizeof bytes);
        assert_true(length > 0);
        session_push(&rig->session,
                     &(struct intake_datagram){.t_ns = packet->arrival_ns,
                                               .data = bytes,
                                               .length = (size_t)length});
        told_follow(&rig->told, packet->arrival_ns);
        rig->next++;
    }
}

/* Returns: what was said. */
static const char *tell(struct rig *rig, enum control_verb verb,
                        const char *value)
{
    static char said[CONTROL_SAID_SIZE];
    const struct control_command command = {.verb = verb, .value = value};

    said[0] = '\0';
    (void)told_command(&rig->told, rig->session.now_ns, &command, said);
    return said;
}

static void another_airplane_waits_for_the_end_of_the_attempt(void **state)
{
    struct rig *rig = *state;

    fly_until(rig, 30.0);
    assert_string_equal(tell(rig, CONTROL_AIRCRAFT, "two-seater"),
                        "when the attempt is over");
    assert_string_equal(rig->settings.aircraft.name, "club-trainer");
    fly_until(rig, 65.0);
    assert_string_equal(rig->settings.aircraft.name, "club-trainer");
    fly_until(rig, 1e9);
    assert_int_equal(rig->finished, 1);
    assert_string_equal(rig->attempt.aircraft.name, "club-trainer");
    assert_string_equal(rig->settings.aircraft.name, "two-seater");
    assert_int_equal(rig->session.maneuver.attempts, 1);
}

static void a_wrong_name_loses_nothing_that_waits(void **state)
{
    struct rig *rig = *state;

    fly_until(rig, 30.0);
    (void)tell(rig, CONTROL_AIRCRAFT, "two-seater");
    assert_non_null(
        strstr(tell(rig, CONTROL_AIRCRAFT, "glider"), "there is: club-tr"));
    assert_non_null(
        strstr(tell(rig, CONTROL_MANEUVER, "spin"), "there is: chandelle"));
    fly_until(rig, 1e9);
    assert_string_equal(rig->settings.aircraft.name, "two-seater");
}

static void a_new_attempt_gives_up_the_one_that_runs(void **state)
{
    struct rig *rig = *state;

    fly_until(rig, 30.0);
    (void)tell(rig, CONTROL_AIRCRAFT, "two-seater");
    assert_string_equal(tell(rig, CONTROL_NEW_ATTEMPT, NULL),
                        "the attempt is given up");
    assert_int_equal(rig->abandoned, 1);
    assert_int_equal(rig->reason, REASON_ASKED);
    assert_string_equal(rig->settings.aircraft.name, "two-seater");
    assert_false(rig->session.maneuver.in_attempt);
    assert_string_equal(tell(rig, CONTROL_NEW_ATTEMPT, NULL),
                        "no attempt was running");
    assert_int_equal(rig->abandoned, 1);
    fly_until(rig, 1e9);
    assert_int_equal(rig->finished, 0);
}

static void the_last_call_is_said_once_more(void **state)
{
    struct rig *rig = *state;
    size_t calls;

    fly_until(rig, 5.0);
    assert_string_equal(tell(rig, CONTROL_AGAIN, NULL),
                        "nothing has been said yet");
    fly_until(rig, 28.0);
    calls = rig->calls;
    assert_int_equal(rig->call.cue, CUE_NINETY);
    assert_false(rig->call.again);
    assert_string_equal(tell(rig, CONTROL_AGAIN, NULL), "ninety");
    assert_int_equal(rig->calls, calls + 1);
    assert_true(rig->call.again);
    assert_int_equal(rig->call.onset_ns, rig->session.now_ns);
    /* What the flight has still to say is said all the same. */
    fly_until(rig, 1e9);
    assert_int_equal(rig->call.cue, CUE_VERDICT);
    assert_int_equal(rig->calls, calls + 5);
}

static void help_is_changed_in_the_middle_of_an_attempt(void **state)
{
    struct rig *rig = *state;
    const struct control_command summary = {
        .verb = CONTROL_HELP_LEVEL, .value = "summary", .help = HELP_SUMMARY};
    char said[CONTROL_SAID_SIZE] = "";
    size_t calls;

    fly_until(rig, 38.0);
    assert_true(rig->session.callout.tone.band > 0);
    calls = rig->calls;
    assert_int_equal(
        told_command(&rig->told, rig->session.now_ns, &summary, said), 0);
    assert_int_equal(rig->session.callout.tone.band, 0);
    fly_until(rig, 1e9);
    assert_int_equal(rig->calls, calls + 2);
    assert_int_equal(rig->call.cue, CUE_VERDICT);
    /* It outlives reading the configuration again. */
    assert_string_equal(tell(rig, CONTROL_RELOAD, NULL), "done");
    assert_int_equal(rig->session.callout.settings.help, HELP_SUMMARY);
}

static void a_note_goes_with_the_attempt_it_was_made_in(void **state)
{
    struct rig *rig = *state;

    assert_string_equal(tell(rig, CONTROL_MARK, "early"),
                        "no packet has arrived yet");
    fly_until(rig, 30.0);
    assert_string_equal(tell(rig, CONTROL_MARK, "look out"), "");
    fly_until(rig, 1e9);
    assert_int_equal(rig->attempt.note_count, 1);
    assert_string_equal(rig->attempt.note[0].text, "look out");
}

#define with_rig(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_rig(another_airplane_waits_for_the_end_of_the_attempt),
        with_rig(a_wrong_name_loses_nothing_that_waits),
        with_rig(a_new_attempt_gives_up_the_one_that_runs),
        with_rig(the_last_call_is_said_once_more),
        with_rig(help_is_changed_in_the_middle_of_an_attempt),
        with_rig(a_note_goes_with_the_attempt_it_was_made_in),
    };

    return cmocka_run_group_tests_name("replay: told", tests, NULL, NULL) != 0;
}
