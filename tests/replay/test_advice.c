/* test_advice.c - the advice on the roll-out against the ideal line.
 *
 * What is checked against: the rehearsing pilot, who flies in the performance
 * model with a roll rate that was found by flying it; the ideal line of
 * performance.h, found in another way; and for each advice the closed form of
 * a roll-out at a constant rate and speed, p = g ln(sec bank) / (V heading to
 * go), from d(heading)/dt = g tan(bank) / V (FAA-H-8083-25, chapter 5).
 *
 * With QUARTERTURN_TABLE set in the environment it is printed at which degree
 * of turn each error is told. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "advised.h"
#include "near.h"

#define DEG UNITS_RAD_PER_DEG

/* ---- on the line -------------------------------------------------------- */

/* Returns: whether the airplane can fly it. */
static bool expect_on_the_line(const struct advised_flight *flight)
{
    const struct rehearse_plan *plan = &flight->plan;
    struct performance_reference line;
    struct advised advised;

    if (performance_reference_make(&plan->aircraft, &plan->conditions,
                                   plan->aircraft.entry_speed_mps,
                                   plan->direction, &line) != 0)
        return false;
    advised_fly(flight, &line, &advised);
    if (!advised.flown)
        return false;
    /* The rehearsing pilot is on the line that was worked out otherwise. */
    assert_near(units_deg(advised.greatest_off_line_rad), 0.0, 1.0);
    assert_int_equal(advised.predictions, 6);
    for (int i = 0; i < advised.predictions; i++) {
        assert_true(advised.predicted_rad[i] != 0.0);
        assert_near(units_deg(advised.predicted_rad[i]), 0.0,
                    i < 3 ? 5.5 : 3.5);
    }
    assert_int_equal(advised.count, 0);
    return true;
}

static void who_is_on_the_line_is_predicted_to_end_on_180(void **state)
{
    static const double share[] = {0.8, 0.9, 1.0};
    static const double altitude_ft[] = {2500.0, 5000.0, 7500.0};
    static const double warmer_k[] = {-20.0, 0.0, 20.0};
    int flown = 0;

    (void)state;
    for (int i = 0; i < 2 * 3 * 3 * 3 * 2; i++) {
        struct advised_flight flight;
        struct performance_conditions *day = &flight.plan.conditions;

        advised_plan(&flight, i % 2, i / 2 % 2 ? 1 : -1);
        day->weight_kg = share[i / 4 % 3] * flight.plan.aircraft.max_weight_kg;
        day->altitude_m = altitude_ft[i / 12 % 3] * UNITS_M_PER_FT;
        day->temperature_k =
            flight_temperature_k(day->altitude_m) + warmer_k[i / 36];
        /* As narrow as the stricter standard that comes with the program. */
        flight.standard.advice_error_rad = 10.0 * DEG;
        flown += expect_on_the_line(&flight);
    }
    /* Heavy, high and hot at once, the small one has no chandelle in it. */
    assert_int_equal(flown, 2 * 3 * 3 * 3 * 2 - 2);
}

/* ---- off the line ------------------------------------------------------- */

struct planted {
    enum rehearse_error error;
    double least_deg; /* every size from here */
    double most_deg;  /* to here */
    double step_deg;
    int first;     /* side of the first advice; 0: none at all */
    double by_deg; /* of turn, told at the latest */
    bool both;     /* the other side may follow */
};

/* Early, and late by little: the rate that is then flown ends on 180. Late by
 * much: the bank is still held when advice comes. Uneven: too fast at first,
 * then too slow, which is two advices, each in its turn. Short and past: advice
 * begins at the 15 degrees of the standard, later the nearer to them. What lies
 * between two rows may be told or not. */
