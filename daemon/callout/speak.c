/* speak.c - numbers, and results in one sentence. */
#include "speak.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/error.h"

/* Clips of a whole number below 1000, appended from *count on. */
static void say_hundreds(long number, enum callout_clip *clips, uint32_t *count)
{
    if (number >= 100) {
        clips[(*count)++] = (enum callout_clip)(CLIP_0 + number / 100);
        clips[(*count)++] = CLIP_HUNDRED;
        number %= 100;
        if (number == 0)
            return;
    }
    if (number <= 20) {
        clips[(*count)++] = (enum callout_clip)(CLIP_0 + number);
        return;
    }
    clips[(*count)++] = (enum callout_clip)(CLIP_20 + number / 10 - 2);
    if (number % 10 > 0)
        clips[(*count)++] = (enum callout_clip)(CLIP_0 + number % 10);
}

int callout_say_number(long number, enum callout_clip *clips, uint32_t *count,
                       uint32_t size)
{
    enum callout_clip said[12];
    uint32_t n = 0;

    if (number < 0 || number > 9999)
        return ERR_RANGE;
    if (number >= 1000) {
        say_hundreds(number / 1000, said, &n);
        said[n++] = CLIP_THOUSAND;
        number %= 1000;
        if (number > 0)
            say_hundreds(number, said, &n);
    } else {
        say_hundreds(number, said, &n);
    }
    if (*count > size || size - *count < n)
        return ERR_FULL;
    memcpy(clips + *count, said, n * sizeof said[0]);
    *count += n;
    return 0;
}

/* Append clips [from, call->clip_count) as one more part of the text. */
static void add_part(struct callout_call *call, uint32_t from)
{
    char part[CALLOUT_TEXT_SIZE];
    size_t used = strlen(call->text);

    callout_clips_text(call->clip + from, call->clip_count - from, part,
                       sizeof part);
    (void)snprintf(call->text + used, sizeof call->text - used, "%s%s",
                   used > 0 ? "; " : "", part);
}

static bool add_number(struct callout_call *call, long number)
{
    return callout_say_number(number, call->clip, &call->clip_count,
                              CALLOUT_MAX_CLIPS - 1) == 0;
}

static void add_clip(struct callout_call *call, enum callout_clip clip)
{
    if (call->clip_count < CALLOUT_MAX_CLIPS)
        call->clip[call->clip_count++] = clip;
}

void speak_result(const struct maneuver_event *event, struct callout_call *call)
{
    long error_deg = lround(units_deg(event->angle_rad));
    uint32_t from = call->clip_count;

    add_clip(call, CLIP_HEADING);
    if (error_deg != 0)
        add_clip(call, error_deg > 0 ? CLIP_PLUS : CLIP_MINUS);
    if (add_number(call, labs(error_deg)))
        add_part(call, from);
    if (!isnan(event->length_m)) {
        /* To the nearest fifty: more would take longer to say than it is
         * worth; the written result has it exactly. */
        long gain_ft = 50 * lround(units_ft(event->length_m) / 50.0);

        from = call->clip_count;
        add_clip(call, gain_ft >= 0 ? CLIP_GAINED : CLIP_LOST);
        if (add_number(call, labs(gain_ft))) {
            add_clip(call, CLIP_FEET);
            add_part(call, from);
        } else {
            call->clip_count = from;
        }
    }
    if (!isnan(event->stall_margin_mps)) {
        long margin_kt = lround(fmax(0.0, units_kt(event->stall_margin_mps)));

        from = call->clip_count;
        if (add_number(call, margin_kt)) {
            add_clip(call, CLIP_ABOVE_THE_STALL);
            add_part(call, from);
        }
    }
}
