/* test_interface.c - the network goes and comes again while a flight is flown.
 *
 * In networks of the test's own. One flight is sent to every way of being
 * listened to; whatever befalls the interface, each is heard again when it is
 * back, "signal lost" is said once and the calls go on. */
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>
#include <uv.h>

#include "endless.h"
#include "folder.h"
#include "live.h"
#include "network.h"
#include "process.h"

/* A way to be listened to, and where to send for it. Groups: 239.192.0.0/14
 * are an organization's own (RFC 2365), ff15:: is for no one in particular and
 * stays in the site (RFC 4291, 2.7). */
struct way {
    const char *network; /* section of the configuration */
    const char *to;
    bool group;
    bool looked_up; /* its interface is found by an address or a route */
};

static const struct way ways[] = {
    {"address = \"0.0.0.0\"", "192.0.2.1", false, false},
    {"address = \"192.0.2.1\"", "192.0.2.1", false, false},
    {"address = \"0.0.0.0\"  group = {\"239.192.7.1\"}  "
     "interface = \"192.0.2.1\"",
     "239.192.7.1", true, true},
    {"address = \"0.0.0.0\"  group = {\"239.192.7.1\"}", "239.192.7.1", true,
     true},
    {"address = \"::\"  group = {\"ff15::7\"}  interface = \"fe80::1%qt0\"",
     "ff15::7", true, false},
};

enum { WAYS = sizeof ways / sizeof ways[0], TO_ADDRESS = 2 };

/* A program that listens in one of these ways, and the flight sent to it. */
struct one {
    char events[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    uint16_t port;
    struct process process;
    struct endless flight;
};

static struct network network;
static bool has_network;
static struct folder folder;
static uv_loop_t loop;
static struct one one[WAYS];
static int count;

/* ---- flying ------------------------------------------------------------- */

static void start(int which)
{
    struct one *it = &one[which];
    char name[32];
    char config[FOLDER_PATH_SIZE];
    char text[1024];
    const char *const words[] = {
        "--config", config,      "--events",  it->events,   "listen", "--port",
        "0",        "--control", it->control, "--no-sound", NULL};
    const char *said;

    (void)snprintf(name, sizeof name, "events-%d", which);
    folder_path(&folder, name, it->events);
    (void)snprintf(name, sizeof name, "control-%d", which);
    folder_path(&folder, name, it->control);
    (void)snprintf(name, sizeof name, "%d.conf", which);
    (void)snprintf(text, sizeof text, "%snetwork { %s }\n", endless_config,
                   ways[which].network);
    folder_write(&folder, name, text, strlen(text), config);
    process_start(&it->process, words);
    process_await(&it->process, "listening on ");
    said = strstr(it->process.err, " port ");
    assert_non_null(said);
    it->port = (uint16_t)strtoul(said + strlen(" port "), NULL, 10);
}

static int set_up(void **state)
{
    (void)state;
    if (!has_network)
        return 0;
    assert_int_equal(uv_loop_init(&loop), 0);
    folder_make(&folder);
    count = network.has_ipv6 ? WAYS : WAYS - 1;
    for (int i = 0; i < count; i++)
        start(i);
    /* Nobody sends while another one starts: that is a lost signal. */
    for (int i = 0; i < count; i++)
        endless_begin_through(
            &one[i].flight, &loop,
            network_connect(&network, ways[i].to, one[i].port));
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    if (!has_network)
        return 0;
    assert_int_equal(uv_loop_close(&loop), 0);
    folder_remove(&folder);
    return 0;
}

struct told {
    json_int_t taken;
    json_int_t calls;
    int signal;
};

/* Asking shows that its loop turns. */
static struct told tell(const struct one *it)
{
    struct told told;
    json_t *root = live_ask(it->control, "{\"ask\":\"status\"}");

