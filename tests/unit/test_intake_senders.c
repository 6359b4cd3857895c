/* test_intake_senders.c - one stream among several senders. Addresses are of
 * the ranges kept for documentation (RFC 5737, RFC 3849). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/error.h"
#include "stream_push.h"

#define MS INT64_C(1000000)

static struct intake_sender from(uint8_t last, uint16_t port)
{
    return (struct intake_sender){.address = {192, 0, 2, last}, .port = port};
}

static enum intake_reject judge(struct intake_senders *senders, int64_t t_ns,
                                struct intake_sender sender)
{
    enum intake_reject verdict = intake_senders_judge(senders, t_ns, &sender);

    if (verdict == INTAKE_TAKEN)
        intake_senders_pin(senders, t_ns, &sender);
    return verdict;
}

static void the_first_that_is_understood_is_listened_to(void **state)
{
    struct intake_senders senders;
    struct intake_sender babble = from(9, 4000);

    (void)state;
    intake_senders_init(&senders, NULL);
    assert_int_equal(intake_senders_judge(&senders, 0, &babble), INTAKE_TAKEN);
    assert_int_equal(judge(&senders, 1 * MS, from(7, 5000)), INTAKE_TAKEN);
    assert_int_equal(judge(&senders, 2 * MS, babble), INTAKE_OTHER_SENDER);
    assert_int_equal(judge(&senders, 3 * MS, from(7, 5001)),
                     INTAKE_OTHER_SENDER);
    assert_int_equal(judge(&senders, 4 * MS, from(7, 5000)), INTAKE_TAKEN);
    assert_int_equal(senders.seen_count, 3);
    assert_int_equal(senders.seen[0].datagrams, 2);
    assert_int_equal(senders.seen[1].datagrams, 2);
    assert_int_equal(senders.seen[1].verdict, INTAKE_TAKEN);
    assert_int_equal(senders.seen[2].verdict, INTAKE_OTHER_SENDER);
}

static void another_may_take_over_from_a_silent_one(void **state)
{
    struct intake_senders senders;

    (void)state;
    intake_senders_init(&senders, NULL);
    assert_int_equal(judge(&senders, 0, from(7, 5000)), INTAKE_TAKEN);
    assert_int_equal(judge(&senders, 2999 * MS, from(8, 5000)),
                     INTAKE_OTHER_SENDER);
    assert_int_equal(judge(&senders, 3000 * MS, from(8, 5000)), INTAKE_TAKEN);
    assert_int_equal(judge(&senders, 3001 * MS, from(7, 5000)),
                     INTAKE_OTHER_SENDER);
}

static void a_new_port_for_every_datagram_is_one_sender(void **state)
{
    struct intake_senders senders;
    int taken = 0;

    (void)state;
    intake_senders_init(&senders, NULL);
    for (uint16_t i = 0; i < 100; i++)
        taken +=
            judge(&senders, i * 50 * MS, from(7, 5000 + i)) == INTAKE_TAKEN;
    /* Three go by before it is sure. */
    assert_int_equal(taken, 97);
    assert_int_equal(judge(&senders, 5000 * MS, from(8, 5000)),
                     INTAKE_OTHER_SENDER);
    assert_true(senders.seen_count <= INTAKE_MAX_SEEN);
}

static void two_programs_of_one_machine_are_two_senders(void **state)
{
    struct intake_senders senders;

    (void)state;
    intake_senders_init(&senders, NULL);
    for (int i = 0; i < 1000; i++) {
        assert_int_equal(judge(&senders, i * 20 * MS, from(7, 5000)),
                         INTAKE_TAKEN);
        assert_int_equal(judge(&senders, (i * 20 + 5) * MS, from(7, 6000)),
                         INTAKE_OTHER_SENDER);
        assert_int_equal(judge(&senders, (i * 20 + 6) * MS, from(7, 6000)),
                         INTAKE_OTHER_SENDER);
    }
}

static void a_crowd_is_counted_within_bounds(void **state)
{
    struct intake_senders senders;

    (void)state;
    intake_senders_init(&senders, NULL);
    (void)judge(&senders, 0, from(7, 5000));
    for (uint16_t i = 0; i < 500; i++)
        assert_int_equal(judge(&senders, i * MS, from(100, 1000 + i)),
                         INTAKE_OTHER_SENDER);
    assert_int_equal(senders.seen_count, INTAKE_MAX_SEEN);
    assert_int_equal(senders.unlisted, 500 - (INTAKE_MAX_SEEN - 1));
}

