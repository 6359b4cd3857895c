/* discover_live.c - a stream collected in flight. */
#include "discover_live.h"

#include <signal.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "loop.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"

/* What is asked for, and from which part of the time on. About equal legs:
 * long enough to fly, short enough to hold. */
static const struct {
    double from;
    const char *text;
    enum callout_clip clip;
} legs[] = {
    {0.0, "Fly straight and level.", CLIP_FLY_STRAIGHT},
    {0.12, "Turn left by 90 degrees or more, 30 degrees of bank.",
     CLIP_TURN_LEFT},
    {0.32,
     "Roll out; then turn right by 90 degrees or more, 30 degrees of "
     "bank.",
     CLIP_TURN_RIGHT},
    {0.55,
     "Roll out; raise the nose 10 degrees and climb until the speed has "
     "fallen by a quarter.",
     CLIP_CLIMB_NOW},
    {0.80, "Turn left in the climb, then level off.", CLIP_TURN_LEFT},
};

enum { LEGS = sizeof legs / sizeof legs[0], LEFT_LEG = 1, DRAIN_MS = 1000 };

struct live {
    struct intake_discovery *discovery;
    uint16_t port;
    double seconds;
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    uv_signal_t terminate;
    struct intake_udp *udp;
    struct audio_output *audio; /* NULL without sound */
    double gain;
    struct discover_turn *turn;
    int64_t turn_next_ns; /* when the next packet of it is kept */
    int leg;              /* next to ask for; 0: nothing came yet */
};

static void stop(struct live *live)
{
    uv_close((uv_handle_t *)&live->timer, NULL);
    uv_close((uv_handle_t *)&live->interrupt, NULL);
    uv_close((uv_handle_t *)&live->terminate, NULL);
    if (live->udp != NULL)
        intake_udp_close(live->udp);
    live->udp = NULL;
    if (live->audio != NULL)
        audio_output_close(live->audio, DRAIN_MS);
    live->audio = NULL;
}

/* The words on the terminal tell more; these tell when to look. */
static void say(struct live *live, enum callout_clip clip)
{
    int64_t now_ns = (int64_t)uv_hrtime();
    const struct audio_command command = {
        .start_ns = now_ns,
        .expiry_ns = now_ns + 2 * UNITS_NS_PER_S,
        .action = AUDIO_PLAY,
        .argument = (uint16_t)clip,
        .gain = (float)live->gain,
    };

    /* Without a device the caption has to do. */
    if (live->audio != NULL)
        (void)audio_output_submit(live->audio, &command);
}

/* Ask for the next leg and wait for its end. */
static void on_leg(uv_timer_t *timer)
{
    struct live *live = timer->data;
    double from;
    double to;

    if (live->leg == LEGS) {
        log_line(LOG_LEVEL_NOTE, "thank you, that was all");
        stop(live);
        return;
    }
    from = legs[live->leg].from;
    to = live->leg + 1 < LEGS ? legs[live->leg + 1].from : 1.0;
    log_plain(LOG_LEVEL_WARNING, "%s (%.0f s)", legs[live->leg].text,
              (to - from) * live->seconds);
    say(live, legs[live->leg].clip);
    live->leg++;
    (void)uv_timer_start(timer, on_leg,
                         (uint64_t)((to - from) * live->seconds * 1e3), 0);
}

static void keep_turn(struct live *live, const struct intake_datagram *datagram)
{
    struct discover_turn *turn = live->turn;
    double leg_s =
        (legs[LEFT_LEG + 1].from - legs[LEFT_LEG].from) * live->seconds;

    /* live->leg is the one after the leg that is being flown. */
    if (live->leg != LEFT_LEG + 1 || turn->count == DISCOVER_TURN_PACKETS ||
        datagram->length > DISCOVER_TURN_BYTES ||
        datagram->t_ns < live->turn_next_ns)
        return;
    live->turn_next_ns =
        datagram->t_ns + (int64_t)(leg_s * 1e9 / DISCOVER_TURN_PACKETS);
    turn->length[turn->count] = datagram->length;
    memcpy(turn->data[turn->count], datagram->data, datagram->length);
    turn->count++;
}

double discover_turn_rad(const struct discover_turn *turn,
                         const struct intake_layout *layout)
{
    double turned_rad = 0.0;
    double last_rad = 0.0;
    bool begun = false;

    for (uint32_t i = 0; i < turn->count; i++) {
        struct intake_sample sample;

        if (intake_decode(layout, turn->data[i], turn->length[i], &sample) !=
                INTAKE_TAKEN ||
            (sample.valid & CHANNEL_BIT(CHANNEL_HEADING)) == 0)
            continue;
        if (begun)
            turned_rad +=
                angle_wrap_half(sample.value[CHANNEL_HEADING] - last_rad);
        last_rad = sample.value[CHANNEL_HEADING];
        begun = true;
    }
    return turned_rad;
}

static void on_datagram(void *context, const struct intake_datagram *datagram)
{
    struct live *live = context;

    if (datagram->length > INTAKE_MAX_DATAGRAM)
        return;
    intake_discovery_push(live->discovery, datagram->t_ns, live->port,
                          datagram->data, datagram->length);
    keep_turn(live, datagram);
    if (live->leg == 0)
        on_leg(&live->timer);
}

static void on_signal(uv_signal_t *handle, int number)
{
    (void)number;
    /* Both signals may come in one turn of the loop. */
    if (!uv_is_closing((uv_handle_t *)handle))
        stop(handle->data);
}

static int open_port(struct live *live,
                     const struct discover_live_wanted *wanted)
{
    char why[256];
    const struct intake_place place = {wanted->address, (uint16_t)wanted->port,
                                       wanted->group, wanted->group_count};
    int status = intake_udp_open(&live->loop, &place, on_datagram, live,
                                 &live->udp, why, sizeof why);

    if (status != 0) {
        log_line(LOG_LEVEL_ERROR, "%s", why);
        stop(live);
        return status == ERR_USAGE ? EXIT_WRONG_USAGE : EXIT_COULD_NOT;
    }
    live->port = intake_udp_port(live->udp);
    if (!wanted->silent &&
        audio_output_open(&live->loop, wanted->program, wanted->audio, NULL,
                          NULL, &live->audio) < 0)
        live->audio = NULL;
    live->gain = wanted->audio->gain;
    (void)uv_signal_start(&live->interrupt, on_signal, SIGINT);
    (void)uv_signal_start(&live->terminate, on_signal, SIGTERM);
    log_plain(LOG_LEVEL_WARNING,
              "Listening on %s port %u. Start the flight, level at a safe "
              "height; it begins with the first packet.",
              wanted->address, live->port);
    return 0;
}

int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted,
                  struct discover_turn *turn)
{
    struct live live = {
        .discovery = discovery, .seconds = wanted->seconds, .turn = turn};
    uv_timer_t *const timers[] = {&live.timer, NULL};
    uv_signal_t *const signals[] = {&live.interrupt, &live.terminate, NULL};
    const struct loop_handles handles = {timers, signals};
    int status = loop_begin(&live.loop, &handles, &live);

    if (status != 0)
        return status;
    status = open_port(&live, wanted);
    (void)uv_run(&live.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&live.loop);
    return status;
}
