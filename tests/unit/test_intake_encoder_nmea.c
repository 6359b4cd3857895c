/* test_intake_encoder_nmea.c - moments written as NMEA 0183 sentences. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "written.h"

static struct written w;

static void expect_line(const char *line)
{
    if (strstr((const char *)w.bytes, line) == NULL)
        fail_msg("no %s in:\n%s", line, (const char *)w.bytes);
}

static void expect_no_line(const char *word)
{
    if (strstr((const char *)w.bytes, word) != NULL)
        fail_msg("%s in:\n%s", word, (const char *)w.bytes);
}

/* The place and altitude of the sentence that receivers' manuals print most:
 * $GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47. */
static void writes_place_and_time_as_manuals_do(void **state)
{
    (void)state;
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_tell(&w, CHANNEL_SIM_TIME, 12 * 3600.0 + 35 * 60.0 + 19.0);
    written_tell(&w, CHANNEL_LATITUDE, 48.0 + 7.038 / 60.0);
    written_tell(&w, CHANNEL_LONGITUDE, 11.0 + 31.0 / 60.0);
    w.sample.value[CHANNEL_ALTITUDE] = 545.4;
    written_put(&w);
    expect_line("$GPGGA,123519.00,4807.03800,N,01131.00000,E,8,,,545.400,M,,M,"
                ",*");
    written_tell(&w, CHANNEL_SIM_TIME, 86400.0 - 0.004);
    written_tell(&w, CHANNEL_LATITUDE, -(34.0 + 59.9999999 / 60.0));
    written_tell(&w, CHANNEL_LONGITUDE, -0.5);
    written_put(&w);
    expect_line("$GPGGA,000000.00,3500.00000,S,00030.00000,W,8,");
}

/* The sentences $HEHDT,271.5,T*2E and $IIXDR,A,12.5,D,PTCH,A,-30.0,D,ROLL*74,
 * with noughts behind: three of them change a sum by 30 hex, six by nothing. */
static void writes_a_sentence_for_every_channel(void **state)
{
    (void)state;
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_declare(&w, CHANNEL_AIRSPEED, "VHW");
    written_put(&w);
    expect_line("$HEHDT,271.5000,T*1E\r\n");
    expect_line("$IIXDR,A,12.5000,D,PTCH,A,-30.0000,D,ROLL*74\r\n");
    expect_line("$IIVHW,,T,,M,95.0000,N,175.9400,K*");
    expect_line("$GPVTG,268.0000,T,,M,98.0000,N,181.4960,K,S*");
    written_tell(&w, CHANNEL_HEADING, 359.99997);
    written_tell(&w, CHANNEL_BANK, -0.00001);
    written_put(&w);
    expect_line("$HEHDT,0.0000,T*");
    expect_line("A,0.0000,D,ROLL*");
}

/* Every sentence has a published length, up to 82 characters with its end. */
static void keeps_to_the_length_of_a_sentence(void **state)
{
    static const char *const name[] = {"LOADFACTOR", "LATERALG", "SLIP",
                                       "ATTACK",     "CLIMB",    "THROTTLE"};
    static const enum intake_channel channel[] = {
        CHANNEL_LOAD_FACTOR,     CHANNEL_LATERAL_G,      CHANNEL_SIDESLIP,
        CHANNEL_ANGLE_OF_ATTACK, CHANNEL_VERTICAL_SPEED, CHANNEL_THROTTLE};
    struct intake_sample back;
    size_t sentences = 0;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++)
        written_declare(&w, channel[i], name[i]);
    written_declare(&w, CHANNEL_LATITUDE, "");
    written_put(&w);
    for (const char *at = (const char *)w.bytes; *at != '\0';) {
        const char *end = strstr(at, "\r\n");

        assert_non_null(end);
        assert_int_equal(*at, '$');
        assert_true(end + 2 - at <= 82);
        sentences++;
        at = end + 2;
    }
    assert_true(sentences >= 5);
    expect_line("G,1.2000,,LOADFACTOR");
    expect_line("A,1.5000,D,SLIP");
    written_read(&w, &back);
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++)
        assert_near(back.value[channel[i]], w.sample.value[channel[i]], 1e-4);
}

