/* test_intake_stream_clock.c - the time of samples: the simulator's clock,
 * tied to the arrivals of the least delayed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "near.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

/* What happens on the way. */
struct way {
    double rate_hz;
    double seconds;
    double sim_rate;     /* simulator seconds in a real one */
    double offset_s;     /* simulator time at the beginning */
    double jitter_s;     /* delay, evenly spread from 0 */
    double loss;         /* share of datagrams */
    double doubled;      /* share of datagrams */
    int64_t stall_at_ns; /* the simulator stands for stall_ns, sends nothing */
    int64_t stall_ns;
};

/* What came of it, after the first two seconds. */
struct journey {
    int64_t least_lag_ns; /* real time less stream time */
    int64_t greatest_lag_ns;
    int64_t last_lag_ns;
    int64_t settled_lag_ns; /* greatest after 10 s */
    uint64_t sent;
    uint64_t doubled;
    uint64_t overtaken;
    uint64_t samples;
    uint64_t notices;
    struct intake_counts counts;
};

enum { MOST_PACKETS = 80000 };

struct packet {
    int64_t real_ns; /* when it was true */
    int64_t arrival_ns;
    double sim_time_s;
};

static double dice(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static int by_arrival(const void *left, const void *right)
{
    const struct packet *a = left;
    const struct packet *b = right;

    if (a->arrival_ns != b->arrival_ns)
        return a->arrival_ns < b->arrival_ns ? -1 : 1;
    return (a->real_ns > b->real_ns) - (a->real_ns < b->real_ns);
}

static size_t send(const struct way *way, struct packet *packet,
                   struct journey *out)
{
    int64_t step_ns = (int64_t)(1e9 / way->rate_hz);
    int64_t end_ns = (int64_t)(way->seconds * 1e9);
    uint64_t state = 7;
    size_t count = 0;

    for (int64_t t_ns = 0; t_ns < end_ns; t_ns += step_ns) {
        int64_t real_ns = t_ns;
        int copies = dice(&state) < way->loss ? 0 : 1;

        if (copies == 1 && dice(&state) < way->doubled)
            copies = 2;
        if (way->stall_ns > 0 && t_ns >= way->stall_at_ns)
            real_ns += way->stall_ns;
        out->doubled += copies == 2;
        out->sent += copies > 0;
        for (; copies > 0; copies--) {
            assert_true(count < MOST_PACKETS);
            packet[count].real_ns = real_ns;
            packet[count].sim_time_s =
                way->offset_s + (double)t_ns * 1e-9 * way->sim_rate;
            packet[count].arrival_ns =
                real_ns + (int64_t)(dice(&state) * way->jitter_s * 1e9);
            count++;
        }
    }
    qsort(packet, count, sizeof *packet, by_arrival);
    return count;
}

static void note_lag(struct journey *out, const struct packet *packet,
                     int64_t t_ns)
{
    int64_t lag_ns = packet->real_ns - t_ns;

    /* Nothing is told before it arrived. */
    assert_true(t_ns <= packet->arrival_ns);
    if (packet->real_ns < 2000 * MS)
        return;
    if (lag_ns < out->least_lag_ns)
        out->least_lag_ns = lag_ns;
    if (lag_ns > out->greatest_lag_ns)
        out->greatest_lag_ns = lag_ns;
    if (packet->real_ns > 10000 * MS && lag_ns > out->settled_lag_ns)
        out->settled_lag_ns = lag_ns;
    out->last_lag_ns = lag_ns;
}

static void travel(const struct way *way, struct journey *out)
{
    static struct packet packet[MOST_PACKETS];
    static struct pushed p;
    int64_t last_ns = INT64_MIN;
    double newest_s = -1e9;
    size_t count;

    *out = (struct journey){.least_lag_ns = INT64_MAX,
                            .greatest_lag_ns = INT64_MIN,
                            .settled_lag_ns = INT64_MIN};
    count = send(way, packet, out);
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (size_t i = 0; i < count; i++) {
        struct moment moment = {.sim_time_s = packet[i].sim_time_s,
                                .heading_deg = packet[i].sim_time_s,
                                .altitude_ft = 3000.0};

        moment.heading_deg = (double)(packet[i].real_ns / MS % 360000) * 1e-3;
        push(&p, packet[i].arrival_ns, &moment);
        out->overtaken += packet[i].sim_time_s < newest_s;
        if (packet[i].sim_time_s > newest_s)
            newest_s = packet[i].sim_time_s;
        out->notices += p.result.notice_count;
        if (!p.result.has_sample)
            continue;
        out->samples++;
        assert_true(p.result.sample.t_ns >= last_ns);
        last_ns = p.result.sample.t_ns;
        note_lag(out, &packet[i], last_ns);
    }
    out->counts = p.stream.counts;
}

static void the_arrival_counts_without_a_clock(void **state)
{
    struct pushed p;

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    for (int64_t t_ns = 5; t_ns < 1000 * MS; t_ns += 33 * MS + t_ns % 7) {
        struct moment moment = {.heading_deg = (double)t_ns * 1e-9};

        push(&p, t_ns, &moment);
        assert_true(p.result.has_sample);
        assert_int_equal(p.result.sample.t_ns, t_ns);
    }
}

static void an_arrival_that_runs_back_counts_as_the_last_one(void **state)
{
    struct pushed p;
    struct moment moment = {.heading_deg = 1.0};

    (void)state;
    push_begin(&p, PUSH_UNCLOCKED, 1000 * MS);
    push(&p, 500 * MS, &moment);
    moment.heading_deg = 2.0;
    push(&p, 400 * MS, &moment);
    assert_int_equal(p.result.sample.t_ns, 500 * MS);
    assert_int_equal(intake_stream_deadline_ns(&p.stream), 1500 * MS);
}

/* A perfect way: not a nanosecond more than the clock's own rounding. */
static void a_clean_stream_keeps_its_times(void **state)
{
    static const double rate_hz[] = {5.0, 20.0, 30.0, 60.0, 120.0};

    (void)state;
    for (size_t i = 0; i < sizeof rate_hz / sizeof rate_hz[0]; i++) {
        struct way way = {.rate_hz = rate_hz[i],
                          .seconds = 60.0,
                          .sim_rate = 1.0,
                          .offset_s = 86400.0};
        struct journey journey;

        travel(&way, &journey);
        assert_int_equal(journey.samples, journey.sent);
        assert_int_equal(journey.notices, 0);
        assert_near((double)journey.least_lag_ns, 0.0, 100.0);
        assert_near((double)journey.greatest_lag_ns, 0.0, 100.0);
    }
}

/* 20 ms of jitter in the arrivals leaves little in the samples' times; the
 * whole spread is what a rate of change feels. */
static void jitter_is_taken_out(void **state)
{
    static const struct {
        double rate_hz;
        double spread_ms;
    } row[] = {
        {10.0, 8.0}, {20.0, 4.0}, {30.0, 2.5}, {60.0, 1.5}, {120.0, 1.0}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct way way = {.rate_hz = row[i].rate_hz,
                          .seconds = 120.0,
                          .sim_rate = 1.0,
                          .jitter_s = 0.020};
        struct journey journey;

        travel(&way, &journey);
        assert_int_equal(journey.notices, 0);
        assert_near((double)(journey.greatest_lag_ns - journey.least_lag_ns) *
                        1e-6,
                    0.0, row[i].spread_ms);
        /* Late by the least delay, never by the mean one. */
        assert_near((double)journey.greatest_lag_ns * 1e-6, 0.0,
                    row[i].spread_ms);
    }
}

static void loss_doubles_and_disorder_are_counted_and_harmless(void **state)
{
    static const double rate_hz[] = {5.0, 20.0, 60.0, 120.0};

    (void)state;
    for (size_t i = 0; i < sizeof rate_hz / sizeof rate_hz[0]; i++) {
        struct way way = {.rate_hz = rate_hz[i],
                          .seconds = 300.0,
                          .sim_rate = 1.0,
                          .jitter_s = 0.050,
                          .loss = 0.20,
                          .doubled = 0.10};
        struct journey journey;

        travel(&way, &journey);
        if (rate_hz[i] > 10.0)
            assert_int_equal(journey.notices, 0);
        assert_true(journey.doubled > 0);
        assert_int_equal(journey.counts.rejected[INTAKE_LATE],
                         journey.overtaken);
        assert_int_equal(journey.samples +
                             journey.counts.rejected[INTAKE_LATE] +
                             journey.counts.rejected[INTAKE_DUPLICATE],
                         journey.sent + journey.doubled);
        assert_near((double)journey.greatest_lag_ns * 1e-6, 0.0, 50.0);
    }
}

/* Cheap clocks are off by up to some 100 parts in a million (common practice,
 * no source); here 200. */
static void drift_is_followed_both_ways(void **state)
{
    (void)state;
    for (int sign = -1; sign <= 1; sign += 2) {
        struct way way = {.rate_hz = 30.0,
                          .seconds = 1200.0,
                          .sim_rate = 1.0 + sign * 200e-6,
                          .jitter_s = 0.005};
        struct journey journey;

        travel(&way, &journey);
        assert_int_equal(journey.notices, 0);
        assert_near((double)journey.least_lag_ns * 1e-6, 0.0, 5.0);
        assert_near((double)journey.greatest_lag_ns * 1e-6, 0.0, 5.0);
    }
}

/* A machine that cannot keep up flies slower than real time; a call must
 * still fall on the moment that is seen. */
static void a_slow_simulator_is_followed(void **state)
{
    static const struct {
        double sim_rate;
        double most_lag_s;
    } row[] = {{0.95, 0.11}, {0.8, 0.31}, {0.5, 0.8}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct way way = {
            .rate_hz = 30.0, .seconds = 300.0, .sim_rate = row[i].sim_rate};
        struct journey journey;

        travel(&way, &journey);
        assert_int_equal(journey.notices, 0);
        assert_true(journey.least_lag_ns >= 0);
        assert_near((double)journey.greatest_lag_ns * 1e-9, 0.0,
                    row[i].most_lag_s);
    }
}

static void a_stutter_is_forgotten(void **state)
{
    struct way way = {.rate_hz = 60.0,
                      .seconds = 60.0,
                      .sim_rate = 1.0,
                      .stall_at_ns = 5000 * MS,
                      .stall_ns = 700 * MS};
    struct journey journey;

    (void)state;
    travel(&way, &journey);
    assert_int_equal(journey.notices, 0);
    /* At once it counts as delay; some seconds later it is gone. */
    assert_near((double)journey.greatest_lag_ns * 1e-9, 0.7, 0.001);
    assert_near((double)journey.settled_lag_ns * 1e-6, 0.0, 20.0);
    assert_near((double)journey.last_lag_ns * 1e-6, 0.0, 0.1);
}

/* The network stood still, the simulator did not: its clock is still good,
 * and tells that the first packets behind the silence came late. */
static void a_silence_of_the_network_keeps_the_clock(void **state)
{
    struct pushed p;
    struct moment moment = {.altitude_ft = 3000.0};

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i < 180; i++) {
        int64_t late_ns = i >= 140 && i < 144 ? 200 * MS : 0;

        if (i >= 100 && i < 140)
            continue;
        moment.sim_time_s = 50.0 + i * 0.05;
        moment.heading_deg = i * 0.1;
        push(&p, i * 50 * MS + late_ns, &moment);
        assert_true(p.result.has_sample);
        assert_near((double)(p.result.sample.t_ns - i * 50 * MS), 0.0, 100.0);
    }
}

