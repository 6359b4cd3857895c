/* decode_nmea.c - NMEA 0183 sentences, one or several to a datagram.
 *
 * Every sentence must bear its checksum. A layout needs no fields; it may
 * have them to say where a channel comes from: a sentence ("VHW") or the name
 * of an XDR item ("PTCH"), its sign and scale, and whether heading and track
 * are against magnetic north.
 *
 * The time of day in GGA and RMC is not taken: it says when a position was
 * fixed, to the second mostly, and other sentences come between two of it.
 *
 * Source of the sentences: NMEA 0183, as published in the manuals of
 * receivers and instruments. */
#include "decode.h"

#include <string.h>

#include "nmea.h"

enum {
    MOST_WORDS = 256, /* of a sentence; its standard length holds 40 */
    ADDRESS_SIZE = 5, /* two letters of the talker, three of the sentence */
    ITEM_WORDS = 4    /* of an XDR item: kind, value, unit, name */
};

/* A sentence in words; word[0] is the address. */
struct sentence {
    struct decode_line word[MOST_WORDS];
    size_t count;
};

/* What a sentence is decoded with and into. */
struct reading {
    struct decode_target target;
    bool heading_is_true; /* HDT came: it outdoes HDG */
    bool has_gga;         /* came with a place, */
    bool has_vtg;         /* with a track: they outdo RMC */
};

/* ---- words -------------------------------------------------------------- */

static bool word_is(struct decode_line word, const char *text)
{
    return word.length == strlen(text) &&
           memcmp(word.text, text, word.length) == 0;
}

/* Words that are not there read as empty ones: later editions of the standard
 * have added some at the end. */
static struct decode_line word_at(const struct sentence *sentence, size_t at)
{
    if (at >= sentence->count)
        return (struct decode_line){"", 0};
    return decode_trim(sentence->word[at]);
}

/* Read a number.
 * Returns: INTAKE_TAKEN with *known telling whether there is one;
 *    INTAKE_NOT_A_NUMBER. */
static enum intake_reject read_number(const struct sentence *sentence,
                                      size_t at, double *value, bool *known)
{
    struct decode_line word = word_at(sentence, at);

    *known = word.length > 0;
    if (!*known || decode_number(word.text, word.length, '.', value))
        return INTAKE_TAKEN;
    return INTAKE_NOT_A_NUMBER;
}

/* Store a word that stands before a letter: "5.92,N". An empty word or
 * another letter is no value. */
static enum intake_reject store_lettered(const struct reading *reading,
                                         const struct sentence *sentence,
                                         size_t at, const char *letter,
                                         enum intake_channel channel)
{
    static const struct {
        char letter;
        enum unit unit;
    } unit_of[] = {
        {'T', UNIT_DEG}, {'M', UNIT_DEG}, {'N', UNIT_KT}, {'K', UNIT_KM_PER_H}};
    double value;
    bool known;
    enum intake_reject reject = read_number(sentence, at, &value, &known);
    enum unit unit = UNIT_DEG;

    if (reject != INTAKE_TAKEN || !known ||
        !word_is(word_at(sentence, at + 1), letter))
        return reject;
    for (size_t i = 0; i < sizeof unit_of / sizeof unit_of[0]; i++) {
        if (unit_of[i].letter == letter[0])
            unit = unit_of[i].unit;
    }
    return decode_tell(&reading->target, channel,
                       units_to_internal(unit, value));
}

/* ---- sentences ---------------------------------------------------------- */

/* $--HDT,x.x,T */
static enum intake_reject take_hdt(struct reading *reading,
                                   const struct sentence *sentence)
{
    enum intake_reject reject;

    if (!nmea_comes_from(reading->target.layout, CHANNEL_HEADING, "HDT") ||
        nmea_is_magnetic(reading->target.layout, CHANNEL_HEADING))
        return INTAKE_TAKEN;
    reject = store_lettered(reading, sentence, 1, "T", CHANNEL_HEADING);
    reading->heading_is_true =
        (reading->target.out->valid & CHANNEL_BIT(CHANNEL_HEADING)) != 0;
    return reject;
}

