/* test_flood.c - a flood of wrong datagrams, and the flight goes on.
 *
 * Two programs are flown to alike; one of them is flooded from another
 * address and from another port of the same one, with packets that are well
 * formed and with bytes that mean nothing. Its calls must be those of the
 * other. Ends by itself after LOAD_SECONDS (5) of flood. */
#define _GNU_SOURCE /* sendmmsg */

#include <arpa/inet.h>
#include <math.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>
#include <uv.h>

#include "endless.h"
#include "folder.h"
#include "live.h"
#include "process.h"
#include "quarterturn/units.h"

enum { RATE_HZ = 200000, BATCH = 100, MOST_CALLS = 128, KINDS = 4 };

/* The flight is in its turn by then. */
static const double before_s = 10.0;
/* Between the calls of both, half of them and all: the sender and both
 * programs share the cores with the flood. */
static const double apart_median_s = 0.015;
static const double apart_most_s = 0.1;
/* What the loop itself may take for a turn, other programs left out, and what a
 * turn may that waits for something: less than from one packet of the flight to
 * the next. */
static const double held_most_ms = 1e3 / ENDLESS_RATE_HZ;

struct one {
    struct folder folder;
    char config[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    struct process process;
    struct endless flight;
    uint16_t port;
    double moment_s[MOST_CALLS];
    int calls;
};

struct flood {
    uint16_t port;
    double seconds;
    int64_t sent;
    double took_s;
};

static struct one calm, flooded;
static uv_loop_t loop;

/* ---- the flood ----------------------------------------------------------- */

static int open_from(const char *address, uint16_t port)
{
    struct sockaddr_in from = {.sin_family = AF_INET};
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons(port)};
    int out = socket(AF_INET, SOCK_DGRAM, 0);

    assert_true(out >= 0);
    assert_int_equal(inet_pton(AF_INET, address, &from.sin_addr), 1);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    assert_int_equal(bind(out, (const struct sockaddr *)&from, sizeof from), 0);
    assert_int_equal(connect(out, (const struct sockaddr *)&to, sizeof to), 0);
    return out;
}

static void send_batch(int out, const char *bytes, size_t length)
{
    struct iovec piece = {(void *)(uintptr_t)bytes, length};
    struct mmsghdr message[BATCH];

    memset(message, 0, sizeof message);
    for (int i = 0; i < BATCH; i++) {
        message[i].msg_hdr.msg_iov = &piece;
        message[i].msg_hdr.msg_iovlen = 1;
    }
    (void)sendmmsg(out, message, BATCH, 0);
}

static void run_flood(void *context)
{
    static const char good[] = "900.0,10.0,25.0,40.0,80.0,84.0,5000,4000,0";
    static const char bad[] = "\xff\x00\xfe,,,,nan,1e999,;\n\x01\x02\x03";
    struct flood *flood = context;
    int from[] = {open_from("127.0.0.2", flood->port),
                  open_from("127.0.0.1", flood->port)};
    int64_t start_ns = (int64_t)uv_hrtime();
    int64_t end_ns = start_ns + (int64_t)(flood->seconds * 1e9);
    int64_t now_ns;

    while ((now_ns = (int64_t)uv_hrtime()) < end_ns) {
        int kind = (int)(flood->sent / BATCH % KINDS);

        if ((double)flood->sent >
            (double)(now_ns - start_ns) * 1e-9 * RATE_HZ) {
            const struct timespec pause = {.tv_nsec = 200000};

            (void)nanosleep(&pause, NULL);
            continue;
        }
        if (kind < 2)
            send_batch(from[kind % 2], good, sizeof good - 1);
        else
            send_batch(from[kind % 2], bad, sizeof bad - 1);
        flood->sent += BATCH;
    }
    flood->took_s = (double)(now_ns - start_ns) * 1e-9;
    close(from[0]);
    close(from[1]);
}

/* ---- the flights --------------------------------------------------------- */

static void start(struct one *one)
{
    const char *const words[] = {
        "--config", one->config, "--events",   one->events,  "listen", "--port",
        "0",        "--control", one->control, "--no-sound", NULL};
    const char *said;

    folder_make(&one->folder);
    folder_path(&one->folder, "events", one->events);
    folder_path(&one->folder, "control", one->control);
    folder_write(&one->folder, "busy.conf", endless_config,
                 strlen(endless_config), one->config);
    process_start(&one->process, words);
    process_await(&one->process, "listening on ");
    said = strstr(one->process.err, " port ");
    assert_non_null(said);
    one->port = (uint16_t)strtoul(said + strlen(" port "), NULL, 10);
    endless_begin(&one->flight, &loop, one->port);
}

