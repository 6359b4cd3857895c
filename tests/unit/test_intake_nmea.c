/* test_intake_nmea.c - NMEA 0183 sentences. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "frames.h"
#include "near.h"
#include "quarterturn/intake.h"

static struct intake_layout layout;
static struct intake_sample sample;

static int begin(void **state)
{
    (void)state;
    memset(&layout, 0, sizeof layout);
    layout.form = INTAKE_FORM_NMEA;
    layout.packet_count = 1;
    return 0;
}

static struct intake_field *declare(enum intake_channel channel,
                                    const char *name)
{
    struct intake_packet *packet = &layout.packet[0];
    struct intake_field *field = &packet->field[packet->field_count++];

    field->channel = channel;
    field->unit = intake_channel_display_unit(channel);
    field->scale = 1.0;
    snprintf(field->name, sizeof field->name, "%s", name);
    return field;
}

static enum intake_reject decode(const char *text)
{
    return frames_decode(&layout, (const uint8_t *)text, strlen(text), &sample);
}

/* A sentence with its checksum worked out: the exclusive or of what stands
 * between '$' and '*'. */
static enum intake_reject decode_sealed(const char *body)
{
    char text[FRAME_BYTES];
    unsigned sum = 0;

    for (const char *c = body; *c != '\0'; c++)
        sum ^= (unsigned char)*c;
    snprintf(text, sizeof text, "$%s*%02X\r\n", body, sum);
    return decode(text);
}

static double shown(enum intake_channel channel)
{
    assert_true((sample.valid & CHANNEL_BIT(channel)) != 0);
    return units_from_internal(intake_channel_display_unit(channel),
                               sample.value[channel]);
}

static bool has(enum intake_channel channel)
{
    return (sample.valid & CHANNEL_BIT(channel)) != 0;
}

/* Example lines that manuals print, with the checksums they bear there: of a
 * compass (HC), an instrument system (II) and receivers (GP), going by the
 * letters of the talker. The damaged one has a blank too many. */
static const char published_xdr[] =
    "$HCXDR,A,171,D,PITCH,A,-37,D,ROLL,G,367,,MAGX,G,2420,,MAGY,G,-8984,,"
    "MAGZ*41\r\n";
static const char published_vhw[] = "$IIVHW,322,T,325,M,5.92,N,10.97,K*63\r\n";
static const char published_gga[] =
    "$GPGGA,061831.000,2236.9152,N,11403.2422,E,2,07,1.1,144.0,M,-2.2,M,4.8,"
    "0000*60\r\n";
static const char published_vtg[] = "$GPVTG,309.62,T,,M,0.13,N,0.2,K*6E\r\n";
static const char damaged_vtg[] = "$GPVTG,309.62,T, ,M,0.13,N,0.2,K*6E\r\n";
/* Made here by the same rules. */
static const char own_hdt[] = "$HEHDT,271.5,T*2E\r\n";
static const char own_hdg[] = "$HCHDG,268.2,,,3.3,E*27\r\n";
static const char own_xdr[] = "$IIXDR,A,12.5,D,PTCH,A,-30.0,D,ROLL*74\r\n";

static void reads_the_published_lines(void **state)
{
    (void)state;
    assert_int_equal(decode(published_gga), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_LATITUDE), 22.0 + 36.9152 / 60.0, 1e-12);
    assert_near(shown(CHANNEL_LONGITUDE), 114.0 + 3.2422 / 60.0, 1e-12);
    assert_near(sample.value[CHANNEL_ALTITUDE], 144.0, 1e-12);
    assert_int_equal(decode(published_vtg), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_TRACK), 309.62, 1e-9);
    assert_near(shown(CHANNEL_GROUND_SPEED), 0.13, 1e-12);
    assert_int_equal(decode(damaged_vtg), INTAKE_BAD_CHECKSUM);
    declare(CHANNEL_AIRSPEED, "VHW");
    declare(CHANNEL_HEADING, "VHW");
    assert_int_equal(decode(published_vhw), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_AIRSPEED), 5.92, 1e-9);
    assert_near(shown(CHANNEL_HEADING), 322.0, 1e-9);
}

