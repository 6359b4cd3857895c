/* discover_write.c - a layout as configuration. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/intake.h"

struct text {
    char *out;
    size_t size;
    size_t length; /* beyond size when it did not fit */
};

__attribute__((format(printf, 2, 3))) static void put(struct text *text,
                                                      const char *format, ...)
{
    va_list arguments;
    int length;

    if (text->length >= text->size)
        return;
    va_start(arguments, format);
    length = vsnprintf(text->out + text->length, text->size - text->length,
                       format, arguments);
    va_end(arguments);
    text->length += length < 0 ? text->size : (size_t)length;
}

/* A string of the configuration; what ends or begins something in it is
 * escaped. */
static void put_string(struct text *text, const char *value)
{
    put(text, "\"");
    for (; *value != '\0'; value++) {
        if (*value == '"' || *value == '\\' || *value == '$')
            put(text, "\\");
        put(text, "%c", *value);
    }
    put(text, "\"");
}

static void put_separator(struct text *text, const char *name, char c)
{
    char one[2] = {c, '\0'};

    put(text, "        %s = ", name);
    put_string(text, c == '\t' ? "tab" : c == ' ' ? "space" : one);
    put(text, "\n");
}

static const char *order_name(bool big_endian)
{
    return big_endian ? "big" : "little";
}

static void put_guard(struct text *text, const struct intake_packet *packet)
{
    if (packet->size != 0)
        put(text, "        size = %u\n", (unsigned)packet->size);
    if (packet->starts_with_length == 0)
        return;
    put(text, "        starts_with = \"hex:");
    for (uint32_t i = 0; i < packet->starts_with_length; i++)
        put(text, "%s%02x", i > 0 ? " " : "", packet->starts_with[i]);
    put(text, "\"\n");
}

static void put_place(struct text *text, enum intake_form form,
                      const struct intake_field *field)
{
    switch (form) {
    case INTAKE_FORM_TEXT:
        put(text, "column = %u  ", (unsigned)field->column);
        break;
    case INTAKE_FORM_RECORDS:
        put(text, "key = %lld  ", (long long)field->key);
        /* fall through */
    case INTAKE_FORM_BINARY:
        put(text, "at = %u  type = \"%s\"  byte_order = \"%s\"  ",
            (unsigned)field->at, intake_type_name(field->type),
            order_name(field->big_endian));
        break;
    case INTAKE_FORM_PAIRS:
    case INTAKE_FORM_JSON:
        put(text, "%s = ", form == INTAKE_FORM_JSON ? "path" : "name");
        put_string(text, field->name);
        put(text, "  ");
        break;
    default: break;
    }
}

static void put_field(struct text *text, enum intake_form form,
                      const struct intake_field *field)
{
    put(text, "        field \"%s\" { ", intake_channel_name(field->channel));
    put_place(text, form, field);
    put(text, "unit = \"%s\"", units_name(field->unit));
    if (field->scale != 1.0)
        put(text, "  scale = %.17g", field->scale);
    put(text, " }\n");
}

static void put_packet(struct text *text, enum intake_form form,
                       const struct intake_packet *packet)
{
    put(text, "    packet \"%s\" {\n", packet->name);
    put_guard(text, packet);
    if (form == INTAKE_FORM_TEXT || form == INTAKE_FORM_PAIRS) {
        put_separator(text, "separator", packet->separator);
        if (form == INTAKE_FORM_PAIRS)
            put_separator(text, "assign", packet->assign);
        if (packet->decimal_comma)
            put(text, "        decimal = \"comma\"\n");
    }
    if (form == INTAKE_FORM_RECORDS)
        put(text,
            "        records_at = %u  record_size = %u  key_type = \"%s\"\n",
            (unsigned)packet->records_at, (unsigned)packet->record_size,
            intake_type_name(packet->key_type));
    for (uint32_t i = 0; i < packet->field_count; i++)
        put_field(text, form, &packet->field[i]);
    put(text, "    }\n");
}

int intake_layout_write(const struct intake_layout *layout, char *out,
                        size_t size)
{
    struct text text = {out, size, 0};

    put(&text, "layout \"%s\" {\n    form = \"%s\"", layout->name,
        intake_form_name(layout->form));
    if (layout->form == INTAKE_FORM_RECORDS && layout->packet_count > 0)
        put(&text, "   byte_order = \"%s\"",
            order_name(layout->packet[0].key_big_endian));
    put(&text, "\n");
    for (uint32_t i = 0; i < layout->packet_count; i++)
        put_packet(&text, layout->form, &layout->packet[i]);
    put(&text, "}\n");
    return text.length < size ? (int)text.length : ERR_FULL;
}
