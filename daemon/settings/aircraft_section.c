/* aircraft_section.c - the airplane's figures. */
#include <math.h>
#include <stddef.h>

#include "quarterturn/error.h"
#include "sections.h"

/* The bounds keep slips of the pen out, from a motor glider to a fast twin;
 * ours, no source. */
static const struct reader_quantity row_of_option[] = {
    {"stall_speed", UNIT_KT, true, 15.0, 200.0,
     offsetof(struct flight_aircraft, stall_speed_mps)},
    {"stall_weight", UNIT_LB, true, 200.0, 100000.0,
     offsetof(struct flight_aircraft, stall_weight_kg)},
    {"weight", UNIT_LB, false, 200.0, 100000.0,
     offsetof(struct flight_aircraft, weight_kg)},
    {"maneuvering_speed", UNIT_KT, true, 20.0, 400.0,
     offsetof(struct flight_aircraft, maneuvering_speed_mps)},
    {"max_weight", UNIT_LB, true, 200.0, 100000.0,
     offsetof(struct flight_aircraft, max_weight_kg)},
    {"entry_speed", UNIT_KT, true, 20.0, 400.0,
     offsetof(struct flight_aircraft, entry_speed_mps)},
    {"pitch_limit", UNIT_DEG, true, 5.0, 45.0,
     offsetof(struct flight_aircraft, pitch_limit_rad)},
    {"stall_angle_of_attack", UNIT_DEG, false, 5.0, 45.0,
     offsetof(struct flight_aircraft, stall_angle_of_attack_rad)},
    {"wing_area", UNIT_FT2, false, 30.0, 1000.0,
     offsetof(struct flight_aircraft, performance.wing_area_m2)},
    {"wing_span", UNIT_FT, false, 10.0, 150.0,
     offsetof(struct flight_aircraft, performance.wing_span_m)},
    {"engine_power", UNIT_HP, false, 20.0, 3000.0,
     offsetof(struct flight_aircraft, performance.engine_power_w)},
    {"propeller_diameter", UNIT_FT, false, 2.0, 15.0,
     offsetof(struct flight_aircraft, performance.propeller_diameter_m)},
    {"cruise_speed", UNIT_KT, false, 30.0, 400.0,
     offsetof(struct flight_aircraft, performance.cruise_speed_mps)},
    {"cruise_power", UNIT_PERCENT, false, 30.0, 100.0,
     offsetof(struct flight_aircraft, performance.cruise_power)},
    {"cruise_altitude", UNIT_FT, false, 0.0, 20000.0,
     offsetof(struct flight_aircraft, performance.cruise_altitude_m)},
    {"climb_rate", UNIT_FT_PER_MIN, false, 100.0, 6000.0,
     offsetof(struct flight_aircraft, performance.climb_rate_mps)},
    {"climb_speed", UNIT_KT, false, 20.0, 250.0,
     offsetof(struct flight_aircraft, performance.climb_speed_mps)},
};

/* A value that fits alone but not beside another. */
static int fail_pair(cfg_t *section, const char *name, const char *message,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    struct place at = value == NULL ? reader_place(section) : value->at;

    return reader_fail(why, section, at, "%s %s", name, message);
}

static int read_propeller(cfg_t *section, struct performance_figures *out,
                          const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "propeller");

    if (value == NULL ||
        performance_propeller_find(value->text, &out->propeller) == 0)
        return 0;
    return reader_fail(why, section, value->at,
                       "propeller = \"%s\"; accepted: %s, %s", value->text,
                       performance_propeller_name(PROPELLER_FIXED),
                       performance_propeller_name(PROPELLER_CONSTANT_SPEED));
}

/* What an airplane's section that tells no performance leaves. */
static const struct performance_figures not_told = {.wing_area_m2 = NAN,
                                                    .wing_span_m = NAN,
                                                    .engine_power_w = NAN,
                                                    .propeller =
                                                        PROPELLER_UNKNOWN,
                                                    .propeller_diameter_m = NAN,
                                                    .cruise_speed_mps = NAN,
                                                    .cruise_power = NAN,
                                                    .cruise_altitude_m = NAN,
                                                    .climb_rate_mps = NAN,
                                                    .climb_speed_mps = NAN};

int section_read_aircraft(cfg_t *section, struct flight_aircraft *out,
                          const struct reader_why *why)
{
    const struct performance_conditions any_day = {.weight_kg = NAN,
                                                   .temperature_k = NAN};
    struct performance_model model;
    int status = section_read_name(section, out->name, sizeof out->name, why);

    out->weight_kg = NAN;
    out->stall_angle_of_attack_rad = NAN;
    out->performance = not_told;
    if (status == 0)
        status = reader_quantities(
            section, row_of_option,
            sizeof row_of_option / sizeof row_of_option[0], out, why);
    if (status == 0)
        status = read_propeller(section, &out->performance, why);
    if (status != 0)
        return status;
    if (isnan(out->weight_kg))
        out->weight_kg = out->stall_weight_kg;
    if (out->weight_kg > out->max_weight_kg)
        return fail_pair(section, "weight", "must not exceed max_weight", why);
    if (out->stall_weight_kg > out->max_weight_kg)
        return fail_pair(section, "stall_weight", "must not exceed max_weight",
                         why);
    if (out->maneuvering_speed_mps <= out->stall_speed_mps)
        return fail_pair(section, "maneuvering_speed",
                         "must be above stall_speed", why);
    if (out->entry_speed_mps <= out->stall_speed_mps)
        return fail_pair(section, "entry_speed", "must be above stall_speed",
                         why);
    if (performance_model_make(out, &any_day, &model) == ERR_RANGE)
        return fail_pair(section, "climb_rate",
                         "does not go with the cruise: no drag and no "
                         "propeller give both with this engine",
                         why);
    return 0;
}
