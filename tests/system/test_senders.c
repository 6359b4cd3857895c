/* test_senders.c - two live senders on one port.
 *
 * One sender flies level; another sends, in between, a flight that is five
 * seconds on and rolls in. Only the first may be heard. Flown over IPv4 and,
 * where there is one, the IPv6 loopback side by side; the tests look at what
 * came of it. */
#include <arpa/inet.h>
#include <errno.h>
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

#include "folder.h"
#include "process.h"
#include "sample.h"

/* tests/replay/demo.txt: level up to 6.0 s. Steady for three seconds is what
 * makes ready; the other one is in the roll-in from its first second on. */
static const double flown_s = 4.0;
static const double ahead_s = 5.0;

enum { OURS, OTHER, SENDERS };

/* A running program and two sockets that send to it. */
struct port {
    struct folder folder;
    char config[FOLDER_PATH_SIZE];
    char recording[FOLDER_PATH_SIZE];
    char events[FOLDER_PATH_SIZE];
    char replayed[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    char sender[SENDERS][80]; /* as the program should name them */
    int socket[SENDERS];
    size_t sent[SENDERS];
    struct process process;
};

/* What was flown once for all tests. */
struct flown {
    struct port ipv4;
    struct port ipv6;
    bool has_ipv6;
};

/* ---- sending ------------------------------------------------------------ */

/* The family's loopback address and a port. Returns: its size. */
static socklen_t loopback(int family, unsigned port,
                          struct sockaddr_storage *out)
{
    struct sockaddr_in ipv4 = {.sin_family = AF_INET,
                               .sin_port = htons((uint16_t)port)};
    struct sockaddr_in6 ipv6 = {.sin6_family = AF_INET6,
                                .sin6_port = htons((uint16_t)port),
                                .sin6_addr = IN6ADDR_LOOPBACK_INIT};

    memset(out, 0, sizeof *out);
    ipv4.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (family == AF_INET6) {
        memcpy(out, &ipv6, sizeof ipv6);
        return sizeof ipv6;
    }
    memcpy(out, &ipv4, sizeof ipv4);
    return sizeof ipv4;
}

/* A socket of the family on its loopback address; below 0: there is none. */
static int open_sender(int family)
{
    struct sockaddr_storage from;
    socklen_t size = loopback(family, 0, &from);
    int out = socket(family, SOCK_DGRAM, 0);

    if (out >= 0 && bind(out, (const struct sockaddr *)&from, size) != 0) {
        close(out);
        return -1;
    }
    return out;
}

static bool has_loopback(int family)
{
    int probe = open_sender(family);

    if (probe >= 0)
        close(probe);
    return probe >= 0;
}

static void open_senders(struct port *port, int family)
{
    static const char words[] = " port ";
    const char *said = strstr(port->process.err, "listening on ");
    struct sockaddr_storage to;
    socklen_t size;

    assert_non_null(said);
    said = strstr(said, words);
    assert_non_null(said);
    size = loopback(family, (unsigned)strtoul(said + strlen(words), NULL, 10),
                    &to);
    for (int i = 0; i < SENDERS; i++) {
        struct sockaddr_storage from;
        socklen_t from_size = sizeof from;
        uint16_t number;

        port->socket[i] = open_sender(family);
        assert_true(port->socket[i] >= 0);
        assert_int_equal(
            connect(port->socket[i], (const struct sockaddr *)&to, size), 0);
        assert_int_equal(
            getsockname(port->socket[i], (struct sockaddr *)&from, &from_size),
            0);
        number = ntohs(family == AF_INET6
                           ? ((const struct sockaddr_in6 *)&from)->sin6_port
                           : ((const struct sockaddr_in *)&from)->sin_port);
        (void)snprintf(port->sender[i], sizeof port->sender[i], "%s port %u",
                       family == AF_INET6 ? "[::1]" : "127.0.0.1", number);
    }
}

static void send_one(struct port *port, int sender,
                     const struct sample_recording *flight, size_t index)
{
    const struct sample_datagram *datagram = &flight->datagram[index];

    assert_int_equal(send(port->socket[sender], flight->bytes + datagram->at,
                          datagram->length, 0),
                     datagram->length);
    port->sent[sender]++;
}

static int64_t since_ns(const struct sample_recording *flight, size_t index)
{
    return flight->datagram[index].t_ns - flight->datagram[0].t_ns;
}

static void wait_until(const struct timespec *start, int64_t after_ns)
{
    struct timespec due = *start;

    due.tv_sec += (time_t)(after_ns / UNITS_NS_PER_S);
    due.tv_nsec += (long)(after_ns % UNITS_NS_PER_S);
    if (due.tv_nsec >= UNITS_NS_PER_S) {
        due.tv_nsec -= (long)UNITS_NS_PER_S;
        due.tv_sec++;
    }
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL) ==
           EINTR) {
    }
}

