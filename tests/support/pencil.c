/* pencil.c - flights drawn by a few lines of kinematics. */
#include "pencil.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

/* Numbers of the test's own; the shipped ones are in config/standards. */
const struct maneuver_standard pencil_standard = {
    .name = "test",
    .ready_time_s = 3.0,
    .ready_bank_rad = 5.0 * DEG,
    .ready_climb_mps = 1.5,
    .ready_turn_radps = 1.5 * DEG,
    .entry_speed_band_mps = 10.0 * KT,
    .entry_bank_rad = 30.0 * DEG,
    .bank_tolerance_rad = 5.0 * DEG,
    .ball_tolerance_g = 0.05,
    .slip_tolerance_rad = 4.0 * DEG,
    .pitch_tolerance_rad = 3.0 * DEG,
    .advice_error_rad = 15.0 * DEG,
    .level_bank_rad = 3.0 * DEG,
    .level_time_s = 1.0,
    .heading_tolerance_rad = 10.0 * DEG,
    .finish_margin_mps = 7.0 * KT,
    .hold_band_m = 15.0,
    .hold_time_s = 10.0,
    .stall_band_mps = {10.0 * KT, 7.0 * KT, 4.0 * KT},
    .stall_hysteresis_mps = 1.0 * KT,
};

const struct flight_aircraft pencil_aircraft = {
    .stall_speed_mps = 55.0 * KT,
    .stall_weight_kg = 1000.0,
    .weight_kg = 1000.0,
    .maneuvering_speed_mps = 105.0 * KT,
    .max_weight_kg = 1100.0,
    .entry_speed_mps = 105.0 * KT,
    .pitch_limit_rad = 20.0 * DEG,
    .stall_angle_of_attack_rad = 16.0 * DEG,
};

struct pencil pencil;

int pencil_begin(void **state)
{
    (void)state;
    memset(&pencil, 0, sizeof pencil);
    maneuver_init(&pencil.maneuver, MANEUVER_CHANDELLE, &pencil_standard,
                  &pencil_aircraft);
    pencil.state.known = FLIGHT_HEADING | FLIGHT_PITCH | FLIGHT_BANK |
                         FLIGHT_AIRSPEED | FLIGHT_ALTITUDE | FLIGHT_MARGIN;
    pencil.state.heading.value = 350.0 * DEG;
    pencil.state.pitch.value = 1.0 * DEG;
    pencil.state.cas.value = 105.0 * KT;
    pencil.state.altitude.value = 1000.0;
    pencil.state.stall_margin_mps = 50.0 * KT;
    pencil.state.stall_excess_mps = 50.0 * KT;
    return 0;
}

/* Fly for a time, bank, pitch and speed moving evenly to what is given. The
 * climb follows the pitch; heading follows the bank. */
void pencil_fly(double for_s, double bank_deg, double pitch_deg,
                double speed_kt)
{
    struct flight_state *now = &pencil.state;
    double step_s = 0.05;
    int steps = (int)lround(for_s / step_s);
    double bank_radps = (bank_deg * DEG - now->bank.value) / for_s;
    double pitch_radps = (pitch_deg * DEG - now->pitch.value) / for_s;
    double cas_mps2 = (speed_kt * KT - now->cas.value) / for_s;

    for (int i = 0; i < steps; i++) {
        now->t_ns += 50000000;
        now->bank.value += bank_radps * step_s;
        now->bank.rate = bank_radps;
        now->pitch.value += pitch_radps * step_s;
        now->pitch.rate = pitch_radps;
        now->cas.value += cas_mps2 * step_s;
        now->cas.rate = cas_mps2;
        now->tas_mps = now->cas.value;
        now->heading.rate =
            flight_turn_rate_radps(now->bank.value, now->tas_mps);
        now->heading.value += now->heading.rate * step_s;
        now->altitude.rate =
            now->tas_mps * sin((now->pitch.value - 1.0 * DEG) * 0.8);
        now->altitude.value += now->altitude.rate * step_s;
        pencil.count +=
            maneuver_step(&pencil.maneuver, now, pencil.event + pencil.count);
        assert_true(pencil.count < 256 - MANEUVER_MAX_EVENTS);
    }
}

int pencil_count(enum maneuver_event_kind kind)
{
    int found = 0;

    for (int i = 0; i < pencil.count; i++)
        found += pencil.event[i].kind == kind;
    return found;
}

const struct maneuver_event *pencil_last(enum maneuver_event_kind kind)
{
    for (int i = pencil.count; i-- > 0;)
        if (pencil.event[i].kind == kind)
            return &pencil.event[i];
    fail_msg("no %s", maneuver_event_name(kind));
    return NULL;
}

/* The good one: 3 s roll-in, 12 s pitch up, 22 s roll-out. */
