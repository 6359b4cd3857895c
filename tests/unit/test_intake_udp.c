/* test_intake_udp.c - datagrams over the loopback network. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <uv.h>

#include <cmocka.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"

enum { MOST = 8 };

struct heard {
    int count;
    size_t length[MOST];
    uint8_t first[MOST];
    struct intake_sender sender[MOST];
    int64_t arrival_ns[MOST];
};

static void hear(void *context, const struct intake_datagram *datagram)
{
    struct heard *heard = context;

    assert_true(heard->count < MOST);
    heard->length[heard->count] = datagram->length;
    heard->first[heard->count] = datagram->length > 0 ? datagram->data[0] : 0;
    heard->arrival_ns[heard->count] = datagram->t_ns;
    heard->sender[heard->count] = datagram->sender;
    heard->count++;
}

static void open_udp(uv_loop_t *loop, const char *address, struct heard *heard,
                     struct intake_udp **out)
{
    char why[256] = "";

    memset(heard, 0, sizeof *heard);
    assert_int_equal(uv_loop_init(loop), 0);
    const struct intake_place place = {.address = address};
    if (intake_udp_open(loop, &place, hear, heard, out, why, sizeof why))
        fail_msg("%s", why);
    assert_int_not_equal(intake_udp_port(*out), 0);
}

static void end_loop(uv_loop_t *loop)
{
    assert_int_equal(uv_run(loop, UV_RUN_DEFAULT), 0);
    assert_int_equal(uv_loop_close(loop), 0);
}

static void send_to(uv_udp_t *sender, uint16_t port, const char *data,
                    size_t length)
{
    struct sockaddr_in where;
    uv_buf_t buffer = uv_buf_init((char *)(uintptr_t)data, (unsigned)length);

    assert_int_equal(uv_ip4_addr("127.0.0.1", port, &where), 0);
    assert_int_equal(
        uv_udp_try_send(sender, &buffer, 1, (const struct sockaddr *)&where),
        (int)length);
}

static void gives_every_datagram_even_empty_and_longest_ones(void **state)
{
    static char longest[65507];
    struct heard heard;
    struct intake_udp *udp;
    uv_udp_t sender;
    uv_loop_t loop;

    (void)state;
    open_udp(&loop, "127.0.0.1", &heard, &udp);
    assert_int_equal(uv_udp_init(&loop, &sender), 0);
    memset(longest, 'z', sizeof longest);
    send_to(&sender, intake_udp_port(udp), "abc", 3);
    send_to(&sender, intake_udp_port(udp), "", 0);
    send_to(&sender, intake_udp_port(udp), longest, sizeof longest);
    send_to(&sender, intake_udp_port(udp), "d", 1);
    while (heard.count < 4)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(heard.length[0], 3);
    assert_int_equal(heard.first[0], 'a');
    assert_int_equal(heard.length[1], 0);
    assert_int_equal(heard.length[2], sizeof longest);
    assert_int_equal(heard.length[3], 1);
    for (int i = 1; i < 4; i++)
        assert_true(heard.arrival_ns[i] >= heard.arrival_ns[i - 1]);
    assert_true(heard.arrival_ns[3] <= (int64_t)uv_hrtime());
    uv_close((uv_handle_t *)&sender, NULL);
    intake_udp_close(udp);
    end_loop(&loop);
}

static void a_second_program_on_the_port_is_refused(void **state)
{
    struct heard heard;
    struct intake_udp *udp;
    struct intake_udp *second;
    struct intake_place place = {.address = "127.0.0.1"};
    uv_loop_t loop;
    char why[256] = "";
    char port[16];

    (void)state;
    open_udp(&loop, "127.0.0.1", &heard, &udp);
    place.port = intake_udp_port(udp);
    assert_int_equal(
        intake_udp_open(&loop, &place, hear, &heard, &second, why, sizeof why),
        ERR_BUSY);
    (void)snprintf(port, sizeof port, "%u", intake_udp_port(udp));
    assert_non_null(strstr(why, port));
    assert_non_null(strstr(why, "127.0.0.1"));
    intake_udp_close(udp);
    end_loop(&loop);
}

static void a_wrong_address_is_refused(void **state)
{
    /* 192.0.2.0/24 is nobody's (RFC 5737). */
    static const char *const address[] = {"here", "", "127.0.0.1 ", "1.2.3",
                                          "192.0.2.1"};
    struct intake_udp *udp;
    uv_loop_t loop;

    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    for (size_t i = 0; i < sizeof address / sizeof address[0]; i++) {
        const struct intake_place place = {.address = address[i]};
        char why[256] = "";

        /* The last one is well formed, and another machine's. */
        assert_int_equal(
            intake_udp_open(&loop, &place, hear, NULL, &udp, why, sizeof why),
            i + 1 < sizeof address / sizeof address[0] ? ERR_USAGE
                                                       : ERR_ABSENT);
        assert_non_null(strstr(why, address[i]));
    }
    assert_int_equal(intake_udp_check_address("0.0.0.0"), 0);
    assert_int_equal(intake_udp_check_address("::1"), 0);
    assert_int_equal(intake_udp_check_address("localhost"), ERR_USAGE);
    end_loop(&loop);
}

