/* encode_text.c - samples as numbers in columns, and as names with values. */
#include <stdio.h>
#include <string.h>

#include "encode.h"

static char decimal_of(const struct intake_packet *packet)
{
    return packet->decimal_comma ? ',' : '.';
}

static const struct intake_field *
field_of_column(const struct intake_packet *packet, uint32_t column)
{
    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column == column)
            return &packet->field[i];
    }
    return NULL;
}

/* Write starts_with as it stands.
 * Returns: the column that follows it; *due: a separator is due before it. */
static uint32_t put_beginning(struct encode_out *out,
                              const struct intake_packet *packet, bool *due)
{
    uint32_t column = 1;

    *due = false;
    encode_put(out, packet->starts_with, packet->starts_with_length);
    for (uint32_t i = 0; i < packet->starts_with_length; i++) {
        *due = (char)packet->starts_with[i] != packet->separator;
        if (!*due)
            column++;
    }
    return *due ? column + 1 : column;
}

/* The line's checksum, if it has one, and its end. */
static void put_end(struct encode_out *out, const struct intake_packet *packet)
{
    unsigned sum = 0;
    char text[8];
    size_t at = 0;

    if (packet->checksum == INTAKE_CHECKSUM_XOR && !out->full) {
        if (out->used > 0 && (out->text[0] == '$' || out->text[0] == '!'))
            at = 1;
        for (; at < out->used; at++)
            sum ^= (unsigned char)out->text[at];
        (void)snprintf(text, sizeof text, "*%02X", sum & 0xff);
        encode_put_text(out, text);
    }
    encode_put_text(out, "\n");
}

int encode_text(const struct intake_packet *packet,
                const struct intake_sample *sample, uint8_t *out, size_t size)
{
    struct encode_out text = {.text = (char *)out, .size = size};
    uint32_t last = 0;
    uint32_t column;
    bool due;

    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column > last)
            last = packet->field[i].column;
    }
    for (column = put_beginning(&text, packet, &due); column <= last;
         column++) {
        const struct intake_field *field = field_of_column(packet, column);
        double raw;

        if (due)
            encode_put(&text, &packet->separator, 1);
        if (field != NULL && encode_raw(field, sample, &raw))
            encode_put_number(&text, raw, decimal_of(packet));
        due = true;
    }
    put_end(&text, packet);
    return encode_result(&text);
}

static void put_name(struct encode_out *out, const struct intake_packet *packet,
                     const char *name)
{
    const char *quote = strchr(name, packet->assign) != NULL ||
                                strchr(name, packet->separator) != NULL ||
                                strchr(name, ' ') != NULL
                            ? "\""
                            : "";

    encode_put_text(out, quote);
    encode_put_text(out, name);
    encode_put_text(out, quote);
}

int encode_pairs(const struct intake_packet *packet,
                 const struct intake_sample *sample, uint8_t *out, size_t size)
{
    struct encode_out text = {.text = (char *)out, .size = size};
    bool due = false;

    encode_put(&text, packet->starts_with, packet->starts_with_length);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        double raw;

        if (!encode_raw(field, sample, &raw))
            continue;
        if (due)
            encode_put(&text, &packet->separator, 1);
        put_name(&text, packet, field->name);
        encode_put(&text, &packet->assign, 1);
        encode_put_number(&text, raw, decimal_of(packet));
        due = true;
    }
    put_end(&text, packet);
    return encode_result(&text);
}