/* A word and E or W behind it; 0 when empty. */
static enum intake_reject read_eastward(const struct sentence *sentence,
                                        size_t at, double *value, bool *known)
{
    enum intake_reject reject = read_number(sentence, at, value, known);

    if (reject != INTAKE_TAKEN)
        return reject;
    if (!*known)
        *value = 0.0;
    else if (word_is(word_at(sentence, at + 1), "W"))
        *value = -*value;
    else if (!word_is(word_at(sentence, at + 1), "E"))
        return INTAKE_BAD_STRUCTURE;
    return INTAKE_TAKEN;
}

/* $--HDG,sensor,deviation,E|W,variation,E|W: sensor and deviation make the
 * magnetic heading, variation makes it a true one, east positive. */
static enum intake_reject take_hdg(struct reading *reading,
                                   const struct sentence *sentence)
{
    double sensor;
    double deviation;
    double variation;
    bool known[3];
    enum intake_reject reject = read_number(sentence, 1, &sensor, &known[0]);

    if (reject == INTAKE_TAKEN)
        reject = read_eastward(sentence, 2, &deviation, &known[1]);
    if (reject == INTAKE_TAKEN)
        reject = read_eastward(sentence, 4, &variation, &known[2]);
    if (reject != INTAKE_TAKEN || !known[0] || reading->heading_is_true ||
        !nmea_comes_from(reading->target.layout, CHANNEL_HEADING, "HDG"))
        return reject;
    if (nmea_is_magnetic(reading->target.layout, CHANNEL_HEADING))
        return decode_tell(&reading->target, CHANNEL_HEADING,
                           units_rad(sensor + deviation));
    if (!known[2])
        return INTAKE_TAKEN;
    return decode_tell(&reading->target, CHANNEL_HEADING,
                       units_rad(sensor + deviation + variation));
}

/* $--VTG,course,T,course,M,speed,N,speed,K[,mode]: over ground. */
static enum intake_reject take_vtg(struct reading *reading,
                                   const struct sentence *sentence)
{
    bool magnetic = nmea_is_magnetic(reading->target.layout, CHANNEL_TRACK);
    enum intake_reject reject = INTAKE_TAKEN;

    if (word_is(word_at(sentence, 9), "N")) /* not valid */
        return INTAKE_TAKEN;
    reading->has_vtg |= word_at(sentence, 1).length > 0;
    if (nmea_comes_from(reading->target.layout, CHANNEL_TRACK, "VTG"))
        reject = store_lettered(reading, sentence, magnetic ? 3 : 1,
                                magnetic ? "M" : "T", CHANNEL_TRACK);
    if (reject == INTAKE_TAKEN &&
        nmea_comes_from(reading->target.layout, CHANNEL_GROUND_SPEED, "VTG"))
        reject =
            store_lettered(reading, sentence, 5, "N", CHANNEL_GROUND_SPEED);
    return reject;
}

/* $--VHW,heading,T,heading,M,speed,N,speed,K: through the fluid. Nothing of
 * it is taken unless the layout names it. */
static enum intake_reject take_vhw(struct reading *reading,
                                   const struct sentence *sentence)
{
    static const enum intake_channel speeds[] = {CHANNEL_AIRSPEED,
                                                 CHANNEL_TRUE_AIRSPEED};
    bool magnetic = nmea_is_magnetic(reading->target.layout, CHANNEL_HEADING);
    enum intake_reject reject = INTAKE_TAKEN;

    if (nmea_comes_from(reading->target.layout, CHANNEL_HEADING, "VHW"))
        reject = store_lettered(reading, sentence, magnetic ? 3 : 1,
                                magnetic ? "M" : "T", CHANNEL_HEADING);
    for (size_t i = 0; i < 2 && reject == INTAKE_TAKEN; i++) {
        if (!nmea_comes_from(reading->target.layout, speeds[i], "VHW"))
            continue;
        /* Knots and kilometres an hour say the same; either may be empty. */
        reject = store_lettered(reading, sentence, 7, "K", speeds[i]);
        if (reject == INTAKE_TAKEN)
            reject = store_lettered(reading, sentence, 5, "N", speeds[i]);
    }
    return reject;
}

/* Degrees and minutes in one number, ddmm.mmm, and the letter behind it. */
static enum intake_reject take_angle(struct reading *reading,
                                     const struct sentence *sentence, size_t at,
                                     const char letters[2],
                                     enum intake_channel channel)
{
    double value;
    double degrees;
    double minutes;
    bool known;
    enum intake_reject reject = read_number(sentence, at, &value, &known);
    struct decode_line letter = word_at(sentence, at + 1);

