/* decode_json.c - values by their path in an object or array.
 *
 * "attitude.heading" is the member heading of the member attitude, "values.3"
 * the fourth element of the array values. The library takes memory for each
 * datagram; its length and the nesting allowed here bound how much. */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "decode.h"

enum { DEEPEST = 16, NO_INDEX = -1 };

/* The library nests its own calls as deep as the text does. */
static bool is_too_deep(const char *text, size_t length)
{
    bool quoted = false;
    int depth = 0;

    for (size_t i = 0; i < length; i++) {
        if (quoted) {
            if (text[i] == '\\')
                i++;
            else if (text[i] == '"')
                quoted = false;
        } else if (text[i] == '"') {
            quoted = true;
        } else if (text[i] == '{' || text[i] == '[') {
            if (++depth > DEEPEST)
                return true;
        } else if (text[i] == '}' || text[i] == ']') {
            depth--;
        }
    }
    return false;
}

static int index_of(const char *text)
{
    int index = 0;

    if (*text == '\0')
        return NO_INDEX;
    for (; *text >= '0' && *text <= '9'; text++) {
        if (index > INTAKE_MAX_DATAGRAM)
            return NO_INDEX;
        index = index * 10 + (*text - '0');
    }
    return *text == '\0' ? index : NO_INDEX;
}

/* Returns: the value at a path, borrowed, or NULL. */
static const json_t *value_at(const json_t *at, const char *path)
{
    char part[INTAKE_FIELD_NAME];

    while (at != NULL) {
        const char *dot = strchr(path, '.');
        size_t length = dot == NULL ? strlen(path) : (size_t)(dot - path);
        const json_t *whole = json_object_get(at, path);

        /* A name that holds dots is one name where there is such a one. */
        if (whole != NULL)
            return whole;
        memcpy(part, path, length);
        part[length] = '\0';
        if (json_is_array(at)) {
            int index = index_of(part);

            at = index < 0 ? NULL : json_array_get(at, (size_t)index);
        } else {
            at = json_object_get(at, part);
        }
        if (dot == NULL)
            return at;
        path = dot + 1;
    }
    return NULL;
}

static enum intake_reject take_value(const struct intake_packet *packet,
                                     const struct intake_field *field,
                                     const json_t *value,
                                     struct intake_sample *out)
{
    if (json_is_null(value))
        return decode_store(field, (double)NAN, out);
    if (json_is_number(value))
        return decode_store(field, json_number_value(value), out);
    if (json_is_string(value))
        return decode_word(packet, field,
                           (struct decode_line){json_string_value(value),
                                                json_string_length(value)},
                           out);
    if (json_is_boolean(value) && field->unit == UNIT_BOOL)
        return decode_store(field, json_is_true(value) ? 1.0 : 0.0, out);
    return INTAKE_NOT_A_NUMBER;
}

static enum intake_reject take_values(const struct intake_packet *packet,
                                      const json_t *root,
                                      struct intake_sample *out)
{
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        const json_t *value = value_at(root, field->name);
        enum intake_reject reject;

        if (value == NULL)
            continue;
        reject = take_value(packet, field, value, out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

/* Without a word that stands before the text, and without what some senders
 * put behind it. */
static struct decode_line cut_text(const struct intake_packet *packet,
                                   const uint8_t *data, size_t length)
{
    struct decode_line text = {(const char *)data, length};
    size_t before = packet->starts_with_length;

    if (before > 0 && packet->starts_with[0] != '{' &&
        packet->starts_with[0] != '[') {
        text.text += before;
        text.length -= before;
    }
    while (text.length > 0 && text.text[text.length - 1] == '\0')
        text.length--;
    return text;
}

enum intake_reject decode_json(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out)
{
    const struct intake_packet *packet =
        decode_packet(layout, length, data, length);
    enum intake_reject reject;
    struct decode_line text;
    json_error_t error;
    json_t *root;

    if (packet == NULL)
        return INTAKE_NO_PACKET;
    text = cut_text(packet, data, length);
    if (is_too_deep(text.text, text.length))
        return INTAKE_BAD_STRUCTURE;
    root = json_loadb(text.text, text.length,
                      JSON_REJECT_DUPLICATES | JSON_DECODE_INT_AS_REAL, &error);
    if (root == NULL)
        return json_error_code(&error) == json_error_numeric_overflow
                   ? INTAKE_NOT_FINITE
                   : INTAKE_BAD_STRUCTURE;
    reject = take_values(packet, root, out);
    json_decref(root);
    return reject;
}
