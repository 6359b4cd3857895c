/* rehearse_truth.c - the truth about a rehearsal, for a file and for people. */
#include "rehearse_truth.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>

#include "quarterturn/error.h"
#include "targets.h"

static void set_real(json_t *object, const char *name, double value)
{
    (void)json_object_set_new(object, name,
                              isfinite(value) ? json_real(value) : json_null());
}

static json_t *marks_of(const struct rehearse_truth *truth)
{
    json_t *marks = json_array();

    for (int i = 0; i < REHEARSE_MARKS; i++) {
        json_t *mark = json_object();

        set_real(mark, "mark_deg", units_deg(rehearse_mark_rad[i]));
        set_real(mark, "t", truth->mark_s[i]);
        (void)json_array_append_new(marks, mark);
    }
    return marks;
}

static json_t *planted_in(const struct rehearse_plan *plan)
{
    json_t *planted = json_array();

    for (int i = 0; i < REHEARSE_ERRORS; i++) {
        const struct rehearse_error_about *about =
            rehearse_error_about((enum rehearse_error)i);
        json_t *error;

        if (plan->size[i] <= 0.0)
            continue;
        error = json_object();
        (void)json_object_set_new(error, "error", json_string(about->name));
        set_real(error, "size",
                 units_from_internal(about->unit, plan->size[i]));
        (void)json_object_set_new(error, "unit",
                                  json_string(units_name(about->unit)));
        (void)json_object_set_new(error, "item",
                                  about->item != NULL ? json_string(about->item)
                                                      : json_null());
        (void)json_array_append_new(planted, error);
    }
    return planted;
}

static json_t *level_of(const struct rehearse_truth *truth)
{
    json_t *level;

    if (isnan(truth->level_s))
        return json_null();
    level = json_object();
    set_real(level, "t", truth->level_s);
    set_real(level, "heading_error_deg", units_deg(truth->heading_error_rad));
    set_real(level, "altitude_gain_ft", units_ft(truth->gain_m));
    set_real(level, "airspeed_kt", units_kt(truth->finish_cas_mps));
    set_real(level, "stall_margin_kt", units_kt(truth->finish_margin_mps));
    set_real(level, "hold_low_ft", units_ft(truth->hold_low_m));
    set_real(level, "hold_high_ft", units_ft(truth->hold_high_m));
    return level;
}

static json_t *truth_of(const struct rehearse *rehearse)
{
    const struct rehearse_plan *plan = &rehearse->plan;
    const struct rehearse_truth *truth = &rehearse->truth;
    json_t *object = json_object();
    json_t *entry = json_object();

    (void)json_object_set_new(object, "aircraft",
                              json_string(plan->aircraft.name));
    (void)json_object_set_new(
        object, "direction",
        json_string(plan->direction < 0 ? "left" : "right"));
    (void)json_object_set_new(object, "seed",
                              json_integer((json_int_t)plan->seed));
    set_real(object, "weight_lb",
             units_from_internal(UNIT_LB, rehearse->model.mass_kg));
    set_real(object, "turbulence_kt", units_kt(plan->gusts_mps));
    set_real(object, "unsteady", plan->hand);
    set_real(entry, "t", truth->entry_s);
    set_real(entry, "heading_deg",
             units_deg(angle_wrap_circle(truth->entry_heading_rad)));
    set_real(entry, "airspeed_kt", units_kt(truth->entry_cas_mps));
    set_real(entry, "altitude_ft", units_ft(truth->entry_altitude_m));
    (void)json_object_set_new(object, "entry", entry);
    (void)json_object_set_new(object, "marks", marks_of(truth));
    (void)json_object_set_new(object, "wings_level", level_of(truth));
    set_real(object, "stall_t", truth->stall_s);
    set_real(object, "given_up_t", truth->given_up_s);
    set_real(object, "pitch_highest_deg", units_deg(truth->pitch_highest_rad));
    set_real(object, "ninety_airspeed_kt", units_kt(truth->ninety_cas_mps));
    set_real(object, "least_margin_kt", units_kt(truth->least_margin_mps));
    (void)json_object_set_new(object, "planted", planted_in(plan));
    return object;
}

int rehearse_truth_write(const char *path, const struct rehearse *rehearse)
{
    const size_t flags = JSON_INDENT(2) | JSON_REAL_PRECISION(10);
    json_t *object = truth_of(rehearse);
    int status;
    int why;

    if (targets_is_output(path)) {
        status = json_dumpf(object, stdout, flags);
        if (printf("\n") < 0 || fflush(stdout) != 0)
            status = -1;
    } else {
        status = json_dump_file(object, path, flags);
    }
    why = errno;
    json_decref(object);
    errno = why;
    return status == 0 ? 0 : ERR_IO;
}

void rehearse_truth_print(const struct rehearse *rehearse)
{
    const struct rehearse_truth *truth = &rehearse->truth;

    if (!isnan(truth->level_s))
        (void)printf("flown: heading %+.1f deg at wings level, gained %.0f "
                     "ft, %.1f kt above the stall\n",
                     units_deg(truth->heading_error_rad),
                     units_ft(truth->gain_m),
                     units_kt(truth->finish_margin_mps));
    else if (!isnan(truth->stall_s))
        (void)printf("flown: stalled at %.1f s\n", truth->stall_s);
    else
        (void)printf("flown: given up\n");
}
