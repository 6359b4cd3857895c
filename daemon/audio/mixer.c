/* mixer.c - clips and tone into one stream, exact to the sample.
 *
 * A block is cut at every frame where something begins or ends, so that
 * nothing ever waits for the edge of a buffer. All that is queued is kept in
 * the order of its start frame. */
#include <math.h>
#include <string.h>

#include "quarterturn/audio.h"
#include "quarterturn/units.h"

/* Bands of the near-stall tone: the pulse comes 1.25, 2.5 and 5 times a
 * second. */
static const int64_t tone_period_frames[] = {0, 38400, 19200, 9600};

enum { TONE_BANDS = 4, DUCK_HOLD_FRAMES = 4800 };

/* The tone stands 9 dB below itself under speech: 10 ms on the way down, 100
 * ms on the way up, and a hold that spans the gap between two clips. */
static const float duck_floor = 0.35481339F;
enum { DUCK_STEPS = 4800, DUCK_FALL = DUCK_STEPS / 480 };

/* The limiter: its ceiling is where EBU R 128 wants the highest peak, 1 dB
 * below full scale, so that a device of another rate finds room between two
 * samples; the hold outlasts a period of the lowest sound there is (50 Hz),
 * over which its gain would else ripple. */
static const float ceiling = 0.89125094F;
static const float near_ceiling = 0.98F * 0.89125094F;
static const float limiter_rise = 1.0F / 4800.0F;
enum { LIMITER_HOLD_FRAMES = 960 };

/* Who begins within the head of a clip, at a hundredth of its peak at most,
 * rises to that in half a millisecond. */
enum { RISE_FRAMES = AUDIO_RATE_HZ / 2000 };

static const int64_t far_frame = INT64_MAX;
static const int64_t never_before = INT64_MIN;
/* A word with a longer hole in it is none (ours). */
static const int64_t torn_frames = AUDIO_RATE_HZ / 10;

void audio_mixer_init(struct audio_mixer *mixer, const struct audio_bank *bank)
{
    memset(mixer, 0, sizeof *mixer);
    mixer->bank = bank;
    mixer->tone_pulse_frame = never_before;
    mixer->tone_next_frame = far_frame;
    mixer->pulse_position = bank->clip[CLIP_NEAR_STALL].frames;
    mixer->limiter_gain = 1.0F;
}

/* ---- what waits --------------------------------------------------------- */

static void insert_waiting(struct audio_mixer *mixer,
                           const struct audio_waiting *entry)
{
    uint32_t at = mixer->waiting_count;

    /* Equal starts keep the order in which they came: a cut stands before
     * the clips that it makes room for. */
    while (at > 0 && mixer->waiting[at - 1].start_frame > entry->start_frame) {
        mixer->waiting[at] = mixer->waiting[at - 1];
        at--;
    }
    mixer->waiting[at] = *entry;
    mixer->waiting_count++;
}

static void take_first_waiting(struct audio_mixer *mixer,
                               struct audio_waiting *out)
{
    *out = mixer->waiting[0];
    mixer->waiting_count--;
    memmove(mixer->waiting, mixer->waiting + 1,
            mixer->waiting_count * sizeof mixer->waiting[0]);
}

/* Commands come through shared memory: what is out of bounds is refused here
 * rather than trusted. */
static bool is_understood(const struct audio_mixer *mixer,
                          const struct audio_command *command)
{
    switch (command->action) {
    case AUDIO_PLAY:
        return command->argument < CLIP_COUNT &&
               mixer->bank->clip[command->argument].frames > 0;
    case AUDIO_CUT: return true;
    case AUDIO_TONE: return command->argument < TONE_BANDS;
    default: return false;
    }
}

static uint32_t head_frames(const struct audio_mixer *mixer,
                            const struct audio_command *command)
{
    if (command->action == AUDIO_PLAY)
        return mixer->bank->clip[command->argument].head_frames;
    return command->action == AUDIO_TONE
               ? mixer->bank->clip[CLIP_NEAR_STALL].head_frames
               : 0;
}

