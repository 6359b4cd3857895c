/* test_audio_clock.c - frames and instants, through ragged callbacks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "../../daemon/audio/clock.h"
#include "near.h"

enum { BUFFER = 256 };

static const double rate_hz = 48000.0;
/* A machine that has run for 300 days. */
static const int64_t epoch_ns = INT64_C(25920000000000000);

/* A device whose own clock runs at true_hz; a made-up noise of callbacks. */
struct device {
    double true_hz;
    double jitter_ns; /* to both sides */
    int64_t frame;
    uint32_t seed;
    double late_ns; /* how much later than at first a frame is heard */
};

static double noise(struct device *device)
{
    device->seed = device->seed * 1664525U + 1013904223U;
    return (double)device->seed / 2147483648.0 - 1.0;
}

static int64_t true_ns(const struct device *device, int64_t frame)
{
    return epoch_ns +
           llround((double)frame / device->true_hz * 1e9 + device->late_ns);
}

static void run(struct device *device, struct audio_clock *clock, double s)
{
    int64_t end = device->frame + llround(s * rate_hz);

    for (; device->frame < end; device->frame += BUFFER)
        audio_clock_update(clock, device->frame,
                           true_ns(device, device->frame) +
                               llround(noise(device) * device->jitter_ns));
}

/* How far the clock is from the truth just now, ns. */
static double error_ns(const struct device *device,
                       const struct audio_clock *clock)
{
    return (double)(audio_clock_instant(clock, device->frame) -
                    true_ns(device, device->frame));
}

static void is_exact_on_a_steady_device(void **state)
{
    struct device device = {.true_hz = 48000.0};
    struct audio_clock clock;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 5.0);
    for (int64_t ahead = -4800; ahead < 480000; ahead += 4799) {
        int64_t frame = device.frame + ahead;

        assert_near(audio_clock_position(&clock, true_ns(&device, frame)),
                    (double)frame, 1e-4);
        assert_near((double)(audio_clock_instant(&clock, frame) -
                             true_ns(&device, frame)),
                    0.0, 2.0);
    }
    assert_int_equal(clock.resets, 0);
}

static void smooths_ragged_callbacks(void **state)
{
    struct device device = {.true_hz = 48000.0, .jitter_ns = 4e6, .seed = 1};
    struct audio_clock clock;
    double worst_ns = 0.0;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 20.0);
    for (int i = 0; i < 4000; i++) {
        run(&device, &clock, 0.005);
        worst_ns = fmax(worst_ns, fabs(error_ns(&device, &clock)));
    }
    /* A tenth of the callbacks' own raggedness. */
    assert_true(worst_ns < 0.4e6);
    assert_true(worst_ns > 0.0);
    assert_int_equal(clock.resets, 0);
}

static void follows_a_device_that_runs_fast_or_slow(void **state)
{
    static const double part_per_million[] = {-300.0, -50.0, 50.0, 300.0};

    (void)state;
    for (int i = 0; i < 4; i++) {
        struct device device = {.true_hz = 48000.0 *
                                           (1.0 + part_per_million[i] * 1e-6)};
        struct audio_clock clock;

        audio_clock_init(&clock, rate_hz);
        run(&device, &clock, 60.0);
        assert_near(error_ns(&device, &clock), 0.0, 10e3);
        assert_near(1e9 / clock.ns_per_frame, device.true_hz, 0.2);
        assert_int_equal(clock.resets, 0);
    }
}

static void begins_again_after_a_jump(void **state)
{
    struct device device = {.true_hz = 48000.0};
    struct audio_clock clock;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 10.0);
    for (int i = 0; i < 5; i++) {
        audio_clock_update(&clock, device.frame,
                           true_ns(&device, device.frame) + 50000000);
        device.frame += BUFFER;
    }
    assert_int_equal(clock.resets, 1);
    assert_near(error_ns(&device, &clock), 50e6, 1e3);
}

static void slides_over_a_small_step(void **state)
{
    struct device device = {.true_hz = 48000.0};
    struct audio_clock clock;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 10.0);
    audio_clock_update(&clock, device.frame,
                       true_ns(&device, device.frame) + 5000000);
    device.frame += BUFFER;
    assert_int_equal(clock.resets, 0);
    assert_true(fabs(error_ns(&device, &clock)) < 0.1e6);
}

