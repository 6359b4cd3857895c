/* json.h - what event lines and whole attempts write alike. Private. */
#ifndef DEBRIEF_JSON_H
#define DEBRIEF_JSON_H

#include <jansson.h>

#include "quarterturn/debrief.h"

/* A number rounded to what it means; null for NaN. */
json_t *json_number(double value, int decimals);
/* Set a member, rounded to what it means; NaN becomes null. */
void json_set_number(json_t *object, const char *name, double value,
                     int decimals);
void json_set_text(json_t *object, const char *name, const char *text);
json_t *json_of_grade(const struct debrief_grade *grade);
/* Set what an event is and tells, without its time. grade: set in a
 * "finished", or NULL. */
void json_set_event(json_t *object, const struct maneuver_event *event,
                    const struct debrief_grade *grade);

#endif
