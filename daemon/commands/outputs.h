/* outputs.h - where a session's results go: captions, event lines, sound, a
 * WAV file. Shared by the commands that fly a stream. */
#ifndef COMMANDS_OUTPUTS_H
#define COMMANDS_OUTPUTS_H

#include <stdio.h>

#include "commands.h"
#include "pages.h"
#include "quarterturn/audio.h"
#include "quarterturn/debrief.h"
#include "session.h"
#include "writers.h"

struct outputs_choice {
    const char *events;      /* path, "-" or NULL */
    const char *wav;         /* path or NULL */
    const char *pages;       /* folder, or NULL: as configured */
    bool quiet;              /* captions of calls only */
    bool live;               /* event lines can be followed as they come */
    struct writers *writers; /* of standard output and error; NULL: stdio */
};

struct keeper;

struct outputs {
    struct outputs_choice choice;
    const struct settings *settings;
    struct audio_bank bank;
    FILE *out; /* standard output */
    FILE *captions;
    FILE *events_file;
    bool events_lent;                         /* it is another's to close */
    char events_part[SETTINGS_PATH_SIZE + 8]; /* "" when written in place */
    struct debrief_log *log;
    struct audio_wav *wav;
    struct audio_output *audio; /* NULL without sound */
    struct pages *pages;        /* NULL without */
    int64_t origin_ns;
    bool has_origin;
    bool failed; /* something asked for could not be written */
    bool wav_failed;
    bool captions_failed;
    int64_t wav_ns;     /* written so far */
    int64_t wav_due_ns; /* heard so far */
    /* Virtual time to CLOCK_MONOTONIC; set by the command. */
    int64_t (*to_monotonic_ns)(void *context, int64_t t_ns);
    void *clock_context;
    struct keeper *keeper;  /* NULL: nothing goes into a logbook */
    enum callout_help help; /* of the attempt that is flown */
    uint32_t calls;
    bool muted;
    int64_t awake_ns; /* sound was needed last, session time; 0: not yet */
    struct callout_tone tone; /* as the session wants it */
};

/* Load the voice, fill the durations of its clips into
 * settings->callout.clip_s, open the files. Says what is wrong itself.
 * Returns: 0, or the exit status. */
int outputs_open(struct outputs *outputs, const struct outputs_choice *choice,
                 struct settings *settings);
/* The sink to give to session_init. */
struct session_sink outputs_sink(struct outputs *outputs);
/* Tell when the stream begins: before the first session_push. */
void outputs_begin(struct outputs *outputs, int64_t origin_ns);
/* Write on what the WAV file of a live flight lags behind after a pause; call
 * it a few times a second. */
void outputs_catch_up(struct outputs *outputs);
/* Let pages be written beside a loop, from now on until it has ended; NULL: at
 * once. */
void outputs_use_loop(struct outputs *outputs, struct uv_loop_s *loop);
/* Start the sound worker on a loop. When that cannot be done, it is said and
 * captions go on. program: this executable. */
void outputs_start_sound(struct outputs *outputs, struct uv_loop_s *loop,
                         const char *program);
/* Sound is needed at t_ns (session time): packets come. It is started when it
 * rested. */
void outputs_keep_sound(struct outputs *outputs, int64_t t_ns);
/* Let it rest when nothing has needed it for as long as is configured; call it
 * now and then. */
void outputs_rest_sound(struct outputs *outputs, int64_t now_ns);
/* Fall silent at t_ns, or be heard again; captions and events go on. */
void outputs_mute(struct outputs *outputs, int64_t t_ns, bool muted);
/* Write a note, or what was asked of the program, among the events; before
 * the stream begins there is nothing to write to. */
void outputs_note(struct outputs *outputs, int64_t t_ns, const char *text);
void outputs_command(struct outputs *outputs, int64_t t_ns, const char *ask,
                     const char *value);
/* Silence the tone at t_ns (session time), let what is being said end within
 * drain_ms, end the worker. The loop must still run. */
void outputs_stop_sound(struct outputs *outputs, int64_t t_ns,
                        uint32_t drain_ms);
/* Let the sound of the WAV file end, write everything out, close.
 * end_ns: virtual time of the end. keep: false removes what was begun.
 * Returns: 0, or EXIT_COULD_NOT when something was not written. */
int outputs_close(struct outputs *outputs, int64_t end_ns, bool keep);

#endif