/* A device that ran dry once plays everything later from then on. */
static void takes_a_step_that_lasts_for_one(void **state)
{
    static const double step_ns[] = {4e6, 10e6, -10e6, 19e6};

    (void)state;
    for (int i = 0; i < 4; i++) {
        struct device device = {
            .true_hz = 48002.0, .jitter_ns = 1e6, .seed = 5};
        struct audio_clock clock;
        double rate, worst_ns = 0.0;

        audio_clock_init(&clock, rate_hz);
        run(&device, &clock, 30.0);
        rate = 1e9 / clock.ns_per_frame;
        device.late_ns = step_ns[i];
        run(&device, &clock, 0.12);
        assert_int_equal(clock.resets, 1);
        assert_near(1e9 / clock.ns_per_frame, rate, 0.1);
        for (int k = 0; k < 1000; k++) {
            run(&device, &clock, 0.005);
            worst_ns = fmax(worst_ns, fabs(error_ns(&device, &clock)));
        }
        assert_true(worst_ns < 0.5e6);
        assert_int_equal(clock.resets, 1);
    }
}

static void never_believes_an_absurd_rate(void **state)
{
    struct device device = {.true_hz = 48000.0 * 1.05};
    struct audio_clock clock;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 0.3);
    assert_near(1e9 / clock.ns_per_frame, 48000.0, 48.1);
}

static void never_lets_a_far_instant_leave_its_range(void **state)
{
    struct device device = {.true_hz = 48000.0};
    struct audio_clock clock;

    (void)state;
    audio_clock_init(&clock, rate_hz);
    run(&device, &clock, 1.0);
    assert_near(audio_clock_position(&clock, INT64_MAX), 48e9, 1e6);
    assert_near(audio_clock_position(&clock, 0), -48e9, 1e6);
    assert_near(audio_clock_position(&clock, INT64_MIN), -48e9, 1e6);
}

static void takes_the_mean_of_the_middle_of_sixteen_leads(void **state)
{
    struct audio_lead lead;

    (void)state;
    audio_lead_init(&lead, 0.1);
    for (int i = 0; i < 100; i++)
        (void)audio_lead_add(&lead,
                             i % 16 == 0 ? 0.9 : 0.020 + 0.001 * (i % 4));
    assert_near(audio_lead_middle(&lead), 0.0215, 0.0006);
    for (int i = 0; i < 16; i++)
        assert_near(audio_lead_add(&lead, 0.040), 0.040, 1e-12);
    assert_near(audio_lead_middle(&lead), 0.040, 1e-12);
}

static void leaves_out_leads_that_cannot_be(void **state)
{
    struct audio_lead lead;

    (void)state;
    audio_lead_init(&lead, 0.03);
    for (int i = 0; i < 100; i++) {
        assert_near(audio_lead_add(&lead, 0.0), 0.03, 1e-12);
        assert_near(audio_lead_add(&lead, -1.7e9), 0.03, 1e-12);
        assert_near(audio_lead_add(&lead, 1.7e9), 0.03, 1e-12);
        assert_near(audio_lead_add(&lead, NAN), 0.03, 1e-12);
    }
    assert_near(audio_lead_middle(&lead), 0.03, 1e-12);
    (void)audio_lead_add(&lead, 0.01);
    assert_near(audio_lead_middle(&lead), 0.03, 1e-12);
    for (int i = 0; i < 3; i++)
        (void)audio_lead_add(&lead, 0.01);
    assert_near(audio_lead_middle(&lead), 0.01, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_exact_on_a_steady_device),
        cmocka_unit_test(smooths_ragged_callbacks),
        cmocka_unit_test(follows_a_device_that_runs_fast_or_slow),
        cmocka_unit_test(begins_again_after_a_jump),
        cmocka_unit_test(slides_over_a_small_step),
        cmocka_unit_test(takes_a_step_that_lasts_for_one),
        cmocka_unit_test(never_believes_an_absurd_rate),
        cmocka_unit_test(never_lets_a_far_instant_leave_its_range),
        cmocka_unit_test(takes_the_mean_of_the_middle_of_sixteen_leads),
        cmocka_unit_test(leaves_out_leads_that_cannot_be),
    };

    return cmocka_run_group_tests_name("audio clock", tests, NULL, NULL) != 0;
}
