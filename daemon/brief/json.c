/* json.c - the plan as one JSON object. */
#include <jansson.h>
#include <math.h>

#include "quarterturn/brief.h"
#include "quarterturn/error.h"

/* Two decimals are more than any of these figures is good for; null is not
 * known. */
static json_t *number(double value)
{
    return isfinite(value) ? json_real(round(value * 100.0) / 100.0)
                           : json_null();
}

static json_t *speeds(const struct brief_plan *plan)
{
    static const char *const by[] = {[ENTRY_CONFIGURED] = "configured",
                                     [ENTRY_MANEUVERING] = "maneuvering",
                                     [ENTRY_CRUISE] = "cruise"};

    return json_pack("{s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:b}",
                     "entry_kt", number(units_kt(plan->entry_mps)), "entry_by",
                     by[plan->entry_by], "maneuvering_kt",
                     number(units_kt(plan->maneuvering_mps)), "cruise_kt",
                     number(units_kt(plan->cruise_mps)), "stall_kt",
                     number(units_kt(plan->stall_mps)), "stall_in_turn_kt",
                     number(units_kt(plan->turn_stall_mps)), "finish_most_kt",
                     number(units_kt(plan->finish_most_mps)), "finish_aim_kt",
                     number(units_kt(plan->line.finish_cas_mps)),
                     "aim_in_standard", !plan->misses_finish);
}

static json_t *headings(const struct brief_plan *plan)
{
    return json_pack("{s:o, s:o, s:o}", "entry_deg",
                     number(units_deg(plan->wish.heading_rad)), "ninety_deg",
                     number(units_deg(plan->ninety_rad)), "finish_deg",
                     number(units_deg(plan->finish_rad)));
}

static json_t *line(const struct brief_plan *plan)
{
    const struct performance_reference *ideal = &plan->line;
    json_t *points = json_array();

    for (uint32_t i = 0; points != NULL && i < ideal->count; i++) {
        const struct performance_reference_point *point = &ideal->point[i];

        if (json_array_append_new(
                points,
                json_pack("{s:o, s:o, s:o, s:o, s:o, s:o}", "turn_deg",
                          number(units_deg(point->turn_rad)), "t_s",
                          number(point->t_s), "bank_deg",
                          number(units_deg(point->bank_rad)), "pitch_deg",
                          number(units_deg(point->pitch_rad)), "airspeed_kt",
                          number(units_kt(point->cas_mps)), "gain_ft",
                          number(units_ft(point->gain_m)))) != 0) {
            json_decref(points);
            return NULL;
        }
    }
    return json_pack(
        "{s:b, s:o, s:o, s:o, s:o, s:o, s:o, s:o}", "modelled", ideal->modelled,
        "first_half_s", number(ideal->t_90_s), "total_s",
        number(ideal->t_180_s), "roll_out_rate_deg_per_s",
        number(units_deg(ideal->roll_out_rate_radps)), "pitch_deg",
        number(units_deg(ideal->finish_pitch_rad)), "gain_ft",
        number(units_ft(ideal->gain_m)), "gain_from_speed_ft",
        number(units_ft(ideal->gain_from_speed_m)), "points", points);
}

static json_t *others(const struct brief_plan *plan)
{
    json_t *list = json_array();

    for (uint32_t i = 0; list != NULL && i < plan->other_count; i++)
        if (json_array_append_new(
                list,
                json_pack("{s:s, s:o}", "what", plan->other[i].what, "gain_ft",
                          number(units_ft(plan->other[i].gain_m)))) != 0) {
            json_decref(list);
            return NULL;
        }
    return list;
}

static json_t *day(const struct brief_plan *plan)
{
    const struct performance_conditions *conditions = &plan->wish.conditions;

    return json_pack(
        "{s:o, s:o, s:o, s:b, s:o, s:o, s:o, s:o, s:o}", "altitude_ft",
        number(units_ft(conditions->altitude_m)), "least_altitude_ft",
        number(units_ft(plan->least_altitude_m)), "ground_ft",
        number(units_ft(plan->wish.ground_m)), "too_low", plan->below_height,
        "temperature_degC",
        number(units_from_internal(UNIT_DEG_C, conditions->temperature_k)),
        "density_altitude_ft", number(units_ft(plan->density_altitude_m)),
        "wind_kt", number(units_kt(conditions->wind_mps)), "wind_from_deg",
        number(units_deg(conditions->wind_from_rad)), "drift_m",
        number(plan->drift_m));
}

int brief_write_json(FILE *file, const struct brief_plan *plan)
{
    json_t *root = json_pack(
        "{s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:s}",
        "maneuver", "chandelle", "direction",
        plan->wish.direction > 0 ? "right" : "left", "aircraft",
        plan->aircraft.name, "standard", plan->standard.name, "weight_lb",
        number(units_from_internal(UNIT_LB, plan->wish.conditions.weight_kg)),
        "load_factor", number(plan->load_factor), "day", day(plan), "speeds",
        speeds(plan), "headings", headings(plan), "line", line(plan), "gain_if",
        others(plan), "caution",
        "For simulator practice only. The airplane's own handbook, the "
        "current standards, local rules and a licensed instructor come "
        "first.");
    int status;

    if (root == NULL)
        return ERR_NO_MEMORY;
    status = json_dumpf(root, file, JSON_INDENT(2) | JSON_REAL_PRECISION(7));
    json_decref(root);
    if (status != 0 || fputc('\n', file) == EOF || fflush(file) != 0)
        return ERR_IO;
    return 0;
}
