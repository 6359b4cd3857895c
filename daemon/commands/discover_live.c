/* discover_live.c - a stream collected in flight. */
#include "discover_live.h"

#include <signal.h>
#include <uv.h>

#include "commands.h"
#include "loop.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "readers.h"

enum { DRAIN_MS = 1000 };

struct live {
    struct intake_discovery *discovery;
    uint16_t port;
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    uv_signal_t terminate;
    struct intake_udp *udp;
    struct audio_output *audio; /* NULL without sound */
    double gain;
    struct discover_legs legs;
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
    struct discover_leg leg;

    if (!discover_legs_next(&live->legs, &leg)) {
        log_line(LOG_LEVEL_NOTE, "thank you, that was all");
        stop(live);
        return;
    }
    log_plain(LOG_LEVEL_WARNING, "%s (%.0f s)", leg.text, leg.seconds);
    say(live, leg.clip);
    (void)uv_timer_start(timer, on_leg, (uint64_t)(leg.seconds * 1e3), 0);
}

static void on_datagram(void *context, const struct intake_datagram *datagram)
{
    struct live *live = context;

    if (datagram->length > INTAKE_MAX_DATAGRAM)
        return;
    intake_discovery_push(live->discovery, datagram->t_ns, live->port,
                          datagram->data, datagram->length);
    discover_legs_keep(&live->legs, datagram);
    if (live->legs.asked == 0)
        on_leg(&live->timer);
}

/* Nothing came in all the time there was. */
static void on_silence(uv_timer_t *timer)
{
    stop(timer->data);
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
    (void)uv_timer_start(&live->timer, on_silence,
                         (uint64_t)(wanted->seconds * 1e3), 0);
    log_plain(LOG_LEVEL_WARNING,
              "Listening on %s port %u. Start the flight, level at a safe "
              "height; it begins with the first packet, awaited for %.0f s.",
              wanted->address, live->port, wanted->seconds);
    return 0;
}

int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted,
                  struct discover_turn *turn)
{
    struct live live = {.discovery = discovery,
                        .legs = {.seconds = wanted->seconds, .turn = turn}};
    uv_timer_t *const timers[] = {&live.timer, NULL};
    uv_signal_t *const signals[] = {&live.interrupt, &live.terminate, NULL};
    const struct loop_handles handles = {timers, signals};
    int status = loop_begin(&live.loop, &handles, &live);

    if (status != 0)
        return status;
    readers_may_go();
    status = open_port(&live, wanted);
    (void)uv_run(&live.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&live.loop);
    return status;
}
