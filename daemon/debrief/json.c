/* json.c - what event lines and whole attempts write alike. */
#include "json.h"

#include <math.h>

/* A written value does not depend on the last bit of a library's sine. */
json_t *json_number(double value, int decimals)
{
    double scale = pow(10.0, decimals);

    /* No minus zero, which would differ for nothing. */
    return isfinite(value) ? json_real(round(value * scale) / scale + 0.0)
                           : json_null();
}

void json_set_number(json_t *object, const char *name, double value,
                     int decimals)
{
    (void)json_object_set_new(object, name, json_number(value, decimals));
}

void json_set_text(json_t *object, const char *name, const char *text)
{
    (void)json_object_set_new(object, name, json_string(text));
}

static void set_lesson(json_t *row, const struct debrief_lesson *lesson)
{
    if (lesson == NULL)
        return;
    json_set_text(row, "error", lesson->error);
    json_set_text(row, "cause", lesson->cause);
    json_set_text(row, "next_time", lesson->next);
}

json_t *json_of_grade(const struct debrief_grade *grade)
{
    json_t *object = json_object();
    json_t *items = json_array();

    json_set_text(object, "standard", grade->standard);
    json_set_text(object, "verdict", debrief_verdict_name(grade->verdict));
    for (uint32_t i = 0; i < grade->item_count; i++) {
        const struct debrief_item *item = &grade->item[i];
        json_t *row = json_object();

        json_set_text(row, "item", item->item);
        json_set_number(row, "target", item->target, 1);
        json_set_number(row, "tolerance", item->tolerance, 1);
        json_set_number(row, "flown", item->flown, 1);
        json_set_text(row, "unit", item->unit);
        json_set_text(row, "verdict", debrief_verdict_name(item->verdict));
        json_set_text(row, "rule", debrief_rule_name(item->rule));
        json_set_number(row, "at_s", item->t_s, 1);
        json_set_number(row, "at_turn_deg", units_deg(item->turn_rad), 0);
        set_lesson(row, item->lesson);
        (void)json_array_append_new(items, row);
    }
    (void)json_object_set_new(object, "items", items);
    return object;
}

static void set_flight(json_t *object, const struct maneuver_event *event)
{
    json_set_text(object, "maneuver", maneuver_kind_name(event->maneuver));
    (void)json_object_set_new(object, "attempt",
                              event->attempt > 0
                                  ? json_integer((json_int_t)event->attempt)
                                  : json_null());
    json_set_text(object, "phase", maneuver_phase_name(event->phase));
    (void)json_object_set_new(
        object, "direction",
        event->direction == 0
            ? json_null()
            : json_string(event->direction > 0 ? "right" : "left"));
    json_set_number(object, "turn_deg", units_deg(event->turn_rad), 2);
    json_set_number(object, "heading_deg", units_deg(event->heading_rad), 2);
    json_set_number(object, "pitch_deg", units_deg(event->pitch_rad), 2);
    json_set_number(object, "bank_deg", units_deg(event->bank_rad), 2);
    json_set_number(object, "airspeed_kt", units_kt(event->cas_mps), 2);
    json_set_number(object, "altitude_ft", units_ft(event->altitude_m), 1);
    json_set_number(object, "stall_margin_kt",
                    units_kt(event->stall_margin_mps), 2);
}

static void set_lack(json_t *object, const struct maneuver_lack *lack)
{
    struct debrief_lack told;

    debrief_lack_of(lack, &told);
    json_set_text(object, "reason", told.reason);
    json_set_number(object, "flown", told.flown, 2);
    json_set_number(object, "least", told.least, 2);
    json_set_number(object, "most", told.most, 2);
    json_set_text(object, "unit", told.unit);
}

static void set_extra(json_t *object, const struct maneuver_event *event,
                      const struct debrief_grade *grade)
{
    double angle_deg = units_deg(event->angle_rad);

    switch (event->kind) {
    case EVENT_BANK_SET:
    case EVENT_BANK_DRIFT:
        json_set_number(object, "bank_error_deg", angle_deg, 2);
        break;
    case EVENT_MARK:
        (void)json_object_set_new(object, "mark_deg",
                                  json_integer(lround(angle_deg)));
        break;
    case EVENT_PITCH_LIMIT:
        json_set_number(object, "limit_deg", angle_deg, 2);
        break;
    case EVENT_PITCH_SAG:
    case EVENT_PITCH_RISE:
        json_set_number(object, "held_deg", angle_deg, 2);
        break;
    case EVENT_BALL:
        json_set_text(object, "side", event->side < 0 ? "left" : "right");
        break;
    case EVENT_ROLL_OUT_ADVICE:
        json_set_text(object, "advice", event->side > 0 ? "faster" : "slower");
        json_set_number(object, "predicted_error_deg", angle_deg, 1);
        break;
    case EVENT_NEAR_STALL:
        (void)json_object_set_new(object, "band", json_integer(event->band));
        break;
    case EVENT_WINGS_LEVEL:
        json_set_number(object, "heading_error_deg", angle_deg, 2);
        json_set_number(object, "altitude_gain_ft", units_ft(event->length_m),
                        1);
        break;
    case EVENT_HOLD_BROKEN:
        json_set_number(object, "deviation_ft", units_ft(event->length_m), 1);
        break;
    case EVENT_FINISHED:
        if (grade != NULL)
            (void)json_object_set_new(object, "grade", json_of_grade(grade));
        break;
    case EVENT_ABANDONED:
        json_set_text(object, "reason", maneuver_reason_text(event->reason));
        break;
    case EVENT_NOT_BEGUN: set_lack(object, &event->lack); break;
    case EVENT_READY:
    case EVENT_ENTRY:
    case EVENT_STALL:
    case EVENT_SIGNAL_LOST:
    case EVENT_SIGNAL_BACK:
    case EVENT_PAUSED:
    case EVENT_RESUMED:
    case EVENT_JUMPED:
    case EVENT_KIND_COUNT: break;
    }
}

void json_set_event(json_t *object, const struct maneuver_event *event,
                    const struct debrief_grade *grade)
{
    json_set_text(object, "event", maneuver_event_name(event->kind));
    if (!maneuver_event_is_flight(event->kind))
        return;
    set_flight(object, event);
    set_extra(object, event, grade);
}
