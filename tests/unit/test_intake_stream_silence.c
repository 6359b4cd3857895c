/* test_intake_stream_silence.c - silences of a stream that tells its time: a
 * pause or a loss. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "stream_push.h"

#define MS INT64_C(1000000)

/* A second of flight, its last moment 0.9 s, and then a moment. */
static void fly_and_push(struct pushed *p, int64_t timeout_ns,
                         int64_t arrival_ns, double sim_time_s)
{
    struct moment moment = push_moment_at(sim_time_s);

    push_begin(p, PUSH_CLOCKED, timeout_ns);
    push_flight(p, 0, 1000 * MS);
    push(p, arrival_ns, &moment);
    assert_true(p->result.has_sample);
}

static void expect_stood(const struct pushed *p, uint32_t index,
                         enum intake_notice_kind kind, int64_t t_ns)
{
    push_expect_notice(p, index, kind, t_ns);
    assert_int_equal(p->result.notice[index].flown_ns, 900 * MS);
}

static void a_clock_that_stood_in_a_silence_tells_a_pause(void **state)
{
    static const int64_t away_s[] = {3, 6, 60, 36000};
    struct pushed p;

    (void)state;
    for (size_t i = 0; i < sizeof away_s / sizeof away_s[0]; i++) {
        int64_t back_ns = 1000 * MS + away_s[i] * 1000 * MS;

        fly_and_push(&p, 1000 * MS, back_ns, 1.0);
        assert_int_equal(p.result.notice_count, 3);
        push_expect_notice(&p, 0, INTAKE_SIGNAL_LOST, 1900 * MS);
        expect_stood(&p, 1, INTAKE_SIGNAL_BACK, back_ns - 100 * MS);
        expect_stood(&p, 2, INTAKE_RESUMED, back_ns - 100 * MS);
        assert_int_equal(p.result.sample.t_ns, back_ns);
    }
}

/* Before the signal counts as lost, the pause can be dated to where it was. */
static void a_patient_stream_tells_the_pause_where_it_was(void **state)
{
    struct pushed p;

    (void)state;
    fly_and_push(&p, 30000 * MS, 7000 * MS, 1.0);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 0, INTAKE_PAUSED, 900 * MS);
    expect_stood(&p, 1, INTAKE_RESUMED, 6900 * MS);
    assert_int_equal(p.result.sample.t_ns, 7000 * MS);
}

/* What was not a pause is dated to the packet, and all of it was flown. */
static void expect_loss(int64_t arrival_ns, double sim_time_s)
{
    struct pushed p;

    fly_and_push(&p, 1000 * MS, arrival_ns, sim_time_s);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, arrival_ns);
    assert_int_equal(p.result.notice[1].flown_ns, arrival_ns);
}

static void a_clock_that_ran_on_tells_a_loss(void **state)
{
    struct pushed p;

    (void)state;
    expect_loss(61000 * MS, 61.0);
    expect_loss(61000 * MS, 31.0);
    /* It ran on by 1.5 s; by less. */
    expect_loss(61000 * MS, 2.4);
    fly_and_push(&p, 1000 * MS, 61000 * MS, 2.399);
    assert_int_equal(p.result.notice_count, 3);
    /* It ran on by 0.5 s in 2.499 s, in 2.5 s. */
    expect_loss(3399 * MS, 1.4);
    fly_and_push(&p, 1000 * MS, 3400 * MS, 1.4);
    assert_int_equal(p.result.notice_count, 3);
}

/* An hour in which a clock of an hour went round, and more in which it did
 * not. */
static void a_clock_that_went_round_in_a_silence_ran_on(void **state)
{
    static const int64_t back_s[] = {3601, 3611};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct pushed p;
        struct moment moment = push_moment_at(1.0);

        push_begin(&p, PUSH_CLOCKED, 1000 * MS);
        p.layout.sim_time_wrap_s = 3600.0;
        push_flight(&p, 0, 1000 * MS);
        push(&p, back_s[i] * 1000 * MS, &moment);
        assert_int_equal(p.result.notice_count, i == 0 ? 2 : 3);
    }
}

/* 3 s at a quarter of real time are less than a second of its own. */
static void a_loss_in_slow_motion_is_no_pause(void **state)
{
    struct pushed p;
    struct moment moment;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i <= 100; i++) {
        moment = push_moment_at(i * 0.025);
        push_expect_taken(&p, i * 100 * MS, &moment);
    }
    moment = push_moment_at(2.5 + 0.75);
    push(&p, 13000 * MS, &moment);
    assert_int_equal(p.result.notice_count, 2);
    push_expect_notice(&p, 1, INTAKE_SIGNAL_BACK, p.result.notice[1].flown_ns);
}

/* Time goes on from the packets behind the pause alone. */
static void times_are_exact_behind_the_pause(void **state)
{
    struct pushed p;

    (void)state;
    fly_and_push(&p, 1000 * MS, 7003 * MS, 1.0);
    for (int i = 1; i < 200; i++) {
        struct moment moment = push_moment_at(1.0 + i * 0.1);

        push_expect_taken(&p, (7003 + i * 100) * MS, &moment);
        assert_int_equal(p.result.sample.t_ns, (7003 + i * 100) * MS);
    }
}

