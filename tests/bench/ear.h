/* ear.h - what a sound server plays, and when each frame of it is heard. */
#ifndef BENCH_EAR_H
#define BENCH_EAR_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { EAR_LANES = 14, EAR_RATE_HZ = 48000, EAR_SECONDS = 70 };

/* One output of the server. */
struct ear_lane {
    float *sound; /* EAR_SECONDS of one channel */
    int64_t frames;
    /* Frames, and the instants at which they were heard. */
    int64_t *mark_ns;
    int64_t *mark_frame;
    size_t marks;
};

struct ear {
    struct ear_lane lane[EAR_LANES];
    int lanes;
    /* From when a frame reaches the ear until it would be heard at the
     * device. */
    int64_t ahead_ns;
    /* Marks so far from a frame tell when it was heard: the middle one, or
     * else the earliest. */
    int64_t near_frames;
    bool takes_middle;
    pthread_mutex_t mutex;
    void *private;
};

/* Listen to outputs cap0, cap1 ... of the private PulseAudio server. */
void ear_pulse_open(struct ear *ear, int lanes);
void ear_pulse_close(struct ear *ear);
/* Listen as a client of the private JACK server, with one port for each
 * lane. */
void ear_jack_open(struct ear *ear, int lanes);
void ear_jack_close(struct ear *ear);
/* The name of a lane's port. Returns: out. */
char *ear_jack_port(int lane, char *out, size_t size);
/* Connect each port of a player that nobody was connected to yet to a lane.
 * Returns: whether there was one. */
bool ear_jack_adopt(struct ear *ear, int lane);

/* Forget what was heard. */
void ear_reset(struct ear *ear);
/* When a frame was heard, CLOCK_MONOTONIC. */
int64_t ear_time_ns(const struct ear *ear, int lane, int64_t frame);
/* The frame that was heard at an instant, roughly. */
int64_t ear_frame(const struct ear *ear, int lane, int64_t t_ns);

/* For the ears themselves. */
void ear_begin(struct ear *ear, int lanes);
void ear_end(struct ear *ear);
void ear_append(struct ear *ear, int lane, const float *sound, size_t frames);
/* mark_frame: counted as the lane's own; may still be to come. */
void ear_mark(struct ear *ear, int lane, int64_t mark_frame, int64_t mark_ns);
int64_t ear_now_ns(void);

#endif
