/* test_model.c - the performance model against flights it did not fly.
 *
 * The flights come from a six-degree-of-freedom flight-dynamics simulation
 * that knows nothing of this project (see good_left.txt); truth.tsv holds what
 * they did. The model gets the figures of that airplane as a handbook gives
 * them, config/aircraft/club-trainer.conf: its speeds and weights, and cruise
 * and climb in keeping with how it gathers speed in level flight. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "flown.h"
#include "folder.h"
#include "near.h"

static double truth(const char *flight, const char *quantity)
{
    size_t length;
    char *text = folder_read_file("tests/replay/truth.tsv", &length);
    char key[128];
    const char *at;
    double value = NAN;

    (void)snprintf(key, sizeof key, "\n%s\t%s\t", flight, quantity);
    at = strstr(text, key);
    if (at == NULL)
        fail_msg("no truth of %s for %s", quantity, flight);
    else
        value = strtod(at + strlen(key), NULL);
    free(text);
    return value;
}

static const struct flight_aircraft *airplane(void)
{
    static struct settings settings;
    const struct settings_choice choice = {.aircraft = "club-trainer"};
    char why[600];

    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    return &settings.aircraft;
}

static struct performance_conditions conditions_of(const char *flight)
{
    return (struct performance_conditions){
        .weight_kg = NAN,
        .altitude_m = truth(flight, "entry_altitude") * UNITS_M_PER_FT,
        .temperature_k = NAN};
}

static void make(const char *flight, struct performance_reference *out)
{
    const struct performance_conditions conditions = conditions_of(flight);

    assert_int_equal(performance_reference_make(airplane(), &conditions,
                                                truth(flight, "entry_speed") *
                                                    UNITS_MPS_PER_KT,
                                                -1, out),
                     0);
    assert_true(out->modelled);
}

/* The line is worked out from the handbook alone; the flight was flown at its
 * own pitch and to its own speed. */
static void the_ideal_line_foretells_a_good_flight(void **state)
{
    struct performance_reference line;
    double roll_in_s = truth("good_left", "roll_in");
    double ninety_s = truth("good_left", "mark_90") - roll_in_s;
    double half_s = truth("good_left", "mark_180") - roll_in_s;
    double gain_ft = truth("good_left", "altitude_gain");

    (void)state;
    make("good_left", &line);
    assert_near(line.t_90_s, ninety_s, 0.08 * ninety_s);
    assert_near(line.t_180_s, half_s, 0.08 * half_s);
    assert_near(units_ft(line.gain_m), gain_ft, 0.20 * gain_ft);
    assert_near(units_deg(line.roll_out_rate_radps),
                truth("good_left", "roll_out_rate"), 0.1);
    assert_near(units_deg(line.finish_pitch_rad),
                truth("good_left", "highest_pitch"), 2.0);
}

static void the_ideal_line_foretells_ninety_of_every_flight(void **state)
{
    static const char *const flight[] = {"good_left", "good_left_unsteady",
                                         "overshoot", "no_rudder"};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        struct performance_reference line;
        double ninety_s =
            truth(flight[i], "mark_90") - truth(flight[i], "roll_in");

        make(flight[i], &line);
        assert_near(line.t_90_s, ninety_s, 0.08 * ninety_s);
    }
}

/* ---- with the flown pitch and bank -------------------------------------- */

static double flown_value(const struct stream *stream,
                          enum intake_channel channel, double t_s)
{
    for (size_t i = 0; i < stream->count; i++)
        if ((double)stream->packet[i].arrival_ns * 1e-9 >= t_s)
            return stream->packet[i].sample.value[channel];
    fail_msg("the recording ends before %g s", t_s);
    return NAN;
}

struct prediction {
    double ninety_s;
    double nearly_s; /* 170 degrees: 180 is only grazed */
    double turn_rad; /* at the flown wings level */
    double gain_m;   /* there */
};

/* The hand that flew it holds the model: pitch and bank as recorded; power up
 * within two seconds once the bank is set, as its .txt tells. */
static void fly_as_recorded(const char *flight, struct prediction *out)
{
    const double step_s = 0.05;
    const struct performance_conditions conditions = conditions_of(flight);
    double begin_s = truth(flight, "roll_in");
    double level_s = truth(flight, "wings_level");
    struct performance_model model;
    struct performance_state state;
    struct performance_controls controls = {0};
    struct performance_view view;
    double entry_m;
    double cruise;
    struct stream stream;

    stream_load(&stream, flight, "plain-binary");
    assert_int_equal(performance_model_make(airplane(), &conditions, &model),
                     0);
    assert_int_equal(
        performance_trim(&model, conditions.altitude_m,
                         flight_true_airspeed_mps(truth(flight, "entry_speed") *
                                                      UNITS_MPS_PER_KT,
                                                  conditions.altitude_m),
                         0.0, &state, &cruise),
        0);
    entry_m = state.altitude_m;
    *out = (struct prediction){NAN, NAN, NAN, NAN};
    while (begin_s + state.t_s < level_s) {
        double t_s = begin_s + state.t_s;

        controls.power = fmin(1.0, cruise + fmax(0.0, state.t_s - 3.5) / 2.0);
        controls.pitch_rate_radps =
            (flown_value(&stream, CHANNEL_PITCH, t_s + step_s) -
             state.pitch_rad) /
            step_s;
        controls.bank_rate_radps =
            (flown_value(&stream, CHANNEL_BANK, t_s + step_s) -
             state.bank_rad) /
            step_s;
        performance_step(&model, &controls, step_s, &state);
        performance_look(&model, &state, &controls, &view);
        if (isnan(out->ninety_s) && -view.heading_rad >= UNITS_PI / 2.0)
            out->ninety_s = state.t_s;
        if (isnan(out->nearly_s) && -view.heading_rad >= units_rad(170.0))
            out->nearly_s = state.t_s;
        out->turn_rad = -view.heading_rad;
        out->gain_m = state.altitude_m - entry_m;
    }
    stream_free(&stream);
}

static void the_model_follows_the_hand_that_flew(void **state)
{
    static const char *const flight[] = {"good_left", "overshoot"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        double begin_s = truth(flight[i], "roll_in");
        double ninety_s = truth(flight[i], "mark_90") - begin_s;
        double nearly_s = truth(flight[i], "mark_170") - begin_s;
        double gain_ft = truth(flight[i], "altitude_gain");
        struct prediction flown;

        fly_as_recorded(flight[i], &flown);
        assert_near(flown.ninety_s, ninety_s, 0.08 * ninety_s);
        assert_near(flown.nearly_s, nearly_s, 0.08 * nearly_s);
        assert_near(units_deg(flown.turn_rad),
                    180.0 + truth(flight[i], "heading_error"), 5.0);
        assert_near(units_ft(flown.gain_m), gain_ft, 0.20 * gain_ft);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_ideal_line_foretells_a_good_flight),
        cmocka_unit_test(the_ideal_line_foretells_ninety_of_every_flight),
        cmocka_unit_test(the_model_follows_the_hand_that_flew),
    };

    return cmocka_run_group_tests_name("replay: model", tests, NULL, NULL) != 0;
}