    assert_int_equal(json_unpack(root, "{s:{s:I, s:I, s:b}}", "status", "taken",
                                 &told.taken, "calls", &told.calls, "signal",
                                 &told.signal),
                     0);
    json_decref(root);
    return told;
}

static bool is_reached(const struct told *now, const struct told *wanted)
{
    return now->signal == wanted->signal && now->taken >= wanted->taken &&
           now->calls >= wanted->calls;
}

/* Fly until each of them has got there, however long a busy machine takes. */
static void fly_until(const struct told *wanted, int ways_wanted,
                      const char *what)
{
    for (int turn = 0, next = 0; next < ways_wanted; turn++) {
        struct told now = tell(&one[next]);

        if (is_reached(&now, &wanted[next])) {
            next++;
            continue;
        }
        if (turn == 300)
            fail_msg("no %s in a minute with %s: taken %d, calls %d, "
                     "signal %d; %s",
                     what, ways[next].network, (int)now.taken, (int)now.calls,
                     now.signal, one[next].process.err);
        endless_wait(&loop, 0.2);
    }
}

static void fly_until_heard(int calls)
{
    struct told wanted[WAYS];

    for (int i = 0; i < count; i++) {
        wanted[i] = tell(&one[i]);
        wanted[i].taken += 30;
        wanted[i].calls += calls;
        wanted[i].signal = 1;
    }
    fly_until(wanted, count, "packets");
}

static void fly_until_lost(int ways_wanted)
{
    const struct told lost[WAYS] = {{.signal = 0}};

    fly_until(lost, ways_wanted, "signal lost");
}

/* ---- looking ------------------------------------------------------------ */

/* What must have been seen of each way. Whether a look at the memberships falls
 * into the moment without an address or a route is chance: nobody can tell then
 * which interface it was that is found by one. */
struct seen {
    int lost[2];   /* of an address, of a group: how often the signal was */
    int joined[2]; /* and how often it was said that it is joined again */
};

static void finish(const struct seen *seen)
{
    for (int i = 0; i < count; i++)
        endless_end(&one[i].flight);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    for (int i = 0; i < count; i++) {
        struct one *it = &one[i];
        int lost = seen->lost[ways[i].group];
        int joined = seen->joined[ways[i].group];
        int most = ways[i].looked_up ? 1 : joined;
        int again;
        char *lines;

        process_signal(&it->process, SIGTERM);
        process_finish(&it->process);
        lines = folder_read_file(it->events, NULL);
        again = process_times_said(it->process.err, "is joined again");
        if (it->process.status != 0 ||
            process_times_said(lines, "\"signal-lost\"") != lost ||
            process_times_said(lines, "\"signal-back\"") != lost ||
            again < joined || again > most ||
            process_times_said(it->process.err, "cannot be joined any more") >
                most)
            fail_msg("%s: status %d; %s\n%s", ways[i].network,
                     it->process.status, it->process.err, lines);
        free(lines);
    }
}

static void need_network(void)
{
    if (has_network)
        return;
    print_message("           skipped: no network namespace can be made here "
                  "(root may, and who is allowed user namespaces)\n");
    skip();
}

/* ---- the tests ---------------------------------------------------------- */

/* The routes through an interface end with it; the one to the groups is the
 * administrator's and does not come again of itself. */
static void set_interface(const char *to)
{
    const char *const words[] = {"link", "set", "qt0", to, NULL};

    network_ip(words);
    if (strcmp(to, "up") == 0)
        network_route();
}

static void is_heard_again_when_the_interface_was_down(void **state)
{
    const struct seen seen = {.lost = {1, 1}};

    (void)state;
    need_network();
    fly_until_heard(2);
    set_interface("down");
    fly_until_lost(count);
    set_interface("up");
    fly_until_heard(2);
    finish(&seen);
}

static void set_address(const char *verb)
{
    const char *const words[] = {"addr", verb,  "192.0.2.1/24",
                                 "dev",  "qt0", NULL};

    network_ip(words);
}

/* As when a lease runs out and is renewed. A group belongs to the interface
 * and goes on being heard. */
static void is_heard_again_when_the_address_was_away(void **state)
{
    const struct seen seen = {.lost = {1, 0}};

    (void)state;
    need_network();
    fly_until_heard(0);
    set_address("del");
    fly_until_lost(TO_ADDRESS);
    set_address("add");
    network_route();
    fly_until_heard(0);
    finish(&seen);
}

static void take_interface_away(void)
{
    const char *const words[] = {"link", "del", "qt0", NULL};

    network_ip(words);
}

/* The least that a socket may hold of IPv4 memberships, for those of
 * interfaces that are no more still count (Linux, networking/ip-sysctl; 20
 * if nobody says): the second time there is no room for another one. */
static void set_most_memberships(void)
{
    FILE *file = fopen("/proc/sys/net/ipv4/igmp_max_memberships", "w");

    assert_non_null(file);
    assert_true(fputs("2\n", file) > 0);
    assert_int_equal(fclose(file), 0);
}

/* A card that is unplugged takes its memberships with it. That they are joined
 * again is said the first time only. */
static void is_heard_again_when_the_interface_was_away(void **state)
{
    const struct seen seen = {.lost = {2, 2}, .joined = {0, 1}};

    (void)state;
    need_network();
    set_most_memberships();
    fly_until_heard(0);
    for (int i = 0; i < 2; i++) {
        take_interface_away();
        fly_until_lost(count);
        network_lay(&network);
        fly_until_heard(0);
    }
    finish(&seen);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(is_heard_again_when_the_interface_was_down),
        CASE(is_heard_again_when_the_address_was_away),
        CASE(is_heard_again_when_the_interface_was_away),
    };

    has_network = network_make(&network);
    return cmocka_run_group_tests_name("network faults", tests, NULL, NULL) !=
           0;
}
