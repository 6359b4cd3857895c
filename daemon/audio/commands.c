/* commands.c - what both sinks are told, and names. */
#include <string.h>

#include "quarterturn/audio.h"

void audio_settings_defaults(struct audio_settings *settings)
{
    memset(settings, 0, sizeof *settings);
    settings->buffer_frames = 448;
    settings->latency_s = 0.02;
    settings->gain = 1.0;
}

const char *audio_state_name(enum audio_state state)
{
    switch (state) {
    case AUDIO_STARTING: return "starting";
    case AUDIO_PLAYING: return "playing";
    case AUDIO_NO_DEVICE: return "no device";
    case AUDIO_FAILED: return "failed";
    case AUDIO_RESTING: return "resting";
    }
    return "unknown";
}

uint32_t audio_commands_of_call(const struct callout_call *call,
                                int64_t shift_ns, float gain,
                                struct audio_command out[AUDIO_MAX_COMMANDS])
{
    uint32_t count = 0;

    if (call->cuts_in) {
        out[count++] = (struct audio_command){
            .start_ns = call->onset_ns + shift_ns,
            .sequence = call->number,
            .action = AUDIO_CUT,
        };
    }
    for (uint32_t i = 0; i < call->clip_count && i < CALLOUT_MAX_CLIPS; i++) {
        int64_t after_ns = call->clip_onset_ns[i] - call->onset_ns;

        /* Each clip may be as late as the first one. */
        out[count++] = (struct audio_command){
            .start_ns = call->clip_onset_ns[i] + shift_ns,
            .expiry_ns = call->expiry_ns + after_ns + shift_ns,
            .sequence = call->number,
            .action = AUDIO_PLAY,
            .argument = (uint16_t)call->clip[i],
            .gain = gain,
        };
    }
    return count;
}

void audio_command_of_tone(const struct callout_tone *tone, int64_t shift_ns,
                           float gain, struct audio_command *out)
{
    *out = (struct audio_command){
        .start_ns = tone->t_ns + shift_ns,
        .action = AUDIO_TONE,
        .argument = (uint16_t)tone->band,
        .gain = gain,
    };
}