bool audio_mixer_command(struct audio_mixer *mixer,
                         const struct audio_command *command,
                         int64_t start_frame, int64_t expiry_frame)
{
    struct audio_waiting entry = {
        .start_frame = start_frame,
        .expiry_frame = expiry_frame,
        .sequence = command->sequence,
        .action = command->action,
        .argument = command->argument,
        .gain = command->gain > 0.0F ? fminf(command->gain, 1.0F) : 0.0F,
    };

    if (mixer->waiting_count == AUDIO_MAX_WAITING ||
        !is_understood(mixer, command)) {
        mixer->dropped++;
        return false;
    }
    entry.start_frame -= head_frames(mixer, command);
    insert_waiting(mixer, &entry);
    return true;
}

/* ---- what happens at a frame -------------------------------------------- */

/* Frames until the clip that the same call is saying ends, or 0. */
static uint32_t call_frames_left(const struct audio_mixer *mixer,
                                 uint32_t sequence)
{
    uint32_t most = 0;

    if (sequence == 0)
        return 0;
    for (int i = 0; i < AUDIO_VOICES; i++) {
        const struct audio_voice *voice = &mixer->voice[i];
        uint32_t left;

        if (!voice->active || voice->fading || voice->sequence != sequence)
            continue;
        left = mixer->bank->clip[voice->clip].frames - voice->position;
        if (left > most)
            most = left;
    }
    return most;
}

static struct audio_voice *free_voice(struct audio_mixer *mixer)
{
    for (int i = 0; i < AUDIO_VOICES; i++) {
        if (!mixer->voice[i].active)
            return &mixer->voice[i];
    }
    return NULL;
}

/* Of the head of a clip that is late, as much as it is late is left out. */
static uint32_t head_skipped(const struct audio_clip *clip, int64_t late_frames)
{
    return late_frames < (int64_t)clip->head_frames ? (uint32_t)late_frames
                                                    : clip->head_frames;
}

static void start_clip(struct audio_mixer *mixer, struct audio_waiting *entry,
                       int64_t frame)
{
    uint32_t left = call_frames_left(mixer, entry->sequence);
    struct audio_voice *voice;
    uint32_t skipped;

    if (left > 0) {
        /* The clip before it began late. */
        entry->start_frame = frame + left;
        insert_waiting(mixer, entry);
        return;
    }
    voice = free_voice(mixer);
    /* Half a sentence is worse than none: with one clip of a call the rest
     * of it goes. */
    if (frame > entry->expiry_frame || voice == NULL ||
        (entry->sequence != 0 && entry->sequence == mixer->refused)) {
        mixer->refused = entry->sequence;
        mixer->dropped++;
        return;
    }
    skipped = head_skipped(&mixer->bank->clip[entry->argument],
                           frame - entry->start_frame);
    *voice = (struct audio_voice){.clip = entry->argument,
                                  .active = true,
                                  .sequence = entry->sequence,
                                  .position = skipped,
                                  .rise_left = skipped > 0 ? RISE_FRAMES : 0,
                                  .gain = entry->gain};
}

/* Whether a clip of this call is left alone by a cut: it belongs to the call
 * that cuts in or to one after it. */
static bool outlives_cut(uint32_t sequence, uint32_t cut_sequence)
{
    return sequence != 0 && cut_sequence != 0 &&
           (int32_t)(sequence - cut_sequence) >= 0;
}

static void cut_speech(struct audio_mixer *mixer, uint32_t sequence)
{
    uint32_t kept = 0;

    for (int i = 0; i < AUDIO_VOICES; i++) {
        struct audio_voice *voice = &mixer->voice[i];

        if (voice->active && !voice->fading &&
            !outlives_cut(voice->sequence, sequence)) {
            voice->fading = true;
            voice->fade_left = AUDIO_FADE_FRAMES;
        }
    }
    for (uint32_t i = 0; i < mixer->waiting_count; i++) {
        const struct audio_waiting *entry = &mixer->waiting[i];

        if (entry->action != AUDIO_PLAY ||
            outlives_cut(entry->sequence, sequence))
            mixer->waiting[kept++] = *entry;
    }
    mixer->waiting_count = kept;
}

void audio_mixer_move(struct audio_mixer *mixer, int64_t by)
{
    for (uint32_t i = 0; i < mixer->waiting_count; i++) {
        struct audio_waiting *entry = &mixer->waiting[i];

        entry->start_frame += by;
        /* "Never" stays so. */
        if (entry->expiry_frame < far_frame / 2)
            entry->expiry_frame += by;
    }
    if (by > -torn_frames)
        return;
    for (int i = 0; i < AUDIO_VOICES; i++) {
        struct audio_voice *voice = &mixer->voice[i];

        if (voice->active && !voice->fading) {
            voice->fading = true;
            voice->fade_left = AUDIO_FADE_FRAMES;
        }
    }
}

