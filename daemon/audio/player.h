/* player.h - from the ring to a device's buffer: all that the sound callback
 * does, without the sound library. */
#ifndef QUARTERTURN_AUDIO_PLAYER_H
#define QUARTERTURN_AUDIO_PLAYER_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>

#include "clock.h"
#include "quarterturn/audio.h"
#include "resample.h"
#include "share.h"

enum { AUDIO_PLAYER_BLOCK = 256 };

struct audio_player {
    struct audio_share *share;
    struct audio_mixer mixer;
    struct audio_clock clock;
    struct audio_lead lead;
    struct audio_resampler resampler; /* state NULL: not needed */
    double device_rate_hz;
    double mixed_per_frame; /* frames at AUDIO_RATE_HZ for one of the device */
    uint32_t channels;
    struct audio_command tone; /* the last one taken without a device */
    int64_t mixed_frames;      /* at AUDIO_RATE_HZ */
    int64_t device_frames;     /* at the device's rate, since the attaching */
    int64_t origin_frame;      /* at AUDIO_RATE_HZ: the device's first */
    _Atomic bool leaving;      /* asked to fade away */
    _Atomic bool has_left;     /* and has */
    uint32_t left_frames;      /* of that fade, at the device's rate */
    float mono[AUDIO_PLAYER_BLOCK];
};

/* share, bank: borrowed for the player's life.
 */
void audio_player_init(struct audio_player *player, struct audio_share *share,
                       const struct audio_bank *bank);
/* Fit the player to a device before its first buffer.
 * latency_s: what the device states; used until the callbacks tell better.
 * Returns: 0, ERR_RANGE or ERR_NO_MEMORY. */
int audio_player_attach(struct audio_player *player, double device_rate_hz,
                        uint32_t channels, double latency_s);
/* Fill one buffer of interleaved float; every sample is written.
 * now_ns: CLOCK_MONOTONIC at the callback's entry.
 * lead_s: from now until the buffer's first frame is heard, as the device
 *    says; any double.
 * Neither allocates nor locks nor calls the system.
 * Thread: sound callback. */
void audio_player_fill(struct audio_player *player, int64_t now_ns,
                       double lead_s, float *out, uint32_t frames);
/* Fade out what sounds and stay silent, so that the stream can be broken off
 * without a click. audio_player_has_left: whether the silence has been filled
 * in; it is heard one output latency later. Thread: any. */
void audio_player_leave(struct audio_player *player);
bool audio_player_has_left(struct audio_player *player);
/* Without a device: take from the ring what is expired, and follow the tone.
 * Thread: the worker's, while no callback runs. */
void audio_player_idle(struct audio_player *player, int64_t now_ns);

#endif
