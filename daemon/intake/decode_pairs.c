/* decode_pairs.c - names with their values.
 *
 * Pairs stand between separators and on lines of their own, in any order and
 * any number; what has no name or no field is passed over. When a name comes
 * twice, the later value counts. Names and values may be quoted. */
#include <string.h>

#include "decode.h"

/* Where the reading of a line stands. */
struct reading {
    const struct intake_packet *packet;
    struct decode_line line;
    size_t at;
};

static bool at_end(const struct reading *r)
{
    return r->at >= r->line.length;
}

static bool at_char(const struct reading *r, char c)
{
    return !at_end(r) && r->line.text[r->at] == c;
}

static bool at_separator(const struct reading *r)
{
    char c = r->packet->separator;

    /* Where blanks separate, a tab does so too. */
    return at_char(r, c) || (c == ' ' && at_char(r, '\t'));
}

/* Where blanks separate, they may still stand about the mark between a name
 * and its value. */
static void skip_blanks(struct reading *r)
{
    while (!at_end(r) && decode_is_blank(r->line.text[r->at]) &&
           (r->packet->separator == ' ' || !at_separator(r)))
        r->at++;
}

/* Up to a separator, or the mark between name and value when `assign`; quotes
 * may hold both. */
static struct decode_line take_word(struct reading *r, bool assign)
{
    size_t begin = r->at;

    if (at_char(r, '"')) {
        const char *rest = r->line.text + begin + 1;
        const char *hit = memchr(rest, '"', r->line.length - begin - 1);

        if (hit != NULL)
            r->at = (size_t)(hit - r->line.text) + 1;
    }
    while (!at_end(r) && !at_separator(r) &&
           !(assign && at_char(r, r->packet->assign)))
        r->at++;
    return decode_unquote(
        (struct decode_line){r->line.text + begin, r->at - begin});
}

static bool is_named(const struct intake_field *field, struct decode_line name)
{
    return name.length < sizeof field->name &&
           memcmp(field->name, name.text, name.length) == 0 &&
           field->name[name.length] == '\0';
}

static enum intake_reject take_value(const struct reading *r,
                                     struct decode_line name,
                                     struct decode_line value,
                                     struct intake_sample *out)
{
    for (uint32_t i = 0; i < r->packet->field_count; i++) {
        const struct intake_field *field = &r->packet->field[i];
        enum intake_reject reject;

        if (!is_named(field, name))
            continue;
        reject = decode_word(r->packet, field, value, out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

static void skip_beginning(struct reading *r)
{
    const struct intake_packet *packet = r->packet;

    if (packet->starts_with_length <= r->line.length &&
        memcmp(r->line.text, packet->starts_with, packet->starts_with_length) ==
            0)
        r->at = packet->starts_with_length;
}

/* pairs: counts what has both a name and a value. */
static enum intake_reject take_line(const struct intake_packet *packet,
                                    struct decode_line line, size_t *pairs,
                                    struct intake_sample *out)
{
    struct reading r = {packet, line, 0};
    enum intake_reject reject = decode_check_line(packet, &r.line);

    if (reject != INTAKE_TAKEN)
        return reject;
    skip_beginning(&r);
    while (reject == INTAKE_TAKEN && !at_end(&r)) {
        struct decode_line name;

        if (at_separator(&r)) {
            r.at++;
            continue;
        }
        skip_blanks(&r);
        name = take_word(&r, true);
        if (!decode_is_blank(packet->assign))
            skip_blanks(&r);
        if (!at_char(&r, packet->assign))
            continue;
        r.at++;
        skip_blanks(&r);
        reject = take_value(&r, name, take_word(&r, false), out);
        *pairs += 1;
    }
    return reject;
}

enum intake_reject decode_pairs(const struct intake_layout *layout,
                                const uint8_t *data, size_t length,
                                struct intake_sample *out)
{
    const char *text = (const char *)data;
    const struct intake_packet *packet =
        decode_packet(layout, length, data, length);
    size_t lines = 0;
    size_t pairs = 0;

    if (packet == NULL)
        return INTAKE_NO_PACKET;
    for (size_t at = 0; at < length;) {
        struct decode_line line = {text + at, 0};
        enum intake_reject reject;

        while (at < length && !decode_is_line_end(text[at]))
            at++;
        line.length = (size_t)(text + at - line.text);
        at++;
        line = decode_trim(line);
        if (line.length == 0)
            continue;
        lines++;
        reject = take_line(packet, line, &pairs, out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    if (lines == 0)
        return INTAKE_EMPTY;
    return pairs > 0 ? INTAKE_TAKEN : INTAKE_BAD_STRUCTURE;
}
