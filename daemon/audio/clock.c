/* clock.c - which frame of the stream is heard at which instant.
 *
 * The instants that callbacks see are ragged: the server calls when it likes.
 * A second-order delay-locked loop draws a smooth line through them. The
 * method is that of F. Adriaensen, "Using a DLL to filter time", Linux Audio
 * Conference 2005. */
#include "clock.h"

#include <math.h>
#include <string.h>

/* Bandwidth of the loop when it has settled, and at its start, where it must
 * find the line before it can hold it. */
static const double settled_hz = 0.1;
static const double starting_hz = 1.0;
/* A step above this is no jitter: the stream stood still or the device
 * changed its latency. */
static const double jump_ns = 20e6;

/* A smaller one is a step too, of a device that ran dry for a moment, when all
 * callbacks stray by this much, to the same side, for so long from a line that
 * had settled. */
static const double astray_ns = 2e6;
static const double step_s = 0.1;
static const double settling_s = 2.0;

/* No device is further from its nominal rate; a loop that has just begun may
 * think so. */
static const double most_drift = 1e-3;
static const int64_t farthest_ns = INT64_C(1000000000000000);
static const double two_pi = 6.28318530717958647692;

enum { LEADS_BELIEVED = 4 };

void audio_clock_init(struct audio_clock *clock, double rate_hz)
{
    memset(clock, 0, sizeof *clock);
    clock->rate_hz = rate_hz;
}

static void set_clock(struct audio_clock *clock, int64_t frame,
                      int64_t heard_ns)
{
    clock->running = true;
    clock->base_frame = frame;
    clock->base_ns = heard_ns;
    clock->base_fraction_ns = 0.0;
    clock->straying.count = 0;
    clock->ns_per_frame = 1e9 / clock->rate_hz;
    clock->age_s = 0.0;
}

static double bandwidth_hz(const struct audio_clock *clock)
{
    return clock->age_s > 0.0
               ? fmax(settled_hz, fmin(starting_hz, 1.0 / clock->age_s))
               : starting_hz;
}

static void carry_on(struct audio_clock *clock, int64_t frame, double since_ns)
{
    double whole_ns = floor(since_ns);

    clock->base_ns += (int64_t)whole_ns;
    clock->base_fraction_ns = since_ns - whole_ns;
    clock->age_s += (double)(frame - clock->base_frame) / clock->rate_hz;
    clock->base_frame = frame;
}

/* Watch for a step. The line goes on meanwhile as ever, and is drawn along:
 * when it was one, the line of before is taken, further off by the mean of what
 * was seen since. Returns: whether it was. */
static bool takes_step(struct audio_clock *clock, int64_t frame,
                       int64_t heard_ns, double error_ns)
{
    struct audio_straying *stray = &clock->straying;
    double since_ns;

    if (fabs(error_ns) < astray_ns || clock->age_s < settling_s) {
        stray->count = 0;
        return false;
    }
    if (stray->count == 0 || error_ns * stray->sum_ns < 0.0)
        *stray = (struct audio_straying){.base_frame = clock->base_frame,
                                         .base_ns = clock->base_ns,
                                         .fraction_ns = clock->base_fraction_ns,
                                         .ns_per_frame = clock->ns_per_frame,
                                         .first_frame = frame};
    since_ns = stray->fraction_ns +
               (double)(frame - stray->base_frame) * stray->ns_per_frame;
    stray->count++;
    stray->sum_ns += (double)(heard_ns - stray->base_ns) - since_ns;
    if ((double)(frame - stray->first_frame) < step_s * clock->rate_hz)
        return false;
    clock->ns_per_frame = stray->ns_per_frame;
    clock->base_ns = stray->base_ns;
    clock->step_ns = stray->sum_ns / stray->count;
    carry_on(clock, frame, since_ns + clock->step_ns);
    stray->count = 0;
    clock->resets++;
    return true;
}

