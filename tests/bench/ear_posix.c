/* ear_posix.c - what both ears share. */
#include "ear.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "report.h"

enum { MARKS = EAR_SECONDS * 1000, NEAR = 64 };

int64_t ear_now_ns(void)
{
    struct timespec now;

    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

void ear_begin(struct ear *ear, int lanes)
{
    memset(ear, 0, sizeof *ear);
    ear->lanes = lanes;
    if (pthread_mutex_init(&ear->mutex, NULL) != 0)
        report_fail("no lock can be had");
    for (int i = 0; i < lanes; i++) {
        struct ear_lane *lane = &ear->lane[i];

        lane->sound =
            calloc((size_t)EAR_SECONDS * EAR_RATE_HZ, sizeof *lane->sound);
        lane->mark_ns = calloc(MARKS, sizeof *lane->mark_ns);
        lane->mark_frame = calloc(MARKS, sizeof *lane->mark_frame);
        if (lane->sound == NULL || lane->mark_ns == NULL ||
            lane->mark_frame == NULL)
            report_fail("out of memory");
    }
}

void ear_end(struct ear *ear)
{
    for (int i = 0; i < ear->lanes; i++) {
        free(ear->lane[i].sound);
        free(ear->lane[i].mark_ns);
        free(ear->lane[i].mark_frame);
    }
    (void)pthread_mutex_destroy(&ear->mutex);
}

void ear_reset(struct ear *ear)
{
    (void)pthread_mutex_lock(&ear->mutex);
    for (int i = 0; i < ear->lanes; i++) {
        ear->lane[i].frames = 0;
        ear->lane[i].marks = 0;
    }
    (void)pthread_mutex_unlock(&ear->mutex);
}

void ear_append(struct ear *ear, int lane, const float *sound, size_t frames)
{
    struct ear_lane *to = &ear->lane[lane];
    size_t room = (size_t)EAR_SECONDS * EAR_RATE_HZ - (size_t)to->frames;

    if (frames > room)
        frames = room;
    memcpy(to->sound + to->frames, sound, frames * sizeof *sound);
    to->frames += (int64_t)frames;
}

void ear_mark(struct ear *ear, int lane, int64_t mark_frame, int64_t mark_ns)
{
    struct ear_lane *to = &ear->lane[lane];

    if (to->marks == MARKS)
        return;
    to->mark_ns[to->marks] = mark_ns;
    to->mark_frame[to->marks] = mark_frame;
    to->marks++;
}

static int64_t frames_ns(int64_t frames)
{
    return frames * INT64_C(1000000000) / EAR_RATE_HZ;
}

static int64_t ns_frames(int64_t ns)
{
    return ns * EAR_RATE_HZ / INT64_C(1000000000);
}

static int compare(const void *a, const void *b)
{
    int64_t left = *(const int64_t *)a;
    int64_t right = *(const int64_t *)b;

    return (left > right) - (left < right);
}

int64_t ear_time_ns(const struct ear *ear, int lane, int64_t frame)
{
    const struct ear_lane *heard = &ear->lane[lane];
    int64_t told_ns[NEAR];
    size_t count = 0;

    for (size_t i = 0; i < heard->marks && count < NEAR; i++) {
        int64_t apart = heard->mark_frame[i] - frame;

        if (apart <= ear->near_frames && apart >= -ear->near_frames)
            told_ns[count++] = heard->mark_ns[i] - frames_ns(apart);
    }
    if (count == 0)
        return INT64_MAX;
    qsort(told_ns, count, sizeof told_ns[0], compare);
    return told_ns[ear->takes_middle ? count / 2 : 0] + ear->ahead_ns;
}

int64_t ear_frame(const struct ear *ear, int lane, int64_t t_ns)
{
    const struct ear_lane *heard = &ear->lane[lane];

    for (size_t i = 0; i < heard->marks; i++)
        if (heard->mark_ns[i] >= t_ns)
            return heard->mark_frame[i] -
                   ns_frames(heard->mark_ns[i] - t_ns + ear->ahead_ns);
    return heard->frames;
}
