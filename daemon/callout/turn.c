/* turn.c - whose turn it is of the cues that wait.
 *
 * One voice: a higher rank cuts in, an equal one waits, and what can no longer
 * help is dropped. */
#include <assert.h>
#include <math.h>

#include "waiting.h"

int64_t waiting_ns(double s)
{
    return (int64_t)llround(s * 1e9);
}

void waiting_remove(struct callout *callout, uint32_t i)
{
    uint32_t last = --callout->pending_count;

    for (; i < last; i++) {
        callout->pending[i] = callout->pending[i + 1];
        callout->planned[i] = callout->planned[i + 1];
    }
}

static int64_t duration_ns(const struct callout *callout,
                           const struct callout_call *call)
{
    int64_t total_ns = 0;

    for (uint32_t i = 0; i < call->clip_count; i++)
        total_ns += waiting_ns(callout->settings.clip_s[call->clip[i]]) +
                    (i > 0 ? callout->settings.clip_gap_ns : 0);
    return total_ns;
}

/* The earliest onset that the voice leaves free for a call that wants to
 * sound at onset_ns. */
static int64_t after_voice(const struct callout *callout,
                           const struct callout_call *call, int64_t onset_ns)
{
    int64_t free_ns = callout->busy_until_ns + callout->settings.spacing_ns;

    if (onset_ns >= free_ns)
        return onset_ns;
    return call->rank > callout->busy_rank ? onset_ns : free_ns;
}

/* A planned call of the same or a higher rank keeps its moment: others that
 * would run into it wait until it is over. */
static int64_t after_planned(const struct callout *callout, uint32_t i,
                             int64_t onset_ns)
{
    const struct callout_call *call = &callout->pending[i];
    int64_t spacing_ns = callout->settings.spacing_ns;
    int64_t end_ns = onset_ns + duration_ns(callout, call) + spacing_ns;

    for (uint32_t k = 0; k < callout->pending_count; k++) {
        const struct callout_call *other = &callout->pending[k];
        int64_t other_end_ns =
            other->onset_ns + duration_ns(callout, other) + spacing_ns;

        if (k == i || !callout->planned[k] || other->rank < call->rank ||
            (callout->planned[i] && other->onset_ns >= call->onset_ns))
            continue;
        if (end_ns > other->onset_ns && onset_ns < other_end_ns)
            onset_ns = other_end_ns;
    }
    return onset_ns;
}

static int64_t slot_ns(const struct callout *callout, uint32_t i)
{
    const struct callout_call *call = &callout->pending[i];
    int64_t onset_ns = call->onset_ns;

    if (onset_ns < callout->now_ns)
        onset_ns = callout->now_ns;
    onset_ns = after_voice(callout, call, onset_ns);
    return after_planned(callout, i, onset_ns);
}

static void drop_expired(struct callout *callout)
{
    for (uint32_t i = callout->pending_count; i-- > 0;) {
        if (slot_ns(callout, i) > callout->pending[i].expiry_ns) {
            waiting_remove(callout, i);
            callout->dropped++;
        }
    }
}

/* The call to hand over now: due, the highest rank, then the earliest. */
static uint32_t choose(const struct callout *callout)
{
    uint32_t best = callout->pending_count;
    int64_t best_ns = 0;

    for (uint32_t i = 0; i < callout->pending_count; i++) {
        int64_t onset_ns = slot_ns(callout, i);

        if (onset_ns - callout->settings.commit_lead_ns > callout->now_ns)
            continue;
        if (best == callout->pending_count ||
            callout->pending[i].rank > callout->pending[best].rank ||
            (callout->pending[i].rank == callout->pending[best].rank &&
             onset_ns < best_ns)) {
            best = i;
            best_ns = onset_ns;
        }
    }
    return best;
}

static void commit(struct callout *callout, uint32_t i,
                   struct callout_call *out)
{
    int64_t t_ns = slot_ns(callout, i);

    *out = callout->pending[i];
    out->onset_ns = t_ns;
    out->cuts_in = t_ns < callout->busy_until_ns;
    out->number = ++callout->calls;
    for (uint32_t k = 0; k < out->clip_count; k++) {
        out->clip_onset_ns[k] = t_ns;
        t_ns += waiting_ns(callout->settings.clip_s[out->clip[k]]) +
                callout->settings.clip_gap_ns;
    }
    callout->busy_until_ns = out->onset_ns + duration_ns(callout, out);
    callout->busy_rank = out->rank;
    if (!out->again) {
        callout->said_ns[out->cue] = out->moment_ns;
        callout->said_attempt[out->cue] = out->attempt;
    }
    callout->last = *out;
    waiting_remove(callout, i);
}

uint32_t callout_advance(struct callout *callout, int64_t now_ns,
                         struct callout_call out[CALLOUT_MAX_CALLS])
{
    uint32_t count = 0;

    assert(now_ns >= callout->now_ns);
    callout->now_ns = now_ns;
    while (count < CALLOUT_MAX_CALLS) {
        uint32_t i;

        drop_expired(callout);
        i = choose(callout);
        if (i == callout->pending_count)
            break;
        commit(callout, i, &out[count++]);
    }
    return count;
}

int64_t callout_deadline_ns(const struct callout *callout)
{
    int64_t deadline_ns = INT64_MAX;

    for (uint32_t i = 0; i < callout->pending_count; i++) {
        int64_t due_ns = slot_ns(callout, i) - callout->settings.commit_lead_ns;

        if (due_ns < deadline_ns)
            deadline_ns = due_ns;
    }
    return deadline_ns < callout->now_ns ? callout->now_ns : deadline_ns;
}
