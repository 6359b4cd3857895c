/* test_discover_live.c - flying what is asked for, one piece after the other,
 * by a clock of the test's own, leads to the right layout. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/discover_legs.h"
#include "check_flight.h"
#include "near.h"

#define DEG UNITS_RAD_PER_DEG
#define RATE_HZ 20
/* From the words to the hand on the stick. */
#define REACTION_S 2.0

/* A minute and a half, as the command takes if nothing else is said. */
static const double all_s = 90.0;

static struct intake_discovery *discovery;
static struct discover_turn turn;
static struct intake_discovered found;

/* One line: the altitude, then what turns; mirrored: counted to the left. */
static size_t encode(const struct intake_sample *sample, bool mirrored,
                     char *out, size_t size)
{
    double sign = mirrored ? -1.0 : 1.0;
    double heading = angle_wrap_circle(sign * sample->value[CHANNEL_HEADING]);
    int length =
        snprintf(out, size, "%.1f;%.3f;%.3f;%.3f;%.2f\n",
                 units_ft(sample->value[CHANNEL_ALTITUDE]), units_deg(heading),
                 units_deg(sample->value[CHANNEL_PITCH]),
                 sign * units_deg(sample->value[CHANNEL_BANK]),
                 units_kt(sample->value[CHANNEL_AIRSPEED]));

    assert_in_range(length, 1, size - 1);
    return (size_t)length;
}

/* The pilot flies the leg that was asked for before; each begins when the one
 * before it has lasted as long as it should. */
static void fly_what_is_asked(struct check_airplane *airplane, bool mirrored)
{
    struct discover_legs legs = {.seconds = all_s, .turn = &turn};
    enum check_leg flown = CHECK_STRAIGHT;
    double until_s = 0.0;
    double since_s = 0.0;
    struct discover_leg leg;

    memset(&turn, 0, sizeof turn);
    intake_discovery_begin(discovery);
    for (;;) {
        struct intake_sample sample;
        char line[128];
        struct intake_datagram datagram = {.data = (const uint8_t *)line};

        if (airplane->t_s >= until_s) {
            if (!discover_legs_next(&legs, &leg))
                break;
            since_s = airplane->t_s;
            until_s = since_s + leg.seconds;
        }
        if (airplane->t_s >= since_s + REACTION_S)
            flown = (enum check_leg)(legs.asked - 1);
        check_airplane_tell(airplane, &sample);
        datagram.t_ns = sample.t_ns;
        datagram.length = encode(&sample, mirrored, line, sizeof line);
        intake_discovery_push(discovery, datagram.t_ns, 52180, datagram.data,
                              datagram.length);
        discover_legs_keep(&legs, &datagram);
        check_airplane_step(airplane, flown, 1.0 / RATE_HZ);
    }
    assert_near(airplane->t_s, all_s, 0.5);
}

/* Fly on, and hold what the layout makes of it against the truth. */
static void expect_right(struct check_airplane *airplane, bool mirrored)
{
    static const double within[] = {[CHANNEL_HEADING] = 0.1 * DEG,
                                    [CHANNEL_PITCH] = 0.1 * DEG,
                                    [CHANNEL_BANK] = 0.1 * DEG,
                                    [CHANNEL_AIRSPEED] = 0.1,
                                    [CHANNEL_ALTITUDE] = 0.1};
    static const enum intake_channel channels[] = {
        CHANNEL_HEADING, CHANNEL_PITCH, CHANNEL_BANK, CHANNEL_AIRSPEED,
        CHANNEL_ALTITUDE};

    for (int i = 0; i < 200; i++) {
        struct intake_sample truth;
        struct intake_sample got;
        char line[128];
        size_t length;

        check_airplane_tell(airplane, &truth);
        length = encode(&truth, mirrored, line, sizeof line);
        assert_int_equal(
            intake_decode(&found.layout, (const uint8_t *)line, length, &got),
            INTAKE_TAKEN);
        for (size_t k = 0; k < sizeof channels / sizeof channels[0]; k++) {
            enum intake_channel channel = channels[k];
            double error = got.value[channel] - truth.value[channel];

            assert_true((got.valid & CHANNEL_BIT(channel)) != 0);
            if (channel == CHANNEL_HEADING)
                error = angle_wrap_half(error);
            assert_near(error, 0.0, within[channel]);
        }
        check_airplane_step(airplane, CHECK_RIGHT, 1.0 / RATE_HZ);
    }
}

static void find_out(double airspeed_kt, bool mirrored)
{
    const struct check_flight flight = {.airspeed_mps =
                                            airspeed_kt * UNITS_MPS_PER_KT,
                                        .altitude_m = 1200.0,
                                        .bank_rad = 30.0 * DEG,
                                        .seed = 7};
    struct check_airplane airplane;

    check_airplane_init(&airplane, &flight);
    fly_what_is_asked(&airplane, mirrored);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    for (int i = 0; i < CHANNEL_COUNT && !found.enough; i++)
        print_message("%s: %s\n", intake_channel_name((enum intake_channel)i),
                      found.finding[i]);
    assert_true(found.enough);
    assert_int_equal(discover_turn_settle(&turn, &found.layout), mirrored);
    assert_true(units_deg(discover_turn_rad(&turn, &found.layout)) < -60.0);
    expect_right(&airplane, mirrored);
}

static void the_flying_that_is_asked_for_is_enough(void **state)
{
    (void)state;
    find_out(80.0, false);
    find_out(105.0, false);
    find_out(130.0, false);
}

static void a_mirrored_compass_is_turned_round(void **state)
{
    (void)state;
    find_out(80.0, true);
    find_out(105.0, true);
    find_out(130.0, true);
}

static void the_legs_fill_the_time_in_order(void **state)
{
    static const enum callout_clip clips[DISCOVER_LEGS] = {
        CLIP_FLY_STRAIGHT, CLIP_TURN_LEFT, CLIP_TURN_RIGHT, CLIP_CLIMB_NOW,
        CLIP_TURN_LEFT};
    struct discover_legs legs = {.seconds = 60.0, .turn = &turn};
    struct discover_leg leg;
    double sum_s = 0.0;

    (void)state;
    for (int i = 0; i < DISCOVER_LEGS; i++) {
        assert_true(discover_legs_next(&legs, &leg));
        assert_int_equal(leg.clip, clips[i]);
        assert_true(leg.text[0] != '\0');
        sum_s += leg.seconds;
    }
    assert_near(sum_s, 60.0, 1e-9);
    assert_false(discover_legs_next(&legs, &leg));
}

static int begin(void **state)
{
    (void)state;
    discovery = malloc(intake_discovery_size());
    return discovery != NULL ? 0 : -1;
}

static int end(void **state)
{
    (void)state;
    free(discovery);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_flying_that_is_asked_for_is_enough),
        cmocka_unit_test(a_mirrored_compass_is_turned_round),
        cmocka_unit_test(the_legs_fill_the_time_in_order),
    };

    return cmocka_run_group_tests_name("discover live", tests, begin, end) != 0;
}