/* Send both flights to every port, turn by turn, at the pace they were
 * recorded. */
static void fly(struct port *const *ports, int count)
{
    struct sample_recording flight;
    struct timespec start;
    size_t ahead = 0;

    sample_recording_load("tests/replay/demo.pcap", &flight);
    while (since_ns(&flight, ahead) < (int64_t)(ahead_s * 1e9))
        ahead++;
    assert_int_equal(clock_gettime(CLOCK_MONOTONIC, &start), 0);
    for (size_t i = 0; since_ns(&flight, i) <= (int64_t)(flown_s * 1e9); i++) {
        wait_until(&start, since_ns(&flight, i));
        for (int k = 0; k < count; k++) {
            send_one(ports[k], OURS, &flight, i);
            send_one(ports[k], OTHER, &flight, ahead + i);
        }
    }
    sample_recording_free(&flight);
}

/* ---- running ------------------------------------------------------------ */

static void start(struct port *port, int family, const char *config)
{
    const char *const words[] = {
        "listen",      "--address",  family == AF_INET6 ? "::1" : "127.0.0.1",
        "--port",      "0",          "--config",
        port->config,  "--layout",   "plain-text",
        "--no-sound",  "--record",   port->recording,
        "--events",    port->events, "--control",
        port->control, NULL};

    memset(port, 0, sizeof *port);
    folder_make(&port->folder);
    folder_write(&port->folder, "my.conf", config, strlen(config),
                 port->config);
    folder_path(&port->folder, "live.pcap", port->recording);
    folder_path(&port->folder, "live.events", port->events);
    folder_path(&port->folder, "replayed.events", port->replayed);
    folder_path(&port->folder, "control", port->control);
    process_start(&port->process, words);
    process_await(&port->process, "listening on ");
    open_senders(port, family);
}

/* Everything has been read when the running program has counted it: ask, a
 * bounded number of times. */
static void await_all(const struct port *port)
{
    const char *const words[] = {"tell",      "status",      "--json",
                                 "--control", port->control, NULL};
    json_int_t counted = -1;
    size_t sent = port->sent[OURS] + port->sent[OTHER];

    for (int i = 0; i < 50 && counted != (json_int_t)sent; i++) {
        struct process tell;
        json_t *told;

        process_run(&tell, words);
        assert_int_equal(tell.status, 0);
        told = json_loads(tell.out, 0, NULL);
        counted = json_integer_value(
            json_object_get(json_object_get(told, "status"), "datagrams"));
        json_decref(told);
    }
    assert_int_equal(counted, sent);
}

static void finish(struct port *port)
{
    await_all(port);
    process_signal(&port->process, SIGTERM);
    process_finish(&port->process);
    for (int i = 0; i < SENDERS; i++)
        close(port->socket[i]);
    if (port->process.status != 0)
        fail_msg("%s", port->process.err);
}