/* The simulator stood still and sent nothing: its clock counts anew. */
static void a_silence_of_the_simulator_anchors_the_clock_anew(void **state)
{
    struct pushed p;
    struct moment moment = {.altitude_ft = 3000.0};

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    for (int i = 0; i < 200; i++) {
        int64_t away_ns = i < 100 ? 0 : 30000 * MS;

        moment.sim_time_s = i * 0.05;
        moment.heading_deg = i * 0.1;
        push(&p, i * 50 * MS + away_ns, &moment);
        assert_true(p.result.has_sample);
        assert_int_equal(p.result.sample.t_ns, i * 50 * MS + away_ns);
        /* Lost, back and resumed. */
        assert_int_equal(p.result.notice_count, i == 100 ? 3 : 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_arrival_counts_without_a_clock),
        cmocka_unit_test(an_arrival_that_runs_back_counts_as_the_last_one),
        cmocka_unit_test(a_clean_stream_keeps_its_times),
        cmocka_unit_test(jitter_is_taken_out),
        cmocka_unit_test(loss_doubles_and_disorder_are_counted_and_harmless),
        cmocka_unit_test(drift_is_followed_both_ways),
        cmocka_unit_test(a_slow_simulator_is_followed),
        cmocka_unit_test(a_stutter_is_forgotten),
        cmocka_unit_test(a_silence_of_the_network_keeps_the_clock),
        cmocka_unit_test(a_silence_of_the_simulator_anchors_the_clock_anew),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
