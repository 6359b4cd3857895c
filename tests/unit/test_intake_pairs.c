/* test_intake_pairs.c - names with their values. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_packet *packet;
static struct intake_sample sample;

static struct intake_field *add_field(enum intake_channel channel,
                                      const char *name)
{
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    (void)snprintf(field->name, sizeof field->name, "%s", name);
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    return field;
}

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_PAIRS;
    layout.packet_count = 1;
    packet = &layout.packet[0];
    packet->separator = ',';
    packet->assign = '=';
    return 0;
}

static void add_attitude(void)
{
    add_field(CHANNEL_HEADING, "hdg");
    add_field(CHANNEL_PITCH, "pitch");
    add_field(CHANNEL_BANK, "bank")->optional = true;
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

static void expect_attitude(const char *text)
{
    if (decode(text) != INTAKE_TAKEN)
        fail_msg("\"%s\": %s", text, intake_reject_name(decode(text)));
    assert_near(degrees(CHANNEL_HEADING), 270.5, 1e-12);
    assert_near(degrees(CHANNEL_PITCH), 5.0, 1e-12);
    assert_near(degrees(CHANNEL_BANK), -30.0, 1e-12);
}

static void reads_pairs_in_any_order_and_on_any_lines(void **state)
{
    static const char *const text[] = {
        "hdg=270.5,pitch=5,bank=-30",
        "bank=-30,hdg=270.5,pitch=5\n",
        "hdg=270.5\npitch=5\r\nbank=-30\r\n",
        "hdg=270.5,pitch=5\nbank=-30",
        "\n\n  hdg = 270.5 , pitch =\t5 ,\tbank= -30 \r\n",
        ",,hdg=270.5,,pitch=5,bank=-30,,\n",
        "\"hdg\"=\"270.5\",\"pitch\" = \" 5 \" , \"bank\"=-30",
        "n=\"a,b=c\",hdg=270.5,pitch=5,bank=-30,x=",
        "FLIGHT,hdg=270.5,pitch=5,count,bank=-30,Hdg=1",
        "hdg=1,hdg=270.5,pitch=5,bank=-30",
        "hdg=270.5,pitch=5,bank=-30\n\0",
    };

    (void)state;
    add_attitude();
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++)
        expect_attitude(text[i]);
    assert_int_equal(intake_decode(&layout,
                                   (const uint8_t *)"hdg=1\0\0pitch=2\0", 16,
                                   &sample),
                     INTAKE_TAKEN);
    assert_near(degrees(CHANNEL_PITCH), 2.0, 1e-12);
}

static void reads_other_marks(void **state)
{
    static const struct {
        char separator;
        char assign;
        const char *text;
    } row[] = {
        {';', ':', "hdg:270.5;pitch: 5; bank :-30"},
        {' ', '=', "hdg=270.5  pitch=5 \t bank=-30"},
        {' ', '=', "ATT hdg = 270.5 pitch =5 bank= -30 end"},
        {' ', ':', "hdg:270.5 pitch:5 bank:-30"},
        {'\t', '=', "hdg=270.5\tpitch= 5\tbank =-30"},
        {',', ' ', "hdg 270.5, pitch   5\n bank -30"},
        {',', '\t', "hdg\t270.5\npitch\t5\nbank\t-30"},
        {'&', '=', "hdg=270.5&pitch=5&bank=-30"},
        {'|', '>', "hdg>270.5|pitch>5|bank>-30"},
    };

    (void)state;
    add_attitude();
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        packet->separator = row[i].separator;
        packet->assign = row[i].assign;
        expect_attitude(row[i].text);
    }
}

static void reads_a_decimal_comma(void **state)
{
    (void)state;
    packet->separator = ';';
    packet->decimal_comma = true;
    add_attitude();
    expect_attitude("hdg=270,5;pitch=5;bank=-30,0");
    assert_int_equal(decode("hdg=270.5"), INTAKE_NOT_A_NUMBER);
}

static void takes_what_is_there(void **state)
{
    (void)state;
    add_attitude();
    assert_int_equal(decode("pitch=5"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("pitch=5,bank="), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    assert_int_equal(decode("pitch=5,bank=nan,hdg=NaN"), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_PITCH));
    /* The later of two says that there is none. */
    assert_int_equal(decode("bank=3,bank="), INTAKE_NOTHING_KNOWN);
}

