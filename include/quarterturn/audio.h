/* audio.h - from calls to sound.
 *
 * A bank of clips; a mixer that is pure and sample-exact; a lock-free ring of
 * commands in shared memory; a worker process that owns PortAudio; its
 * supervisor on the libuv loop, which never calls PortAudio; and a sink that
 * renders the same sound into a WAV file on virtual time. */
#ifndef QUARTERTURN_AUDIO_H
#define QUARTERTURN_AUDIO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/callout.h"

enum {
    AUDIO_RATE_HZ = 48000,    /* of clips, mixer and WAV file */
    AUDIO_MAX_CLIP_S = 5,     /* a longer clip is refused */
    AUDIO_FULL_SCALE = 32768, /* of a clip's sample: what is 1 when mixed */
    AUDIO_VOICES = 8,
    AUDIO_FADE_FRAMES = 480, /* 10 ms, at pre-emption */
    AUDIO_PATH_SIZE = 512
};

/* ---- clips -------------------------------------------------------------- */

struct audio_clip {
    /* Mono, AUDIO_RATE_HZ, in steps of 1 / AUDIO_FULL_SCALE; NULL if absent. */
    const int16_t *sample;
    uint32_t frames;
    /* Before the first sample that is heard: a clip begins so much before the
     * instant that it is asked for, or without them when it is late. */
    uint32_t head_frames;
};

/* A voice in memory; immutable after loading. */
struct audio_bank {
    struct audio_clip clip[CLIP_COUNT];
    int16_t *memory; /* private */
};

/* Load a voice: FOLDER/cues.tsv names the file of each clip.
 * The table's columns are separated by tabs: clip, file, text (see
 * sounds/README.md). Files are opened only inside the folder; PCM or FLAC, one
 * channel, 48 kHz, at most AUDIO_MAX_CLIP_S; kept in 16 bits, to which finer
 * samples are rounded.
 * why: one line on failure: "file:line: ..." for the table, "file: ..." for
 *    a clip.
 * Returns: 0 (every clip of the enum is there); ERR_ABSENT, ERR_FORMAT,
 *    ERR_RANGE, ERR_NO_MEMORY; the bank is then empty.
 * Owns: the bank's memory until audio_bank_free. Thread: any. */
int audio_bank_load(const char *folder, struct audio_bank *bank, char *why,
                    size_t why_size);
void audio_bank_free(struct audio_bank *bank);
/* Durations for the callout room. seconds: CLIP_COUNT values. */
void audio_bank_durations(const struct audio_bank *bank, double *seconds);

/* ---- mixer -------------------------------------------------------------- */

enum audio_action {
    AUDIO_PLAY = 1, /* start a clip of speech at start_ns */
    AUDIO_CUT,      /* fade out all speech from start_ns on */
    AUDIO_TONE      /* near-stall band (argument 0..3) from start_ns on */
};

/* One command, 32 bytes; also what travels in the ring. */
struct audio_command {
    int64_t start_ns;  /* CLOCK_MONOTONIC, or virtual time for the WAV sink */
    int64_t expiry_ns; /* AUDIO_PLAY: not to be started after this */
    /* The call it belongs to, growing from 1; 0: stands alone. The clips of a
     * call follow each other also when the first had to start late, and are
     * dropped together; AUDIO_CUT takes off only calls before its own. */
    uint32_t sequence;
    uint16_t action;
    uint16_t argument; /* clip or band */
    float gain;        /* 0..1 */
    uint32_t unused;
};

_Static_assert(sizeof(struct audio_command) == 32, "a ring slot is 32 bytes");

enum { AUDIO_MAX_WAITING = 64 };

struct audio_voice {
    uint16_t clip;
    bool active;
    bool fading;
    uint32_t sequence; /* of the command that started it */
    uint32_t position;
    uint32_t fade_left; /* frames */
    uint32_t rise_left; /* frames, of one that began within its head */
    float gain;
};

/* A command whose instants have become frame numbers. */
struct audio_waiting {
    int64_t start_frame;
    int64_t expiry_frame;
    uint32_t sequence;
    uint16_t action;
    uint16_t argument;
    float gain;
};

/* Pure; allocates nothing, calls only libm; safe in a sound callback.
 * Embedded by its owner; fields are private to audio. */
struct audio_mixer {
    const struct audio_bank *bank;
    struct audio_voice voice[AUDIO_VOICES];
    struct audio_waiting waiting[AUDIO_MAX_WAITING]; /* by start frame */
    uint32_t waiting_count;
    uint32_t refused; /* sequence of the last call dropped for lateness */
    int tone_band;
    int64_t tone_pulse_frame; /* where its last pulse began */
    int64_t tone_next_frame;
    uint32_t tone_skip; /* frames of its next pulse's head that are left out */
    float tone_gain;
    float pulse_gain;        /* of the pulse that is sounding */
    uint32_t pulse_position; /* in the near-stall clip; its end: silent */
    uint32_t pulse_rise_left;
    uint32_t duck;      /* how far the tone is down under speech */
    uint32_t duck_hold; /* frames before it rises again */
    float limiter_gain;
    uint32_t limiter_hold; /* frames before it rises again */
    uint32_t dropped;      /* too late, no room, or not understood */
};

void audio_mixer_init(struct audio_mixer *mixer, const struct audio_bank *bank);
/* Take a command whose start has been turned into a frame number: that at
 * which the first sample is heard, behind the clip's head.
 * expiry_frame: AUDIO_PLAY later than this is dropped and counted.
 * Returns: false when there is no room (dropped and counted). */
bool audio_mixer_command(struct audio_mixer *mixer,
                         const struct audio_command *command,
                         int64_t start_frame, int64_t expiry_frame);