/* A pulse is never begun while the last one sounds: that would click. */
static int64_t pulse_interval(const struct audio_mixer *mixer, int band)
{
    int64_t pulse = mixer->bank->clip[CLIP_NEAR_STALL].frames;
    int64_t period = tone_period_frames[band];

    return period > pulse ? period : pulse;
}

static void set_tone(struct audio_mixer *mixer,
                     const struct audio_waiting *entry, int64_t frame)
{
    int band = entry->argument;
    int before = mixer->tone_band;

    mixer->tone_gain = entry->gain;
    mixer->tone_band = band;
    if (band == before)
        return;
    if (band == 0) {
        mixer->tone_next_frame = far_frame;
        return;
    }
    mixer->tone_next_frame = frame;
    mixer->tone_skip = head_skipped(&mixer->bank->clip[CLIP_NEAR_STALL],
                                    frame - entry->start_frame);
    if (mixer->tone_pulse_frame != never_before) {
        int64_t earliest =
            mixer->tone_pulse_frame +
            (before == 0 ? (int64_t)mixer->bank->clip[CLIP_NEAR_STALL].frames
                         : pulse_interval(mixer, band));

        if (earliest > frame) {
            mixer->tone_next_frame = earliest;
            mixer->tone_skip = 0;
        }
    }
}

static void start_pulse(struct audio_mixer *mixer, int64_t frame)
{
    mixer->pulse_position = mixer->tone_skip;
    mixer->pulse_rise_left = mixer->tone_skip > 0 ? RISE_FRAMES : 0;
    mixer->pulse_gain = mixer->tone_gain;
    mixer->tone_pulse_frame = frame - mixer->tone_skip;
    mixer->tone_next_frame =
        mixer->tone_pulse_frame + pulse_interval(mixer, mixer->tone_band);
    mixer->tone_skip = 0;
}

static void run_due(struct audio_mixer *mixer, int64_t frame)
{
    while (mixer->waiting_count > 0 && mixer->waiting[0].start_frame <= frame) {
        struct audio_waiting entry;

        take_first_waiting(mixer, &entry);
        switch (entry.action) {
        case AUDIO_PLAY: start_clip(mixer, &entry, frame); break;
        case AUDIO_CUT: cut_speech(mixer, entry.sequence); break;
        default: set_tone(mixer, &entry, frame); break;
        }
    }
    if (mixer->tone_next_frame <= frame)
        start_pulse(mixer, frame);
}

/* The frame at which the next thing begins or a voice ends, at most end. */
static int64_t next_event(const struct audio_mixer *mixer, int64_t frame,
                          int64_t end)
{
    if (mixer->waiting_count > 0 && mixer->waiting[0].start_frame < end)
        end = mixer->waiting[0].start_frame;
    if (mixer->tone_next_frame < end)
        end = mixer->tone_next_frame;
    for (int i = 0; i < AUDIO_VOICES; i++) {
        const struct audio_voice *voice = &mixer->voice[i];
        uint32_t left;

        if (!voice->active)
            continue;
        left = mixer->bank->clip[voice->clip].frames - voice->position;
        if (voice->fading && voice->fade_left < left)
            left = voice->fade_left;
        if (frame + (int64_t)left < end)
            end = frame + (int64_t)left;
    }
    return end;
}

/* ---- sound -------------------------------------------------------------- */

/* From 0 to 1 as done goes to all, without a corner at either end, which would
 * be heard as a click. */
static float raised_cosine(uint32_t done, uint32_t all)
{
    return 0.5F - 0.5F * cosf((float)UNITS_PI * (float)done / (float)all);
}

static float rise(uint32_t *left)
{
    float gain = 1.0F;

    if (*left > 0) {
        gain = raised_cosine(RISE_FRAMES - *left, RISE_FRAMES);
        (*left)--;
    }
    return gain;
}

/* A power of two: no bit of a sample is lost. */
static float sample_at(const struct audio_clip *clip, uint32_t position)
{
    return (float)clip->sample[position] * (1.0F / AUDIO_FULL_SCALE);
}