static int fly_live(void **state)
{
    struct flown *flown = calloc(1, sizeof *flown);
    struct port *ports[2];
    int count = 0;

    assert_non_null(flown);
    *state = flown;
    flown->has_ipv6 = has_loopback(AF_INET6);
    ports[count++] = &flown->ipv4;
    if (flown->has_ipv6)
        ports[count++] = &flown->ipv6;
    start(&flown->ipv4, AF_INET, "");
    if (flown->has_ipv6)
        start(&flown->ipv6, AF_INET6, "network { allow = \"::1\" }\n");
    fly(ports, count);
    for (int i = 0; i < count; i++)
        finish(ports[i]);
    return 0;
}

static int clean_up(void **state)
{
    struct flown *flown = *state;

    folder_remove(&flown->ipv4.folder);
    if (flown->has_ipv6)
        folder_remove(&flown->ipv6.folder);
    free(flown);
    return 0;
}

/* ---- looking ------------------------------------------------------------ */

static void expect_said_once(const struct port *port, const char *text)
{
    if (process_times_said(port->process.err, text) != 1)
        fail_msg("not once \"%s\" in: %s", text, port->process.err);
}

static void expect_other_named(const struct port *port)
{
    char text[256];

    (void)snprintf(text, sizeof text,
                   "%s sends here too; only %s is listened to",
                   port->sender[OTHER], port->sender[OURS]);
    expect_said_once(port, text);
    assert_int_equal(process_times_said(port->process.err, "sends here"), 1);
}

static void expect_counts(const struct port *port, size_t taken,
                          const char *reason)
{
    size_t sent = port->sent[OURS] + port->sent[OTHER];
    char text[128];

    (void)snprintf(text, sizeof text, "%zu datagrams, %zu taken\n", sent,
                   taken);
    expect_said_once(port, text);
    (void)snprintf(text, sizeof text, "%zu not taken: %s\n", sent - taken,
                   reason);
    expect_said_once(port, text);
    assert_int_equal(process_times_said(port->process.err, "not taken: "), 1);
}

/* Level flight at 290 degrees and 3000 ft makes one event: ready. The other
 * sender's clock would make it jump, its roll-in an attempt. Of two programs
 * one ends after the other, and may have heard nobody for a while by then. */
static void expect_our_flight_alone(const struct port *port)
{
    char *events = folder_read_file(port->events, NULL);
    char *line_end = strchr(events, '\n');
    json_t *ready;

    if (line_end == NULL ||
        (line_end[1] != '\0' && (strstr(line_end, "signal-lost") == NULL ||
                                 strchr(line_end + 1, '\n')[1] != '\0')))
        fail_msg("not the one event: %s", events);
    line_end[1] = '\0';
    ready = json_loads(events, 0, NULL);
    assert_non_null(ready);
    assert_string_equal(json_string_value(json_object_get(ready, "event")),
                        "ready");
    assert_string_equal(json_string_value(json_object_get(ready, "phase")),
                        "setup");
    assert_true(json_real_value(json_object_get(ready, "heading_deg")) ==
                290.0);
    assert_true(json_real_value(json_object_get(ready, "bank_deg")) < 0.1);
    json_decref(ready);
    free(events);
}

static void replay(const struct port *port, const char *config,
                   struct process *out)
{
    const char *const words[] = {
        "replay",   port->recording, "--config", config,
        "--layout", "plain-text",    "--speed",  "max",
        "--events", port->replayed,  NULL};

    process_run(out, words);
}

static void expect_same_replayed(const struct port *port)
{
    struct process process;
    size_t length = 0;
    size_t again_length = 0;
    char *events;
    char *again;

    replay(port, port->config, &process);
    assert_int_equal(process.status, 0);
    events = folder_read_file(port->events, &length);
    again = folder_read_file(port->replayed, &again_length);
    assert_int_equal(length, again_length);
    assert_memory_equal(events, again, length);
    free(events);
    free(again);
}

static void expect_all_recorded(const struct port *port)
{
    struct sample_recording recorded;

    sample_recording_load(port->recording, &recorded);
    assert_int_equal(recorded.count, port->sent[OURS] + port->sent[OTHER]);
    sample_recording_free(&recorded);
}

