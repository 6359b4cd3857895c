/* plan.c - working a chandelle out before it is flown. */
#include <math.h>
#include <string.h>

#include "quarterturn/brief.h"
#include "quarterturn/error.h"
#include "quarterturn/flight.h"

/* "No lower than 1,500 feet above the ground": FAA-S-ACS-7B, CA.V.C.S2. */
static const double least_height_m = 1500.0 * UNITS_M_PER_FT;
/* Ours: an altimeter is read to so much, and plans end in round numbers. */
static const double altitude_round_m = 100.0 * UNITS_M_PER_FT;

const char *brief_basis_name(enum brief_basis basis)
{
    static const char *const name[] = {[BASIS_COMPUTED] = "computed",
                                       [BASIS_HANDBOOK] = "handbook",
                                       [BASIS_STANDARD] = "standard",
                                       [BASIS_CONVENTION] = "convention"};

    return name[basis];
}

static int fail(char *why, size_t size, const char *text)
{
    (void)snprintf(why, size, "%s", text);
    return ERR_RANGE;
}

static void plan_altitude(struct brief_plan *plan)
{
    double *altitude_m = &plan->wish.conditions.altitude_m;
    /* A sink after the finish still lies within the band above the entry, for
     * the whole gain is below it: the entry is the lowest point. */
    double floor_m = plan->wish.ground_m + least_height_m;

    plan->least_altitude_m =
        ceil(floor_m / altitude_round_m - 1e-9) * altitude_round_m;
    if (isnan(*altitude_m))
        *altitude_m = plan->least_altitude_m;
    plan->below_height = *altitude_m < floor_m - 1e-6;
}

/* The slower of maneuvering and cruising speed (common practice, no source),
 * and never faster than the configured one. */
static void plan_speeds(struct brief_plan *plan)
{
    const struct flight_aircraft *aircraft = &plan->aircraft;
    const struct performance_figures *figures = &aircraft->performance;
    double weight_kg = plan->wish.conditions.weight_kg;

    plan->maneuvering_mps =
        performance_maneuvering_speed_mps(aircraft, weight_kg);
    plan->cruise_mps = flight_calibrated_airspeed_mps(
        figures->cruise_speed_mps, figures->cruise_altitude_m);
    if (!(figures->cruise_speed_mps > 0.0))
        plan->cruise_mps = (double)NAN;
    plan->entry_mps = aircraft->entry_speed_mps;
    plan->entry_by = ENTRY_CONFIGURED;
    if (plan->maneuvering_mps < plan->entry_mps) {
        plan->entry_mps = plan->maneuvering_mps;
        plan->entry_by = ENTRY_MANEUVERING;
    }
    if (plan->cruise_mps < plan->entry_mps) {
        plan->entry_mps = plan->cruise_mps;
        plan->entry_by = ENTRY_CRUISE;
    }
    plan->stall_mps = flight_stall_speed_mps(
        aircraft->stall_speed_mps, 1.0, weight_kg, aircraft->stall_weight_kg);
    plan->finish_most_mps = plan->stall_mps + plan->standard.finish_margin_mps;
    plan->load_factor = flight_level_load_factor(plan->standard.entry_bank_rad);
    plan->turn_stall_mps =
        flight_stall_speed_mps(aircraft->stall_speed_mps, plan->load_factor,
                               weight_kg, aircraft->stall_weight_kg);
}

static void plan_wind(struct brief_plan *plan)
{
    const struct performance_conditions *day = &plan->wish.conditions;

    plan->drift_m = day->wind_mps * plan->line.t_180_s;
    plan->drift_to_rad = angle_wrap_circle(day->wind_from_rad + UNITS_PI);
    plan->wind_from_left_mps =
        day->wind_mps * sin(plan->wish.heading_rad - day->wind_from_rad);
}

/* The gain on another day or with another load, all else the same. */
static void add_other(struct brief_plan *plan, const char *what,
                      const struct performance_conditions *day)
{
    struct brief_other *other = &plan->other[plan->other_count++];
    struct performance_reference line;
    double va_mps =
        performance_maneuvering_speed_mps(&plan->aircraft, day->weight_kg);

    other->what = what;
    other->gain_m = (double)NAN;
    if (performance_reference_make(&plan->aircraft, day,
                                   fmin(plan->entry_mps, va_mps),
                                   plan->wish.direction, &line) == 0)
        other->gain_m = line.gain_m;
}

