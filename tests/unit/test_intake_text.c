/* test_intake_text.c - numbers in columns. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/intake.h"

/* Two packets are enough for every case; each test changes what it is
 * about. */
static struct intake_layout layout;
static struct intake_packet *packet;
static struct intake_sample sample;

static struct intake_field *add_field(enum intake_channel channel,
                                      uint32_t column, enum unit unit)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    field->column = column;
    field->unit = unit;
    field->scale = 1.0;
    return field;
}

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_TEXT;
    layout.packet_count = 1;
    packet = &layout.packet[0];
    packet->separator = ',';
    return 0;
}

static enum intake_reject decode(const char *text)
{
    return intake_decode(&layout, (const uint8_t *)text, strlen(text), &sample);
}

static double degrees(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_deg(sample.value[channel]);
}

static void reads_each_field_from_its_column(void **state)
{
    (void)state;
    add_field(CHANNEL_BANK, 4, UNIT_DEG);
    add_field(CHANNEL_HEADING, 1, UNIT_DEG);
    assert_int_equal(decode("270.5,x,,-30,9\n"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 270.5, 1e-12);
    assert_near(degrees(CHANNEL_BANK), -30.0, 1e-12);
    assert_int_equal(sample.valid,
                     CHANNEL_BIT(CHANNEL_HEADING) | CHANNEL_BIT(CHANNEL_BANK));
    assert_int_equal(sample.t_ns, 0);
}

static void needs_no_end_of_line_and_takes_any(void **state)
{
    static const char *const text[] = {
        "10,20",      "10,20\n",   "10,20\r\n",       "10,20\r",
        "10,20 \t\n", "10,20\n\n", "10,20\r\n\r\n\n", " 10 , 20 "};

    (void)state;
    add_field(CHANNEL_HEADING, 2, UNIT_DEG);
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        assert_int_equal(decode(text[i]), INTAKE_TAKEN);
        assert_near(degrees(CHANNEL_HEADING), 20.0, 1e-12);
    }
}

static void takes_a_string_with_its_nul(void **state)
{
    static const uint8_t bytes[] = "10,20\n\0";

    (void)state;
    add_field(CHANNEL_HEADING, 2, UNIT_DEG);
    assert_int_equal(intake_decode(&layout, bytes, sizeof bytes, &sample),
                     INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 20.0, 1e-12);
}

