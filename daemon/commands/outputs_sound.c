/* outputs_sound.c - what a session gives, to the ear and to a WAV file. */
#include "outputs_sound.h"

#include "outputs.h"
#include "quarterturn/log.h"

static int64_t monotonic_shift_ns(const struct outputs *outputs, int64_t t_ns)
{
    return outputs->to_monotonic_ns(outputs->clock_context, t_ns) - t_ns;
}

/* What does not fit into the mixer is dropped and counted there. */
void outputs_sound_call(struct outputs *outputs,
                        const struct callout_call *call)
{
    struct audio_command commands[AUDIO_MAX_COMMANDS];
    float gain = (float)outputs->settings->audio.gain;
    uint32_t count;

    if (outputs->awake_ns < call->onset_ns)
        outputs->awake_ns = call->onset_ns;
    if (outputs->wav != NULL) {
        count =
            audio_commands_of_call(call, -outputs->origin_ns, gain, commands);
        for (uint32_t i = 0; i < count; i++)
            (void)audio_wav_submit(outputs->wav, &commands[i]);
    }
    if (outputs->audio != NULL) {
        count = audio_commands_of_call(
            call, monotonic_shift_ns(outputs, call->onset_ns), gain, commands);
        for (uint32_t i = 0; i < count; i++)
            (void)audio_output_submit(outputs->audio, &commands[i]);
    }
}

static void submit_tone(struct outputs *outputs,
                        const struct callout_tone *tone)
{
    struct audio_command command;

    audio_command_of_tone(tone, monotonic_shift_ns(outputs, tone->t_ns),
                          (float)outputs->settings->audio.gain, &command);
    (void)audio_output_submit(outputs->audio, &command);
}

void outputs_sound_tone(struct outputs *outputs,
                        const struct callout_tone *tone)
{
    struct audio_command command;
    float gain = (float)outputs->settings->audio.gain;

    if (outputs->wav != NULL) {
        audio_command_of_tone(tone, -outputs->origin_ns, gain, &command);
        (void)audio_wav_submit(outputs->wav, &command);
    }
    if (outputs->audio != NULL)
        submit_tone(outputs, tone);
}

void outputs_mute(struct outputs *outputs, int64_t t_ns, bool muted)
{
    struct callout_tone tone = {t_ns, muted ? 0 : outputs->tone.band};
    struct audio_command cut = {
        .start_ns = t_ns, .sequence = outputs->calls + 1, .action = AUDIO_CUT};

    outputs->muted = muted;
    if (muted && outputs->audio != NULL)
        (void)audio_output_submit(outputs->audio, &cut);
    if (!outputs->has_origin)
        return;
    outputs_sound_tone(outputs, &tone);
    if (muted && outputs->wav != NULL) {
        cut.start_ns = t_ns - outputs->origin_ns;
        (void)audio_wav_submit(outputs->wav, &cut);
    }
}

/* One clear line about the state of the sound. */
static void say_audio(void *context, enum audio_state state)
{
    (void)context;
    switch (state) {
    case AUDIO_STARTING: break;
    case AUDIO_PLAYING: log_line(LOG_LEVEL_NOTE, "sound is on"); break;
    case AUDIO_NO_DEVICE:
        log_line(LOG_LEVEL_NOTE, "no sound device: captions go on, and sound "
                                 "comes when a device does");
        break;
    case AUDIO_FAILED:
        log_line(LOG_LEVEL_WARNING, "the sound worker failed: captions go on, "
                                    "and it is tried again");
        break;
    case AUDIO_RESTING:
        log_line(LOG_LEVEL_NOTE,
                 "no packets for a while: sound rests until they come");
        break;
    }
}

void outputs_start_sound(struct outputs *outputs, struct uv_loop_s *loop,
                         const char *program)
{
    if (audio_output_open(loop, program, &outputs->settings->audio, say_audio,
                          NULL, &outputs->audio) < 0) {
        outputs->audio = NULL;
        log_line(LOG_LEVEL_WARNING,
                 "no sound: the sound worker cannot be started; captions go "
                 "on");
    }
}

void outputs_keep_sound(struct outputs *outputs, int64_t t_ns)
{
    if (outputs->awake_ns < t_ns)
        outputs->awake_ns = t_ns;
    if (outputs->audio != NULL)
        audio_output_wake(outputs->audio);
}

void outputs_rest_sound(struct outputs *outputs, int64_t now_ns)
{
    int64_t rest_ns = outputs->settings->rest_ns;

    if (outputs->awake_ns == 0)
        outputs->awake_ns = now_ns;
    if (outputs->audio != NULL && rest_ns > 0 &&
        now_ns - outputs->awake_ns >= rest_ns)
        audio_output_rest(outputs->audio);
}

void outputs_stop_sound(struct outputs *outputs, int64_t t_ns,
                        uint32_t drain_ms)
{
    struct callout_tone silence = {t_ns, 0};

    if (outputs->audio == NULL)
        return;
    submit_tone(outputs, &silence);
    audio_output_close(outputs->audio, drain_ms);
    outputs->audio = NULL;
}
