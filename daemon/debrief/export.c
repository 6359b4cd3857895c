/* export.c - an attempt for other programs: the series as CSV, all as JSON. */
#include <math.h>
#include <stdio.h>

#include "json.h"
#include "quarterturn/error.h"
#include "series.h"

/* ---- CSV ---------------------------------------------------------------- */

static void write_number(FILE *file, double value, int decimals)
{
    double scale = pow(10.0, decimals);

    /* No minus in front of a nought. */
    (void)fprintf(file, "%.*f", decimals, round(value * scale) / scale + 0.0);
}

/* RFC 4180: fields between commas, lines ended by CR LF, a header line. No
 * field here needs quotes. What is not known is left empty. */
int debrief_series_write(FILE *file, const struct debrief_attempt *attempt)
{
    for (int i = 0; i < SERIES_COLUMNS; i++)
        (void)fprintf(file, "%s%s (%s)", i > 0 ? "," : "",
                      series_column[i].name, units_name(series_column[i].unit));
    (void)fputs("\r\n", file);
    for (uint32_t k = 0; k < attempt->point_count; k++) {
        for (int i = 0; i < SERIES_COLUMNS; i++) {
            double value = units_from_internal(
                series_column[i].unit, series_value(&attempt->point[k], i));

            if (i > 0)
                (void)fputc(',', file);
            if (isfinite(value))
                write_number(file, value, series_column[i].decimals);
        }
        (void)fputs("\r\n", file);
    }
    return ferror(file) ? ERR_IO : 0;
}

/* ---- what happened ------------------------------------------------------ */

static json_t *json_at(double t_s, double turn_rad)
{
    json_t *row = json_object();

    json_set_number(row, "at_s", t_s, 2);
    json_set_number(row, "at_turn_deg", units_deg(turn_rad), 1);
    return row;
}

static json_t *json_of_events(const struct debrief_attempt *attempt)
{
    json_t *events = json_array();

    for (uint32_t i = 0; i < attempt->event_count; i++) {
        json_t *row = json_object();

        json_set_number(row, "at_s", attempt->event[i].t_s, 2);
        json_set_event(row, &attempt->event[i].event, NULL);
        (void)json_array_append_new(events, row);
    }
    return events;
}

static json_t *json_of_calls(const struct debrief_attempt *attempt)
{
    json_t *calls = json_array();

    for (uint32_t i = 0; i < attempt->call_count; i++) {
        const struct debrief_call *call = &attempt->call[i];
        json_t *row = json_at(call->onset_s, call->turn_rad);

        json_set_number(row, "moment_s", call->moment_s, 2);
        json_set_text(row, "cue", callout_cue_info(call->cue)->name);
        json_set_text(row, "rank", callout_rank_name(call->rank));
        json_set_text(row, "text", call->text);
        (void)json_array_append_new(calls, row);
    }
    return calls;
}

static json_t *json_of_notes(const struct debrief_attempt *attempt)
{
    json_t *notes = json_array();

    for (uint32_t i = 0; i < attempt->note_count; i++) {
        json_t *row = json_at(attempt->note[i].t_s, attempt->note[i].turn_rad);

        json_set_text(row, "text", attempt->note[i].text);
        (void)json_array_append_new(notes, row);
    }
    return notes;
}

/* ---- the line to compare with, and the series --------------------------- */

static void append(json_t *object, const char *name, double value, int decimals)
{
    json_t *values = json_object_get(object, name);

    if (values == NULL) {
        values = json_array();
        (void)json_object_set_new(object, name, values);
    }
    (void)json_array_append_new(values, json_number(value, decimals));
}

/* Named as the columns of the series; bank positive whichever way. */
static json_t *json_of_reference(const struct debrief_attempt *attempt)
{
    const struct performance_reference *reference = &attempt->reference;
    json_t *object;

    if (!attempt->has_reference)
        return json_null();
    object = json_object();
    (void)json_object_set_new(object, "modelled",
                              json_boolean(reference->modelled));
    json_set_number(object, "gain_ft", units_ft(reference->gain_m), 0);
    for (uint32_t i = 0; i < reference->count; i++) {
        const struct performance_reference_point *at = &reference->point[i];

        append(object, "time (s)", at->t_s, 2);
        append(object, "turn (deg)", units_deg(at->turn_rad), 2);
        append(object, "bank (deg)", units_deg(at->bank_rad), 2);
        append(object, "pitch (deg)", units_deg(at->pitch_rad), 2);
        append(object, "airspeed (kt)", units_kt(at->cas_mps), 2);
        append(object, "gain (ft)", units_ft(at->gain_m), 1);
    }
    return object;
}

static json_t *json_of_series(const struct debrief_attempt *attempt)
{
    json_t *series = json_object();

    for (int i = 0; i < SERIES_COLUMNS; i++) {
        json_t *values = json_array();
        char name[64];

        for (uint32_t k = 0; k < attempt->point_count; k++)
            (void)json_array_append_new(
                values, json_number(units_from_internal(
                                        series_column[i].unit,
                                        series_value(&attempt->point[k], i)),
                                    series_column[i].decimals));
        (void)snprintf(name, sizeof name, "%s (%s)", series_column[i].name,
                       units_name(series_column[i].unit));
        (void)json_object_set_new(series, name, values);
    }
    return series;
}

int debrief_attempt_write_json(FILE *file,
                               const struct debrief_attempt *attempt)
{
    json_t *object = json_object();
    int error;

    (void)json_object_set_new(object, "attempt",
                              json_integer((json_int_t)attempt->number));
    json_set_text(object, "maneuver", maneuver_kind_name(attempt->maneuver));
    json_set_text(object, "direction",
                  attempt->direction > 0 ? "right" : "left");
    json_set_text(object, "aircraft", attempt->aircraft.name);
    json_set_text(object, "person", attempt->person);
    json_set_number(object, "begun_unix_s",
                    (double)attempt->begun_unix_ns * 1e-9, 3);
    json_set_text(object, "ending", debrief_ending_name(attempt->ending));
    if (attempt->ending == ENDING_ABANDONED)
        json_set_text(object, "reason", maneuver_reason_text(attempt->reason));
    json_set_number(object, "ended_s", attempt->ended_s, 2);
    json_set_number(object, "ninety_s", attempt->ninety_s, 2);
    json_set_number(object, "level_s", attempt->level_s, 2);
    json_set_text(object, "track",
                  attempt->positions_sent ? "positions" : "dead reckoned");
    (void)json_object_set_new(object, "grade", json_of_grade(&attempt->grade));
    (void)json_object_set_new(object, "events", json_of_events(attempt));
    (void)json_object_set_new(object, "calls", json_of_calls(attempt));
    (void)json_object_set_new(object, "notes", json_of_notes(attempt));
    (void)json_object_set_new(object, "reference", json_of_reference(attempt));
    (void)json_object_set_new(object, "series", json_of_series(attempt));
    error = json_dumpf(object, file, JSON_COMPACT | JSON_REAL_PRECISION(15));
    json_decref(object);
    if (error != 0 || fputc('\n', file) < 0)
        return ERR_IO;
    return 0;
}