static void takes_the_last_of_several_lines(void **state)
{
    (void)state;
    add_field(CHANNEL_HEADING, 1, UNIT_DEG);
    assert_int_equal(decode("1\n2\n3\n"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 3.0, 1e-12);
    assert_int_equal(decode("not this\r\n4"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 4.0, 1e-12);
}

static void reads_a_decimal_comma_between_semicolons(void **state)
{
    (void)state;
    packet->separator = ';';
    packet->decimal_comma = true;
    add_field(CHANNEL_HEADING, 2, UNIT_DEG);
    assert_int_equal(decode("1,5;270,25;3"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 270.25, 1e-12);
    assert_int_equal(decode("1,5;270.25;3"), INTAKE_NOT_A_NUMBER);
}

static void reads_quoted_numbers(void **state)
{
    (void)state;
    add_field(CHANNEL_HEADING, 1, UNIT_DEG);
    add_field(CHANNEL_PITCH, 3, UNIT_DEG);
    assert_int_equal(decode("\"12.5\", \"a,b\" , \" 3 \""), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_HEADING), 12.5, 1e-12);
    assert_near(degrees(CHANNEL_PITCH), 3.0, 1e-12);
    /* A quote that is never closed quotes nothing. */
    assert_int_equal(decode("\"12.5,2,3"), INTAKE_NOT_A_NUMBER);
}

static void separates_by_runs_of_blanks(void **state)
{
    (void)state;
    packet->separator = ' ';
    add_field(CHANNEL_PITCH, 3, UNIT_DEG);
    assert_int_equal(decode("  1   2 \t 3  "), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 3.0, 1e-12);
}

static void separates_by_each_tab(void **state)
{
    (void)state;
    packet->separator = '\t';
    add_field(CHANNEL_PITCH, 3, UNIT_DEG);
    assert_int_equal(decode("1\t\t3\t4"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 3.0, 1e-12);
}

static void says_when_columns_are_missing(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, 3, UNIT_DEG);
    assert_int_equal(decode("1,2"), INTAKE_TOO_FEW_COLUMNS);
    assert_int_equal(decode("1,2,"), INTAKE_NOT_A_NUMBER);
    assert_int_equal(decode("1,2,x"), INTAKE_NOT_A_NUMBER);
    assert_int_equal(decode("1,2,inf"), INTAKE_NOT_A_NUMBER);
    assert_int_equal(decode("1,2,3"), INTAKE_TAKEN);
}

static void takes_nan_for_not_known_and_not_for_nought(void **state)
{
    (void)state;
    add_field(CHANNEL_HEADING, 1, UNIT_DEG);
    add_field(CHANNEL_PITCH, 2, UNIT_DEG);
    assert_int_equal(decode("270,nan"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_HEADING));
    assert_int_equal(sample.fresh, sample.valid);
    assert_int_equal(decode("-nan,NaN"), INTAKE_NOTHING_KNOWN);
}

static void lets_optional_columns_be_empty_or_absent(void **state)
{
    static const char *const text[] = {"1,2",      "1,2,",    "1,2, ",
                                       "1,2,\"\"", "1,2,nan", "1,2,-NaN"};

    (void)state;
    add_field(CHANNEL_HEADING, 2, UNIT_DEG);
    add_field(CHANNEL_PITCH, 3, UNIT_DEG)->optional = true;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        assert_int_equal(decode(text[i]), INTAKE_TAKEN);
        assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_HEADING));
    }
    assert_int_equal(decode("1,2,x"), INTAKE_NOT_A_NUMBER);
}

static void leaves_out_a_value_that_means_missing(void **state)
{
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_PITCH, 1, UNIT_DEG);
    field->has_missing = true;
    field->missing = -999.9;
    assert_int_equal(decode("-999.90"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(sample.valid, 0);
    assert_int_equal(decode("9"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
}

static void reads_truth_as_words_and_numbers(void **state)
{
    static const struct {
        const char *text;
        double value;
    } row[] = {{"1", 1.0},    {"0", 0.0},     {"2", 1.0},
               {"true", 1.0}, {"False", 0.0}, {"TRUE", 1.0}};

    (void)state;
    add_field(CHANNEL_PAUSED, 1, UNIT_BOOL);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        assert_int_equal(decode(row[i].text), INTAKE_TAKEN);
        assert_true(sample.value[CHANNEL_PAUSED] == row[i].value);
    }
    assert_int_equal(decode("maybe"), INTAKE_NOT_A_NUMBER);
}

/* Source of the factors: NIST Special Publication 811 (2008), Appendix B.8:
 * 1 km/h = 1/3.6 m/s; 1 degF = 5/9 K, its zero at 459.67 below; pound
 * 0.45359237 kg. */
static void scales_then_offsets_then_converts(void **state)
{
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_AIRSPEED, 1, UNIT_KM_PER_H);
    field->scale = 0.1;
    field->offset = 36.0;
    add_field(CHANNEL_WEIGHT, 2, UNIT_LB);
    assert_int_equal(decode("1440,2459"), INTAKE_TAKEN);
    assert_near(sample.value[CHANNEL_AIRSPEED], 50.0, 1e-12);
    assert_near(sample.value[CHANNEL_WEIGHT], 1115.38363783, 1e-9);
}

static void refuses_what_no_airplane_can_do(void **state)
{
    static const struct {
        enum intake_channel channel;
        enum unit unit;
        const char *good;
        const char *bad;
    } row[] = {
        {CHANNEL_PITCH, UNIT_DEG, "-95", "95.1"},
        {CHANNEL_BANK, UNIT_DEG, "185", "-185.1"},
        {CHANNEL_HEADING, UNIT_DEG, "-720", "721"},
        {CHANNEL_AIRSPEED, UNIT_KT, "-5", "-5.1"},
        {CHANNEL_AIRSPEED, UNIT_KT, "1500", "1501"},
        {CHANNEL_ALTITUDE, UNIT_FT, "-2000", "-2001"},
        {CHANNEL_ALTITUDE, UNIT_FT, "200000", "200001"},
        {CHANNEL_LOAD_FACTOR, UNIT_G, "-50", "50.1"},
        {CHANNEL_LATITUDE, UNIT_DEG, "90", "91"},
        {CHANNEL_SIM_TIME, UNIT_S, "1700000000", "5e9"},
    };

    (void)state;
    add_field(CHANNEL_PITCH, 1, UNIT_DEG);
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        packet->field[0].channel = row[i].channel;
        packet->field[0].unit = row[i].unit;
        assert_int_equal(decode(row[i].good), INTAKE_TAKEN);
        assert_int_equal(decode(row[i].bad), INTAKE_OUT_OF_RANGE);
    }
    assert_int_equal(decode("1e999"), INTAKE_NOT_FINITE);
}

