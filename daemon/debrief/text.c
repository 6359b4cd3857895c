/* text.c - events as a person reads them. */
#include <math.h>
#include <stdio.h>

#include "quarterturn/debrief.h"

static const char *side(int direction)
{
    return direction > 0 ? "right" : "left";
}

static void level_text(const struct maneuver_event *event, char *out,
                       size_t size)
{
    int used = snprintf(out, size, "wings level: heading %+.1f deg",
                        units_deg(event->angle_rad));

    if (used > 0 && (size_t)used < size && !isnan(event->length_m))
        used += snprintf(out + used, size - (size_t)used, ", gained %.0f ft",
                         units_ft(event->length_m));
    if (used > 0 && (size_t)used < size && !isnan(event->stall_margin_mps))
        (void)snprintf(out + used, size - (size_t)used, ", %.1f kt above stall",
                       units_kt(event->stall_margin_mps));
}

static void not_begun_text(const struct maneuver_event *event, char *out,
                           size_t size)
{
    char why[DEBRIEF_LACK_SIZE];

    debrief_lack_text(&event->lack, true, why);
    (void)snprintf(out, size, "not begun: %s", why);
}

void debrief_event_text(const struct maneuver_event *event, char *out,
                        size_t size)
{
    double angle_deg = units_deg(event->angle_rad);

    out[0] = '\0';
    switch (event->kind) {
    case EVENT_READY:
        (void)snprintf(out, size, "ready: steady at %.0f kt",
                       units_kt(event->cas_mps));
        break;
    case EVENT_ENTRY:
        (void)snprintf(out, size, "attempt %u: %s, from heading %.0f",
                       event->attempt, side(event->direction),
                       units_deg(event->heading_rad));
        break;
    case EVENT_BANK_SET:
        (void)snprintf(out, size, "bank set: %.1f deg",
                       fabs(units_deg(event->bank_rad)));
        break;
    case EVENT_MARK:
        (void)snprintf(out, size, "%.0f deg turned: pitch %.1f deg, %.0f kt",
                       angle_deg, units_deg(event->pitch_rad),
                       units_kt(event->cas_mps));
        break;
    case EVENT_WINGS_LEVEL: level_text(event, out, size); break;
    case EVENT_STALL: (void)snprintf(out, size, "stalled"); break;
    case EVENT_HOLD_BROKEN:
        (void)snprintf(out, size, "altitude left its band: %+.0f ft",
                       units_ft(event->length_m));
        break;
    case EVENT_FINISHED: (void)snprintf(out, size, "attempt over"); break;
    case EVENT_ABANDONED:
        (void)snprintf(out, size, "attempt given up: %s",
                       maneuver_reason_text(event->reason));
        break;
    case EVENT_NOT_BEGUN: not_begun_text(event, out, size); break;
    case EVENT_SIGNAL_LOST: (void)snprintf(out, size, "signal lost"); break;
    case EVENT_SIGNAL_BACK: (void)snprintf(out, size, "signal back"); break;
    case EVENT_PAUSED: (void)snprintf(out, size, "simulator paused"); break;
    case EVENT_RESUMED: (void)snprintf(out, size, "simulator resumed"); break;
    case EVENT_JUMPED: (void)snprintf(out, size, "simulator jumped"); break;
    case EVENT_NEAR_STALL:
        if (event->band == 0)
            (void)snprintf(out, size, "clear of the stall");
        else
            (void)snprintf(out, size, "near stall: %.0f kt left (tone)",
                           units_kt(event->stall_margin_mps));
        break;
    case EVENT_PITCH_LIMIT:
    case EVENT_PITCH_SAG:
    case EVENT_PITCH_RISE:
    case EVENT_BANK_DRIFT:
    case EVENT_BALL:
    case EVENT_ROLL_OUT_ADVICE: /* the call says it */
    case EVENT_KIND_COUNT: break;
    }
}
