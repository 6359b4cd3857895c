/* discover_case.c - a recorded flight sent in any layout. */
#include "discover_case.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "check_flight.h"
#include "flown.h"
#include "folder.h"

#define DEG UNITS_RAD_PER_DEG
enum { DATAGRAM = 2048, TEXT = 16384 };

static const double wind_mps = 15.0 * UNITS_MPS_PER_KT;
static const double wind_from_rad = 200.0 * DEG;

struct sender {
    const struct discover_case *c;
    const struct stream *stream;
    size_t at; /* packet */
    uint32_t random;
};

static double noise(struct sender *s)
{
    s->random = s->random * 1664525U + 1013904223U;
    return s->random / 4294967296.0;
}

static double channel_at(const struct sender *s, size_t at,
                         enum intake_channel channel)
{
    size_t last = s->stream->count - 1;

    return s->stream->packet[at > last ? last : at].sample.value[channel];
}

static double here(const struct sender *s, enum intake_channel channel)
{
    return channel_at(s, s->at, channel);
}

/* Packets that come in so many seconds. */
static size_t ahead(const struct sender *s, double seconds)
{
    size_t at = s->at;

    while (at + 1 < s->stream->count &&
           (double)(s->stream->packet[at].arrival_ns -
                    s->stream->packet[s->at].arrival_ns) *
                   1e-9 <
               seconds)
        at++;
    return at;
}

static double rate(const struct sender *s, enum intake_channel channel)
{
    size_t at = ahead(s, 0.25);
    double seconds = (double)(s->stream->packet[at].arrival_ns -
                              s->stream->packet[s->at].arrival_ns) *
                     1e-9;

    if (seconds <= 0.0)
        return 0.0;
    return remainder(channel_at(s, at, channel) - here(s, channel),
                     2.0 * UNITS_PI) /
           seconds;
}

static double value_of(struct sender *s, int what)
{
    double heading = here(s, CHANNEL_HEADING);
    double speed = here(s, CHANNEL_TRUE_AIRSPEED);
    double climb = here(s, CHANNEL_VERTICAL_SPEED);
    double flat = sqrt(fmax(speed * speed - climb * climb, 0.0));
    double north = flat * cos(heading) - wind_mps * cos(wind_from_rad);
    double east = flat * sin(heading) - wind_mps * sin(wind_from_rad);

    switch (what) {
    case SENT_CONSTANT: return 42.5;
    case SENT_COUNTER: return (double)s->at;
    case SENT_NOISE: return 100.0 * noise(s);
    case SENT_FUEL: return 55.0 - 0.0005 * (double)s->at;
    case SENT_WIND_TRACK: return angle_wrap_circle(atan2(east, north));
    case SENT_WIND_SPEED: return hypot(north, east);
    case SENT_TURN_RATE: return rate(s, CHANNEL_HEADING);
    case SENT_PITCH_RATE: return rate(s, CHANNEL_PITCH);
    case SENT_PATH_ANGLE: return asin(climb / speed);
    case SENT_BANK_WANTED: return channel_at(s, ahead(s, 1.0), CHANNEL_BANK);
    case SENT_MAGNETIC: return angle_wrap_circle(heading - 7.0 * DEG);
    case SENT_DENSITY: return pow(here(s, CHANNEL_AIRSPEED) / speed, 2.0);
    case SENT_CLOCK_TEXT: return 40000.0 + here(s, CHANNEL_SIM_TIME);
    default: return here(s, (enum intake_channel)what);
    }
}

static double raw_of(struct sender *s, const struct sent *sent)
{
    double value = value_of(s, sent->what);

    if (sent->what == CHANNEL_HEADING)
        value = angle_wrap_circle(value);
    if (sent->unit != UNIT_NONE)
        value = units_from_internal(sent->unit, value);
    return sent->scale != 0.0 ? value / sent->scale : value;
}

/* ---- bytes -------------------------------------------------------------- */

static size_t put_bytes(uint64_t bits, size_t size, bool big, uint8_t *out)
{
    for (size_t i = 0; i < size; i++)
        out[i] = (uint8_t)(bits >> 8 * (big ? size - 1 - i : i));
    return size;
}

static size_t put_number(const struct sent *sent, double raw, uint8_t *out)
{
    size_t size = intake_type_size(sent->type);
    uint64_t bits = 0;

    if (sent->type == INTAKE_F32) {
        float single = (float)raw;
        uint32_t half;

        memcpy(&half, &single, sizeof half);
        bits = half;
    } else if (sent->type == INTAKE_F64) {
        memcpy(&bits, &raw, sizeof bits);
    } else {
        bits = (uint64_t)llround(raw);
    }
    return put_bytes(bits, size, sent->big_endian, out);
}

