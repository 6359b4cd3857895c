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

static void say_grouped(long number, enum callout_clip *clips, uint32_t *count)
{
    if (number >= 1000) {
        say_hundreds(number / 1000, clips, count);
        clips[(*count)++] = CLIP_THOUSAND;
        number %= 1000;
        if (number == 0)
            return;
    }
    say_hundreds(number, clips, count);
}

/* Source: ICAO Annex 10, Volume II, 5.2.1.4.1 (from memory): each digit of
 * its own, but whole hundreds and thousands by their words. */
static void say_digits(long number, enum callout_clip *clips, uint32_t *count)
{
    long unit = 1000;

    if (number >= 100 && number % 100 == 0) {
        say_grouped(number, clips, count);
        return;
    }
    while (unit > 1 && number < unit)
        unit /= 10;
    for (; unit > 0; unit /= 10)
        clips[(*count)++] = (enum callout_clip)(CLIP_0 + number / unit % 10);
}

int callout_say_number(long number, enum callout_numbers style,
                       enum callout_clip *clips, uint32_t *count, uint32_t size)
{
    enum callout_clip said[12];
    uint32_t n = 0;

    if (number < 0 || number > 9999)
        return ERR_RANGE;
    if (style == NUMBERS_DIGITS)
        say_digits(number, said, &n);
    else
        say_grouped(number, said, &n);
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

static bool add_number(struct callout_call *call, enum callout_numbers style,
                       long number)
{
    return callout_say_number(number, style, call->clip, &call->clip_count,
                              CALLOUT_MAX_CLIPS - 1) == 0;
}

static void add_clip(struct callout_call *call, enum callout_clip clip)
{
    if (call->clip_count < CALLOUT_MAX_CLIPS)
        call->clip[call->clip_count++] = clip;
}

void speak_result(const struct maneuver_event *event,
                  enum callout_numbers style, struct callout_call *call)
{
    long error_deg = lround(units_deg(event->angle_rad));
    uint32_t from = call->clip_count;

    add_clip(call, CLIP_HEADING);
    if (error_deg != 0)
        add_clip(call, error_deg > 0 ? CLIP_PLUS : CLIP_MINUS);
    if (add_number(call, style, labs(error_deg)))
        add_part(call, from);
    if (!isnan(event->length_m)) {
        /* To the nearest fifty: more would take longer to say than it is
         * worth; the written result has it exactly. */
        long gain_ft = 50 * lround(units_ft(event->length_m) / 50.0);

        from = call->clip_count;
        add_clip(call, gain_ft >= 0 ? CLIP_GAINED : CLIP_LOST);
        if (add_number(call, style, labs(gain_ft))) {
            add_clip(call, CLIP_FEET);
            add_part(call, from);
        } else {
            call->clip_count = from;
        }
    }
    if (!isnan(event->stall_margin_mps)) {
        long margin_kt = lround(fmax(0.0, units_kt(event->stall_margin_mps)));

        from = call->clip_count;
        if (add_number(call, style, margin_kt)) {
            add_clip(call, CLIP_ABOVE_THE_STALL);
            add_part(call, from);
        }
    }
}

void speak_verdict(bool in_standard, enum callout_clip next,
                   struct callout_call *call)
{
    call->clip_count = 0;
    call->text[0] = '\0';
    add_clip(call, in_standard ? CLIP_IN_STANDARD : CLIP_NOT_IN_STANDARD);
    add_part(call, 0);
    if (in_standard || next == CLIP_COUNT)
        return;
    /* Behind these words a cue is no request to do it now. */
    add_clip(call, CLIP_NEXT_TIME);
    add_clip(call, next);
    add_part(call, 1);
}