static void picks_the_packet_by_how_its_line_begins(void **state)
{
    (void)state;
    memcpy(packet->starts_with, "ATT,", 4);
    packet->starts_with_length = 4;
    add_field(CHANNEL_PITCH, 2, UNIT_DEG);
    packet = &layout.packet[1];
    packet->separator = ',';
    memcpy(packet->starts_with, "SPD,", 4);
    packet->starts_with_length = 4;
    add_field(CHANNEL_AIRSPEED, 2, UNIT_KT);
    layout.packet_count = 2;
    assert_int_equal(decode("ATT,5"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("SPD,90\n"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_AIRSPEED));
    assert_near(units_kt(sample.value[CHANNEL_AIRSPEED]), 90.0, 1e-9);
    assert_int_equal(decode("POS,5"), INTAKE_NO_PACKET);
    assert_int_equal(decode("AT"), INTAKE_NO_PACKET);
}

static void takes_the_last_line_of_each_kind(void **state)
{
    (void)state;
    picks_the_packet_by_how_its_line_begins(state);
    assert_int_equal(decode("ATT,4\nATT,5\r\nSPD,90\nPOS,7\n"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH) |
                                       CHANNEL_BIT(CHANNEL_AIRSPEED));
    assert_near(degrees(CHANNEL_PITCH), 5.0, 1e-12);
    assert_near(units_kt(sample.value[CHANNEL_AIRSPEED]), 90.0, 1e-9);
    assert_int_equal(decode("ATT,5\nSPD,x\n"), INTAKE_NOT_A_NUMBER);
}

/* Source of the lines and their checksums: published NMEA 0183 sentences; the
 * invalid one has a blank too many. */
static void holds_a_line_to_its_checksum(void **state)
{
    static const char good[] = "$GPVTG,309.62,T,,M,0.13,N,0.2,K*6E\r\n";

    (void)state;
    packet->checksum = INTAKE_CHECKSUM_XOR;
    add_field(CHANNEL_TRACK, 2, UNIT_DEG);
    assert_int_equal(decode(good), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_TRACK), 309.62, 1e-9);
    assert_int_equal(decode("$GPVTG,309.62,T,,M,0.13,N,0.2,K*6e"),
                     INTAKE_TAKEN);
    assert_int_equal(decode("$GPVTG,309.62,T, ,M,0.13,N,0.2,K*6E"),
                     INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("$GPVTG,309.62,T,,M,0.13,N,0.2,K"),
                     INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("*"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("*0G"), INTAKE_BAD_CHECKSUM);
    for (size_t at = 0; at < sizeof good - 3; at++) {
        char bad[sizeof good];

        memcpy(bad, good, sizeof good);
        bad[at] ^= 1;
        assert_int_not_equal(decode(bad), INTAKE_TAKEN);
    }
}

static void passes_over_a_value_out_of_its_range(void **state)
{
    struct intake_field *field;

    (void)state;
    field = add_field(CHANNEL_AIRSPEED, 1, UNIT_KT);
    add_field(CHANNEL_HEADING, 2, UNIT_DEG);
    field->has_range = true;
    field->least = 0.0;
    field->most = units_to_internal(UNIT_KT, 300.0);
    assert_int_equal(decode("300,1"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_AIRSPEED) |
                                       CHANNEL_BIT(CHANNEL_HEADING));
    assert_int_equal(decode("300.1,1"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_HEADING));
    /* Even when it could not be true at all. */
    assert_int_equal(decode("65535,1"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_HEADING));
}

static void folds_angles_that_are_counted_from_0_to_360(void **state)
{
    (void)state;
    add_field(CHANNEL_BANK, 1, UNIT_DEG);
    add_field(CHANNEL_PITCH, 2, UNIT_DEG);
    assert_int_equal(decode("330,350"), INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_BANK), -30.0, 1e-9);
    assert_near(degrees(CHANNEL_PITCH), -10.0, 1e-9);
    /* No pitch is 170 below the horizon. */
    assert_int_equal(decode("330,190"), INTAKE_OUT_OF_RANGE);
    assert_int_equal(decode("361,0"), INTAKE_OUT_OF_RANGE);
}

