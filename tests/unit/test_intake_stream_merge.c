/* test_intake_stream_merge.c - several kinds of datagrams, one sample; and the
 * simulator's clock when it wraps, crawls or runs. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "near.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

static const uint32_t first_has = CHANNEL_BIT(CHANNEL_SIM_TIME) |
                                  CHANNEL_BIT(CHANNEL_HEADING) |
                                  CHANNEL_BIT(CHANNEL_BANK);
static const uint32_t second_has =
    CHANNEL_BIT(CHANNEL_SIM_TIME) | CHANNEL_BIT(CHANNEL_ALTITUDE);

static void kinds_are_merged_and_what_is_fresh_is_told(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(5.0);

    (void)state;
    push_begin(&p, PUSH_SPLIT, 10000 * MS);
    push_kind(&p, 0, &moment, 0);
    assert_int_equal(p.result.sample.valid, first_has);
    assert_int_equal(p.result.sample.fresh, first_has);
    push_kind(&p, 1 * MS, &moment, 1);
    assert_int_equal(p.result.sample.valid, first_has | second_has);
    assert_int_equal(p.result.sample.fresh, second_has);
    assert_near_deg(units_deg(p.result.sample.value[CHANNEL_HEADING]), 95.0,
                    1e-9);
    assert_int_equal(p.result.sample.t_ns, 0);
}

static void an_old_value_is_not_known_any_more(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_SPLIT, 10000 * MS);
    p.layout.max_age_ns[CHANNEL_ALTITUDE] = 300 * MS;
    for (int i = 0; i < 30; i++) {
        struct moment moment = push_moment_at(i * 0.1);
        bool known = i >= 5 && i <= 8;

        push_kind(&p, i * 100 * MS, &moment, 0);
        assert_int_equal(p.result.sample.fresh, first_has);
        assert_int_equal(
            (p.result.sample.valid & CHANNEL_BIT(CHANNEL_ALTITUDE)) != 0,
            known && i > 5);
        if (i == 5)
            push_kind(&p, i * 100 * MS + MS, &moment, 1);
    }
    /* A second where the layout says nothing. */
    push_begin(&p, PUSH_SPLIT, 10000 * MS);
    for (int i = 0; i < 30; i++) {
        struct moment moment = push_moment_at(i * 0.1);

        if (i == 0)
            push_kind(&p, 0, &moment, 1);
        push_kind(&p, i * 100 * MS, &moment, 0);
        assert_int_equal(
            (p.result.sample.valid & CHANNEL_BIT(CHANNEL_ALTITUDE)) != 0,
            i <= 10);
    }
}

static void nothing_is_carried_over_a_jump(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);

    (void)state;
    push_begin(&p, PUSH_SPLIT, 10000 * MS);
    push_kind(&p, 0, &moment, 0);
    push_kind(&p, 1 * MS, &moment, 1);
    moment = push_moment_at(0.1);
    moment.heading_deg += 90.0;
    push_kind(&p, 100 * MS, &moment, 0);
    assert_int_equal(p.result.notice_count, 1);
    push_expect_notice(&p, 0, INTAKE_JUMPED, 100 * MS);
    assert_int_equal(p.result.sample.valid, first_has);
}

/* IEEE 1278.1-2012 6.2.88: time stamps count an hour and begin again; a day
 * and 2^32 ms are other customs. */
static void a_clock_that_wraps_as_declared_goes_on(void **state)
{
    static const double wrap_s[] = {3600.0, 86400.0, 4294967.296};

    (void)state;
    for (size_t i = 0; i < sizeof wrap_s / sizeof wrap_s[0]; i++) {
        struct pushed p;
        int64_t last_ns = -1;

        push_begin(&p, PUSH_CLOCKED, 1000 * MS);
        p.layout.sim_time_wrap_s = wrap_s[i];
        for (int k = 0; k < 400; k++) {
            struct moment moment = push_moment_at(k * 0.05);
            double sim_s = wrap_s[i] - 10.0 + k * 0.05;

            moment.sim_time_s = sim_s >= wrap_s[i] ? sim_s - wrap_s[i] : sim_s;
            push_expect_taken(&p, k * 50 * MS, &moment);
            assert_near((double)p.result.sample.t_ns, (double)(k * 50 * MS),
                        1e4);
            assert_true(p.result.sample.t_ns > last_ns);
            last_ns = p.result.sample.t_ns;
            /* The one before, late. */
            moment.sim_time_s -= 0.05;
            if (moment.sim_time_s < 0.0)
                moment.sim_time_s += wrap_s[i];
            if (k > 0)
                push_expect_rejected(&p, k * 50 * MS + 1, &moment, INTAKE_LATE);
        }
    }
}