/* The sender's own socket tells its port. */
static uint16_t port_of(const uv_udp_t *socket)
{
    struct sockaddr_in6 name;
    int size = (int)sizeof name;
    const uint8_t *port = (const uint8_t *)&name.sin6_port;

    assert_int_equal(
        uv_udp_getsockname(socket, (struct sockaddr *)&name, &size), 0);
    return (uint16_t)(port[0] << 8 | port[1]);
}

/* Whether this machine can bind its own IPv6 address. */
static bool has_ipv6(void)
{
    struct sockaddr_in6 own;
    uv_loop_t loop;
    uv_udp_t socket;
    bool has;

    assert_int_equal(uv_ip6_addr("::1", 0, &own), 0);
    assert_int_equal(uv_loop_init(&loop), 0);
    assert_int_equal(uv_udp_init(&loop, &socket), 0);
    has = uv_udp_bind(&socket, (const struct sockaddr *)&own, 0) == 0;
    uv_close((uv_handle_t *)&socket, NULL);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&loop), 0);
    return has;
}

static void tells_who_sent_over_ipv4_and_ipv6(void **state)
{
    static const uint8_t one[16] = {[15] = 1};
    struct sockaddr_in6 where;
    uv_buf_t buffer = uv_buf_init("six", 3);
    struct heard heard;
    struct intake_udp *udp;
    uv_udp_t sender;
    uv_udp_t sender6;
    uv_loop_t loop;

    (void)state;
    if (!has_ipv6()) {
        print_message("This machine has no IPv6 loopback address (::1).\n");
        skip();
    }
    /* One socket hears both. */
    open_udp(&loop, "::", &heard, &udp);
    assert_int_equal(uv_udp_init(&loop, &sender), 0);
    assert_int_equal(uv_udp_init(&loop, &sender6), 0);
    send_to(&sender, intake_udp_port(udp), "abc", 3);
    assert_int_equal(uv_ip6_addr("::1", intake_udp_port(udp), &where), 0);
    assert_int_equal(
        uv_udp_try_send(&sender6, &buffer, 1, (const struct sockaddr *)&where),
        3);
    while (heard.count < 2)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_false(heard.sender[0].ipv6);
    assert_memory_equal(heard.sender[0].address, "\x7f\0\0\x01", 4);
    assert_int_equal(heard.sender[0].port, port_of(&sender));
    assert_true(heard.sender[1].ipv6);
    assert_memory_equal(heard.sender[1].address, one, 16);
    assert_int_equal(heard.sender[1].port, port_of(&sender6));
    uv_close((uv_handle_t *)&sender, NULL);
    uv_close((uv_handle_t *)&sender6, NULL);
    intake_udp_close(udp);
    end_loop(&loop);
}

/* To everybody on the loopback network, as a simulator does on its own. */
static void a_broadcast_is_heard(void **state)
{
    struct heard heard;
    struct sockaddr_in where;
    uv_buf_t buffer = uv_buf_init("all", 3);
    struct intake_udp *udp;
    uv_udp_t sender;
    uv_loop_t loop;

    (void)state;
    open_udp(&loop, "0.0.0.0", &heard, &udp);
    assert_int_equal(uv_udp_init(&loop, &sender), 0);
    assert_int_equal(uv_ip4_addr("127.0.0.1", 0, &where), 0);
    assert_int_equal(uv_udp_bind(&sender, (const struct sockaddr *)&where, 0),
                     0);
    assert_int_equal(uv_udp_set_broadcast(&sender, 1), 0);
    assert_int_equal(
        uv_ip4_addr("127.255.255.255", intake_udp_port(udp), &where), 0);
    assert_int_equal(
        uv_udp_try_send(&sender, &buffer, 1, (const struct sockaddr *)&where),
        3);
    while (heard.count < 1)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(heard.first[0], 'a');
    uv_close((uv_handle_t *)&sender, NULL);
    intake_udp_close(udp);
    end_loop(&loop);
}

