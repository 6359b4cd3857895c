/* encode_nmea.c - a moment as NMEA 0183 sentences, all in one datagram.
 *
 * Written is what decode_nmea.c reads by the same layout: HDT, or HDG where
 * the heading is magnetic, XDR, VHW, GGA and VTG, and RMC for what the layout
 * takes from there, each with its checksum. What is not known leaves its word
 * empty, and a sentence that would say nothing is not written. GGA gives
 * "simulator" for the quality of its fix, VTG for its mode; what turns time
 * into a time of day is that the flight begins at midnight.
 *
 * Source: NMEA 0183, as published in the manuals of receivers and
 * instruments. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "decode.h"
#include "encode.h"
#include "nmea.h"
#include "quarterturn/error.h"

/* A sentence has up to 82 characters, from its $ to the end of the line; its
 * checksum takes three of them, the end of the line two. */
enum { MOST_BEFORE_SUM = 82 - 5, BODY_SIZE = 256, NUMBER_SIZE = 64 };

/* Digits behind the point: a tenth of a millisecond of a turn or a climb. */
enum { DIGITS = 4, DIGITS_OF_RADIANS = 6, DIGITS_OF_MINUTES = 5 };

/* A sentence without its $ and checksum. */
struct body {
    struct encode_out out;
    char text[BODY_SIZE];
};

static void begin(struct body *body, const char *address)
{
    body->out =
        (struct encode_out){.text = body->text, .size = sizeof body->text};
    encode_put_text(&body->out, address);
}

static void put_word(struct body *body, const char *word)
{
    encode_put_text(&body->out, ",");
    encode_put_text(&body->out, word);
}

/* A number that rounds to zero has no sign. */
static void put_number(struct body *body, double value, int digits)
{
    char text[NUMBER_SIZE];
    size_t from = 0;

    (void)snprintf(text, sizeof text, "%.*f", digits, value);
    if (text[0] == '-' && strspn(text + 1, "0.") == strlen(text + 1))
        from = 1;
    put_word(body, text + from);
}

/* Angles round a circle are told from 0 up to, but not with, 360. */
static void put_circle(struct body *body, double rad)
{
    double deg = units_deg(angle_wrap_circle(rad));

    put_number(body, deg < 360.0 - 0.5e-4 ? deg : 0.0, DIGITS);
}

/* Put a sentence into the datagram. */
static void finish(const struct body *body, struct encode_out *out)
{
    unsigned sum = 0;
    char end[8];

    for (size_t i = 0; i < body->out.used; i++)
        sum ^= (unsigned char)body->text[i];
    (void)snprintf(end, sizeof end, "*%02X\r\n", sum & 0xff);
    if (body->out.full)
        out->full = true;
    encode_put_text(out, "$");
    encode_put(out, body->text, body->out.used);
    encode_put_text(out, end);
}

/* Whether a channel is known and goes into a kind of sentence. */
static bool goes_into(const struct encode_moment *moment,
                      enum intake_channel channel, const char *kind)
{
    return encode_has(moment, CHANNEL_BIT(channel)) &&
           nmea_comes_from(moment->layout, channel, kind);
}

static double value_of(const struct encode_moment *moment,
                       enum intake_channel channel)
{
    return moment->sample->value[channel];
}

/* ---- sentences ---------------------------------------------------------- */

static void put_heading(const struct encode_moment *moment,
                        struct encode_out *out)
{
    bool magnetic = nmea_is_magnetic(moment->layout, CHANNEL_HEADING);
    struct body body;

    if (!magnetic && goes_into(moment, CHANNEL_HEADING, "HDT")) {
        begin(&body, "HEHDT");
        put_circle(&body, value_of(moment, CHANNEL_HEADING));
        put_word(&body, "T");
        finish(&body, out);
    } else if (goes_into(moment, CHANNEL_HEADING, "HDG")) {
        begin(&body, "HCHDG");
        put_circle(&body, value_of(moment, CHANNEL_HEADING));
        /* Deviation is not told; true is what has no variation. */
        encode_put_text(&body.out, magnetic ? ",,,," : ",,,0.0,E");
        finish(&body, out);
    }
}

/* Knots and kilometres an hour. */
static void put_speed(struct body *body, bool known, double mps)
{
    if (!known) {
        encode_put_text(&body->out, ",,N,,K");
        return;
    }
    put_number(body, units_kt(mps), DIGITS);
    put_word(body, "N");
    put_number(body, units_from_internal(UNIT_KM_PER_H, mps), DIGITS);
    put_word(body, "K");
}