static const struct planted planted[] = {
    {REHEARSE_ROLL_OUT_EARLY, 5, 40, 5, 0, 0, false},
    {REHEARSE_ROLL_OUT_LATE, 5, 20, 5, 0, 0, false},
    {REHEARSE_ROLL_OUT_LATE, 28, 40, 2, 1, 127, false},
    {REHEARSE_ROLL_OUT_UNEVEN, 2, 10, 1, -1, 120, true},
    {REHEARSE_LEVEL_SHORT, 2, 15, 1, 0, 0, false},
    {REHEARSE_LEVEL_SHORT, 16, 17, 1, -1, 165, false},
    {REHEARSE_LEVEL_SHORT, 18, 28, 1, -1, 125, false},
    {REHEARSE_LEVEL_PAST, 2, 10, 1, 0, 0, false},
    {REHEARSE_LEVEL_PAST, 13, 17, 1, 1, 135, false},
    {REHEARSE_LEVEL_PAST, 18, 50, 2, 1, 125, false},
};
enum { ROWS = sizeof planted / sizeof planted[0] };

static const double rate_hz[] = {5.0, 30.0, 60.0};

struct told {
    int flights;
    int advised;
    double least_deg; /* of turn, at the first advice */
    double most_deg;
};

static void expect_advice(const struct planted *row,
                          const struct advised_flight *flight,
                          struct told *told)
{
    const char *name = rehearse_error_about(row->error)->name;
    double size_deg = units_deg(flight->plan.size[row->error]);
    struct advised advised;
    double first_deg;

    advised_fly(flight, NULL, &advised);
    assert_true(advised.flown);
    told->flights++;
    if ((advised.count > 0 ? advised.side[0] : 0) != row->first)
        fail_msg("%s, %s of %g: first advice is %d, not %d",
                 flight->plan.aircraft.name, name, size_deg,
                 advised.count > 0 ? advised.side[0] : 0, row->first);
    if (advised.count == 0)
        return;
    first_deg = units_deg(advised.turn_rad[0]);
    told->least_deg =
        told->advised ? fmin(told->least_deg, first_deg) : first_deg;
    told->most_deg = fmax(told->most_deg, first_deg);
    told->advised++;
    if (first_deg > row->by_deg)
        fail_msg("%s, %s of %g, %g a second: told at %.1f, not by %g",
                 flight->plan.aircraft.name, name, size_deg, flight->rate_hz,
                 first_deg, row->by_deg);
    for (int i = 1; i < advised.count; i++)
        if (!row->both)
            assert_int_equal(advised.side[i], row->first);
    /* What was predicted at 120 is what came. */
    if (row->error == REHEARSE_LEVEL_SHORT || row->error == REHEARSE_LEVEL_PAST)
        assert_near(units_deg(advised.predicted_rad[1]),
                    units_deg(advised.heading_error_rad), 7.0);
}

static void expect_row(const struct planted *row)
{
    int sizes =
        1 + (int)lround((row->most_deg - row->least_deg) / row->step_deg);
    struct told told = {0};

    for (int i = 0; i < sizes; i++)
        for (int k = 0; k < 4 * 3; k++) {
            struct advised_flight flight;

            /* The airplanes and the sides in turn. */
            if (k % 4 != i % 4 && k / 4 != i % 3)
                continue;
            advised_plan(&flight, k % 2, k / 2 % 2 ? 1 : -1);
            flight.rate_hz = rate_hz[k / 4];
            flight.plan.size[row->error] =
                (row->least_deg + i * row->step_deg) * DEG;
            expect_advice(row, &flight, &told);
        }
    if (getenv("QUARTERTURN_TABLE") != NULL)
        printf("%-16s %2g to %2g: %3d of %3d told, at %.0f to %.0f degrees\n",
               rehearse_error_about(row->error)->name, row->least_deg,
               row->most_deg, told.advised, told.flights, told.least_deg,
               told.most_deg);
}

static void who_is_off_the_line_is_told_the_right_way_in_time(void **state)
{
    (void)state;
    for (int i = 0; i < ROWS; i++)
        expect_row(&planted[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_is_on_the_line_is_predicted_to_end_on_180),
        cmocka_unit_test(who_is_off_the_line_is_told_the_right_way_in_time),
    };

    return cmocka_run_group_tests_name("replay: advice", tests, NULL, NULL) !=
           0;
}
