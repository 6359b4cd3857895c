/* player.c - from the ring to a device's buffer. */
#include "player.h"

#include <math.h>
#include <string.h>

#include "quarterturn/units.h"

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
    player->mixed_per_frame = AUDIO_RATE_HZ / device_rate_hz;
    player->device_frames = 0;
    player->origin_frame = player->mixed_frames;
    audio_clock_init(&player->clock, device_rate_hz);
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
    int64_t late_ns = command->start_ns < INT64_MAX - most_late_ns
                          ? command->start_ns + most_late_ns
                          : INT64_MAX;

    return command->expiry_ns < late_ns ? command->expiry_ns : late_ns;
}

/* The clock counts the device's own frames, which it sees without rounding;
 * the resampler reads ahead, so what is mixed is not what is next heard. */
static int64_t mixed_frame(const struct audio_player *player, int64_t t_ns)
{
    return player->origin_frame +
           llround(audio_clock_position(&player->clock, t_ns) *
                   player->mixed_per_frame);
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
        (void)audio_mixer_command(&player->mixer, &command,
                                  mixed_frame(player, command.start_ns),
                                  mixed_frame(player, last_start_ns(&command)));
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
        /* Between two samples a wave may be higher than at them, so that at
         * other places it can stand above full scale. */
        float sample = fmaxf(-1.0F, fminf(1.0F, player->mono[i]));

        for (uint32_t c = 0; c < player->channels; c++)
            *out++ = sample;
    }
    player->device_frames += frames;
}

/* The stream will be broken off: down in 10 ms, and silent from then on. */
static void fade_away(struct audio_player *player, float *out, uint32_t frames)
{
    uint32_t all = (uint32_t)(player->device_rate_hz / 100.0);

    for (uint32_t i = 0; i < frames; i++) {
        float gain = 0.0F;

        if (player->left_frames < all) {
            gain = 0.5F + 0.5F * cosf((float)UNITS_PI *
                                      (float)player->left_frames / (float)all);
            player->left_frames++;
        }
        for (uint32_t c = 0; c < player->channels; c++)
            *out++ *= gain;
    }
    if (player->left_frames == all)
        atomic_store(&player->has_left, true);
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
static void update_clock(struct audio_player *player, int64_t heard_ns)
{
    struct audio_clock *clock = &player->clock;
    uint32_t resets = clock->resets;

    audio_clock_update(clock, player->device_frames, heard_ns);
    if (clock->resets != resets)
        audio_mixer_move(&player->mixer,
                         -llround(clock->step_ns / 1e9 * AUDIO_RATE_HZ));
}

void audio_player_fill(struct audio_player *player, int64_t now_ns,
                       double lead_s, float *out, uint32_t frames)
{
    double calibration_s = player->share->settings.calibration_s;

    lead_s = audio_lead_add(&player->lead, lead_s) + calibration_s;
    /* Until it is known when a frame is heard, commands stay in the ring:
     * they would be put at a wrong frame. */
    if (audio_lead_is_settled(&player->lead)) {
        update_clock(player, now_ns + llround(lead_s * 1e9));
        take_commands(player);
    }
    for (uint32_t done = 0; done < frames;) {
        uint32_t left = frames - done;
        uint32_t block = left < AUDIO_PLAYER_BLOCK ? left : AUDIO_PLAYER_BLOCK;

        fill_block(player, out + (size_t)done * player->channels, block);
        done += block;
    }
    if (atomic_load_explicit(&player->leaving, memory_order_relaxed))
        fade_away(player, out, frames);
    /* The lead is that of a buffer's first frame: the frame in the middle is
     * heard half a buffer later. */
    publish(player, audio_lead_middle(&player->lead) + calibration_s +
                        0.5 * frames / player->device_rate_hz);
}

void audio_player_leave(struct audio_player *player)
{
    atomic_store(&player->leaving, true);
}

bool audio_player_has_left(struct audio_player *player)
{
    return atomic_load(&player->has_left);
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