struct told {
    json_int_t datagrams;
    json_int_t taken;
    double turn_ms;
    double held_ms;
    double wait_ms;
};

static struct told tell(const struct one *one)
{
    struct told told;
    json_t *root = live_ask(one->control, "{\"ask\":\"status\"}");

    assert_int_equal(
        json_unpack(root, "{s:{s:I, s:I, s:{s:F, s:F, s:F}}}", "status",
                    "datagrams", &told.datagrams, "taken", &told.taken, "loop",
                    "longest_turn_ms", &told.turn_ms, "longest_held_ms",
                    &told.held_ms, "longest_wait_ms", &told.wait_ms),
        0);
    json_decref(root);
    return told;
}

static long memory_kib(const struct one *one)
{
    char path[64];
    char line[256];
    long kib = 0;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/status", one->process.pid);
    file = fopen(path, "r");
    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        if (strncmp(line, "VmRSS:", 6) == 0)
            kib = strtol(line + 6, NULL, 10);
    }
    (void)fclose(file);
    assert_true(kib > 0);
    return kib;
}

static void finish(struct one *one)
{
    char *lines;
    char *rest = NULL;

    endless_end(&one->flight);
    process_signal(&one->process, SIGTERM);
    process_finish(&one->process);
    assert_int_equal(one->process.status, 0);
    lines = folder_read_file(one->events, NULL);
    for (char *line = strtok_r(lines, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *event = json_loads(line, 0, NULL);
        const char *cue;

        assert_non_null(event);
        assert_true(one->calls < MOST_CALLS);
        if (json_unpack(event, "{s:s, s:F}", "cue", &cue, "onset_t",
                        &one->moment_s[one->calls]) == 0)
            one->calls++;
        json_decref(event);
    }
    free(lines);
    folder_remove(&one->folder);
}

static double flood_seconds(void)
{
    const char *wanted = getenv("LOAD_SECONDS");

    return wanted != NULL ? strtod(wanted, NULL) : 5.0;
}

static void calls_the_same_under_a_flood(void **state)
{
    struct flood flood = {.seconds = flood_seconds()};
    struct told before, after;
    uv_thread_t thread;
    long calm_kib, flood_kib;
    double worst_s = 0.0;
    int64_t sent;
    int near = 0;

    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    start(&calm);
    start(&flooded);
    flood.port = flooded.port;
    endless_wait(&loop, before_s);
    calm_kib = memory_kib(&flooded);
    before = tell(&flooded);
    assert_int_equal(uv_thread_create(&thread, run_flood, &flood), 0);
    endless_wait(&loop, flood.seconds + 1.0);
    (void)uv_thread_join(&thread);
    flood_kib = memory_kib(&flooded);
    sent = flooded.flight.sent;
    after = tell(&flooded);
    endless_wait(&loop, 1.0);
    print_message("           %.0f datagrams a second for %.1f s; %.1f %% of "
                  "them heard; memory %ld KiB, then %ld KiB\n",
                  (double)flood.sent / flood.took_s, flood.took_s,
                  100.0 * (double)(after.datagrams - before.datagrams) /
                      (double)flood.sent,
                  calm_kib, flood_kib);
    print_message("           packets of the flight: %d of %d taken; longest "
                  "turn %.2f ms, held %.2f ms, waited in one of %.2f ms\n",
                  (int)after.taken, (int)sent, after.turn_ms, after.held_ms,
                  after.wait_ms);
    finish(&calm);
    finish(&flooded);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&loop), 0);
    print_message("           calls: %d without, %d with\n", calm.calls,
                  flooded.calls);
    assert_true(calm.calls >= (int)(flood.seconds / 1.5));
    assert_int_equal(calm.calls, flooded.calls);
    for (int i = 0; i < calm.calls; i++) {
        double apart_s = fabs(calm.moment_s[i] - flooded.moment_s[i]);

        worst_s = fmax(worst_s, apart_s);
        near += apart_s < apart_median_s ? 1 : 0;
    }
    print_message("           onsets at most %.1f ms apart; %d within %.0f\n",
                  worst_s * 1e3, near, apart_median_s * 1e3);
    assert_true(2 * near >= calm.calls);
    assert_true(worst_s < apart_most_s);
    assert_true(after.held_ms < held_most_ms);
    assert_true(after.wait_ms < held_most_ms);
    assert_true(flood_kib < calm_kib + 512);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calls_the_same_under_a_flood),
    };

    return cmocka_run_group_tests_name("load", tests, NULL, NULL) != 0;
}
