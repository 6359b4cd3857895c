/* test_discover_form.c - what a discovery makes of streams that need no
 * physics, or allow none. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"

static struct intake_discovery *discovery;
static struct intake_discovered found;

static int set_up(void **state)
{
    (void)state;
    discovery = malloc(intake_discovery_size());
    if (discovery == NULL)
        return -1;
    intake_discovery_begin(discovery);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    free(discovery);
    return 0;
}

static void push_often(const void *data, size_t length, uint32_t times)
{
    for (uint32_t i = 0; i < times; i++)
        intake_discovery_push(discovery, (int64_t)i * 50000000, 50000, data,
                              length);
}

static void nothing_gives_absent(void **state)
{
    (void)state;
    assert_int_equal(intake_discovery_end(discovery, 0, &found), ERR_ABSENT);
    assert_int_equal(found.found, 0);
}

static void another_port_gives_absent(void **state)
{
    (void)state;
    push_often("1,2,3", 5, 100);
    assert_int_equal(intake_discovery_end(discovery, 50001, &found),
                     ERR_ABSENT);
}

static void letters_without_numbers_have_no_form(void **state)
{
    (void)state;
    push_often("hello", 5, 100);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), ERR_FORMAT);
    assert_false(found.enough);
}

static void the_same_again_and_again_is_never_enough(void **state)
{
    (void)state;
    push_often("270.5,1.0,30.0,105.0,3000", 25, 400);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_false(found.enough);
    assert_int_equal(found.found, 0);
    assert_true(found.ask_count > 0);
}

static void noise_is_never_enough(void **state)
{
    uint32_t random = 7;
    uint8_t data[64];

    (void)state;
    for (uint32_t i = 0; i < 3000; i++) {
        for (size_t k = 0; k < sizeof data; k++) {
            random = random * 1664525U + 1013904223U;
            data[k] = (uint8_t)(random >> 24);
        }
        intake_discovery_push(discovery, (int64_t)i * 20000000, 50000, data,
                              sizeof data);
    }
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_int_equal(found.layout.form, INTAKE_FORM_BINARY);
    assert_int_equal(found.found, 0);
}

/* More than fits: still bounded, and spread over the whole time. */
static void a_long_stream_is_thinned_evenly(void **state)
{
    static uint8_t data[1400];

    (void)state;
    for (uint32_t i = 0; i < 60000; i++) {
        memcpy(data, &i, sizeof i);
        intake_discovery_push(discovery, (int64_t)i * 10000000, 50000, data,
                              sizeof data);
    }
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_in_range(found.datagrams, 1500, 20000);
    assert_true(found.seconds > 580.0);
}

/* Published line of NMEA 0183 traffic, its checksum verified. */
static void sentences_are_a_standard(void **state)
{
    static const char line[] = "$IIVHW,322,T,325,M,5.92,N,10.97,K*63\r\n";

    (void)state;
    push_often(line, sizeof line - 1, 50);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_true(found.standard);
    assert_int_equal(found.layout.form, INTAKE_FORM_NMEA);
}

static void lines_with_a_wrong_checksum_are_no_standard(void **state)
{
    static const char line[] = "$IIVHW,322,T,325,M,5.92,N,10.97,K*64\r\n";

    (void)state;
    push_often(line, sizeof line - 1, 50);
    (void)intake_discovery_end(discovery, 0, &found);
    assert_false(found.standard);
}

/* Field positions: IEEE 1278.1-2012, Entity State PDU. */
static void entity_states_are_a_standard(void **state)
{
    uint8_t pdu[144] = {7, 1, 1, 1, [8] = 0, [9] = 144};

    (void)state;
    push_often(pdu, sizeof pdu, 50);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_true(found.standard);
    assert_int_equal(found.layout.form, INTAKE_FORM_DIS);
}

/* Frame lengths: MAVLink developer guide, packet serialization. */
static void frames_are_a_standard(void **state)
{
    uint8_t frames[8 + 28 + 12 + 20] = {[0] = 0xfe, [1] = 28, [5] = 30};

    (void)state;
    frames[36] = 0xfd;
    frames[37] = 20;
    frames[43] = 74;
    push_often(frames, sizeof frames, 50);
    assert_int_equal(intake_discovery_end(discovery, 0, &found), 0);
    assert_true(found.standard);
    assert_int_equal(found.layout.form, INTAKE_FORM_MAVLINK);
}

static void a_layout_that_does_not_fit_is_refused(void **state)
{
    static struct intake_layout layout;
    char text[64];

    (void)state;
    layout.form = INTAKE_FORM_TEXT;
    layout.packet_count = 1;
    layout.packet[0].separator = ',';
    assert_int_equal(intake_layout_write(&layout, text, sizeof text), ERR_FULL);
}

static void names_are_escaped_in_a_layout(void **state)
{
    static struct intake_layout layout;
    char text[512];

    (void)state;
    layout.form = INTAKE_FORM_JSON;
    layout.packet_count = 1;
    layout.packet[0].field_count = 1;
    layout.packet[0].field[0].channel = CHANNEL_PITCH;
    layout.packet[0].field[0].unit = UNIT_DEG;
    layout.packet[0].field[0].scale = 1.0;
    (void)snprintf(layout.packet[0].field[0].name, INTAKE_FIELD_NAME,
                   "a\"b\\c");
    assert_true(intake_layout_write(&layout, text, sizeof text) > 0);
    assert_non_null(strstr(text, "path = \"a\\\"b\\\\c\""));
}

#define with_discovery(test) \
    cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        with_discovery(nothing_gives_absent),
        with_discovery(another_port_gives_absent),
        with_discovery(letters_without_numbers_have_no_form),
        with_discovery(the_same_again_and_again_is_never_enough),
        with_discovery(noise_is_never_enough),
        with_discovery(a_long_stream_is_thinned_evenly),
        with_discovery(sentences_are_a_standard),
        with_discovery(lines_with_a_wrong_checksum_are_no_standard),
        with_discovery(entity_states_are_a_standard),
        with_discovery(frames_are_a_standard),
        cmocka_unit_test(a_layout_that_does_not_fit_is_refused),
        cmocka_unit_test(names_are_escaped_in_a_layout),
    };

    return cmocka_run_group_tests_name("discover: forms", tests, NULL, NULL) !=
           0;
}