static void expect_one_of_two_heard(const struct port *port)
{
    expect_other_named(port);
    expect_counts(port, port->sent[OURS], "other sender");
    expect_our_flight_alone(port);
    expect_all_recorded(port);
    expect_same_replayed(port);
}

/* ---- the tests ---------------------------------------------------------- */

static void listens_to_the_first_of_two_senders(void **state)
{
    const struct flown *flown = *state;

    expect_one_of_two_heard(&flown->ipv4);
}

static void listens_to_the_first_of_two_senders_over_ipv6(void **state)
{
    const struct flown *flown = *state;

    if (!flown->has_ipv6) {
        print_message("This machine has no IPv6 loopback address (::1).\n");
        skip();
    }
    expect_one_of_two_heard(&flown->ipv6);
}

/* With the same list nobody is heard in the recording either: that is said,
 * and no events are left. Without a list the first is heard. */
static void expect_nobody_replayed(const struct port *port)
{
    static const char everybody[] = "# everybody may send\n";
    static const char said[] =
        "no datagram is from a sender in the list network { allow }\n";
    const char *const inspect[] = {"inspect",    port->recording, "--config",
                                   port->config, "--layout",      "plain-text",
                                   NULL};
    char config[FOLDER_PATH_SIZE];
    struct process process;

    replay(port, port->config, &process);
    assert_int_equal(process.status, 1);
    assert_non_null(strstr(process.err, said));
    assert_int_not_equal(access(port->replayed, F_OK), 0);
    process_run(&process, inspect);
    assert_int_equal(process.status, 1);
    assert_non_null(strstr(process.err, said));
    folder_write(&port->folder, "everybody.conf", everybody, strlen(everybody),
                 config);
    replay(port, config, &process);
    assert_int_equal(process.status, 0);
}

/* The senders' own address is not in the list. */
static void expect_nobody_heard(int family, const char *config)
{
    struct sample_recording flight;
    struct port port;
    char text[160];
    char *events;

    sample_recording_load("tests/replay/demo.pcap", &flight);
    start(&port, family, config);
    for (size_t i = 0; i < 20; i++)
        send_one(&port, i % 2 == 0 ? OURS : OTHER, &flight, i);
    sample_recording_free(&flight);
    finish(&port);
    (void)snprintf(text, sizeof text,
                   "%s sends here, but is not in the list network { allow }",
                   port.sender[OURS]);
    expect_said_once(&port, text);
    assert_int_equal(process_times_said(port.process.err, "sends here"), 1);
    assert_int_equal(
        process_times_said(port.process.err, "packets arrive from"), 0);
    expect_counts(&port, 0, "not allowed");
    events = folder_read_file(port.events, NULL);
    assert_string_equal(events, "");
    free(events);
    expect_all_recorded(&port);
    expect_nobody_replayed(&port);
    folder_remove(&port.folder);
}

static void takes_nothing_of_senders_not_allowed(void **state)
{
    (void)state;
    expect_nobody_heard(AF_INET, "network {\n  allow = {\"192.0.2.0/24\", "
                                 "\"127.0.0.2\", \"::/0\"}\n}\n");
}

static void takes_nothing_of_senders_not_allowed_over_ipv6(void **state)
{
    (void)state;
    if (!has_loopback(AF_INET6)) {
        print_message("This machine has no IPv6 loopback address (::1).\n");
        skip();
    }
    expect_nobody_heard(AF_INET6, "network {\n  allow = {\"2001:db8::/32\", "
                                  "\"::2\", \"0.0.0.0/0\"}\n}\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(listens_to_the_first_of_two_senders),
        cmocka_unit_test(listens_to_the_first_of_two_senders_over_ipv6),
        cmocka_unit_test(takes_nothing_of_senders_not_allowed),
        cmocka_unit_test(takes_nothing_of_senders_not_allowed_over_ipv6),
    };

    return cmocka_run_group_tests(tests, fly_live, clean_up) != 0;
}
