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
