/* endless.c - a flight that never ends and keeps the caller busy. */
#include "endless.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <arpa/inet.h>
#include <math.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* The pitch limit of the club trainer is 20 degrees; the next crossing counts
 * when the nose has been 2 degrees below. */
static const double swing_about_deg = 19.0;
static const double swing_deg = 3.0;
static const double swing_s = 1.5;
static const double level_pitch_deg = 2.0;
static const double two_pi = 6.28318530717958647692;

const char endless_config[] =
    "use { aircraft = \"club-trainer\" layout = \"plain-text\" }\n"
    "callout { repeat = \"0 s\" spacing = \"0.2 s\" }\n";

/* How far a change that takes so long has come, 0 to 1. */
static double part(double t, double from, double lasts)
{
    return fmin(1.0, fmax(0.0, (t - from) / lasts));
}

static void send_next(struct endless *endless)
{
    double t = (double)endless->sent / ENDLESS_RATE_HZ;
    double in = fmod(t, ENDLESS_ATTEMPT_S);
    double turning =
        part(in, 4.5, 2.0) - part(in, ENDLESS_ATTEMPT_S - 4.0, 2.0);
    double climbing =
        part(in, 4.5, 4.0) - part(in, ENDLESS_ATTEMPT_S - 4.0, 4.0);
    double pitch_deg =
        level_pitch_deg + climbing * (swing_about_deg - level_pitch_deg);
    char line[160];
    int length;

    if (climbing >= 1.0)
        pitch_deg += swing_deg * sin(two_pi * (in - 8.5) / swing_s);
    endless->heading_deg =
        fmod(endless->heading_deg + turning * 0.7 / ENDLESS_RATE_HZ, 360.0);
    endless->altitude_ft += climbing * 1200.0 / 60.0 / ENDLESS_RATE_HZ;
    length = snprintf(line, sizeof line,
                      "%.4f,%.4f,%.4f,%.4f,105.0,109.0,%.2f,2000,%.1f,1.0,0.0,"
                      "0.0,3.0",
                      500.0 + t, endless->heading_deg, pitch_deg,
                      30.0 * turning, endless->altitude_ft, climbing * 1200.0);
    /* Nobody may listen for a moment; nothing is lost that matters. */
    (void)send(endless->socket, line, (size_t)length, 0);
    endless->sent++;
}

static void on_due(uv_timer_t *timer)
{
    struct endless *endless = timer->data;
    int64_t now_ns = (int64_t)uv_hrtime();

    if (endless->sent == 0)
        endless->origin_ns = now_ns;
    while (endless->origin_ns +
               endless->sent * INT64_C(1000000000) / ENDLESS_RATE_HZ <=
           now_ns)
        send_next(endless);
}

void endless_begin_through(struct endless *endless, uv_loop_t *loop, int socket)
{
    memset(endless, 0, sizeof *endless);
    endless->heading_deg = 90.0;
    endless->altitude_ft = 3000.0;
    endless->socket = socket;
    (void)uv_timer_init(loop, &endless->timer);
    endless->timer.data = endless;
    (void)uv_timer_start(&endless->timer, on_due, 0, 4);
}

void endless_begin(struct endless *endless, uv_loop_t *loop, uint16_t port)
{
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port)};
    int out = socket(AF_INET, SOCK_DGRAM, 0);

    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    assert_true(out >= 0);
    assert_int_equal(connect(out, (const struct sockaddr *)&to, sizeof to), 0);
    endless_begin_through(endless, loop, out);
}

void endless_end(struct endless *endless)
{
    close(endless->socket);
    uv_close((uv_handle_t *)&endless->timer, NULL);
}

static void on_over(uv_timer_t *timer)
{
    uv_stop(timer->loop);
    uv_close((uv_handle_t *)timer, NULL);
}

void endless_wait(uv_loop_t *loop, double seconds)
{
    uv_timer_t over;

    (void)uv_timer_init(loop, &over);
    (void)uv_timer_start(&over, on_over, (uint64_t)(seconds * 1e3), 0);
    (void)uv_run(loop, UV_RUN_DEFAULT);
    (void)uv_run(loop, UV_RUN_NOWAIT);
}