static size_t put_head(const struct discover_case *c, uint8_t *out)
{
    if (c->head_length > 0)
        memcpy(out, c->head, c->head_length);
    return c->head_length;
}

static size_t encode_bytes(struct sender *s, size_t from, size_t to,
                           uint8_t *out)
{
    size_t length = put_head(s->c, out);

    for (size_t i = from; i < to; i++)
        length +=
            put_number(&s->c->sent[i], raw_of(s, &s->c->sent[i]), out + length);
    return length;
}

static size_t encode_keyed(struct sender *s, uint8_t *out)
{
    const struct discover_case *c = s->c;
    size_t length = put_head(c, out);

    for (size_t i = 0; i < c->count; i++) {
        if (i % c->per_record == 0)
            length += put_bytes(3 + 7 * (i / c->per_record), c->key_bytes,
                                c->sent[0].big_endian, out + length);
        length += put_number(&c->sent[i], raw_of(s, &c->sent[i]), out + length);
    }
    return length;
}

/* ---- words -------------------------------------------------------------- */

static size_t put_word(struct sender *s, const struct sent *sent, char *out)
{
    int decimals = sent->decimals != 0 ? sent->decimals : 4;
    int length = snprintf(out, 32, "%.*f", decimals, raw_of(s, sent));
    char *point = strchr(out, '.');

    if (s->c->decimal_comma && point != NULL)
        *point = ',';
    return (size_t)length;
}

static size_t encode_words(struct sender *s, char *out)
{
    const struct discover_case *c = s->c;
    size_t length = put_head(c, (uint8_t *)out);

    for (size_t i = 0; i < c->count; i++) {
        if (i > 0)
            out[length++] = c->separator;
        if (c->form == INTAKE_FORM_PAIRS)
            length += (size_t)sprintf(out + length, "%s%c", c->sent[i].name,
                                      c->assign);
        length += put_word(s, &c->sent[i], out + length);
    }
    out[length++] = '\r';
    out[length++] = '\n';
    return length;
}

/* Names with a dot go into an object of their own; "" makes an array. */
static size_t encode_object(struct sender *s, char *out)
{
    const struct discover_case *c = s->c;
    size_t length = (size_t)sprintf(out, "{\"id\": \"x\\\"1\", ");
    const char *inside = "";
    size_t inside_length = 0;

    for (size_t i = 0; i < c->count; i++) {
        const char *name = c->sent[i].name;
        const char *dot = strchr(name, '.');
        size_t outer = dot != NULL ? (size_t)(dot - name) : 0;

        if (outer != inside_length || strncmp(name, inside, outer) != 0) {
            if (inside_length > 0)
                length += (size_t)sprintf(out + length, "}");
            if (i > 0)
                length += (size_t)sprintf(out + length, ", ");
            if (outer > 0)
                length += (size_t)sprintf(out + length, "\"%.*s\": {",
                                          (int)outer, name);
            inside = name;
            inside_length = outer;
        } else if (i > 0) {
            length += (size_t)sprintf(out + length, ", ");
        }
        length += (size_t)sprintf(out + length,
                                  "\"%s\": ", dot != NULL ? dot + 1 : name);
        length += put_word(s, &c->sent[i], out + length);
    }
    if (inside_length > 0)
        out[length++] = '}';
    out[length++] = '}';
    return length;
}

/* Part 0 or 1 of what is sent at a moment. */
static size_t encode_part(struct sender *s, int part, uint8_t *out)
{
    const struct discover_case *c = s->c;

    if (c->form == INTAKE_FORM_JSON)
        return encode_object(s, (char *)out);
    if (c->form == INTAKE_FORM_RECORDS)
        return encode_keyed(s, out);
    if (c->form != INTAKE_FORM_BINARY)
        return encode_words(s, (char *)out);
    if (c->split == 0)
        return encode_bytes(s, 0, c->count, out);
    return part == 0 ? encode_bytes(s, 0, c->split, out)
                     : encode_bytes(s, c->split, c->count, out);
}

/* ---- the check ---------------------------------------------------------- */

/* What may be wrong at most. Ours: half of what a caption would show. A
 * heading may be a magnetic one, so its first error counts as none. */
