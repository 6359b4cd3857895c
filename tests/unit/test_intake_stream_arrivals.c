/* test_intake_stream_arrivals.c - streams without the simulator's time: what
 * the network does to arrivals must not move a crossing. The flight and its
 * truth (90 degrees of turn 23.583 s after the first packet) are those of
 * tests/replay/good_left.txt. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

static const char layout[] = "plain-binary";
static const double ninety_s = 23.583;

enum { SEEDS = 4 };

/* Datagrams are held back and come together every 100 to 200 ms. */
static void hold_back(struct stream *stream, unsigned seed)
{
    int64_t together_ns = 0;
    size_t i = 0;

    while (i < stream->count) {
        seed = seed * 1103515245U + 12345U;
        together_ns += 100 * MS + (int64_t)(seed / 65536U % 101U) * MS;
        for (; i < stream->count && stream->packet[i].arrival_ns <= together_ns;
             i++)
            stream->packet[i].arrival_ns = together_ns;
    }
}

/* 60 a second become 120, values half way between. */
static void interpolate(struct stream *stream)
{
    struct stream denser = {0};

    for (size_t i = 0; i + 1 < stream->count; i++) {
        struct stream_packet middle = stream->packet[i];
        const struct stream_packet *next = &stream->packet[i + 1];

        stream_append(&denser, &middle);
        middle.arrival_ns = (middle.arrival_ns + next->arrival_ns) / 2;
        for (int c = 0; c < CHANNEL_COUNT; c++) {
            double step = next->sample.value[c] - middle.sample.value[c];

            if (c == CHANNEL_HEADING)
                step = angle_wrap_half(step);
            middle.sample.value[c] += step / 2.0;
        }
        stream_append(&denser, &middle);
    }
    stream_free(stream);
    *stream = denser;
}

typedef void (*trouble_call)(struct stream *stream, unsigned seed);

static void none(struct stream *stream, unsigned seed)
{
    (void)stream;
    (void)seed;
}

static void jitter(struct stream *stream, unsigned seed)
{
    stream_jitter(stream, 0.050, seed);
}

static void lose(struct stream *stream, unsigned seed)
{
    stream_lose(stream, 0.05, seed);
}

static void lose_and_jitter(struct stream *stream, unsigned seed)
{
    stream_lose(stream, 0.05, seed + 100);
    stream_jitter(stream, 0.050, seed);
}

/* How far off the 90-degree point is, ms. */
static double ninety_off_ms(double rate_hz, trouble_call trouble, unsigned seed)
{
    struct stream stream;
    struct flown flown;
    const struct maneuver_event *ninety;
    double off_ms;

    stream_load(&stream, "good_left", layout);
    if (rate_hz > 60.0)
        interpolate(&stream);
    else
        stream_thin(&stream, rate_hz);
    stream_keep_channels(&stream, ~CHANNEL_BIT(CHANNEL_SIM_TIME));
    trouble(&stream, seed);
    flown_fly(&flown, &stream, layout, 0);
    ninety = flown_mark(&flown, 1, 90.0);
    assert_non_null(ninety);
    assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
    off_ms = (flown_seconds(ninety->t_ns) - ninety_s) * 1e3;
    flown_free(&flown);
    stream_free(&stream);
    return off_ms;
}

static void the_network_moves_no_crossing(void **state)
{
    static const double rate_hz[] = {5.0, 10.0, 20.0, 30.0, 60.0, 120.0};
    static const struct {
        trouble_call trouble;
        const char *name;
        double most_ms;
    } row[] = {{none, "none", 3.0},
               {jitter, "delays of 50 ms", 30.0},
               {lose, "5 % lost", 3.0},
               {lose_and_jitter, "both", 30.0},
               {hold_back, "bursts", 30.0}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        for (size_t r = 0; r < sizeof rate_hz / sizeof rate_hz[0]; r++) {
            unsigned seeds = row[i].trouble == none ? 1 : SEEDS;

            for (unsigned seed = 1; seed <= seeds; seed++) {
                double off_ms = ninety_off_ms(rate_hz[r], row[i].trouble, seed);

                double most_ms = row[i].most_ms;

                /* Held back as long as its own interval, a datagram shows
                 * less well when it was sent. */
                if (row[i].trouble == hold_back && rate_hz[r] < 10.0)
                    most_ms *= 2.0;
                if (!(fabs(off_ms) <= most_ms))
                    fail_msg("%s, %g a second, seed %u: %.1f ms off",
                             row[i].name, rate_hz[r], seed, off_ms);
            }
        }
    }
}