/* The compass on its back is well told, but no airplane's. */
static void reads_the_published_items_by_name(void **state)
{
    (void)state;
    assert_int_equal(decode(published_xdr), INTAKE_OUT_OF_RANGE);
    declare(CHANNEL_PITCH, "NOSE");
    assert_int_equal(decode(published_xdr), INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_BANK));
    assert_near(shown(CHANNEL_BANK), -37.0, 1e-9);
    declare(CHANNEL_LOAD_FACTOR, "MAGZ")->scale = -1.0 / 8984.0;
    assert_int_equal(decode(published_xdr), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_LOAD_FACTOR), 1.0, 1e-12);
}

static void reads_heading_pitch_and_bank(void **state)
{
    (void)state;
    assert_int_equal(decode(own_hdt), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 271.5, 1e-9);
    assert_int_equal(decode(own_hdg), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 271.5, 1e-9);
    assert_int_equal(decode(own_xdr), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_PITCH), 12.5, 1e-9);
    assert_near(shown(CHANNEL_BANK), -30.0, 1e-9);
}

/* Deviation and variation count positive to the east. */
static void corrects_a_compass_heading(void **state)
{
    (void)state;
    assert_int_equal(decode_sealed("HCHDG,100.0,2.0,E,5.0,W"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 97.0, 1e-9);
    assert_int_equal(decode_sealed("HCHDG,100.0,2.0,W,,"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("HCHDG,,,,5.0,W"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("HCHDG,100.0,2.0,,5.0,W"),
                     INTAKE_BAD_STRUCTURE);
    declare(CHANNEL_HEADING, "")->magnetic = true;
    assert_int_equal(decode_sealed("HCHDG,100.0,2.0,E,5.0,W"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 102.0, 1e-9);
    assert_int_equal(decode_sealed("HCHDG,100.0,,,,"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 100.0, 1e-9);
    assert_int_equal(decode(own_hdt), INTAKE_NOTHING_KNOWN);
}

static void prefers_the_true_heading_of_its_datagram(void **state)
{
    char both[200];

    (void)state;
    snprintf(both, sizeof both, "%s%s", own_hdt, "$HCHDG,200.0,,,3.3,E*2A\r\n");
    assert_int_equal(decode(both), INTAKE_BAD_CHECKSUM);
    snprintf(both, sizeof both, "%s%s", "$HEHDT,100.0,T*2E\r\n", own_hdg);
    assert_int_equal(decode(both), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 100.0, 1e-9);
    snprintf(both, sizeof both, "%s%s", own_hdg, "$HEHDT,100.0,T*2E\r\n");
    assert_int_equal(decode(both), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 100.0, 1e-9);
    declare(CHANNEL_HEADING, "HDG");
    assert_int_equal(decode(both), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_HEADING), 271.5, 1e-9);
}

static void reads_several_sentences_of_a_datagram(void **state)
{
    char all[400];

    (void)state;
    snprintf(all, sizeof all, "%s%s\n\n%s%s", own_hdt, own_xdr, published_gga,
             published_vtg);
    assert_int_equal(decode(all), INTAKE_TAKEN);
    assert_int_equal(
        sample.valid,
        CHANNEL_BIT(CHANNEL_HEADING) | CHANNEL_BIT(CHANNEL_PITCH) |
            CHANNEL_BIT(CHANNEL_BANK) | CHANNEL_BIT(CHANNEL_ALTITUDE) |
            CHANNEL_BIT(CHANNEL_LATITUDE) | CHANNEL_BIT(CHANNEL_LONGITUDE) |
            CHANNEL_BIT(CHANNEL_TRACK) | CHANNEL_BIT(CHANNEL_GROUND_SPEED));
    assert_int_equal(sample.valid & ~intake_layout_channels(&layout), 0);
    /* One that is damaged spoils the datagram. */
    all[8] = '9';
    assert_int_equal(decode(all), INTAKE_BAD_CHECKSUM);
}

static void turns_the_sign_of_an_item(void **state)
{
    (void)state;
    declare(CHANNEL_BANK, "HEEL")->scale = -1.0;
    assert_int_equal(decode_sealed("IIXDR,A,-25.0,D,HEEL"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_BANK), 25.0, 1e-9);
    assert_int_equal(decode_sealed("IIXDR,A,-25.0,D,ROLL"),
                     INTAKE_NOTHING_KNOWN);
    declare(CHANNEL_PITCH, "")->scale = -1.0;
    assert_int_equal(decode_sealed("IIXDR,A,-5.0,D,PITCH"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_PITCH), 5.0, 1e-9);
}

static void takes_no_airspeed_unless_the_layout_names_it(void **state)
{
    const uint32_t airspeed = CHANNEL_BIT(CHANNEL_AIRSPEED);

    (void)state;
    assert_int_equal(decode(published_vhw), INTAKE_NOTHING_KNOWN);
    assert_false(intake_layout_channels(&layout) & airspeed);
    declare(CHANNEL_AIRSPEED, "IAS")->unit = UNIT_KT;
    assert_true(intake_layout_channels(&layout) & airspeed);
    assert_int_equal(decode_sealed("IIXDR,G,104.5,,IAS"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_AIRSPEED), 104.5, 1e-9);
    assert_int_equal(decode(published_vhw), INTAKE_NOTHING_KNOWN);
}

static void reads_a_speed_in_either_unit(void **state)
{
    (void)state;
    declare(CHANNEL_TRUE_AIRSPEED, "VHW");
    assert_int_equal(decode_sealed("IIVHW,,T,,M,,N,185.2,K"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_TRUE_AIRSPEED), 100.0, 1e-9);
    assert_int_equal(decode_sealed("IIVHW,,T,,M,100.0,N,,K"), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_TRUE_AIRSPEED), 100.0, 1e-9);
}

static void reads_track_against_magnetic_north(void **state)
{
    (void)state;
    declare(CHANNEL_TRACK, "")->magnetic = true;
    assert_int_equal(decode_sealed("GPVTG,90.0,T,85.5,M,60.0,N,,K,A"),
                     INTAKE_TAKEN);
    assert_near(shown(CHANNEL_TRACK), 85.5, 1e-9);
}

static void leaves_out_what_is_not_valid(void **state)
{
    (void)state;
    assert_int_equal(decode_sealed("GPVTG,90.0,T,85.5,M,60.0,N,111.1,K,N"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(
        decode_sealed("GPGGA,1,2236.9,N,11403.2,E,0,0,,144.0,M,,M,,"),
        INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("GPGGA,,,,,,1,,,,,,,,"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("IIXDR,A,,D,PTCH,A,3.0,D,ROLL"),
                     INTAKE_TAKEN);
    assert_int_equal(sample.valid, CHANNEL_BIT(CHANNEL_BANK));
    assert_false(has(CHANNEL_PITCH));
}

static void reads_places_south_and_west(void **state)
{
    (void)state;
    assert_int_equal(
        decode_sealed("GNGGA,1,3354.0,S,01830.0,W,1,8,,10.0,M,,M,,"),
        INTAKE_TAKEN);
    assert_near(shown(CHANNEL_LATITUDE), -33.9, 1e-9);
    assert_near(shown(CHANNEL_LONGITUDE), -18.5, 1e-9);
    assert_int_equal(
        decode_sealed("GNGGA,1,3361.0,S,01830.0,W,1,8,,10.0,M,,M,,"),
        INTAKE_OUT_OF_RANGE);
    assert_int_equal(decode_sealed("GNGGA,1,9e99,S,01830.0,W,1,8,,10.0,M,,M,,"),
                     INTAKE_OUT_OF_RANGE);
    assert_int_equal(
        decode_sealed("GNGGA,1,3354.0,E,01830.0,W,1,8,,10.0,M,,M,,"),
        INTAKE_BAD_STRUCTURE);
}

static void refuses_what_is_no_sentence(void **state)
{
    (void)state;
    assert_int_equal(decode("HEHDT,271.5,T*2E"), INTAKE_NO_PACKET);
    assert_int_equal(decode("$HEHDT,271.5,T"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("$HEHDT,271.5,T*2"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("$HEHDT,271.5,T*2G"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("$HEHDT,271.5,T*2E5"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("$*00"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("$"), INTAKE_BAD_CHECKSUM);
    assert_int_equal(decode("\r\n\r\n"), INTAKE_EMPTY);
    assert_int_equal(decode_sealed("HEHDT,27l.5,T"), INTAKE_NOT_A_NUMBER);
    assert_int_equal(decode_sealed("HEHDT,1e9,T"), INTAKE_OUT_OF_RANGE);
    assert_int_equal(decode_sealed("IIXDR,A,1.0,D"), INTAKE_BAD_STRUCTURE);
    assert_int_equal(decode_sealed("IIXDR"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode("$HEHDT,271.5,T*2E\r\nrubbish"),
                     INTAKE_BAD_STRUCTURE);
}

static void passes_over_other_sentences(void **state)
{
    (void)state;
    assert_int_equal(decode_sealed("GPZDA,120000.00,1,1,2020,0,0"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("PABCD,1,2,3"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("PABCDE,HDT,2,3"), INTAKE_NOTHING_KNOWN);
}

static void refuses_more_words_than_any_sentence_has(void **state)
{
    char body[300] = "GPZDA";

    (void)state;
    memset(body + 5, ',', 256);
    assert_int_equal(decode_sealed(body), INTAKE_BAD_STRUCTURE);
}

static void stands_every_cut_and_every_changed_byte(void **state)
{
    static const char *const line[] = {
        published_xdr, published_vhw, published_gga, published_vtg,
        own_hdt,       own_hdg,       own_xdr,
    };

    (void)state;
    declare(CHANNEL_AIRSPEED, "VHW");
    declare(CHANNEL_PITCH, "MAGX")->scale = 0.01;
    for (size_t i = 0; i < sizeof line / sizeof line[0]; i++) {
        size_t length = strlen(line[i]);

        /* The line may lack what ends it, and either of CR and LF may be
         * anything that ends a line: they are not under the checksum. */
        frames_torment(&layout, (const uint8_t *)line[i], length, length - 2,
                       false);
        frames_torment(&layout, (const uint8_t *)line[i], length - 2,
                       length - 2, false);
    }
}

/* A changed character is found by the checksum, unless it is a hexadecimal
 * digit of the checksum itself in the other case, or the '$' that became the
 * other sign that begins a sentence. */
static void finds_every_changed_character(void **state)
{
    char text[sizeof own_hdt];

    (void)state;
    for (size_t at = 0; at < sizeof own_hdt - 3; at++) {
        for (unsigned change = 1; change < 256; change++) {
            enum intake_reject reject;

            memcpy(text, own_hdt, sizeof text);
            text[at] = (char)((unsigned char)text[at] ^ change);
            reject = frames_decode(&layout, (const uint8_t *)text,
                                   sizeof text - 1, &sample);
            if ((at == 0 && text[0] == '!') || text[at] == 'e')
                continue;
            if (reject == INTAKE_TAKEN)
                fail_msg("taken with character %zu as %02x", at,
                         (unsigned char)text[at]);
        }
    }
}

/* The line that manuals of receivers print most, with its checksum. */
static const char published_rmc[] =
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A\r\n";

static void reads_the_least_a_receiver_says(void **state)
{
    (void)state;
    assert_int_equal(decode(published_rmc), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_LATITUDE), 48.0 + 7.038 / 60.0, 1e-9);
    assert_near(shown(CHANNEL_LONGITUDE), 11.0 + 31.0 / 60.0, 1e-9);
    assert_near(shown(CHANNEL_GROUND_SPEED), 22.4, 1e-9);
    assert_near(shown(CHANNEL_TRACK), 84.4, 1e-9);
    assert_false(has(CHANNEL_SIM_TIME));
    /* A warning, and a mode that says "not valid". */
    assert_int_equal(decode_sealed("GPRMC,123519,V,4807.038,N,01131.000,E,"
                                   "022.4,084.4,230394,003.1,W"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("GPRMC,123519,A,4807.038,N,01131.000,E,"
                                   "022.4,084.4,230394,003.1,W,N"),
                     INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("GPRMC,,A,,,,,,,,,"), INTAKE_NOTHING_KNOWN);
    assert_int_equal(decode_sealed("GPRMC,,A,,,,,fast,,,,"),
                     INTAKE_NOT_A_NUMBER);
    assert_int_equal(decode_sealed("GPRMC,,A,4807.038,X,,,,,,,"),
                     INTAKE_BAD_STRUCTURE);
    /* Its track is a true one. */
    declare(CHANNEL_TRACK, "")->magnetic = true;
    assert_int_equal(decode(published_rmc), INTAKE_TAKEN);
    assert_false(has(CHANNEL_TRACK));
}

/* In one datagram, before or behind it. */
static void vtg_and_gga_outdo_rmc(void **state)
{
    const char *const order[2][3] = {
        {published_rmc, published_vtg, published_gga},
        {published_gga, published_vtg, published_rmc}};
    char text[FRAME_BYTES];

    (void)state;
    for (int i = 0; i < 2; i++) {
        snprintf(text, sizeof text, "%s%s%s", order[i][0], order[i][1],
                 order[i][2]);
        assert_int_equal(decode(text), INTAKE_TAKEN);
        assert_near(shown(CHANNEL_TRACK), 309.62, 1e-9);
        assert_near(shown(CHANNEL_GROUND_SPEED), 0.13, 1e-9);
        assert_near(shown(CHANNEL_LATITUDE), 22.0 + 36.9152 / 60.0, 1e-9);
        assert_near(shown(CHANNEL_LONGITUDE), 114.0 + 3.2422 / 60.0, 1e-9);
    }
    /* Unless the layout names it. */
    declare(CHANNEL_TRACK, "RMC");
    assert_int_equal(decode(text), INTAKE_TAKEN);
    assert_near(shown(CHANNEL_TRACK), 84.4, 1e-9);
    assert_near(shown(CHANNEL_GROUND_SPEED), 0.13, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(reads_the_published_lines, begin),
        cmocka_unit_test_setup(reads_the_published_items_by_name, begin),
        cmocka_unit_test_setup(reads_heading_pitch_and_bank, begin),
        cmocka_unit_test_setup(corrects_a_compass_heading, begin),
        cmocka_unit_test_setup(prefers_the_true_heading_of_its_datagram, begin),
        cmocka_unit_test_setup(reads_several_sentences_of_a_datagram, begin),
        cmocka_unit_test_setup(turns_the_sign_of_an_item, begin),
        cmocka_unit_test_setup(takes_no_airspeed_unless_the_layout_names_it,
                               begin),
        cmocka_unit_test_setup(reads_a_speed_in_either_unit, begin),
        cmocka_unit_test_setup(reads_track_against_magnetic_north, begin),
        cmocka_unit_test_setup(leaves_out_what_is_not_valid, begin),
        cmocka_unit_test_setup(reads_places_south_and_west, begin),
        cmocka_unit_test_setup(refuses_what_is_no_sentence, begin),
        cmocka_unit_test_setup(passes_over_other_sentences, begin),
        cmocka_unit_test_setup(refuses_more_words_than_any_sentence_has, begin),
        cmocka_unit_test_setup(stands_every_cut_and_every_changed_byte, begin),
        cmocka_unit_test_setup(finds_every_changed_character, begin),
        cmocka_unit_test_setup(reads_the_least_a_receiver_says, begin),
        cmocka_unit_test_setup(vtg_and_gga_outdo_rmc, begin),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