static void names_what_is_wrong(void **state)
{
    static const struct {
        const char *text;
        enum intake_reject reject;
    } row[] = {
        {"\r\n", INTAKE_EMPTY},
        {"hdg:270", INTAKE_BAD_STRUCTURE},
        {"270,5,-30", INTAKE_BAD_STRUCTURE},
        {"speed=100,x=", INTAKE_NOTHING_KNOWN},
        {"HDG=270", INTAKE_NOTHING_KNOWN},
        {"hdg1=270", INTAKE_NOTHING_KNOWN},
        {"=270", INTAKE_NOTHING_KNOWN},
        {"hdg=", INTAKE_NOT_A_NUMBER},
        {"hdg=north", INTAKE_NOT_A_NUMBER},
        {"hdg=270deg", INTAKE_NOT_A_NUMBER},
        {"hdg=\"270", INTAKE_NOT_A_NUMBER},
        {"hdg==270", INTAKE_NOT_A_NUMBER},
        {"hdg=270=1", INTAKE_NOT_A_NUMBER},
        {"hdg=inf", INTAKE_NOT_A_NUMBER},
        {"hdg=1e999", INTAKE_NOT_FINITE},
        {"hdg=721", INTAKE_OUT_OF_RANGE},
    };

    (void)state;
    add_attitude();
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        if (decode(row[i].text) != row[i].reject)
            fail_msg("\"%s\": %s, not %s", row[i].text,
                     intake_reject_name(decode(row[i].text)),
                     intake_reject_name(row[i].reject));
    }
}

static void picks_the_packet_by_its_beginning(void **state)
{
    (void)state;
    memcpy(packet->starts_with, "ATT:", 4);
    packet->starts_with_length = 4;
    add_attitude();
    packet = &layout.packet[1];
    packet->separator = ';';
    packet->assign = ':';
    memcpy(packet->starts_with, "SPD ", 4);
    packet->starts_with_length = 4;
    add_field(CHANNEL_AIRSPEED, "ias");
    layout.packet_count = 2;
    expect_attitude("ATT:hdg=270.5,pitch=5,bank=-30");
    assert_int_equal(decode("SPD ias:90"), INTAKE_TAKEN);
    assert_near(units_kt(sample.value[CHANNEL_AIRSPEED]), 90.0, 1e-9);
    assert_int_equal(decode("POS lat=3"), INTAKE_NO_PACKET);
}

static void holds_each_line_to_its_checksum(void **state)
{
    char bytes[256];
    int length;

    (void)state;
    packet->checksum = INTAKE_CHECKSUM_XOR;
    add_attitude();
    /* 'h' ^ 'd' ^ 'g' ^ '=' ^ '1' = 68 ^ 64 ^ 67 ^ 3d ^ 31 hexadecimal. */
    assert_int_equal(decode("hdg=1*67\r\n"), INTAKE_TAKEN);
    assert_int_equal(decode("hdg=2*67\r\n"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("hdg=1*67\nhdg=1\n"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("hdg=1*67"), INTAKE_TAKEN);
    length = intake_encode(&layout, 0, &sample, (uint8_t *)bytes, 256);
    assert_int_equal(length, 9);
    assert_memory_equal(bytes, "hdg=1*67\n", 9);
}

static void every_channel_survives_the_way_there_and_back(void **state)
{
    static const struct {
        char separator;
        char assign;
        bool comma;
    } mark[] = {{',', '=', false}, {' ', ':', true}, {';', ' ', true}};
    struct intake_sample back;
    uint8_t bytes[2048];

    (void)state;
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        char name[INTAKE_FIELD_NAME];
        struct intake_field *field;

        /* Names that hold the marks have to be quoted. */
        (void)snprintf(name, sizeof name, i % 2 != 0 ? "a %d=b" : "c%d", i);
        field = add_field((enum intake_channel)i, name);
        sample.value[i] = units_to_internal(
            field->unit, field->unit == UNIT_BOOL ? 1.0
                         : units_quantity(field->unit) == UNITS_NUMBER
                             ? 0.25
                             : 1.123456789 + i);
    }
    for (size_t m = 0; m < sizeof mark / sizeof mark[0]; m++) {
        packet->separator = mark[m].separator;
        packet->assign = mark[m].assign;
        packet->decimal_comma = mark[m].comma;
        for (int out = -1; out < CHANNEL_COUNT; out++) {
            int length;

            sample.valid = (UINT32_C(1) << CHANNEL_COUNT) - 1;
            if (out >= 0)
                sample.valid &= ~CHANNEL_BIT(out);
            length = intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_true(length > 0);
            for (size_t size = 0; out < 0 && size < (size_t)length; size++)
                assert_int_equal(
                    intake_encode(&layout, 0, &sample, bytes, size), ERR_FULL);
            (void)intake_encode(&layout, 0, &sample, bytes, sizeof bytes);
            assert_int_equal(
                intake_decode(&layout, bytes, (size_t)length, &back),
                INTAKE_TAKEN);
            assert_int_equal(back.valid, sample.valid);
            for (int i = 0; i < CHANNEL_COUNT; i++) {
                if (i != out)
                    assert_near(back.value[i], sample.value[i],
                                1e-13 * (1.0 + fabs(sample.value[i])));
            }
        }
    }
}

#define pairs_test(test) cmocka_unit_test_setup(test, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        pairs_test(reads_pairs_in_any_order_and_on_any_lines),
        pairs_test(reads_other_marks),
        pairs_test(reads_a_decimal_comma),
        pairs_test(takes_what_is_there),
        pairs_test(names_what_is_wrong),
        pairs_test(picks_the_packet_by_its_beginning),
        pairs_test(holds_each_line_to_its_checksum),
        pairs_test(every_channel_survives_the_way_there_and_back),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