static double allowed(int channel)
{
    switch (channel) {
    case CHANNEL_HEADING:
    case CHANNEL_PITCH:
    case CHANNEL_BANK: return 0.6 * DEG;
    case CHANNEL_AIRSPEED:
    case CHANNEL_TRUE_AIRSPEED: return 0.6;
    case CHANNEL_VERTICAL_SPEED: return 0.5;
    case CHANNEL_LOAD_FACTOR: return 0.05;
    case CHANNEL_ALTITUDE: return 3.0;
    default: return INFINITY;
    }
}

static void compare(const struct discover_case *c,
                    const struct intake_sample *truth,
                    const struct intake_sample *got, double *turned)
{
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        double error;

        if ((got->valid & CHANNEL_BIT(i)) == 0)
            continue;
        error = got->value[i] - truth->value[i];
        if (i == CHANNEL_HEADING) {
            if (isnan(*turned))
                *turned = error;
            error = remainder(error - *turned, 2.0 * UNITS_PI);
        }
        if (!(fabs(error) <= allowed(i)))
            fail_msg("%s: sure of %s, but it is %g where %g is true", c->title,
                     intake_channel_name((enum intake_channel)i), got->value[i],
                     truth->value[i]);
    }
}

/* The layout as a user gets it: written, and read as configuration. */
static void read_back(const struct discover_case *c,
                      const struct intake_discovered *found,
                      struct settings *settings)
{
    static char text[TEXT];
    struct settings_choice choice = {0};
    struct folder folder = {""};
    char path[FOLDER_PATH_SIZE];
    char why[512] = "";
    int length = intake_layout_write(&found->layout, text, sizeof text);
    int status;

    assert_true(length > 0);
    folder_make(&folder);
    choice.layout =
        folder_write(&folder, "found.conf", text, (size_t)length, path);
    status = settings_load(&choice, ".", settings, why, sizeof why);
    folder_remove(&folder);
    if (status != 0)
        fail_msg("%s: %s\n%s", c->title, why, text);
}

static void check_found(struct sender *s, const struct intake_discovered *found)
{
    static struct settings settings;
    static uint8_t data[DATAGRAM];
    double turned = NAN;
    uint32_t seen = 0;

    read_back(s->c, found, &settings);
    for (s->at = 0; s->at < s->stream->count; s->at++) {
        for (int part = 0; part < (s->c->split != 0 ? 2 : 1); part++) {
            struct intake_sample got;
            size_t length = encode_part(s, part, data);
            enum intake_reject reject =
                intake_decode(&settings.layout, data, length, &got);

            if (reject != INTAKE_TAKEN)
                continue;
            compare(s->c, &s->stream->packet[s->at].sample, &got, &turned);
            seen |= got.valid;
        }
    }
    if ((found->found & ~seen) != 0)
        fail_msg("%s: the layout does not give what was found: %x, not %x",
                 s->c->title, seen, found->found);
}

static void cut(struct stream *stream, double from_s, double to_s)
{
    size_t kept = 0;

    for (size_t i = 0; i < stream->count; i++) {
        double t_s = (double)stream->packet[i].arrival_ns * 1e-9;

        if (t_s >= from_s && t_s < to_s)
            stream->packet[kept++] = stream->packet[i];
    }
    stream->count = kept;
}

void discover_case_run(const struct discover_case *c,
                       struct intake_discovered *out)
{
    static uint8_t data[DATAGRAM];
    struct intake_discovery *discovery = malloc(intake_discovery_size());
    struct stream stream;
    struct sender s = {c, &stream, 0, 1};

    assert_non_null(discovery);
    if (c->made != NULL)
        check_flight_fly(c->made, c->rate_hz, &stream);
    else
        stream_load(&stream, c->flight, "plain-binary");
    if (c->to_s > 0.0)
        cut(&stream, c->from_s, c->to_s);
    if (c->made == NULL && c->rate_hz > 0.0)
        stream_thin(&stream, c->rate_hz);
    if (c->mirrored)
        stream_mirror(&stream);
    intake_discovery_begin(discovery);
    for (s.at = 0; s.at < stream.count; s.at++) {
        for (int part = 0; part < (c->split != 0 ? 2 : 1); part++)
            intake_discovery_push(discovery, stream.packet[s.at].arrival_ns,
                                  50000, data, encode_part(&s, part, data));
    }
    assert_int_equal(intake_discovery_end(discovery, 0, out), 0);
    assert_int_equal(out->layout.form, c->form);
    s.random = 1;
    if (out->found != 0)
        check_found(&s, out);
    free(discovery);
    stream_free(&stream);
}
