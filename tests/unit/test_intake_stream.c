/* test_intake_stream.c - order and silence: late, double, lost, back. Pauses
 * and jumps: test_intake_stream_states.c; times of samples:
 * test_intake_stream_clock.c. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

static void doubles_are_rejected(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(5.0);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_expect_taken(&p, 0, &moment);
    push_expect_rejected(&p, 3 * MS, &moment, INTAKE_DUPLICATE);
    moment = push_moment_at(5.1);
    push_expect_taken(&p, 100 * MS, &moment);
    assert_int_equal(p.stream.counts.rejected[INTAKE_DUPLICATE], 1);
    assert_int_equal(p.stream.counts.datagrams, 3);
    assert_int_equal(p.stream.counts.taken, 2);
}

static void overtaken_ones_are_late(void **state)
{
    struct pushed p;
    struct moment first = push_moment_at(5.0);
    struct moment second = push_moment_at(5.1);
    struct moment third = push_moment_at(5.2);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_expect_taken(&p, 0, &first);
    push_expect_taken(&p, 200 * MS, &third);
    push_expect_rejected(&p, 201 * MS, &second, INTAKE_LATE);
    push_expect_rejected(&p, 202 * MS, &first, INTAKE_LATE);
}

static void two_kinds_of_packets_share_a_moment(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(5.0);

    (void)state;
    push_begin(&p, PUSH_SPLIT, 1000 * MS);
    push_kind(&p, 0, &moment, 0);
    assert_int_equal(p.result.reject, INTAKE_TAKEN);
    push_kind(&p, 1 * MS, &moment, 1);
    assert_int_equal(p.result.reject, INTAKE_TAKEN);
    push_kind(&p, 2 * MS, &moment, 0);
    assert_int_equal(p.result.reject, INTAKE_DUPLICATE);
    push_kind(&p, 3 * MS, &moment, 1);
    assert_int_equal(p.result.reject, INTAKE_DUPLICATE);
}

static void garbage_is_rejected_by_reason_and_keeps_nothing_alive(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_expect_taken(&p, 0, &moment);
    intake_stream_push(&p.stream, 600 * MS, (const uint8_t *)"?", 1, &p.result);
    assert_int_equal(p.result.reject, INTAKE_TOO_SHORT);
    assert_int_equal(intake_stream_deadline_ns(&p.stream), 1000 * MS);
    intake_stream_push(&p.stream, 1100 * MS, NULL, INTAKE_MAX_DATAGRAM + 1,
                       &p.result);
    assert_int_equal(p.result.reject, INTAKE_TOO_LONG);
    assert_int_equal(p.result.notice_count, 1);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1000 * MS);
}

static void nothing_is_lost_before_anything_came(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    assert_true(intake_stream_deadline_ns(&p.stream) == INT64_MAX);
    intake_stream_tick(&p.stream, 3600000 * MS, &p.result);
    assert_int_equal(p.result.notice_count, 0);
}

static void silence_is_dated_to_the_deadline(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    assert_int_equal(intake_stream_deadline_ns(&p.stream), 1900 * MS);
    intake_stream_tick(&p.stream, 1900 * MS - 1, &p.result);
    assert_int_equal(p.result.notice_count, 0);
    intake_stream_tick(&p.stream, 1955 * MS, &p.result);
    assert_int_equal(p.result.notice_count, 1);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1900 * MS);
    /* Once. */
    intake_stream_tick(&p.stream, 9000 * MS, &p.result);
    assert_int_equal(p.result.notice_count, 0);
    assert_true(intake_stream_deadline_ns(&p.stream) == INT64_MAX);
}

static void a_datagram_behind_the_deadline_tells_loss_and_return(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(3.0);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    push(&p, 3000 * MS, &moment);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1900 * MS);
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, 3000 * MS);
    assert_true(p.result.has_sample);
    assert_int_equal(p.result.sample.t_ns, 3000 * MS);
}

/* What returns may have been true before the deadline; time still goes on. */
static void nothing_is_dated_before_what_was_told(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(1.85);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    push(&p, 1950 * MS, &moment);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1900 * MS);
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, 1900 * MS);
    assert_true(p.result.has_sample);
    assert_int_equal(p.result.sample.t_ns, 1900 * MS);
}

static void the_deadline_itself_is_too_late(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(1.9);

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    intake_stream_tick(&p.stream, 1900 * MS, &p.result);
    assert_int_equal(p.result.notice_count, 1);
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    push(&p, 1900 * MS, &moment);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1900 * MS);
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, 1900 * MS);
}

/* What a stream gave out, as one text to compare. */
struct history {
    int64_t item[4096];
    size_t count;
};

static void note(struct history *history, const struct intake_result *result)
{
    for (uint32_t i = 0; i < result->notice_count; i++) {
        history->item[history->count++] = result->notice[i].kind;
        history->item[history->count++] = result->notice[i].t_ns;
    }
    if (result->has_sample)
        history->item[history->count++] = result->sample.t_ns;
    assert_true(history->count + 16 < 4096);
}

/* Three silences, a pause, a leap and jitter, with ticks every so often; 0:
 * none at all. */
static void record_history(int64_t tick_ns, struct history *history)
{
    struct pushed p;
    int64_t next_tick_ns = tick_ns;
    int64_t arrival_ns = 0;

    history->count = 0;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i < 1000; i++) {
        struct moment moment = push_moment_at(i * 0.1);

        arrival_ns = i * 100 * MS + i * 7919 % 23 * MS;
        if ((i > 100 && i < 115) || (i > 300 && i < 330) || i > 970)
            continue;
        if (i > 500 && i < 520)
            moment.sim_time_s = 50.0;
        if (i > 700)
            moment.altitude_ft = 6000.0;
        while (tick_ns > 0 && next_tick_ns <= arrival_ns) {
            intake_stream_tick(&p.stream, next_tick_ns, &p.result);
            note(history, &p.result);
            next_tick_ns += tick_ns;
        }
        push(&p, arrival_ns, &moment);
        note(history, &p.result);
    }
    intake_stream_tick(&p.stream, arrival_ns + 100000 * MS, &p.result);
    note(history, &p.result);
}

static void results_do_not_depend_on_when_ticks_come(void **state)
{
    static const int64_t tick_ns[] = {1 * MS, 7 * MS, 100 * MS, 997 * MS,
                                      10000 * MS};
    static struct history without;
    static struct history with;

    (void)state;
    record_history(0, &without);
    assert_true(without.count > 900);
    for (size_t i = 0; i < sizeof tick_ns / sizeof tick_ns[0]; i++) {
        record_history(tick_ns[i], &with);
        assert_int_equal(with.count, without.count);
        assert_memory_equal(with.item, without.item,
                            with.count * sizeof with.item[0]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(doubles_are_rejected),
        cmocka_unit_test(overtaken_ones_are_late),
        cmocka_unit_test(two_kinds_of_packets_share_a_moment),
        cmocka_unit_test(garbage_is_rejected_by_reason_and_keeps_nothing_alive),
        cmocka_unit_test(nothing_is_lost_before_anything_came),
        cmocka_unit_test(silence_is_dated_to_the_deadline),
        cmocka_unit_test(a_datagram_behind_the_deadline_tells_loss_and_return),
        cmocka_unit_test(the_deadline_itself_is_too_late),
        cmocka_unit_test(nothing_is_dated_before_what_was_told),
        cmocka_unit_test(results_do_not_depend_on_when_ticks_come),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