/* Later, what the network held back is no reason to doubt the pause. */
static void a_burst_long_behind_the_pause_is_no_jump(void **state)
{
    struct pushed p;

    (void)state;
    fly_and_push(&p, 30000 * MS, 7000 * MS, 1.0);
    for (int i = 1; i < 60; i++) {
        struct moment moment = push_moment_at(1.0 + i * 0.1);
        int64_t held_ns = i < 30 || i >= 45 ? 0 : (45 - i) * 99 * MS;

        push(&p, (7000 + i * 100) * MS + held_ns, &moment);
        for (uint32_t k = 0; k < p.result.notice_count; k++)
            assert_int_not_equal(p.result.notice[k].kind, INTAKE_JUMPED);
    }
}

/* A network that held packets back gives them out at once, and so does a
 * machine that slept: the first, as old as after a pause, is taken for one, and
 * the rest is squeezed together behind it. No time goes backwards, and nobody
 * is put elsewhere. */
static void packets_that_were_held_back_are_squeezed_behind_it(void **state)
{
    struct pushed p;
    int64_t last_ns;

    (void)state;
    fly_and_push(&p, 1000 * MS, 7000 * MS, 1.0);
    last_ns = p.result.sample.t_ns;
    for (int i = 1; i <= 60; i++) {
        struct moment moment = push_moment_at(1.0 + i * 0.1);

        push(&p, 7000 * MS + i * MS, &moment);
        for (uint32_t k = 0; k < p.result.notice_count; k++)
            assert_int_not_equal(p.result.notice[k].kind, INTAKE_JUMPED);
        if (!p.result.has_sample)
            continue;
        assert_true(p.result.sample.t_ns >= last_ns);
        last_ns = p.result.sample.t_ns;
        assert_true(last_ns <= 7000 * MS + i * MS);
    }
}

static void a_pause_that_still_lasts_is_known_at_the_return(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.9);

    (void)state;
    push_begin(&p, PUSH_SAYING, 1000 * MS);
    push_flight(&p, 0, 1000 * MS);
    moment.paused = true;
    push(&p, 9000 * MS, &moment);
    assert_int_equal(p.result.notice_count, 3);
    expect_stood(&p, 1, INTAKE_SIGNAL_BACK, 9000 * MS);
    push_expect_notice(&p, 2, INTAKE_PAUSED, 9000 * MS);
    moment = push_moment_at(1.0);
    push(&p, 9600 * MS, &moment);
    assert_int_equal(p.result.notice_count, 1);
    expect_stood(&p, 0, INTAKE_RESUMED, 9500 * MS);
}

/* What a silence was is told by the first packet that tells the time, and
 * what the others told is as young as before. */
static void a_packet_without_a_time_does_not_tell_what_it_was(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.9);

    (void)state;
    push_begin(&p, PUSH_SPLIT, 1000 * MS);
    p.layout.packet[1].field[0] = p.layout.packet[1].field[1];
    p.layout.packet[1].field_count = 1;
    for (int i = 0; i < 10; i++) {
        moment = push_moment_at(i * 0.1);
        push_kind(&p, i * 100 * MS, &moment, 0);
        push_kind(&p, i * 100 * MS, &moment, 1);
    }
    push_kind(&p, 9000 * MS, &moment, 1);
    assert_int_equal(p.result.reject, INTAKE_TAKEN);
    assert_false(p.result.has_sample);
    assert_int_equal(p.result.notice_count, 1);
    moment = push_moment_at(1.0);
    push_kind(&p, 9010 * MS, &moment, 0);
    assert_int_equal(p.result.notice_count, 2);
    expect_stood(&p, 0, INTAKE_SIGNAL_BACK, 8910 * MS);
    expect_stood(&p, 1, INTAKE_RESUMED, 8910 * MS);
    assert_true((p.result.sample.valid & CHANNEL_BIT(CHANNEL_ALTITUDE)) != 0);

    /* One that tells none any more is not waited for. */
    push_kind(&p, 20000 * MS, &moment, 1);
    assert_int_equal(p.result.notice_count, 1);
    push_kind(&p, 20499 * MS, &moment, 1);
    assert_int_equal(p.result.notice_count, 0);
    push_kind(&p, 20500 * MS, &moment, 1);
    assert_int_equal(p.result.notice_count, 1);
    push_expect_notice(&p, 0, INTAKE_SIGNAL_BACK, 20500 * MS);
    assert_true(p.result.has_sample);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clock_that_stood_in_a_silence_tells_a_pause),
        cmocka_unit_test(a_patient_stream_tells_the_pause_where_it_was),
        cmocka_unit_test(a_clock_that_ran_on_tells_a_loss),
        cmocka_unit_test(a_clock_that_went_round_in_a_silence_ran_on),
        cmocka_unit_test(a_loss_in_slow_motion_is_no_pause),
        cmocka_unit_test(times_are_exact_behind_the_pause),
        cmocka_unit_test(a_burst_long_behind_the_pause_is_no_jump),
        cmocka_unit_test(packets_that_were_held_back_are_squeezed_behind_it),
        cmocka_unit_test(a_pause_that_still_lasts_is_known_at_the_return),
        cmocka_unit_test(a_packet_without_a_time_does_not_tell_what_it_was),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