/* ---- the stream alone ---------------------------------------------------- */

/* Sends evenly. */
struct sender {
    double interval_ms;
    double delay_ms; /* evenly spread from 0 */
};

static double dice(unsigned *seed)
{
    *seed = *seed * 1103515245U + 12345U;
    return (double)(*seed / 65536U % 32768U) / 32768.0;
}

/* Send for ten seconds. worst_ms: the greatest error of the latter half.
 * Returns: when the next would be sent. */
static int64_t send_on(struct pushed *p, const struct sender *sender,
                       int64_t from_ns, double *worst_ms)
{
    static unsigned seed = 5;
    int64_t sent_ns = from_ns;

    *worst_ms = 0.0;
    while (sent_ns < from_ns + 10000 * MS) {
        struct moment moment = push_moment_at((double)sent_ns * 1e-9);
        int64_t arrival_ns =
            sent_ns + (int64_t)(sender->delay_ms * dice(&seed) * 1e6);
        int64_t last_ns = p->stream.last_t_ns;
        double off_ms;

        push(p, arrival_ns, &moment);
        assert_true(p->result.has_sample);
        assert_true(p->result.sample.t_ns >= last_ns);
        assert_true(p->result.sample.t_ns <= p->stream.last_arrival_ns);
        off_ms = (double)(p->result.sample.t_ns - sent_ns) * 1e-6;
        if (sent_ns > from_ns + 5000 * MS)
            *worst_ms = fmax(*worst_ms, fabs(off_ms));
        sent_ns += (int64_t)(sender->interval_ms * 1e6);
    }
    return sent_ns;
}

static void changes_of_rate_and_gaps_are_followed(void **state)
{
    static const struct sender senders[] = {
        {50.0, 40.0}, {100.0, 50.0}, {200.0, 50.0}, {33.0, 30.0}, {50.0, 0.0}};
    struct pushed p;
    int64_t now_ns = 0;

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (size_t i = 0; i < sizeof senders / sizeof senders[0]; i++) {
        double worst_ms;

        now_ns = send_on(&p, &senders[i], now_ns, &worst_ms);
        assert_near(worst_ms, 0.0, 30.0);
        /* Ten seconds of nothing between some of them. */
        if (i % 2 == 0)
            now_ns += 10000 * MS;
    }
}

/* A sender without any evenness is left as it is. */
static void an_irregular_sender_keeps_its_arrivals(void **state)
{
    struct pushed p;
    unsigned seed = 3;
    int64_t t_ns = 0;
    int kept = 0;

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 5000 * MS);
    for (int i = 0; i < 300; i++) {
        struct moment moment = push_moment_at((double)t_ns * 1e-9);

        push(&p, t_ns, &moment);
        assert_true(p.result.has_sample);
        assert_true(p.result.sample.t_ns <= t_ns);
        kept += p.result.sample.t_ns == t_ns;
        /* From 20 ms to 2 s, short ones oftener. */
        t_ns += (int64_t)(20e6 * pow(100.0, dice(&seed)));
    }
    assert_true(kept > 270);
}

static void several_kinds_share_the_moment_they_were_sent(void **state)
{
    struct pushed p;
    unsigned seed = 9;
    double worst_ms = 0.0;

    (void)state;
    push_begin(&p, PUSH_SPLIT, 1000 * MS);
    /* Neither of them with its time. */
    for (int k = 0; k < 2; k++) {
        struct intake_packet *packet = &p.layout.packet[k];

        packet->field_count--;
        memmove(&packet->field[0], &packet->field[1],
                packet->field_count * sizeof packet->field[0]);
    }
    for (int i = 0; i < 400; i++) {
        int64_t sent_ns = i * 100 * MS;
        int64_t arrival_ns = sent_ns + (int64_t)(40e6 * dice(&seed));
        struct moment moment = push_moment_at((double)sent_ns * 1e-9);
        int64_t t_ns;

        moment.altitude_ft += i;
        push_kind(&p, arrival_ns, &moment, 0);
        t_ns = p.result.sample.t_ns;
        push_kind(&p, arrival_ns + MS, &moment, 1);
        if (i < 40)
            continue;
        assert_int_equal(p.result.sample.t_ns, t_ns);
        worst_ms = fmax(worst_ms, fabs((double)(t_ns - sent_ns) * 1e-6));
    }
    assert_near(worst_ms, 0.0, 20.0);
}

