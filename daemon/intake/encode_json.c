/* encode_json.c - samples as one JSON object or array. */
#include <assert.h>
#include <string.h>

#include "encode.h"

struct writer {
    struct encode_out out;
    const struct intake_packet *packet;
    const struct intake_sample *sample;
};

/* Part of a path: from a field's name on, up to a dot or the end. */
struct part {
    const char *text;
    size_t length;
};

static struct part part_at(const char *name, size_t begin)
{
    size_t end = begin;

    while (name[end] != '\0' && name[end] != '.')
        end++;
    return (struct part){name + begin, end - begin};
}

/* The element a part means, or -1 when it is no number. */
static long index_of(struct part part)
{
    long index = 0;

    for (size_t i = 0; i < part.length; i++) {
        if (part.text[i] < '0' || part.text[i] > '9' ||
            index > INTAKE_MAX_DATAGRAM)
            return -1;
        index = index * 10 + (part.text[i] - '0');
    }
    return part.length > 0 ? index : -1;
}

/* Whether a field's path goes through the same place as another's. */
static bool is_below(const struct intake_field *field, const char *path,
                     size_t length)
{
    return strncmp(field->name, path, length) == 0;
}

static void put_node(struct writer *w, const char *path, size_t length);

/* What stands at a part: a value, or what lies below it. */
static void put_part(struct writer *w, const struct intake_field *field,
                     struct part part)
{
    size_t end = (size_t)(part.text - field->name) + part.length;
    double raw;

    if (field->name[end] == '.')
        put_node(w, field->name, end + 1);
    else if (encode_raw(field, w->sample, &raw))
        encode_put_number(&w->out, raw, '.');
    else
        encode_put_text(&w->out, "null");
}

/* Of the fields below a path, the first whose next part is the same.
 * part.text NULL: the first of all. */
static const struct intake_field *first_with(const struct writer *w,
                                             const char *path, size_t length,
                                             struct part part)
{
    for (uint32_t i = 0; i < w->packet->field_count; i++) {
        const struct intake_field *field = &w->packet->field[i];
        struct part own;

        if (!is_below(field, path, length))
            continue;
        own = part_at(field->name, length);
        if (part.text == NULL || (own.length == part.length &&
                                  memcmp(own.text, part.text, own.length) == 0))
            return field;
    }
    return NULL;
}

static void put_object(struct writer *w, const char *path, size_t length)
{
    const char *before = "{";

    for (uint32_t i = 0; i < w->packet->field_count; i++) {
        const struct intake_field *field = &w->packet->field[i];
        struct part part;

        if (!is_below(field, path, length))
            continue;
        part = part_at(field->name, length);
        if (first_with(w, path, length, part) != field)
            continue;
        encode_put_text(&w->out, before);
        encode_put_text(&w->out, "\"");
        encode_put(&w->out, part.text, part.length);
        encode_put_text(&w->out, "\":");
        put_part(w, field, part);
        before = ",";
    }
    encode_put_text(&w->out, "}");
}

static void put_array(struct writer *w, const char *path, size_t length)
{
    long last = 0;

    for (uint32_t i = 0; i < w->packet->field_count; i++) {
        const struct intake_field *field = &w->packet->field[i];

        if (is_below(field, path, length) &&
            index_of(part_at(field->name, length)) > last)
            last = index_of(part_at(field->name, length));
    }
    for (long k = 0; k <= last && !w->out.full; k++) {
        const struct intake_field *at = NULL;

        for (uint32_t i = 0; at == NULL && i < w->packet->field_count; i++) {
            const struct intake_field *field = &w->packet->field[i];

            if (is_below(field, path, length) &&
                index_of(part_at(field->name, length)) == k)
                at = field;
        }
        encode_put_text(&w->out, k == 0 ? "[" : ",");
        if (at == NULL)
            encode_put_text(&w->out, "null");
        else
            put_part(w, at, part_at(at->name, length));
    }
    encode_put_text(&w->out, "]");
}

/* Below a path of that length all fields agree whether an object or an array
 * stands there. A path is too short to nest more than half its characters. */
static void put_node(struct writer *w, const char *path, size_t length)
{
    const struct intake_field *first =
        first_with(w, path, length, (struct part){NULL, 0});

    assert(first != NULL);
    if (index_of(part_at(first->name, length)) >= 0)
        put_array(w, path, length);
    else
        put_object(w, path, length);
}

int encode_json(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size)
{
    struct writer w = {.out = {.text = (char *)out, .size = size},
                       .packet = packet,
                       .sample = sample};

    if (packet->starts_with_length > 0 && packet->starts_with[0] != '{' &&
        packet->starts_with[0] != '[')
        encode_put(&w.out, packet->starts_with, packet->starts_with_length);
    put_node(&w, "", 0);
    encode_put_text(&w.out, "\n");
    return encode_result(&w.out);
}