    if (reject != INTAKE_TAKEN || !known)
        return reject;
    if (!(value >= 0.0 && value < 18100.0))
        return INTAKE_OUT_OF_RANGE;
    degrees = (double)(int)(value / 100.0);
    minutes = value - 100.0 * degrees;
    if (minutes >= 60.0)
        return INTAKE_OUT_OF_RANGE;
    if (letter.length != 1 ||
        (letter.text[0] != letters[0] && letter.text[0] != letters[1]))
        return INTAKE_BAD_STRUCTURE;
    degrees += minutes / 60.0;
    return decode_tell(
        &reading->target, channel,
        units_rad(letter.text[0] == letters[0] ? degrees : -degrees));
}

/* $--GGA,time,lat,N|S,lon,E|W,quality,satellites,hdop,altitude,M,... */
static enum intake_reject take_gga(struct reading *reading,
                                   const struct sentence *sentence)
{
    enum intake_reject reject = INTAKE_TAKEN;
    double altitude_m = 0.0;
    bool known = false;

    if (word_is(word_at(sentence, 6), "0")) /* no fix */
        return INTAKE_TAKEN;
    reading->has_gga |= word_at(sentence, 2).length > 0;
    if (nmea_comes_from(reading->target.layout, CHANNEL_LATITUDE, "GGA"))
        reject = take_angle(reading, sentence, 2, "NS", CHANNEL_LATITUDE);
    if (reject == INTAKE_TAKEN &&
        nmea_comes_from(reading->target.layout, CHANNEL_LONGITUDE, "GGA"))
        reject = take_angle(reading, sentence, 4, "EW", CHANNEL_LONGITUDE);
    if (reject == INTAKE_TAKEN)
        reject = read_number(sentence, 9, &altitude_m, &known);
    if (reject != INTAKE_TAKEN || !known ||
        !word_is(word_at(sentence, 10), "M") ||
        !nmea_comes_from(reading->target.layout, CHANNEL_ALTITUDE, "GGA"))
        return reject;
    return decode_tell(&reading->target, CHANNEL_ALTITUDE, altitude_m);
}

/* Whether RMC is wanted for a channel: not when the same datagram has told it
 * by the sentence that is there for it. */
static bool wants_rmc(const struct reading *reading,
                      enum intake_channel channel)
{
    const struct intake_layout *layout = reading->target.layout;

    return nmea_comes_from(layout, channel, "RMC") &&
           (!nmea_comes_from(layout, channel, "VTG") || !reading->has_vtg) &&
           (!nmea_comes_from(layout, channel, "GGA") || !reading->has_gga);
}

/* $--RMC,time,A|V,lat,N|S,lon,E|W,knots,track,date,variation,E|W[,mode]: the
 * least a receiver says, with V for a warning. Its track is a true one. */
static enum intake_reject take_rmc(struct reading *reading,
                                   const struct sentence *sentence)
{
    enum intake_reject reject = INTAKE_TAKEN;
    double value;
    bool known = false;

    if (!word_is(word_at(sentence, 2), "A") ||
        word_is(word_at(sentence, 12), "N")) /* not valid */
        return INTAKE_TAKEN;
    if (wants_rmc(reading, CHANNEL_LATITUDE))
        reject = take_angle(reading, sentence, 3, "NS", CHANNEL_LATITUDE);
    if (reject == INTAKE_TAKEN && wants_rmc(reading, CHANNEL_LONGITUDE))
        reject = take_angle(reading, sentence, 5, "EW", CHANNEL_LONGITUDE);
    if (reject == INTAKE_TAKEN && wants_rmc(reading, CHANNEL_GROUND_SPEED))
        reject = read_number(sentence, 7, &value, &known);
    if (reject == INTAKE_TAKEN && known)
        reject = decode_tell(&reading->target, CHANNEL_GROUND_SPEED,
                             units_to_internal(UNIT_KT, value));
    if (reject != INTAKE_TAKEN || !wants_rmc(reading, CHANNEL_TRACK) ||
        nmea_is_magnetic(reading->target.layout, CHANNEL_TRACK))
        return reject;
    reject = read_number(sentence, 8, &value, &known);
    return reject == INTAKE_TAKEN && known
               ? decode_tell(&reading->target, CHANNEL_TRACK, units_rad(value))
               : reject;
}

