/* turning.c - turning flight, and how a roll-out has to go. */
#include <math.h>

#include "quarterturn/flight.h"

double flight_turn_rate_radps(double bank_rad, double tas_mps)
{
    return UNITS_G0_MPS2 * tan(bank_rad) / tas_mps;
}

double flight_turn_radius_m(double bank_rad, double tas_mps)
{
    return tas_mps * tas_mps / (UNITS_G0_MPS2 * tan(bank_rad));
}

double flight_level_load_factor(double bank_rad)
{
    return 1.0 / cos(bank_rad);
}

double flight_stall_speed_mps(double stall_mps, double load_factor,
                              double weight_kg, double stall_weight_kg)
{
    double n = load_factor > 0.0 ? load_factor : 0.0;

    return stall_mps * sqrt(n * weight_kg / stall_weight_kg);
}

double flight_rollout_rate_radps(double bank_rad, double tas_mps,
                                 double heading_to_go_rad)
{
    /* With bank = p (T - t) and turn rate g tan(bank) / V, the heading turned
     * during the roll-out is g ln(sec bank) / (V p). */
    if (!(heading_to_go_rad > 0.0))
        return INFINITY;
    return UNITS_G0_MPS2 * -log(cos(bank_rad)) / (tas_mps * heading_to_go_rad);
}

double flight_rollout_heading_rad(double bank_rad, double roll_rate_radps,
                                  double tas_mps, double tas_rate_mps2,
                                  double least_tas_mps, double turn_factor)
{
    /* Simpson's rule over the time of the roll-out. The integrand is smooth,
     * and 12 steps agree with the closed form to 1e-6 rad at 30 degrees. */
    enum { STEPS = 12 };
    double total_s = bank_rad / roll_rate_radps;
    double step_s = total_s / STEPS;
    double sum = 0.0;

    for (int i = 0; i <= STEPS; i++) {
        double t_s = step_s * i;
        double v_mps = tas_mps + tas_rate_mps2 * t_s;
        double weight = i == 0 || i == STEPS ? 1.0 : (i % 2 ? 4.0 : 2.0);

        if (v_mps < least_tas_mps)
            v_mps = least_tas_mps;
        sum += weight *
               flight_turn_rate_radps(bank_rad - roll_rate_radps * t_s, v_mps);
    }
    return turn_factor * sum * step_s / 3.0;
}
