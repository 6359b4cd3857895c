/* test_intake_inspect.c - what "inspect" adds up and prints. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "../../daemon/commands/inspect_json.h"
#include "../../daemon/commands/inspect_tally.h"
#include "near.h"
#include "quarterturn/settings.h"

#define MS INT64_C(1000000)

static struct settings settings;
static struct inspect_tally tally;
static char printed[8192];

static int begin(void **state)
{
    struct settings_choice choice = {0};
    char why[512] = "";

    (void)state;
    if (settings_load(&choice, ".", &settings, why, sizeof why) != 0)
        fail_msg("%s", why);
    inspect_tally_init(&tally, &settings.layout, NULL, 1000 * MS);
    return 0;
}

static void push_text(int64_t arrival_ns, const char *text)
{
    inspect_tally_push(&tally,
                       &(struct intake_datagram){
                           .t_ns = arrival_ns,
                           .sender = {.address = {192, 0, 2, 7}, .port = 49000},
                           .data = (const uint8_t *)text,
                           .length = strlen(text)});
}

static void print(void (*with)(FILE *out))
{
    FILE *out = tmpfile();
    size_t length;

    assert_non_null(out);
    with(out);
    rewind(out);
    length = fread(printed, 1, sizeof printed - 1, out);
    printed[length] = '\0';
    (void)fclose(out);
}

static void print_tally(FILE *out)
{
    inspect_tally_print(&tally, settings.layout_file, out);
}

static void expect_printed(const char *text)
{
    if (strstr(printed, text) == NULL)
        fail_msg("not printed: \"%s\" in\n%s", text, printed);
}

static void every_line_fits_a_terminal(void)
{
    const char *line = printed;

    while (*line != '\0') {
        size_t length = strcspn(line, "\n");

        assert_true(length <= 80);
        assert_null(memchr(line, '\033', length));
        line += length + (line[length] == '\n');
    }
}

static void shows_value_extent_rate_and_gap(void **state)
{
    char text[64];

    (void)state;
    for (int i = 0; i <= 100; i++) {
        if (i > 40 && i < 46)
            continue;
        (void)snprintf(text, sizeof text, "%.2f,%d,%d,0,100,,3000", i * 0.05, i,
                       5 - i / 10);
        push_text(i * 50 * MS, text);
    }
    print(print_tally);
    every_line_fits_a_terminal();
    expect_printed("96 datagrams in 5.0 s, ");
    expect_printed("heading             100.000       0.000     100.000  "
                   "deg     19.0  0.30   0.0\n");
    expect_printed("pitch                -5.000      -5.000       5.000  "
                   "deg     19.0  0.30   0.0\n");
    expect_printed("altitude           3000.000    3000.000    3000.000  "
                   "ft      19.0  0.30   0.0\n");
    assert_null(strstr(printed, "sideslip       "));
    assert_null(strstr(printed, "rejected"));
    assert_null(strstr(printed, "stream"));
}

static void names_rejects_states_and_what_is_off(void **state)
{
    (void)state;
    push_text(0, "1.0,90,1,1,100");
    push_text(1 * MS, "1.0,90,1,1,100");
    push_text(2 * MS, "1.1,91,1,1");
    push_text(3 * MS, "1.1,91,x,1,100");
    push_text(4 * MS, "0.5,91,1,1,100");
    push_text(5 * MS, "1.1,91,99,1,100");
    push_text(3000 * MS, "4.0,91,1,1,100");
    inspect_tally_tick(&tally, 9000 * MS);
    print(print_tally);
    every_line_fits_a_terminal();
    expect_printed("7 datagrams in 3.0 s, ");
    expect_printed(" 2 taken\n");
    expect_printed("rejected: 1 too few columns, 1 not a number, 1 out of "
                   "range, 1 late,\n    1 duplicate\n");
    expect_printed("stream: 2 signal lost, 1 signal back\n");
    expect_printed("no altitude: altitude gained and \"hold altitude\" are "
                   "off\n");
    expect_printed("no lateral g or sideslip: ");
    assert_null(strstr(printed, "cannot be followed"));
}

static void says_when_a_chandelle_cannot_be_followed(void **state)
{
    (void)state;
    /* The field of the airspeed is not in this layout. */
    settings.layout.packet[0].field_count = 4;
    push_text(0, "1.0,90,1,1,100");
    print(print_tally);
    expect_printed("\nno airspeed: a chandelle cannot be followed\n");
}

static void prints_no_table_of_nothing(void **state)
{
    (void)state;
    push_text(0, "hello");
    print(print_tally);
    assert_string_equal(printed, "1 datagram in 0.0 s, 5 bytes, 0 taken\n"
                                 "rejected: 1 not a number\n"
                                 "from 192.0.2.7 port 49000: 1 datagram\n");
}

static void print_json(FILE *out)
{
    assert_true(inspect_json_print(&tally, settings.layout_file, out));
}

/* Read back by the library, which is strict (RFC 8259). */
static void tells_the_same_as_json(void **state)
{
    json_t *all;
    json_t *heading;

    (void)state;
    push_text(0, "1.0,90,1,1,100");
    push_text(100 * MS, "1.1,91,1,1,100");
    push_text(101 * MS, "?");
    inspect_tally_tick(&tally, 300 * MS);
    print(print_json);
    all = json_loads(printed, 0, NULL);
    assert_non_null(all);
    assert_int_equal(json_integer_value(json_object_get(all, "taken")), 2);
    assert_int_equal(json_object_size(json_object_get(all, "rejected")), 1);
    heading = json_array_get(json_object_get(all, "channels"), 1);
    assert_string_equal(json_string_value(json_object_get(heading, "channel")),
                        "heading");
    assert_near(json_number_value(json_object_get(heading, "value")), 91.0,
                1e-6);
    assert_near(json_number_value(json_object_get(heading, "age_s")), 0.2,
                1e-6);
    assert_near(json_number_value(json_object_get(heading, "rate_hz")), 10.0,
                1e-6);
    assert_int_equal(json_array_size(json_object_get(all, "senders")), 1);
    assert_int_equal(json_array_size(json_object_get(all, "warnings")), 0);
    json_decref(all);
}

static void print_skipped(FILE *out)
{
    const struct intake_skipped skipped = {1000000, 2000000, 3000000, 4000000,
                                           5000000};

    inspect_print_other(12345678, &skipped, out);
}

static void print_nothing_skipped(FILE *out)
{
    const struct intake_skipped skipped = {0};

    inspect_print_other(0, &skipped, out);
}

static void tells_what_was_passed_over(void **state)
{
    (void)state;
    print(print_skipped);
    every_line_fits_a_terminal();
    expect_printed("passed over: 12345678 to other ports, 1000000 not IP, ");
    expect_printed("5000000 malformed\n");
    print(print_nothing_skipped);
    assert_string_equal(printed, "");
}

#define inspect_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        inspect_test(shows_value_extent_rate_and_gap),
        inspect_test(names_rejects_states_and_what_is_off),
        inspect_test(says_when_a_chandelle_cannot_be_followed),
        inspect_test(prints_no_table_of_nothing),
        inspect_test(tells_the_same_as_json),
        inspect_test(tells_what_was_passed_over),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