/* ---- copies -------------------------------------------------------------- */

/* A network that doubles: a copy arrives 1 ms after the first. */
static void copies_are_not_taken_and_change_nothing(void **state)
{
    static const double rate_hz[] = {10.0, 20.0, 60.0};

    (void)state;
    for (size_t r = 0; r < sizeof rate_hz / sizeof rate_hz[0]; r++) {
        struct stream stream;
        struct flown flown;
        const struct intake_counts *counts;
        double single_ns;
        uint64_t doubled;
        uint64_t alike;

        stream_load(&stream, "good_left", layout);
        stream_thin(&stream, rate_hz[r]);
        stream_keep_channels(&stream, ~CHANNEL_BIT(CHANNEL_SIM_TIME));
        stream_jitter(&stream, 0.050, 21);
        flown_fly(&flown, &stream, layout, 0);
        /* Jitter may bring two close together that are alike in truth. */
        alike = flown.session->stream.counts.rejected[INTAKE_DUPLICATE];
        assert_true(alike * 50 < stream.count);
        single_ns = (double)flown_mark(&flown, 1, 90.0)->t_ns;
        flown_free(&flown);
        doubled = stream.count;
        stream_double(&stream, 0.3, 22);
        doubled = stream.count - doubled;
        flown_fly(&flown, &stream, layout, 0);
        counts = &flown.session->stream.counts;
        print_message("%g a second: %u copies, %u not taken\n", rate_hz[r],
                      (unsigned)doubled,
                      (unsigned)counts->rejected[INTAKE_DUPLICATE]);
        /* Before the rate is known, and where another one came between the
         * two, a copy is taken. */
        assert_true(counts->rejected[INTAKE_DUPLICATE] <= doubled + 2 * alike);
        assert_true((double)counts->rejected[INTAKE_DUPLICATE] >=
                    0.85 * (double)doubled);
        assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
        assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
        assert_near(((double)flown_mark(&flown, 1, 90.0)->t_ns - single_ns) *
                        1e-6,
                    0.0, 10.0);
        flown_free(&flown);
        stream_free(&stream);
    }
}

/* The same values at the regular interval are flight, however steady. */
static void steady_flight_is_not_taken_for_copies(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int i = 0; i < 400; i++) {
        /* Every fourth differs, so that it is no pause. */
        if (i % 4 == 0)
            moment = push_moment_at(i * 0.05);
        push(&p, i * 50 * MS, &moment);
        assert_int_equal(p.result.reject, INTAKE_TAKEN);
        assert_true(p.result.has_sample);
        /* A copy of each, at once, and soon after. */
        if (i < 20)
            continue;
        push(&p, i * 50 * MS, &moment);
        assert_int_equal(p.result.reject, INTAKE_DUPLICATE);
        push(&p, i * 50 * MS + 14 * MS, &moment);
        assert_int_equal(p.result.reject, INTAKE_DUPLICATE);
    }
}

/* Copies neither hide a pause nor keep one up. */
static void a_doubled_stream_is_seen_to_pause_and_to_go_on(void **state)
{
    struct pushed p;
    struct moment moment = push_moment_at(0.0);
    int64_t t_ns = 0;
    int64_t paused_ns = 0;
    int64_t resumed_ns = 0;

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int i = 0; i < 400; i++, t_ns += 50 * MS) {
        if (i < 100 || i >= 300)
            moment = push_moment_at(i * 0.05);
        for (int copy = 0; copy < 2; copy++) {
            push(&p, t_ns + copy * MS, &moment);
            for (uint32_t k = 0; k < p.result.notice_count; k++)
                *(p.result.notice[k].kind == INTAKE_PAUSED ? &paused_ns
                                                           : &resumed_ns) =
                    p.result.notice[k].t_ns;
        }
    }
    assert_near((double)paused_ns * 1e-9, 100 * 0.05 + 2.0, 0.11);
    assert_near((double)resumed_ns * 1e-9, 300 * 0.05, 0.06);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_network_moves_no_crossing),
        cmocka_unit_test(changes_of_rate_and_gaps_are_followed),
        cmocka_unit_test(an_irregular_sender_keeps_its_arrivals),
        cmocka_unit_test(several_kinds_share_the_moment_they_were_sent),
        cmocka_unit_test(copies_are_not_taken_and_change_nothing),
        cmocka_unit_test(steady_flight_is_not_taken_for_copies),
        cmocka_unit_test(a_doubled_stream_is_seen_to_pause_and_to_go_on),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