/* The stream stood still, or its latency has changed: put what waits at other
 * frames. Speech that the silence tore apart is faded out.
 * by: added to every start and expiry; below 0: they come sooner. */
void audio_mixer_move(struct audio_mixer *mixer, int64_t by);
/* Render frames [first_frame, first_frame + frames) as mono float; |x| is at
 * most 0.8913, 1 dB below full scale (the highest peak that EBU R 128 allows).
 * What stays below that is passed on as it is, to the bit.
 * Every frame is written. first_frame must follow the last call's end. */
void audio_mixer_render(struct audio_mixer *mixer, int64_t first_frame,
                        float *out, uint32_t frames);
/* Whether nothing sounds and nothing waits. */
bool audio_mixer_idle(const struct audio_mixer *mixer);

/* ---- output through the worker process (libuv) -------------------------- */

struct uv_loop_s;
struct audio_output;

struct audio_settings {
    char voice_folder[AUDIO_PATH_SIZE];
    char device[128];       /* part of a device's name; "" the default */
    uint32_t buffer_frames; /* 448; JACK has its own */
    double latency_s;       /* suggested, 0.02 */
    double calibration_s;   /* added to the measured output latency, 0 */
    double gain;            /* 0..1 */
};

void audio_settings_defaults(struct audio_settings *settings);

enum audio_state {
    AUDIO_STARTING,
    AUDIO_PLAYING,
    AUDIO_NO_DEVICE, /* the worker runs and looks for one */
    AUDIO_FAILED,    /* the worker does not stay up; tried again, slower */
    AUDIO_RESTING    /* there is no worker, as asked */
};

const char *audio_state_name(enum audio_state state);

struct audio_status {
    enum audio_state state;
    /* From the mixing of a frame until it is heard, the mean of all frames;
     * NaN before the first, and unless it is playing. */
    double latency_s;
    bool latency_measured; /* in the callbacks; else as the device states */
    uint32_t callbacks;
    uint32_t underruns;
    uint32_t dropped; /* ring full, or too late when it came */
    uint32_t restarts;
    char device[128];
};

/* Start the worker and watch it.
 * program: path of this executable, run as "quarterturn sound-worker".
 * changed: called on the loop when the state changes; may be NULL.
 * Returns: 0 also when there is no device; ERR_IO, ERR_NO_MEMORY.
 * Owns: *out until audio_output_close and the loop's end. */
int audio_output_open(struct uv_loop_s *loop, const char *program,
                      const struct audio_settings *settings,
                      void (*changed)(void *context, enum audio_state state),
                      void *context, struct audio_output **out);
/* Put a command into the ring. Never blocks. Speech, or a tone, wakes a resting
 * output; what is not to be begun after that has taken place is dropped.
 * Returns: 0, or ERR_FULL (dropped and counted; the last tone is tried again).
 * Thread: loop. */
int audio_output_submit(struct audio_output *output,
                        const struct audio_command *command);
void audio_output_status(const struct audio_output *output,
                         struct audio_status *out);
/* End the worker until it is needed: the device may sleep, and nothing wakes
 * the machine. What sounds is faded out. Again, or while closing: nothing. */
void audio_output_rest(struct audio_output *output);
/* Start it again, if it rests; sound comes after half a second or so. */
void audio_output_wake(struct audio_output *output);
/* Let what is sounding end (at most drain_ms), end the worker, free. Runs in
 * the loop's own time: run the loop until it ends. */
void audio_output_close(struct audio_output *output, uint32_t drain_ms);

/* The worker process's main function: "sound-worker" of the command table;
 * for audio_output_open only.
 * Returns: exit status. */
int audio_worker_main(int argc, char **argv);

/* ---- WAV sink (virtual time) -------------------------------------------- */

struct audio_wav;

/* Create a WAV file: mono, 48 kHz, 16 bit. Written under a temporary name
 * beside path and renamed on close.
 * bank: borrowed until close. origin_ns: virtual time of the first frame.
 * Returns: 0; ERR_IO (why: one line), ERR_NO_MEMORY. */
int audio_wav_open(const char *path, const struct audio_bank *bank,
                   int64_t origin_ns, struct audio_wav **out, char *why,
                   size_t why_size);
/* Take a command; its start_ns must not lie before what is rendered. */
int audio_wav_submit(struct audio_wav *wav,
                     const struct audio_command *command);
/* Render up to (not including) virtual time now_ns.
 * Returns: 0 or ERR_IO. */
int audio_wav_advance(struct audio_wav *wav, int64_t now_ns);
/* Finish; keep: give the file its name, else remove it.
 * Returns: 0 or ERR_IO. */
int audio_wav_close(struct audio_wav *wav, bool keep);

/* ---- what both sinks are told ------------------------------------------- */

enum { AUDIO_MAX_COMMANDS = CALLOUT_MAX_CLIPS + 1 };

/* The commands that make a call or a tone heard.
 * shift_ns: added to every instant (virtual time to CLOCK_MONOTONIC).
 * Returns: number of commands written. */
uint32_t audio_commands_of_call(const struct callout_call *call,
                                int64_t shift_ns, float gain,
                                struct audio_command out[AUDIO_MAX_COMMANDS]);
void audio_command_of_tone(const struct callout_tone *tone, int64_t shift_ns,
                           float gain, struct audio_command *out);

/* ---- checking a voice --------------------------------------------------- */

/* Check a voice folder, one line per finding through report; thorough where
 * audio_bank_load stops at the first.
 * Returns: number of findings, or a negative error. */
int audio_voice_check(const char *folder,
                      void (*report)(void *context, const char *line),
                      void *context);

#endif
