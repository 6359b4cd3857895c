/* player.c - from the ring to a device's buffer. */
#include "player.h"

#include <math.h>
#include <string.h>

/* So that a full ring cannot make one callback long. */
enum { COMMANDS_PER_FILL = 16 };

void audio_player_init(struct audio_player *player, struct audio_share *share,
                       const struct audio_bank *bank)
{
    memset(player, 0, sizeof *player);
    player->share = share;
    /* Whatever a worker before this one was saying is gone. */
    atomic_store(&share->sounding, 0);
    audio_mixer_init(&player->mixer, bank);
}

int audio_player_attach(struct audio_player *player, double device_rate_hz,
                        uint32_t channels, double latency_s)
{
    player->device_rate_hz = device_rate_hz;
    player->channels = channels;
    audio_clock_init(&player->clock, AUDIO_RATE_HZ);
    audio_lead_init(&player->lead, latency_s);
    audio_resampler_fini(&player->resampler);
    if (player->tone.action == AUDIO_TONE) {
        (void)audio_mixer_command(&player->mixer, &player->tone,
                                  player->mixed_frames, player->mixed_frames);
        player->tone.action = 0;
    }
    if (device_rate_hz == AUDIO_RATE_HZ)
        return 0;
    return audio_resampler_init(&player->resampler, device_rate_hz);
}

/* What should have begun longer ago than this is not made up for, be its
 * expiry what it may: sound has just come back, and the moment has gone. */
static const int64_t most_late_ns = INT64_C(100000000);

/* The last instant at which a command may begin. */
static int64_t last_start_ns(const struct audio_command *command)
{
    return command->expiry_ns - most_late_ns < command->start_ns
               ? command->expiry_ns
               : command->start_ns + most_late_ns;
}

static void take_commands(struct audio_player *player)
{
    struct audio_ring *ring = &player->share->ring;
    struct audio_command command;

    for (int i = 0; i < COMMANDS_PER_FILL; i++) {
        if (!audio_ring_peek(ring, &command))
            return;
        /* Before the slot is given back: whoever sees an empty ring must see
         * that something sounds. */
        atomic_store_explicit(&player->share->sounding, 1,
                              memory_order_relaxed);
        audio_ring_drop(ring);
        (void)audio_mixer_command(
            &player->mixer, &command,
            audio_clock_frame(&player->clock, command.start_ns),
            audio_clock_frame(&player->clock, last_start_ns(&command)));
    }
}

static void mix(void *context, float *out, uint32_t frames)
{
    struct audio_player *player = context;

    audio_mixer_render(&player->mixer, player->mixed_frames, out, frames);
    player->mixed_frames += frames;
}

static void fill_block(struct audio_player *player, float *out, uint32_t frames)
{
    if (player->resampler.state != NULL)
        audio_resampler_fill(&player->resampler, mix, player, player->mono,
                             frames);
    else
        mix(player, player->mono, frames);
    for (uint32_t i = 0; i < frames; i++) {
        for (uint32_t c = 0; c < player->channels; c++)
            *out++ = player->mono[i];
    }
    player->device_frames += frames;
}

static void publish(struct audio_player *player, double latency_s)
{
    struct audio_share *share = player->share;

    atomic_store_explicit(&share->sounding,
                          audio_mixer_idle(&player->mixer) ? 0 : 1,
                          memory_order_relaxed);
    if (player->mixer.dropped > 0) {
        atomic_fetch_add_explicit(&share->dropped, player->mixer.dropped,
                                  memory_order_relaxed);
        player->mixer.dropped = 0;
    }
    atomic_store_explicit(&share->latency_ns, llround(latency_s * 1e9),
                          memory_order_relaxed);
    atomic_store_explicit(&share->latency_measured,
                          audio_lead_is_believed(&player->lead) ? 1 : 0,
                          memory_order_relaxed);
    atomic_fetch_add_explicit(&share->callbacks, 1, memory_order_relaxed);
}

/* What already waits in the mixer stands at frames by the old line. */
static void update_clock(struct audio_player *player, int64_t frame,
                         int64_t heard_ns)
{
    struct audio_clock *clock = &player->clock;
    uint32_t resets = clock->resets;
    int64_t foreseen =
        clock->running ? audio_clock_frame(clock, heard_ns) : frame;

    audio_clock_update(clock, frame, heard_ns);
    if (clock->resets != resets)
        audio_mixer_move(&player->mixer, frame - foreseen);
}

void audio_player_fill(struct audio_player *player, int64_t now_ns,
                       double lead_s, float *out, uint32_t frames)
{
    /* In frames of the mixer, also where the device has another rate: the
     * resampler reads ahead, so what is mixed is not what is next heard. */
    int64_t frame = llround((double)player->device_frames * AUDIO_RATE_HZ /
                            player->device_rate_hz);
    double calibration_s = player->share->settings.calibration_s;

    lead_s = audio_lead_add(&player->lead, lead_s) + calibration_s;
    /* Until it is known when a frame is heard, commands stay in the ring:
     * they would be put at a wrong frame. */
    if (audio_lead_is_settled(&player->lead)) {
        update_clock(player, frame, now_ns + llround(lead_s * 1e9));
        take_commands(player);
    }
    for (uint32_t done = 0; done < frames;) {
        uint32_t left = frames - done;
        uint32_t block = left < AUDIO_PLAYER_BLOCK ? left : AUDIO_PLAYER_BLOCK;

        fill_block(player, out + (size_t)done * player->channels, block);
        done += block;
    }
    publish(player, audio_lead_median(&player->lead) + calibration_s);
}

void audio_player_idle(struct audio_player *player, int64_t now_ns)
{
    struct audio_ring *ring = &player->share->ring;
    struct audio_command command;

    while (audio_ring_peek(ring, &command)) {
        if (command.action == AUDIO_PLAY) {
            /* A device may still come in time for it. */
            if (last_start_ns(&command) >= now_ns)
                return;
            atomic_fetch_add_explicit(&player->share->dropped, 1,
                                      memory_order_relaxed);
        } else if (command.action == AUDIO_TONE) {
            player->tone = command;
        }
        audio_ring_drop(ring);
    }
}
