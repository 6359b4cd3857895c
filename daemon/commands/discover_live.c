/* discover_live.c - a stream collected in flight. */
#include "discover_live.h"

#include <signal.h>
#include <uv.h>

#include "commands.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"

/* What is asked for, and from which part of the time on. About equal legs:
 * long enough to fly, short enough to hold. */
static const struct {
    double from;
    const char *text;
} legs[] = {
    {0.0, "Fly straight and level."},
    {0.12, "Turn left by 90 degrees or more, 30 degrees of bank."},
    {0.32, "Roll out; then turn right by 90 degrees or more, 30 degrees of "
           "bank."},
    {0.55, "Roll out; raise the nose 10 degrees and climb until the speed has "
           "fallen by a quarter."},
    {0.80, "Turn left in the climb, then level off."},
};

enum { LEGS = sizeof legs / sizeof legs[0] };

struct live {
    struct intake_discovery *discovery;
    uint16_t port;
    double seconds;
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    uv_signal_t terminate;
    struct intake_udp *udp;
    int leg; /* next to ask for; 0: nothing came yet */
};

static void stop(struct live *live)
{
    uv_close((uv_handle_t *)&live->timer, NULL);
    uv_close((uv_handle_t *)&live->interrupt, NULL);
    uv_close((uv_handle_t *)&live->terminate, NULL);
    if (live->udp != NULL)
        intake_udp_close(live->udp);
    live->udp = NULL;
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
    live->leg++;
    (void)uv_timer_start(timer, on_leg,
                         (uint64_t)((to - from) * live->seconds * 1e3), 0);
}

static void on_datagram(void *context, const struct intake_datagram *datagram)
{
    struct live *live = context;

    if (datagram->length > INTAKE_MAX_DATAGRAM)
        return;
    intake_discovery_push(live->discovery, datagram->t_ns, live->port,
                          datagram->data, datagram->length);
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
    (void)uv_signal_start(&live->interrupt, on_signal, SIGINT);
    (void)uv_signal_start(&live->terminate, on_signal, SIGTERM);
    log_plain(LOG_LEVEL_WARNING,
              "Listening on %s port %u. Start the flight, level at a safe "
              "height; it begins with the first packet.",
              wanted->address, live->port);
    return 0;
}

int discover_live(struct intake_discovery *discovery,
                  const struct discover_live_wanted *wanted)
{
    struct live live = {.discovery = discovery, .seconds = wanted->seconds};
    int status = uv_loop_init(&live.loop);

    if (status == 0)
        status = uv_timer_init(&live.loop, &live.timer);
    if (status == 0)
        status = uv_signal_init(&live.loop, &live.interrupt);
    if (status == 0)
        status = uv_signal_init(&live.loop, &live.terminate);
    if (status != 0) {
        log_line(LOG_LEVEL_ERROR, "cannot start: %s", uv_strerror(status));
        return EXIT_COULD_NOT;
    }
    live.timer.data = &live;
    live.interrupt.data = &live;
    live.terminate.data = &live;
    status = open_port(&live, wanted);
    (void)uv_run(&live.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&live.loop);
    return status;
}