/* An angle against true north and one against magnetic north, of which one at
 * most is known. */
static void put_both_norths(struct body *body, bool known, bool magnetic,
                            double rad)
{
    if (known && !magnetic)
        put_circle(body, rad);
    else
        put_word(body, "");
    put_word(body, "T");
    if (known && magnetic)
        put_circle(body, rad);
    else
        put_word(body, "");
    put_word(body, "M");
}

static void put_vhw(const struct encode_moment *moment, struct encode_out *out)
{
    bool heading = goes_into(moment, CHANNEL_HEADING, "VHW");
    bool indicated = goes_into(moment, CHANNEL_AIRSPEED, "VHW");
    bool any = indicated || goes_into(moment, CHANNEL_TRUE_AIRSPEED, "VHW");
    struct body body;

    if (!heading && !any)
        return;
    begin(&body, "IIVHW");
    put_both_norths(&body, heading,
                    nmea_is_magnetic(moment->layout, CHANNEL_HEADING),
                    value_of(moment, CHANNEL_HEADING));
    put_speed(
        &body, any,
        value_of(moment, indicated ? CHANNEL_AIRSPEED : CHANNEL_TRUE_AIRSPEED));
    finish(&body, out);
}

static void put_vtg(const struct encode_moment *moment, struct encode_out *out)
{
    bool track = goes_into(moment, CHANNEL_TRACK, "VTG");
    bool speed = goes_into(moment, CHANNEL_GROUND_SPEED, "VTG");
    struct body body;

    if (!track && !speed)
        return;
    begin(&body, "GPVTG");
    put_both_norths(&body, track,
                    nmea_is_magnetic(moment->layout, CHANNEL_TRACK),
                    value_of(moment, CHANNEL_TRACK));
    put_speed(&body, speed, value_of(moment, CHANNEL_GROUND_SPEED));
    put_word(&body, "S");
    finish(&body, out);
}

/* hhmmss.ss */
static void put_time(struct body *body, double sim_time_s)
{
    double hundredths = floor(fmod(sim_time_s, 86400.0) * 100.0 + 0.5);
    unsigned s;
    char text[NUMBER_SIZE];

    if (hundredths < 0.0)
        hundredths += 8640000.0;
    s = (unsigned)hundredths / 100 % 86400;
    (void)snprintf(text, sizeof text, "%02u%02u%02u.%02u", s / 3600,
                   s / 60 % 60, s % 60, (unsigned)hundredths % 100);
    put_word(body, text);
}

/* Degrees and minutes in one number, and a letter: "4807.03800,N". */
static void put_place(struct body *body, double rad, int degree_digits,
                      const char *const letter[2])
{
    const double minute = pow(10.0, DIGITS_OF_MINUTES);
    double steps = floor(fabs(units_deg(rad)) * 60.0 * minute + 0.5);
    double degrees = floor(steps / (60.0 * minute));
    char text[NUMBER_SIZE];

    (void)snprintf(text, sizeof text, "%0*.0f%0*.*f", degree_digits, degrees,
                   DIGITS_OF_MINUTES + 3, DIGITS_OF_MINUTES,
                   (steps - degrees * 60.0 * minute) / minute);
    put_word(body, text);
    put_word(body, letter[rad < 0.0]);
}

static void put_time_and(struct body *body, const struct encode_moment *moment,
                         const char *more)
{
    if (encode_has(moment, CHANNEL_BIT(CHANNEL_SIM_TIME)))
        put_time(body, value_of(moment, CHANNEL_SIM_TIME));
    else
        put_word(body, "");
    encode_put_text(&body->out, more);
}

static void put_both_places(struct body *body,
                            const struct encode_moment *moment, bool known)
{
    static const char *const north[] = {"N", "S"};
    static const char *const east[] = {"E", "W"};

    if (!known) {
        encode_put_text(&body->out, ",,,,");
        return;
    }
    put_place(body, value_of(moment, CHANNEL_LATITUDE), 2, north);
    /* Half a turn is as far as longitude goes. */
    put_place(body, angle_wrap_half(value_of(moment, CHANNEL_LONGITUDE)), 3,
              east);
}

