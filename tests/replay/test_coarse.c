/* test_coarse.c - simulators that send whole feet, metres, degrees and knots,
 * and no load factor: what is called must stay as it was flown. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "flown.h"
#include "near.h"
#include "truth.h"

#define DEG UNITS_RAD_PER_DEG
#define KT UNITS_MPS_PER_KT
#define FT UNITS_M_PER_FT

/* What each reading is rounded to; 0 is not at all. */
struct steps {
    double altitude_m;
    double airspeed_mps;
    double attitude_rad; /* pitch and bank */
    double heading_rad;
};

static const struct steps steps[] = {
    {0, 0, 0, 0},
    {1 * FT, 0, 0, 0},
    {1, 0, 0, 0},
    {10 * FT, 0, 0, 0},
    {0, 1 * KT, 0.1 * DEG, 0},
    {1 * FT, 1 * KT, 0.1 * DEG, 0},
    {10 * FT, 1 * KT, 0.1 * DEG, 0},
    {1 * FT, 1 * KT, 1 * DEG, 0},
    {1, 1 * KT, 1 * DEG, 0},
    {10 * FT, 1 * KT, 1 * DEG, 0},
    {0, 0, 0, 1 * DEG},
    {1 * FT, 1 * KT, 0.1 * DEG, 1 * DEG},
    {1 * FT, 1 * KT, 1 * DEG, 1 * DEG},
    {1, 1 * KT, 1 * DEG, 1 * DEG},
    {10 * FT, 1 * KT, 1 * DEG, 1 * DEG},
};
enum { STEPS = sizeof steps / sizeof steps[0] };

static const double rate_hz[] = {10.0, 15.0, 30.0, 60.0};
enum { RATES = sizeof rate_hz / sizeof rate_hz[0] };

/* In one attempt a band is entered three times and left three times; as often
 * again for a margin that lingers at an edge. */
enum { BAND_CHANGES_MOST = 12 };

static void coarsen(struct stream *stream, enum intake_channel channel,
                    double step)
{
    if (!(step > 0.0))
        return;
    for (size_t i = 0; i < stream->count; i++) {
        double *value = &stream->packet[i].sample.value[channel];

        *value = step * round(*value / step);
    }
}

static void load_coarse(struct stream *stream, const char *flight, size_t s,
                        size_t rate)
{
    const struct steps *row = &steps[s];

    stream_load(stream, flight, "plain-binary");
    stream_keep_channels(stream, CHANNELS_REQUIRED |
                                     CHANNEL_BIT(CHANNEL_SIM_TIME) |
                                     CHANNEL_BIT(CHANNEL_ALTITUDE));
    stream_thin(stream, rate_hz[rate]);
    /* Flights begin on a whole degree: half beside it, each wobble is a step.
     */
    stream_rotate(stream, 0.5 * row->heading_rad);
    coarsen(stream, CHANNEL_ALTITUDE, row->altitude_m);
    coarsen(stream, CHANNEL_AIRSPEED, row->airspeed_mps);
    coarsen(stream, CHANNEL_PITCH, row->attitude_rad);
    coarsen(stream, CHANNEL_BANK, row->attitude_rad);
    coarsen(stream, CHANNEL_HEADING, row->heading_rad);
    print_message("%s at %g Hz, steps of %.1f ft, %.0f kt, %.1f and %.0f deg\n",
                  flight, rate_hz[rate], units_ft(row->altitude_m),
                  units_kt(row->airspeed_mps), units_deg(row->attitude_rad),
                  units_deg(row->heading_rad));
}

static void assert_flown_without_stall(const struct flown *flown,
                                       const char *flight)
{
    const struct maneuver_event *ninety = flown_mark(flown, 1, 90.0);

    assert_int_equal(flown_count(flown, EVENT_ENTRY), 1);
    assert_int_equal(flown_count(flown, EVENT_FINISHED), 1);
    assert_int_equal(flown_count(flown, EVENT_STALL), 0);
    assert_null(flown_call(flown, CUE_STALL, 0));
    assert_in_range(flown_count(flown, EVENT_NEAR_STALL), 2, BAND_CHANGES_MOST);
    assert_near(units_kt(flown->summary.least_margin_mps),
                truth(flight, "least_margin"), 2.0);
    assert_near(flown->summary.stalled_s, 0.0, 1e-9);
    assert_non_null(ninety);
    assert_near(flown_seconds(ninety->t_ns), truth(flight, "mark_90"), 0.25);
}

static void fly_coarsely(const char *flight, size_t s, size_t rate,
                         struct flown *flown)
{
    struct stream stream;

    load_coarse(&stream, flight, s, rate);
    flown_fly(flown, &stream, "plain-binary", 0);
    stream_free(&stream);
}