static void picks_the_packet_by_its_length(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, 1, UNIT_DEG);
    packet->size = 4;
    assert_int_equal(decode("1.25"), INTAKE_TAKEN);
    assert_int_equal(decode("1.2"), INTAKE_NO_PACKET);
    packet->size = 0;
    packet->min_size = 3;
    assert_int_equal(decode("1.2"), INTAKE_TAKEN);
    assert_int_equal(decode("12"), INTAKE_NO_PACKET);
}

static void names_what_holds_nothing(void **state)
{
    (void)state;
    add_field(CHANNEL_PITCH, 1, UNIT_DEG);
    assert_int_equal(intake_decode(&layout, NULL, 0, &sample), INTAKE_EMPTY);
    assert_int_equal(decode("\r\n"), INTAKE_EMPTY);
    assert_int_equal(decode("   "), INTAKE_EMPTY);
    /* Not read: there is nothing there. */
    assert_int_equal(
        intake_decode(&layout, NULL, INTAKE_MAX_DATAGRAM + 1, &sample),
        INTAKE_TOO_LONG);
}

static void every_channel_has_a_name_and_a_unit_of_its_kind(void **state)
{
    (void)state;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        enum intake_channel channel = (enum intake_channel)i;
        enum intake_channel found = CHANNEL_COUNT;

        assert_int_equal(
            intake_channel_find(intake_channel_name(channel), &found), 0);
        assert_int_equal(found, channel);
        assert_int_equal(units_quantity(intake_channel_display_unit(channel)),
                         intake_channel_quantity(channel));
    }
    for (int i = 0; i < INTAKE_REJECT_COUNT; i++)
        assert_true(intake_reject_name((enum intake_reject)i)[0] != '\0');
}

#define text_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        text_test(reads_each_field_from_its_column),
        text_test(needs_no_end_of_line_and_takes_any),
        text_test(takes_a_string_with_its_nul),
        text_test(takes_the_last_of_several_lines),
        text_test(reads_a_decimal_comma_between_semicolons),
        text_test(reads_quoted_numbers),
        text_test(separates_by_runs_of_blanks),
        text_test(separates_by_each_tab),
        text_test(says_when_columns_are_missing),
        text_test(takes_nan_for_not_known_and_not_for_nought),
        text_test(lets_optional_columns_be_empty_or_absent),
        text_test(leaves_out_a_value_that_means_missing),
        text_test(reads_truth_as_words_and_numbers),
        text_test(scales_then_offsets_then_converts),
        text_test(refuses_what_no_airplane_can_do),
        text_test(picks_the_packet_by_how_its_line_begins),
        text_test(takes_the_last_line_of_each_kind),
        text_test(holds_a_line_to_its_checksum),
        text_test(passes_over_a_value_out_of_its_range),
        text_test(folds_angles_that_are_counted_from_0_to_360),
        text_test(picks_the_packet_by_its_length),
        text_test(names_what_holds_nothing),
        text_test(every_channel_has_a_name_and_a_unit_of_its_kind),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