/* What a layout says of a sender is what is sent. */
static void writes_as_the_layout_says(void **state)
{
    struct intake_sample back;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_declare(&w, CHANNEL_HEADING, "HDG")->magnetic = true;
    written_declare(&w, CHANNEL_PITCH, "NOSE")->scale = -1.0;
    written_declare(&w, CHANNEL_BANK, "HEEL")->unit = UNIT_RAD;
    written_declare(&w, CHANNEL_TRUE_AIRSPEED, "VHW");
    written_declare(&w, CHANNEL_TRACK, "")->magnetic = true;
    written_declare(&w, CHANNEL_ALTITUDE, "ALT")->unit = UNIT_M;
    written_put(&w);
    expect_line("$HCHDG,271.5000,,,,*");
    expect_line("A,-12.5000,D,NOSE");
    expect_line("G,-0.523599,,HEEL");
    expect_line("D,914.4000,M,ALT");
    expect_line("$IIVHW,,T,,M,100.0000,N,185.2000,K*");
    expect_line("$GPVTG,,T,268.0000,M,98.0000,N,181.4960,K,S*");
    expect_no_line("HDT");
    expect_no_line("ROLL");
    written_read(&w, &back);
    assert_near(written_shown(&back, CHANNEL_HEADING), 271.5, 1e-4);
    assert_near(written_shown(&back, CHANNEL_PITCH), 12.5, 1e-4);
    assert_near(written_shown(&back, CHANNEL_BANK), -30.0, 1e-4);
    assert_near(written_shown(&back, CHANNEL_TRUE_AIRSPEED), 100.0, 1e-4);
    assert_near(written_shown(&back, CHANNEL_TRACK), 268.0, 1e-4);
    assert_near(written_shown(&back, CHANNEL_ALTITUDE), 3000.0, 1e-3);

    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_declare(&w, CHANNEL_HEADING, "VHW");
    written_put(&w);
    expect_line("$IIVHW,271.5000,T,,M,,N,,K*");
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_declare(&w, CHANNEL_HEADING, "HDG");
    written_put(&w);
    expect_line("$HCHDG,271.5000,,,0.0,E*");
}

/* Place, speed and track go into RMC where the layout takes them from it. */
static void writes_rmc_only_where_the_layout_reads_it(void **state)
{
    static const enum intake_channel channel[] = {
        CHANNEL_LATITUDE, CHANNEL_LONGITUDE, CHANNEL_GROUND_SPEED,
        CHANNEL_TRACK};
    struct intake_sample back;

    (void)state;
    written_begin_flight(&w, INTAKE_FORM_NMEA);
    written_put(&w);
    expect_no_line("RMC");
    for (size_t i = 0; i < 4; i++)
        written_declare(&w, channel[i], "RMC");
    written_put(&w);
    expect_line("$GPRMC,000140.00,A,4730.00000,N,00930.00000,E,98.0000,"
                "268.0000,,,,S*");
    expect_line("$GPGGA,000140.00,,,,,8,,,914.400,M,,M,,*");
    expect_no_line("VTG");
    written_read(&w, &back);
    for (size_t i = 0; i < 4; i++)
        assert_near(back.value[channel[i]], w.sample.value[channel[i]], 1e-4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(writes_place_and_time_as_manuals_do),
        cmocka_unit_test(writes_a_sentence_for_every_channel),
        cmocka_unit_test(keeps_to_the_length_of_a_sentence),
        cmocka_unit_test(writes_as_the_layout_says),
        cmocka_unit_test(writes_rmc_only_where_the_layout_reads_it),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
