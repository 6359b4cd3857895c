/* live_posix.c - flying at a running program over loopback. */
#include "live.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "quarterturn/control.h"
#include "quarterturn/units.h"
#include "sample.h"

uint16_t live_port(const struct process *process)
{
    static const char words[] = "listening on 127.0.0.1 port ";
    const char *said = strstr(process->err, words);
    unsigned long port;

    assert_non_null(said);
    port = strtoul(said + strlen(words), NULL, 10);
    assert_in_range(port, 1, 65535);
    return (uint16_t)port;
}

json_t *live_ask(const char *control, const char *request)
{
    char reply[CONTROL_MAX_REPLY];
    char why[200];
    json_t *root;

    if (control_ask(control, request, 5000, reply, why, sizeof why) != 0)
        fail_msg("%s", why);
    root = json_loads(reply, 0, NULL);
    assert_non_null(root);
    return root;
}

static void wait_until(const struct timespec *start, int64_t since_ns)
{
    struct timespec due = *start;

    due.tv_sec += (time_t)(since_ns / UNITS_NS_PER_S);
    due.tv_nsec += (long)(since_ns % UNITS_NS_PER_S);
    if (due.tv_nsec >= UNITS_NS_PER_S) {
        due.tv_nsec -= (long)UNITS_NS_PER_S;
        due.tv_sec++;
    }
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL) ==
           EINTR) {
    }
}

struct live_told live_tell(const char *control)
{
    struct live_told told;
    const char *state = NULL;
    json_t *root = live_ask(control, "{\"ask\":\"status\"}");

    assert_int_equal(
        json_unpack(
            root, "{s:{s:I, s:{s:F, s:F, s:F}, s:{s:s, s:I, s:I, s:I}}}",
            "status", "calls", &told.calls, "loop", "longest_turn_ms",
            &told.turn_ms, "longest_held_ms", &told.held_ms, "longest_wait_ms",
            &told.wait_ms, "sound", "state", &state, "buffers", &told.buffers,
            "restarts", &told.restarts, "dropped", &told.dropped),
        0);
    (void)snprintf(told.state, sizeof told.state, "%s", state);
    json_decref(root);
    return told;
}

size_t live_fly(const char *path, uint16_t port, double from_s, double to_s)
{
    int64_t from_ns = (int64_t)(from_s * 1e9);
    int64_t to_ns = (int64_t)(to_s * 1e9);
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port)};
    struct sample_recording flight;
    struct timespec start;
    size_t sent = 0;
    int out = socket(AF_INET, SOCK_DGRAM, 0);

    sample_recording_load(path, &flight);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    assert_true(out >= 0);
    assert_int_equal(clock_gettime(CLOCK_MONOTONIC, &start), 0);
    for (size_t i = 0; i < flight.count; i++) {
        const struct sample_datagram *datagram = &flight.datagram[i];
        int64_t since_ns = datagram->t_ns - flight.datagram[0].t_ns;

        if (since_ns < from_ns || since_ns > to_ns)
            continue;
        wait_until(&start, since_ns - from_ns);
        assert_int_equal(sendto(out, flight.bytes + datagram->at,
                                datagram->length, 0,
                                (const struct sockaddr *)&to, sizeof to),
                         datagram->length);
        sent++;
    }
    (void)close(out);
    sample_recording_free(&flight);
    return sent;
}
