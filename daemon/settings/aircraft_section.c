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
};

/* A value that fits alone but not beside another. */
static int fail_pair(cfg_t *section, const char *name, const char *message,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    int line = value == NULL ? reader_line(section) : value->line;

    return reader_fail(why, section, line, "%s %s", name, message);
}

int section_read_aircraft(cfg_t *section, struct flight_aircraft *out,
                          const struct reader_why *why)
{
    int status = section_read_name(section, out->name, sizeof out->name, why);

    out->weight_kg = NAN;
    out->stall_angle_of_attack_rad = NAN;
    if (status == 0)
        status = reader_quantities(
            section, row_of_option,
            sizeof row_of_option / sizeof row_of_option[0], out, why);
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
    return 0;
}
