/* rehearse_form.c - what a layout cannot carry of a rehearsal. */
#include "rehearse_form.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "needs.h"
#include "quarterturn/log.h"

/* Names of what is missing, one behind the other. */
struct list {
    char text[200];
    size_t used;
};

/* text: "load factor: taken from the flight path"; its beginning counts. */
static void add_to_list(void *context, const char *text, bool required)
{
    struct list *list = context;
    int more;

    (void)required;
    more = snprintf(list->text + list->used, sizeof list->text - list->used,
                    "%s%.*s", list->used > 0 ? "; " : "",
                    (int)strcspn(text, ":"), text);
    if (more > 0 && (size_t)more < sizeof list->text - list->used)
        list->used += (size_t)more;
}

/* Whether the speed over ground, taken through the standard atmosphere, is
 * the airspeed. */
static bool is_still_standard_air(const struct rehearse_plan *plan)
{
    const struct performance_conditions *day = &plan->conditions;
    double usual_k = flight_temperature_k(day->altitude_m);

    return day->wind_mps == 0.0 && plan->gusts_mps == 0.0 &&
           (isnan(day->temperature_k) ||
            fabs(day->temperature_k - usual_k) < 0.5);
}

void rehearse_form_tell(const struct intake_layout *layout,
                        const struct rehearse_plan *plan, double speed)
{
    uint32_t channels = intake_layout_channels(layout);
    struct list list = {.used = 0};

    (void)needs_tell_missing(channels, add_to_list, &list);
    if (list.used > 0)
        log_line(LOG_LEVEL_NOTE, "layout \"%s\" does not carry: %s",
                 layout->name, list.text);
    if (layout->form == INTAKE_FORM_DIS && layout->still_air &&
        !is_still_standard_air(plan))
        log_line(LOG_LEVEL_NOTE,
                 "layout \"%s\" carries no airspeed: who listens takes the "
                 "speed over ground for it, and wind, gusts and temperature "
                 "make that wrong",
                 layout->name);
    if ((channels & CHANNEL_BIT(CHANNEL_SIM_TIME)) == 0 && speed != 1.0)
        log_line(LOG_LEVEL_NOTE,
                 "layout \"%s\" carries no time: who listens takes this for a "
                 "flight %g times as fast",
                 layout->name, speed);
}
