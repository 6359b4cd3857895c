/* clock.h - which frame of the stream is heard at which instant. Pure. */
#ifndef QUARTERTURN_AUDIO_CLOCK_H
#define QUARTERTURN_AUDIO_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* Callbacks that lately strayed to the same side of the line, and the line as
 * it was before the first. */
struct audio_straying {
    uint32_t count;
    double sum_ns;
    int64_t first_frame;
    int64_t base_frame;
    int64_t base_ns;
    double fraction_ns;
    double ns_per_frame;
};

/* A line through (instant, frame), steered by one pair for each callback. */
struct audio_clock {
    double rate_hz; /* nominal */
    bool running;
    int64_t base_frame;
    int64_t base_ns;
    double base_fraction_ns; /* what base_ns leaves over */
    double ns_per_frame;
    double age_s; /* since it was set */
    struct audio_straying straying;
    uint32_t resets; /* at jumps and steps, the first setting not counted */
    double step_ns;  /* the last of them: later than the line had it */
};

void audio_clock_init(struct audio_clock *clock, double rate_hz);
/* Take the pair of one callback.
 * frame: first frame of the callback's buffer, growing.
 * heard_ns: when that frame is heard, as this callback sees it. */
void audio_clock_update(struct audio_clock *clock, int64_t frame,
                        int64_t heard_ns);
/* The frame that is heard at an instant, and its fraction; and back. An
 * instant further away than eleven days counts as that. The clock must run. */
double audio_clock_position(const struct audio_clock *clock, int64_t t_ns);
int64_t audio_clock_instant(const struct audio_clock *clock, int64_t frame);

enum { AUDIO_LEADS = 16 };

/* From a callback's entry until its first frame is heard, as the device says
 * in each callback: it varies with the callback's own lateness, so the pair
 * for the clock takes this callback's, and only the figure for people is a
 * mean. */
struct audio_lead {
    double last[AUDIO_LEADS];
    uint32_t count; /* believed */
    uint32_t tried;
    double fallback_s;
};

/* fallback_s: used until the device has given some that can be believed. */
void audio_lead_init(struct audio_lead *lead, double fallback_s);
/* lead_s: any double; outside (0, 1) s it is left out.
 * Returns: lead_s, or in its place the mean below. */
double audio_lead_add(struct audio_lead *lead, double lead_s);
/* Whether AUDIO_LEADS callbacks have been: a device's first buffers are asked
 * for in one go, before its own clock runs. */
bool audio_lead_is_settled(const struct audio_lead *lead);
/* Whether the device has told enough that the mean below is its own. */
bool audio_lead_is_believed(const struct audio_lead *lead);
/* Returns: the mean of the middle half of the last AUDIO_LEADS, or the
 * fallback. */
double audio_lead_middle(const struct audio_lead *lead);

#endif