static void a_wrap_that_is_not_declared_is_a_jump(void **state)
{
    struct pushed p;
    struct moment moment;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    push_flight(&p, 3000 * MS, 4000 * MS);
    moment = push_moment_at(4.0);
    moment.sim_time_s = 0.0;
    push(&p, 4000 * MS, &moment);
    push_expect_notice(&p, 0, INTAKE_JUMPED, 4000 * MS);
}

/* Slow motion and time lapse: no notice; and once the rate is known, a sample
 * has the time it was sent at, delays of up to 50 ms taken out. */
static void every_pace_of_the_simulator_is_followed(void **state)
{
    static const double pace[] = {0.1, 0.25, 0.5, 0.75, 1.5, 2.0, 4.0, 10.0};

    (void)state;
    for (size_t i = 0; i < sizeof pace / sizeof pace[0]; i++) {
        struct pushed p;
        double sim_s = 100.0;
        double worst_ms = 0.0;
        int64_t last_arrival_ns = 0;

        push_begin(&p, PUSH_CLOCKED, 1000 * MS);
        for (int k = 0; k < 3600; k++) {
            struct moment moment = push_moment_at(k / 60.0);
            int64_t sent_ns = k * INT64_C(16666667);
            /* Uneven, and in order as on a wire. */
            int64_t arrival_ns = sent_ns + k * 7919 % 51 * MS;
            double off_ms;

            if (arrival_ns < last_arrival_ns)
                arrival_ns = last_arrival_ns;
            last_arrival_ns = arrival_ns;
            /* From real time into the pace after 10 s, and back after 40. */
            sim_s += (k > 600 && k < 2400 ? pace[i] : 1.0) / 60.0;
            moment.sim_time_s = sim_s;
            push(&p, arrival_ns, &moment);
            assert_int_equal(p.result.reject, INTAKE_TAKEN);
            assert_int_equal(p.result.notice_count, 0);
            off_ms = (double)(p.result.sample.t_ns - sent_ns) * 1e-6;
            assert_true(p.result.sample.t_ns <= arrival_ns);
            if ((k > 1000 && k < 2400) || k > 2800)
                worst_ms = fabs(off_ms) > fabs(worst_ms) ? off_ms : worst_ms;
        }
        assert_near(worst_ms, 0.0, 30.0);
    }
}

/* A silence of the network in slow motion and time lapse: the clock ran on at
 * its pace, and tells that the first packets behind it came late. */
static void a_silence_of_the_network_keeps_the_clock_at_its_pace(void **state)
{
    static const double pace[] = {0.25, 0.5, 2.0, 4.0};

    (void)state;
    for (size_t i = 0; i < sizeof pace / sizeof pace[0]; i++) {
        struct pushed p;

        push_begin(&p, PUSH_CLOCKED, 1000 * MS);
        for (int k = 0; k < 600; k++) {
            struct moment moment = push_moment_at(k * 0.05);
            int64_t sent_ns = k * 50 * MS;
            bool late = k >= 440 && k < 444;

            if (k >= 400 && k < 440)
                continue;
            moment.sim_time_s = 50.0 + k * 0.05 * pace[i];
            push(&p, sent_ns + (late ? 200 * MS : 0), &moment);
            assert_true(p.result.has_sample);
            if (k > 200)
                assert_near((double)(p.result.sample.t_ns - sent_ns) * 1e-6,
                            0.0, 20.0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kinds_are_merged_and_what_is_fresh_is_told),
        cmocka_unit_test(an_old_value_is_not_known_any_more),
        cmocka_unit_test(nothing_is_carried_over_a_jump),
        cmocka_unit_test(a_clock_that_wraps_as_declared_goes_on),
        cmocka_unit_test(a_wrap_that_is_not_declared_is_a_jump),
        cmocka_unit_test(every_pace_of_the_simulator_is_followed),
        cmocka_unit_test(a_silence_of_the_network_keeps_the_clock_at_its_pace),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