/* 239.0.0.0/8 stays within a site (RFC 2365). */
static void a_group_that_is_joined_is_heard(void **state)
{
    static const struct intake_group group = {"239.192.7.1", "127.0.0.1"};
    const struct intake_place place = {
        .address = "0.0.0.0", .group = &group, .group_count = 1};
    struct heard heard = {0};
    struct sockaddr_in where;
    uv_buf_t buffer = uv_buf_init("all", 3);
    struct intake_udp *udp;
    uv_udp_t sender;
    uv_loop_t loop;
    char why[256] = "";

    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    if (intake_udp_open(&loop, &place, hear, &heard, &udp, why, sizeof why))
        fail_msg("%s", why);
    assert_int_equal(uv_udp_init(&loop, &sender), 0);
    assert_int_equal(uv_ip4_addr("127.0.0.1", 0, &where), 0);
    assert_int_equal(uv_udp_bind(&sender, (const struct sockaddr *)&where, 0),
                     0);
    assert_int_equal(uv_udp_set_multicast_interface(&sender, "127.0.0.1"), 0);
    assert_int_equal(uv_ip4_addr(group.address, intake_udp_port(udp), &where),
                     0);
    assert_int_equal(
        uv_udp_try_send(&sender, &buffer, 1, (const struct sockaddr *)&where),
        3);
    while (heard.count < 1)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(heard.first[0], 'a');
    uv_close((uv_handle_t *)&sender, NULL);
    intake_udp_close(udp);
    end_loop(&loop);
}

static void a_group_that_cannot_be_joined_is_said(void **state)
{
    static const struct intake_group group = {"239.192.7.1", "192.0.2.1"};
    const struct intake_place place = {
        .address = "127.0.0.1", .group = &group, .group_count = 1};
    struct intake_udp *udp;
    uv_loop_t loop;
    char why[256] = "";

    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    assert_int_equal(
        intake_udp_open(&loop, &place, hear, NULL, &udp, why, sizeof why),
        ERR_ABSENT);
    assert_non_null(strstr(why, "239.192.7.1"));
    assert_non_null(strstr(why, "192.0.2.1"));
    end_loop(&loop);
}

/* Joined on whatever the system likes, it would be heard on the wrong side or
 * not at all. */
static void an_ipv6_interface_that_there_is_not_is_said(void **state)
{
    static const struct intake_group group = {"ff02::db8:0:7",
                                              "fe80::1%no-interface"};
    const struct intake_place place = {
        .address = "::1", .group = &group, .group_count = 1};
    struct intake_udp *udp;
    uv_loop_t loop;
    char why[256] = "";
    int error;

    (void)state;
    assert_int_equal(uv_loop_init(&loop), 0);
    error = intake_udp_open(&loop, &place, hear, NULL, &udp, why, sizeof why);
    end_loop(&loop);
    assert_true(error < 0);
    if (strstr(why, "group ") == NULL) {
        print_message("This machine has no IPv6 loopback: %s.\n", why);
        skip();
    }
    assert_int_equal(error, ERR_ABSENT);
    assert_string_equal(why, "group ff02::db8:0:7 on fe80::1%no-interface "
                             "cannot be joined on ::1: no such device");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_every_datagram_even_empty_and_longest_ones),
        cmocka_unit_test(a_second_program_on_the_port_is_refused),
        cmocka_unit_test(a_wrong_address_is_refused),
        cmocka_unit_test(tells_who_sent_over_ipv4_and_ipv6),
        cmocka_unit_test(a_broadcast_is_heard),
        cmocka_unit_test(a_group_that_is_joined_is_heard),
        cmocka_unit_test(a_group_that_cannot_be_joined_is_said),
        cmocka_unit_test(an_ipv6_interface_that_there_is_not_is_said),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