static void add_voice(struct audio_mixer *mixer, struct audio_voice *voice,
                      float *out, uint32_t frames)
{
    const struct audio_clip *clip = &mixer->bank->clip[voice->clip];

    for (uint32_t i = 0; i < frames && voice->active; i++) {
        float gain = voice->gain * rise(&voice->rise_left);

        if (voice->fading) {
            gain *= raised_cosine(voice->fade_left, AUDIO_FADE_FRAMES);
            voice->fade_left--;
        }
        out[i] += sample_at(clip, voice->position++) * gain;
        voice->active = voice->position < clip->frames &&
                        !(voice->fading && voice->fade_left == 0);
    }
}

static bool is_speaking(const struct audio_mixer *mixer)
{
    for (int i = 0; i < AUDIO_VOICES; i++) {
        if (mixer->voice[i].active)
            return true;
    }
    return false;
}

static void move_duck(struct audio_mixer *mixer, bool speaking)
{
    if (speaking) {
        mixer->duck = mixer->duck + DUCK_FALL < DUCK_STEPS
                          ? mixer->duck + DUCK_FALL
                          : DUCK_STEPS;
        mixer->duck_hold = DUCK_HOLD_FRAMES;
    } else if (mixer->duck_hold > 0) {
        mixer->duck_hold--;
    } else if (mixer->duck > 0) {
        mixer->duck--;
    }
}

static float duck_gain(const struct audio_mixer *mixer)
{
    if (mixer->duck == 0)
        return 1.0F;
    if (mixer->duck == DUCK_STEPS)
        return duck_floor;
    return 1.0F - (1.0F - duck_floor) * raised_cosine(mixer->duck, DUCK_STEPS);
}

static void add_tone(struct audio_mixer *mixer, bool speaking, float *out,
                     uint32_t frames)
{
    const struct audio_clip *pulse = &mixer->bank->clip[CLIP_NEAR_STALL];

    for (uint32_t i = 0; i < frames; i++) {
        move_duck(mixer, speaking);
        if (mixer->pulse_position < pulse->frames)
            out[i] += sample_at(pulse, mixer->pulse_position++) *
                      mixer->pulse_gain * duck_gain(mixer) *
                      rise(&mixer->pulse_rise_left);
    }
}

/* The gain falls at once and only as far as this sample needs, so the wave
 * stays continuous; a while after the last peak that came near the ceiling it
 * rises again, over at most 100 ms. */
static void limit(struct audio_mixer *mixer, float *out, uint32_t frames)
{
    for (uint32_t i = 0; i < frames; i++) {
        float level = fabsf(out[i]);

        if (level * mixer->limiter_gain > ceiling)
            mixer->limiter_gain = ceiling / level;
        if (level * mixer->limiter_gain > near_ceiling)
            mixer->limiter_hold = LIMITER_HOLD_FRAMES;
        /* Rounding may leave it a hair above. */
        out[i] = fmaxf(-ceiling, fminf(ceiling, out[i] * mixer->limiter_gain));
        if (mixer->limiter_hold > 0)
            mixer->limiter_hold--;
        else
            mixer->limiter_gain =
                fminf(1.0F, mixer->limiter_gain + limiter_rise);
    }
}

static void render_span(struct audio_mixer *mixer, float *out, uint32_t frames)
{
    bool speaking = is_speaking(mixer); /* the same for all of the span */

    for (int i = 0; i < AUDIO_VOICES; i++) {
        if (mixer->voice[i].active)
            add_voice(mixer, &mixer->voice[i], out, frames);
    }
    add_tone(mixer, speaking, out, frames);
}

void audio_mixer_render(struct audio_mixer *mixer, int64_t first_frame,
                        float *out, uint32_t frames)
{
    int64_t end = first_frame + (int64_t)frames;
    int64_t frame = first_frame;

    memset(out, 0, frames * sizeof *out);
    /* Nearly all of a flight is silence. */
    if (audio_mixer_idle(mixer) && mixer->duck == 0 &&
        mixer->limiter_gain >= 1.0F)
        return;
    while (frame < end) {
        int64_t stop;

        run_due(mixer, frame);
        stop = next_event(mixer, frame, end);
        render_span(mixer, out + (frame - first_frame),
                    (uint32_t)(stop - frame));
        frame = stop;
    }
    limit(mixer, out, frames);
}

bool audio_mixer_idle(const struct audio_mixer *mixer)
{
    return mixer->waiting_count == 0 && !is_speaking(mixer) &&
           mixer->tone_band == 0 &&
           mixer->pulse_position >= mixer->bank->clip[CLIP_NEAR_STALL].frames;
}
