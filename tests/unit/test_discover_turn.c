/* test_discover_turn.c - which way a turn that was asked for was flown. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/commands/discover_legs.h"
#include "near.h"

static struct discover_turn turn;

static struct intake_layout heading_layout(double scale)
{
    struct intake_layout layout = {.form = INTAKE_FORM_TEXT, .packet_count = 1};
    struct intake_packet *packet = &layout.packet[0];

    packet->separator = ',';
    packet->field_count = 1;
    packet->field[0] = (struct intake_field){.channel = CHANNEL_HEADING,
                                             .unit = UNIT_DEG,
                                             .column = 1,
                                             .scale = scale};
    return layout;
}

static void keep(const char *text)
{
    turn.length[turn.count] = strlen(text);
    memcpy(turn.data[turn.count++], text, strlen(text));
}

/* Headings from..to in whole degrees, through north where they pass it. */
static void fly(int from_deg, int to_deg, int step_deg)
{
    memset(&turn, 0, sizeof turn);
    for (int deg = from_deg; deg != to_deg; deg += step_deg) {
        char text[32];

        (void)snprintf(text, sizeof text, "%d,1", (deg + 720) % 360);
        keep(text);
    }
}

static void a_turn_is_measured_through_north(void **state)
{
    struct intake_layout layout = heading_layout(1.0);

    (void)state;
    fly(40, -60, -2);
    assert_near(units_deg(discover_turn_rad(&turn, &layout)), -98.0, 1e-6);
    fly(300, 430, 2);
    assert_near(units_deg(discover_turn_rad(&turn, &layout)), 128.0, 1e-6);
}

static void a_mirrored_compass_turns_the_other_way(void **state)
{
    struct intake_layout layout = heading_layout(-1.0);

    (void)state;
    fly(40, -60, -2);
    assert_near(units_deg(discover_turn_rad(&turn, &layout)), 98.0, 1e-6);
}

static void packets_without_a_heading_are_passed_over(void **state)
{
    struct intake_layout layout = heading_layout(1.0);

    (void)state;
    memset(&turn, 0, sizeof turn);
    assert_near(discover_turn_rad(&turn, &layout), 0.0, 0.0);
    keep("no number");
    keep("10,1");
    keep("");
    keep("55,1");
    assert_near(units_deg(discover_turn_rad(&turn, &layout)), 45.0, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_turn_is_measured_through_north),
        cmocka_unit_test(a_mirrored_compass_turns_the_other_way),
        cmocka_unit_test(packets_without_a_heading_are_passed_over),
    };

    return cmocka_run_group_tests_name("discover: turn", tests, NULL, NULL) !=
           0;
}