void audio_clock_update(struct audio_clock *clock, int64_t frame,
                        int64_t heard_ns)
{
    double frames = (double)(frame - clock->base_frame);
    double predicted_ns, error_ns, omega, nominal_ns;

    if (!clock->running) {
        set_clock(clock, frame, heard_ns);
        return;
    }
    if (!(frames > 0.0))
        return;
    predicted_ns = clock->base_fraction_ns + frames * clock->ns_per_frame;
    error_ns = (double)(heard_ns - clock->base_ns) - predicted_ns;
    if (fabs(error_ns) > jump_ns) {
        clock->resets++;
        clock->step_ns = error_ns;
        set_clock(clock, frame, heard_ns);
        return;
    }
    if (takes_step(clock, frame, heard_ns, error_ns))
        return;
    omega = two_pi * bandwidth_hz(clock) * frames / clock->rate_hz;
    clock->ns_per_frame += fmin(1.0, omega * omega) * error_ns / frames;
    nominal_ns = 1e9 / clock->rate_hz;
    clock->ns_per_frame =
        fmin(nominal_ns * (1.0 + most_drift),
             fmax(nominal_ns * (1.0 - most_drift), clock->ns_per_frame));
    carry_on(clock, frame,
             predicted_ns + fmin(1.0, sqrt(2.0) * omega) * error_ns);
}

double audio_clock_position(const struct audio_clock *clock, int64_t t_ns)
{
    double since_ns;

    /* "Never expires" must not leave the range of a frame number, nor what
     * never was a time that of the difference. */
    if (t_ns > clock->base_ns + farthest_ns)
        t_ns = clock->base_ns + farthest_ns;
    if (t_ns < clock->base_ns - farthest_ns)
        t_ns = clock->base_ns - farthest_ns;
    since_ns = (double)(t_ns - clock->base_ns) - clock->base_fraction_ns;

    return (double)clock->base_frame + since_ns / clock->ns_per_frame;
}

int64_t audio_clock_instant(const struct audio_clock *clock, int64_t frame)
{
    double frames = (double)(frame - clock->base_frame);

    return clock->base_ns +
           llround(clock->base_fraction_ns + frames * clock->ns_per_frame);
}

void audio_lead_init(struct audio_lead *lead, double fallback_s)
{
    memset(lead, 0, sizeof *lead);
    lead->fallback_s = fallback_s;
}

double audio_lead_add(struct audio_lead *lead, double lead_s)
{
    if (lead->tried < AUDIO_LEADS)
        lead->tried++;
    /* Some devices say 0 at the start, or for ever. */
    if (!(lead_s > 0.0 && lead_s < 1.0))
        return audio_lead_middle(lead);
    lead->last[lead->count % AUDIO_LEADS] = lead_s;
    lead->count++;
    if (lead->count == 2 * AUDIO_LEADS)
        lead->count = AUDIO_LEADS;
    return lead_s;
}

bool audio_lead_is_settled(const struct audio_lead *lead)
{
    return lead->tried >= AUDIO_LEADS;
}

bool audio_lead_is_believed(const struct audio_lead *lead)
{
    return lead->count >= LEADS_BELIEVED;
}

double audio_lead_middle(const struct audio_lead *lead)
{
    double sorted[AUDIO_LEADS];
    double sum = 0.0;
    uint32_t count = lead->count < AUDIO_LEADS ? lead->count : AUDIO_LEADS;
    uint32_t outer = count / 4;

    if (count == 0 || !audio_lead_is_believed(lead))
        return lead->fallback_s;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t at = i;

        for (; at > 0 && sorted[at - 1] > lead->last[i]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = lead->last[i];
    }
    /* A median would jump between the two values that a server which asks for
     * two buffers at a time makes. */
    for (uint32_t i = outer; i < count - outer; i++)
        sum += sorted[i];
    return sum / (count - 2 * outer);
}