/* Satellites and their geometry are none a simulator has. */
static void put_gga(const struct encode_moment *moment, struct encode_out *out)
{
    bool place = goes_into(moment, CHANNEL_LATITUDE, "GGA") &&
                 goes_into(moment, CHANNEL_LONGITUDE, "GGA");
    bool altitude = goes_into(moment, CHANNEL_ALTITUDE, "GGA");
    struct body body;

    if (!place && !altitude)
        return;
    begin(&body, "GPGGA");
    put_time_and(&body, moment, "");
    put_both_places(&body, moment, place);
    encode_put_text(&body.out, ",8,,");
    if (altitude)
        put_number(&body, value_of(moment, CHANNEL_ALTITUDE), 3);
    else
        put_word(&body, "");
    encode_put_text(&body.out, ",M,,M,,");
    finish(&body, out);
}

/* A word for what goes into RMC and not into another sentence. */
static void put_rest(struct body *body, const struct encode_moment *moment,
                     enum intake_channel channel, const char *other)
{
    bool known = goes_into(moment, channel, "RMC") &&
                 !nmea_comes_from(moment->layout, channel, other);

    if (!known)
        put_word(body, "");
    else if (channel == CHANNEL_TRACK)
        put_circle(body, value_of(moment, channel));
    else
        put_number(body, units_kt(value_of(moment, channel)), DIGITS);
}

/* There is no date to tell. */
static void put_rmc(const struct encode_moment *moment, struct encode_out *out)
{
    bool place = goes_into(moment, CHANNEL_LATITUDE, "RMC") &&
                 goes_into(moment, CHANNEL_LONGITUDE, "RMC") &&
                 !nmea_comes_from(moment->layout, CHANNEL_LATITUDE, "GGA") &&
                 !nmea_comes_from(moment->layout, CHANNEL_LONGITUDE, "GGA");
    struct body body;
    size_t empty;

    begin(&body, "GPRMC");
    put_time_and(&body, moment, ",A");
    empty = body.out.used + strlen(",,,,,,");
    put_both_places(&body, moment, place);
    put_rest(&body, moment, CHANNEL_GROUND_SPEED, "VTG");
    put_rest(&body, moment, CHANNEL_TRACK, "VTG");
    if (body.out.used == empty)
        return;
    encode_put_text(&body.out, ",,,,S");
    finish(&body, out);
}

/* ---- XDR ---------------------------------------------------------------- */

/* One item: an angle in degrees is kind A, a length in metres kind D, and what
 * has no kind of its own is G, of no unit. */
static void put_item(struct body *body, const char *name, enum unit unit,
                     double value)
{
    bool degrees = unit == UNIT_DEG;
    bool metres = unit == UNIT_M;
    bool fine = unit == UNIT_RAD || unit == UNIT_TURN;

    put_word(body, degrees ? "A" : metres ? "D" : "G");
    put_number(body, value, fine ? DIGITS_OF_RADIANS : DIGITS);
    put_word(body, degrees ? "D" : metres ? "M" : "");
    put_word(body, name);
}

/* The item of a channel.
 * Returns: false when it has none, or is not known. */
static bool find_item(const struct encode_moment *moment,
                      enum intake_channel channel, struct body *body)
{
    const struct intake_field *field = decode_declared(moment->layout, channel);
    const char *name = nmea_item_of(moment->layout, channel);
    double raw;

    if (name == NULL || !encode_has(moment, CHANNEL_BIT(channel)))
        return false;
    begin(body, "");
    if (field == NULL || field->name[0] == '\0')
        put_item(body, name, UNIT_DEG, units_deg(value_of(moment, channel)));
    else if (encode_raw(field, moment->as_is, &raw))
        put_item(body, name, field->unit, raw);
    return true;
}

/* As many to a sentence as it may hold. */
static void put_xdr(const struct encode_moment *moment, struct encode_out *out)
{
    struct body body;
    struct body item;
    size_t empty;

    begin(&body, "IIXDR");
    empty = body.out.used;
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if (!find_item(moment, (enum intake_channel)i, &item))
            continue;
        if (body.out.used > empty &&
            1 + body.out.used + item.out.used > MOST_BEFORE_SUM) {
            finish(&body, out);
            begin(&body, "IIXDR");
        }
        encode_put(&body.out, item.text, item.out.used);
    }
    if (body.out.used > empty)
        finish(&body, out);
}

int encode_nmea(const struct encode_moment *moment, struct encode_out *out)
{
    put_heading(moment, out);
    put_xdr(moment, out);
    put_vhw(moment, out);
    put_gga(moment, out);
    put_vtg(moment, out);
    put_rmc(moment, out);
    return out->used == 0 && !out->full ? ERR_ABSENT : encode_result(out);
}