/* One value of an XDR item into every channel that goes by its name. */
static enum intake_reject take_item(struct reading *reading,
                                    const struct sentence *sentence, size_t at)
{
    struct decode_line name = word_at(sentence, at + 3);

    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        enum intake_channel channel = (enum intake_channel)i;
        const struct intake_field *field =
            decode_declared(reading->target.layout, channel);
        enum intake_reject reject;
        double value;
        bool known;

        if (!nmea_is_item(reading->target.layout, channel, name.text,
                          name.length))
            continue;
        reject = read_number(sentence, at + 1, &value, &known);
        if (reject == INTAKE_TAKEN && known)
            reject =
                field != NULL && field->name[0] != '\0'
                    ? decode_store(field, value, reading->target.out)
                    : decode_tell(&reading->target, channel, units_rad(value));
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

/* $--XDR,kind,value,unit,name,... any number of times. */
static enum intake_reject take_xdr(struct reading *reading,
                                   const struct sentence *sentence)
{
    if ((sentence->count - 1) % ITEM_WORDS != 0)
        return INTAKE_BAD_STRUCTURE;
    for (size_t at = 1; at < sentence->count; at += ITEM_WORDS) {
        enum intake_reject reject = take_item(reading, sentence, at);

        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

struct sentence_row {
    const char *kind;
    enum intake_reject (*take)(struct reading *reading,
                               const struct sentence *sentence);
};

static const struct sentence_row sentences[] = {
    {"HDT", take_hdt}, {"HDG", take_hdg}, {"XDR", take_xdr}, {"VTG", take_vtg},
    {"GGA", take_gga}, {"VHW", take_vhw}, {"RMC", take_rmc},
};

/* ---- datagrams ---------------------------------------------------------- */

/* Returns: false when there are more words than any sentence has. */
static bool split(struct decode_line line, struct sentence *out)
{
    size_t from = 0;

    out->count = 0;
    for (size_t at = 0; at <= line.length; at++) {
        if (at < line.length && line.text[at] != ',')
            continue;
        if (out->count == MOST_WORDS)
            return false;
        out->word[out->count].text = line.text + from;
        out->word[out->count].length = at - from;
        out->count++;
        from = at + 1;
    }
    return true;
}

/* line: without what ends it, not empty. */
static enum intake_reject take_line(struct reading *reading,
                                    struct decode_line line)
{
    struct sentence sentence;
    enum intake_reject reject;

    if (line.text[0] != '$' && line.text[0] != '!')
        return INTAKE_NO_PACKET;
    reject = decode_check_xor(&line);
    if (reject != INTAKE_TAKEN)
        return reject;
    line.text++;
    line.length--;
    if (!split(line, &sentence))
        return INTAKE_BAD_STRUCTURE;
    /* Makers' own sentences have other addresses and are passed over. */
    if (sentence.word[0].length != ADDRESS_SIZE)
        return INTAKE_TAKEN;
    for (size_t i = 0; i < sizeof sentences / sizeof sentences[0]; i++) {
        if (memcmp(sentence.word[0].text + 2, sentences[i].kind, 3) == 0)
            return sentences[i].take(reading, &sentence);
    }
    return INTAKE_TAKEN;
}

enum intake_reject decode_nmea(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out)
{
    struct reading reading = {.target = {layout, out}};
    const char *text = (const char *)data;
    size_t from = 0;
    bool any = false;

    for (size_t at = 0; at <= length; at++) {
        struct decode_line line = {text + from, at - from};

        if (at < length && !decode_is_line_end(text[at]))
            continue;
        from = at + 1;
        line = decode_trim(line);
        if (line.length > 0) {
            enum intake_reject reject = take_line(&reading, line);

            if (any && reject == INTAKE_NO_PACKET)
                return INTAKE_BAD_STRUCTURE;
            if (reject != INTAKE_TAKEN)
                return reject;
            any = true;
        }
    }
    if (!any)
        return INTAKE_EMPTY;
    return out->valid == 0 ? INTAKE_NOTHING_KNOWN : INTAKE_TAKEN;
}