static void coarse_readings_make_no_stall(void **state)
{
    static const char *const flight[] = {"good_left", "overshoot", "no_rudder"};

    (void)state;
    for (size_t i = 0; i < STEPS * RATES * 3; i++) {
        const char *name = flight[i % 3];
        struct flown flown;

        fly_coarsely(name, i / 4 / RATES, i / 4 % RATES, &flown);
        assert_flown_without_stall(&flown, name);
        flown_free(&flown);
    }
}

static void coarse_readings_hide_no_stall(void **state)
{
    (void)state;
    for (size_t i = 0; i < STEPS * RATES; i++) {
        struct flown flown;

        fly_coarsely("stall", i / RATES, i % RATES, &flown);
        assert_int_equal(flown_count(&flown, EVENT_STALL), 1);
        assert_near(flown_seconds(flown_event(&flown, EVENT_STALL, 0)->t_ns),
                    truth("stall", "stall"), 1.0);
        assert_non_null(flown_call(&flown, CUE_STALL, 0));
        assert_int_equal(flown_event(&flown, EVENT_ABANDONED, 0)->reason,
                         REASON_STALLED);
        flown_free(&flown);
    }
}

static void coarse_readings_leave_the_flight_given_up(void **state)
{
    (void)state;
    for (size_t i = 0; i < STEPS * RATES; i++) {
        struct flown flown;

        fly_coarsely("abandoned", i / RATES, i % RATES, &flown);
        assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
        assert_int_equal(flown_count(&flown, EVENT_ABANDONED), 1);
        assert_int_equal(flown_event(&flown, EVENT_ABANDONED, 0)->reason,
                         REASON_LEVEL_EARLY);
        assert_int_equal(flown_count(&flown, EVENT_STALL), 0);
        flown_free(&flown);
    }
}

/* Not quite straight flight, which whole degrees show as steps: the nose
 * drifts until the roll-in, 8 s after the beginning. */
static void a_drifting_heading_in_whole_degrees_arms(void **state)
{
    static const double drift_degps[] = {0.1, 0.2, 0.3, 0.5, 0.8, -0.4};

    (void)state;
    for (size_t k = 0; k < sizeof drift_degps / sizeof drift_degps[0]; k++) {
        for (size_t rate = 0; rate < RATES; rate++) {
            struct stream stream;
            struct flown flown;

            stream_load(&stream, "good_left", "plain-binary");
            stream_thin(&stream, rate_hz[rate]);
            for (size_t i = 0; i < stream.count; i++)
                stream.packet[i].sample.value[CHANNEL_HEADING] +=
                    drift_degps[k] * DEG *
                    fmin(8.0, flown_seconds(stream.packet[i].arrival_ns));
            coarsen(&stream, CHANNEL_HEADING, 1 * DEG);
            stream_rotate(&stream, 0.0);
            flown_fly(&flown, &stream, "plain-binary", 0);
            assert_int_equal(flown_count(&flown, EVENT_ENTRY), 1);
            assert_int_equal(flown_count(&flown, EVENT_FINISHED), 1);
            assert_in_range(lround(flown_seconds(
                                flown_event(&flown, EVENT_READY, 0)->t_ns)),
                            3, 7);
            flown_free(&flown);
            stream_free(&stream);
        }
    }
}

/* Arrivals alone: 100 ms of jitter, a fifth lost, a tenth out of order. */
static void a_wild_network_makes_no_stall(void **state)
{
    (void)state;
    for (unsigned seed = 1; seed <= 10; seed++) {
        struct stream stream;
        struct flown flown;

        stream_load(&stream, "good_left", "plain-binary");
        stream_keep_channels(&stream,
                             CHANNELS_REQUIRED | CHANNEL_BIT(CHANNEL_ALTITUDE));
        stream_thin(&stream, seed % 2 ? 10.0 : 30.0);
        stream_lose(&stream, 0.2, seed);
        stream_jitter(&stream, 0.1, seed + 100);
        stream_reorder(&stream, 0.1, seed + 200);
        flown_fly(&flown, &stream, "plain-binary", 0);
        assert_flown_without_stall(&flown, "good_left");
        flown_free(&flown);
        stream_free(&stream);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(coarse_readings_make_no_stall),
        cmocka_unit_test(coarse_readings_hide_no_stall),
        cmocka_unit_test(coarse_readings_leave_the_flight_given_up),
        cmocka_unit_test(a_drifting_heading_in_whole_degrees_arms),
        cmocka_unit_test(a_wild_network_makes_no_stall),
    };

    return cmocka_run_group_tests_name("replay: coarse", tests, truth_load,
                                       truth_free) != 0;
}