static void only_those_on_the_list_are_allowed(void **state)
{
    static const struct {
        const char *prefix;
        bool ipv6;
        uint8_t address[16];
        bool holds;
    } row[] = {
        {"192.0.2.7", false, {192, 0, 2, 7}, true},
        {"192.0.2.7", false, {192, 0, 2, 6}, false},
        {"192.0.2.0/24", false, {192, 0, 2, 255}, true},
        {"192.0.2.0/24", false, {192, 0, 3, 0}, false},
        {"192.0.2.64/26", false, {192, 0, 2, 127}, true},
        {"192.0.2.64/26", false, {192, 0, 2, 128}, false},
        {"0.0.0.0/0", false, {203, 0, 113, 1}, true},
        {"0.0.0.0/0", true, {0x20, 0x01}, false},
        {"2001:db8::/32", true, {0x20, 0x01, 0x0d, 0xb8, 1}, true},
        {"2001:db8::/32", true, {0x20, 0x01, 0x0d, 0xb9}, false},
        {"2001:db8::/33", true, {0x20, 0x01, 0x0d, 0xb8, 0x7f}, true},
        {"2001:db8::/33", true, {0x20, 0x01, 0x0d, 0xb8, 0x80}, false},
        {"2001:db8::7", true, {0x20, 0x01, 0x0d, 0xb8, [15] = 7}, true},
        /* 192.0.2.7 again, as the first bytes of something else. */
        {"192.0.2.7", true, {192, 0, 2, 7}, false},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct intake_allow allow = {.count = 1};
        struct intake_senders senders;
        struct intake_sender sender = {.ipv6 = row[i].ipv6, .port = 1};

        memcpy(sender.address, row[i].address, 16);
        assert_int_equal(
            intake_udp_parse_prefix(row[i].prefix, &allow.prefix[0]), 0);
        intake_senders_init(&senders, &allow);
        assert_int_equal(judge(&senders, 0, sender),
                         row[i].holds ? INTAKE_TAKEN : INTAKE_NOT_ALLOWED);
    }
}

static void what_is_no_prefix_is_refused(void **state)
{
    static const char *const text[] = {"",
                                       "192.0.2",
                                       "192.0.2.7/",
                                       "192.0.2.7/33",
                                       "192.0.2.7/24",
                                       "192.0.2.0/+24",
                                       "192.0.2.0/24x",
                                       "2001:db8::/129",
                                       "2001:db8::1/32",
                                       "here",
                                       "192.0.2.0/ 24",
                                       "/24"};
    struct intake_prefix prefix;

    (void)state;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
        assert_int_equal(intake_udp_parse_prefix(text[i], &prefix), ERR_USAGE);
    assert_int_equal(intake_udp_check_group("239.192.7.1"), 0);
    assert_int_equal(intake_udp_check_group("ff02::7"), 0);
    assert_int_equal(intake_udp_check_group("192.0.2.7"), ERR_USAGE);
    assert_int_equal(intake_udp_check_group("2001:db8::7"), ERR_USAGE);
}

static void senders_are_written_as_they_are_known(void **state)
{
    char text[INTAKE_ADDRESS_TEXT];
    struct intake_sender sender = from(7, 49000);

    (void)state;
    intake_udp_sender_text(&sender, text);
    assert_string_equal(text, "192.0.2.7 port 49000");
    /* As RFC 5952 writes it. */
    sender =
        (struct intake_sender){.ipv6 = true,
                               .address = {0x20, 0x01, 0x0d, 0xb8, [15] = 7},
                               .port = 49000};
    intake_udp_sender_text(&sender, text);
    assert_string_equal(text, "[2001:db8::7] port 49000");
}

/* Two simulators, both understood: not a value of the second comes through. */
static void another_sender_is_counted_and_not_mixed_in(void **state)
{
    struct pushed p;
    struct intake_senders senders;

    (void)state;
    push_begin(&p, PUSH_CLOCKED, 1000 * MS);
    intake_senders_init(&senders, NULL);
    for (int i = 0; i < 400; i++) {
        struct intake_sample sample = {.valid = ~UINT32_C(0)};
        bool first = i % 2 == 0;
        uint8_t bytes[64];
        struct intake_datagram datagram = {.t_ns = i * 25 * MS,
                                           .data = bytes,
                                           .sender = from(first ? 7 : 8, 5000)};

        sample.value[CHANNEL_SIM_TIME] = i * 0.025 + (first ? 0.0 : 900.0);
        sample.value[CHANNEL_HEADING] = (first ? 1.0 : 3.0) + i * 1e-3;
        datagram.length =
            (size_t)intake_encode(&p.layout, 0, &sample, bytes, sizeof bytes);
        intake_stream_take(&p.stream, &senders, &datagram, &p.result);
        assert_int_equal(p.result.reject,
                         first ? INTAKE_TAKEN : INTAKE_OTHER_SENDER);
        assert_int_equal(p.result.has_sample, first);
        assert_int_equal(p.result.notice_count, 0);
    }
    assert_int_equal(p.stream.counts.rejected[INTAKE_OTHER_SENDER], 200);
    assert_int_equal(p.stream.counts.datagrams, 400);
    /* The other one keeps nothing alive. */
    assert_int_equal(intake_stream_deadline_ns(&p.stream), 10950 * MS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_that_is_understood_is_listened_to),
        cmocka_unit_test(another_may_take_over_from_a_silent_one),
        cmocka_unit_test(a_new_port_for_every_datagram_is_one_sender),
        cmocka_unit_test(two_programs_of_one_machine_are_two_senders),
        cmocka_unit_test(a_crowd_is_counted_within_bounds),
        cmocka_unit_test(only_those_on_the_list_are_allowed),
        cmocka_unit_test(what_is_no_prefix_is_refused),
        cmocka_unit_test(senders_are_written_as_they_are_known),
        cmocka_unit_test(another_sender_is_counted_and_not_mixed_in),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