static void plan_others(struct brief_plan *plan)
{
    const struct performance_conditions today = plan->wish.conditions;
    struct performance_conditions day = today;

    day.weight_kg = plan->aircraft.max_weight_kg;
    add_other(plan, "at maximum weight", &day);
    day.weight_kg = today.weight_kg * 0.9;
    add_other(plan, "a tenth lighter", &day);
    day = today;
    day.altitude_m += 3000.0 * UNITS_M_PER_FT;
    /* The same departure from the standard day up there. */
    day.temperature_k += flight_temperature_k(day.altitude_m) -
                         flight_temperature_k(today.altitude_m);
    add_other(plan, "3,000 ft higher", &day);
    day = today;
    day.temperature_k += 15.0;
    add_other(plan, "15 degrees warmer", &day);
}

static int check_wish(const struct brief_wish *wish, char *why, size_t size)
{
    const struct performance_conditions *day = &wish->conditions;

    if (!(wish->ground_m >= -500.0 && wish->ground_m <= 5000.0))
        return fail(why, size, "the ground lies between -1,600 and 16,000 ft");
    if (!isnan(day->altitude_m) &&
        !(day->altitude_m >= -500.0 && day->altitude_m <= 6000.0))
        return fail(why, size,
                    "the altitude is to be between -1,600 and 19,000 ft");
    if (!isnan(day->temperature_k) &&
        !(day->temperature_k >= 220.0 && day->temperature_k <= 330.0))
        return fail(why, size,
                    "the temperature is to be between -50 and 55 degC");
    if (!(day->wind_mps >= 0.0 && day->wind_mps <= 60.0))
        return fail(why, size, "the wind is to be between 0 and 115 kt");
    return 0;
}

static int check_weight(const struct flight_aircraft *aircraft,
                        double weight_kg, char *why, size_t size)
{
    double least_kg;

    if (performance_takes_weight(aircraft, weight_kg, &least_kg))
        return 0;
    (void)snprintf(
        why, size,
        "the weight is to be from %.0f to %.0f lb with this airplane",
        units_from_internal(UNIT_LB, least_kg),
        units_from_internal(UNIT_LB, aircraft->max_weight_kg));
    return ERR_RANGE;
}

int brief_make(const struct flight_aircraft *aircraft,
               const struct maneuver_standard *standard,
               const struct brief_wish *wish, struct brief_plan *out, char *why,
               size_t why_size)
{
    struct performance_conditions *day = &out->wish.conditions;
    int status = check_wish(wish, why, why_size);

    if (status != 0)
        return status;
    memset(out, 0, sizeof *out);
    out->aircraft = *aircraft;
    out->standard = *standard;
    out->wish = *wish;
    if (isnan(day->weight_kg))
        day->weight_kg = aircraft->weight_kg;
    status = check_weight(aircraft, day->weight_kg, why, why_size);
    if (status != 0)
        return status;
    plan_altitude(out);
    if (isnan(day->temperature_k))
        day->temperature_k = flight_temperature_k(day->altitude_m);
    out->density_altitude_m =
        flight_density_altitude_m(day->altitude_m, day->temperature_k);
    plan_speeds(out);
    out->ninety_rad =
        angle_wrap_circle(wish->heading_rad + wish->direction * UNITS_PI / 2.0);
    out->finish_rad = angle_wrap_circle(wish->heading_rad + UNITS_PI);
    if (performance_reference_make(aircraft, day, out->entry_mps,
                                   wish->direction, &out->line) != 0)
        return fail(why, why_size,
                    "this airplane cannot fly a chandelle at that weight, "
                    "altitude and temperature: it would end below its stall "
                    "speed");
    out->misses_finish = out->line.finish_cas_mps < out->stall_mps ||
                         out->line.finish_cas_mps > out->finish_most_mps;
    plan_wind(out);
    if (out->line.modelled)
        plan_others(out);
    return 0;
}
