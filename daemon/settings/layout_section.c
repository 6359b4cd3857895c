/* layout_section.c - the description of packets. */
#include <math.h>
#include <string.h>

#include "quarterturn/error.h"
#include "sections.h"

enum { LIST_SIZE = 320 };

/* What fields of a packet inherit. */
struct packet_ground {
    enum intake_form form;
    bool big_endian;
};

static const char *const text_only[] = {"column", "optional", NULL};
static const char *const binary_only[] = {"at", "type", "byte_order", NULL};

/* ---- words ------------------------------------------------------------- */

static int fail_word(cfg_t *section, const struct reader_value *value,
                     const char *name, const char *accepted,
                     const struct reader_why *why)
{
    return reader_fail(why, section, value->line,
                       "%s = \"%s\" is not known; accepted: %s", name,
                       value->text, accepted);
}

static int read_form(cfg_t *section, enum intake_form *out,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_need(section, "form", why);

    if (value == NULL)
        return ERR_USAGE;
    if (intake_form_find(value->text, out) != 0)
        return fail_word(section, value, "form", "text, binary", why);
    return 0;
}

static int read_byte_order(cfg_t *section, bool *big_endian,
                           const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "byte_order");

    if (value == NULL)
        return 0;
    if (strcmp(value->text, "little") != 0 && strcmp(value->text, "big") != 0)
        return fail_word(section, value, "byte_order", "little, big", why);
    *big_endian = strcmp(value->text, "big") == 0;
    return 0;
}

static int read_type(cfg_t *section, enum intake_type *out,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_need(section, "type", why);
    char accepted[LIST_SIZE] = "";

    if (value == NULL)
        return ERR_USAGE;
    if (intake_type_find(value->text, out) == 0)
        return 0;
    for (int i = 0; i < INTAKE_TYPE_COUNT; i++)
        reader_list_add(accepted, sizeof accepted,
                        intake_type_name((enum intake_type)i));
    return fail_word(section, value, "type", accepted, why);
}

static int read_channel(cfg_t *section, enum intake_channel *out,
                        const struct reader_why *why)
{
    char accepted[LIST_SIZE] = "";

    if (intake_channel_find(cfg_title(section), out) == 0)
        return 0;
    for (int i = 0; i < CHANNEL_COUNT; i++)
        reader_list_add(accepted, sizeof accepted,
                        intake_channel_name((enum intake_channel)i));
    return reader_fail(why, section, reader_line(section),
                       "field \"%s\" is not known; accepted: %s",
                       cfg_title(section), accepted);
}

static int read_unit(cfg_t *section, struct intake_field *field,
                     const struct reader_why *why)
{
    enum units_quantity quantity = intake_channel_quantity(field->channel);
    char accepted[LIST_SIZE];
    const struct reader_value *value;

    /* A plain number needs no unit; a bool's is understood. */
    if (quantity == UNITS_NUMBER)
        field->unit = intake_channel_display_unit(field->channel);
    value = quantity == UNITS_NUMBER ? reader_get(section, "unit")
                                     : reader_need(section, "unit", why);
    if (value == NULL)
        return quantity == UNITS_NUMBER ? 0 : ERR_USAGE;
    if (units_find(value->text, &field->unit) == 0 &&
        units_quantity(field->unit) == quantity)
        return 0;
    reader_list_units(quantity, accepted, sizeof accepted);
    return reader_fail(why, section, value->line,
                       "unit = \"%s\" does not fit field \"%s\"; accepted: %s",
                       value->text, cfg_title(section), accepted);
}

/* ---- fields ------------------------------------------------------------ */

static int refuse_options(cfg_t *section, const char *const *names,
                          const char *form, const struct reader_why *why)
{
    for (; *names != NULL; names++) {
        const struct reader_value *value = reader_get(section, *names);

        if (value != NULL)
            return reader_fail(why, section, value->line,
                               "%s has no meaning in form \"%s\"", *names,
                               form);
    }
    return 0;
}

static int read_place(cfg_t *section, const struct packet_ground *ground,
                      struct intake_field *field, const struct reader_why *why)
{
    static const uint32_t columns[2] = {1, INTAKE_MAX_COLUMNS};
    static const uint32_t offsets[2] = {0, INTAKE_MAX_DATAGRAM - 1};
    int status;

    if (ground->form == INTAKE_FORM_TEXT) {
        status = refuse_options(section, binary_only, "text", why);
        if (status != 0 || reader_need(section, "column", why) == NULL)
            return ERR_USAGE;
        status = reader_whole(section, "column", columns, &field->column, why);
        if (status == 0)
            status = reader_truth(section, "optional", &field->optional, why);
        return status;
    }
    status = refuse_options(section, text_only, "binary", why);
    if (status != 0 || reader_need(section, "at", why) == NULL)
        return ERR_USAGE;
    field->big_endian = ground->big_endian;
    status = reader_whole(section, "at", offsets, &field->at, why);
    if (status == 0)
        status = read_type(section, &field->type, why);
    if (status == 0)
        status = read_byte_order(section, &field->big_endian, why);
    return status;
}

static int read_field(cfg_t *section, const struct packet_ground *ground,
                      struct intake_field *field, const struct reader_why *why)
{
    int status;

    memset(field, 0, sizeof *field);
    field->scale = 1.0;
    field->has_missing = reader_get(section, "missing") != NULL;
    status = read_channel(section, &field->channel, why);
    if (status == 0)
        status = read_place(section, ground, field, why);
    if (status == 0)
        status = read_unit(section, field, why);
    if (status == 0)
        status = reader_number(section, "scale", &field->scale, why);
    if (status == 0)
        status = reader_number(section, "offset", &field->offset, why);
    if (status == 0)
        status = reader_number(section, "missing", &field->missing, why);
    if (status == 0 && field->scale == 0.0)
        status = reader_fail(why, section, reader_get(section, "scale")->line,
                             "scale must not be 0");
    return status;
}

/* ---- packets ----------------------------------------------------------- */

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return -1;
}

/* Pairs of hexadecimal digits, blanks between pairs allowed.
 * Returns: 0, ERR_FORMAT or ERR_FULL. */
static int read_hex(const char *text, struct intake_packet *packet)
{
    while (*text != '\0') {
        int high;
        int low;

        if (*text == ' ') {
            text++;
            continue;
        }
        high = hex_digit(text[0]);
        low = high < 0 ? -1 : hex_digit(text[1]);
        if (low < 0)
            return ERR_FORMAT;
        if (packet->starts_with_length == INTAKE_MAX_PREFIX)
            return ERR_FULL;
        packet->starts_with[packet->starts_with_length++] =
            (uint8_t)(high * 16 + low);
        text += 2;
    }
    return packet->starts_with_length == 0 ? ERR_FORMAT : 0;
}

static int read_beginning(cfg_t *section, struct intake_packet *packet,
                          const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "starts_with");
    size_t length;
    int status = 0;

    if (value == NULL)
        return 0;
    length = strlen(value->text);
    if (strncmp(value->text, "hex:", 4) == 0)
        status = read_hex(value->text + 4, packet);
    else if (length == 0)
        status = ERR_FORMAT;
    else if (length > INTAKE_MAX_PREFIX)
        status = ERR_FULL;
    else
        memcpy(packet->starts_with, value->text, length);
    if (status != 0)
        return reader_fail(why, section, value->line,
                           "starts_with = \"%s\" cannot be used; accepted: 1 "
                           "to %d characters, or \"hex:\" and as many bytes "
                           "in hexadecimal",
                           value->text, INTAKE_MAX_PREFIX);
    if (packet->starts_with_length == 0)
        packet->starts_with_length = (uint32_t)length;
    return 0;
}

static int read_separator(cfg_t *section, struct intake_packet *packet,
                          const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "separator");

    packet->separator = ',';
    if (value == NULL)
        return 0;
    if (strcmp(value->text, "tab") == 0)
        packet->separator = '\t';
    else if (strcmp(value->text, "space") == 0)
        packet->separator = ' ';
    else if (strlen(value->text) == 1 &&
             strchr(",;:|/\t !#$%&*=_~", value->text[0]) != NULL)
        packet->separator = value->text[0];
    else
        return fail_word(section, value, "separator",
                         "one of , ; : | / ! # $ % & * = _ ~ tab space", why);
    return 0;
}

static int read_text_ground(cfg_t *section, struct intake_packet *packet,
                            const struct reader_why *why)
{
    const struct reader_value *decimal = reader_get(section, "decimal");
    int status = read_separator(section, packet, why);

    if (status != 0 || decimal == NULL)
        return status;
    if (strcmp(decimal->text, "point") != 0 &&
        strcmp(decimal->text, "comma") != 0)
        return fail_word(section, decimal, "decimal", "point, comma", why);
    packet->decimal_comma = strcmp(decimal->text, "comma") == 0;
    if (packet->decimal_comma && packet->separator == ',')
        return reader_fail(why, section, decimal->line,
                           "decimal = \"comma\" needs another separator than "
                           "a comma");
    return 0;
}

static int check_column(cfg_t *section, const struct intake_packet *packet,
                        const struct intake_field *field,
                        const struct reader_why *why)
{
    uint32_t taken = 0;
    bool open = false;

    for (uint32_t i = 0; i < packet->starts_with_length; i++) {
        open = (char)packet->starts_with[i] != packet->separator;
        if (!open)
            taken++;
    }
    if (open)
        taken++;
    if (field->column <= taken)
        return reader_fail(why, section, reader_get(section, "column")->line,
                           "column %u is taken by starts_with; accepted: %u "
                           "to %d",
                           field->column, taken + 1, INTAKE_MAX_COLUMNS);
    return 0;
}

static uint32_t end_of(const struct intake_field *field)
{
    return field->at + intake_type_size(field->type);
}

static int check_bytes(cfg_t *section, const struct intake_packet *packet,
                       const struct intake_field *field,
                       const struct reader_why *why)
{
    int line = reader_get(section, "at")->line;
    uint32_t most = packet->size != 0 ? packet->size : INTAKE_MAX_DATAGRAM;

    if (end_of(field) > most)
        return reader_fail(why, section, line,
                           "field \"%s\" ends at byte %u, beyond the packet's "
                           "%u",
                           cfg_title(section), end_of(field), most);
    if (field->at < packet->starts_with_length)
        return reader_fail(why, section, line,
                           "field \"%s\" lies in starts_with, the first %u "
                           "bytes",
                           cfg_title(section), packet->starts_with_length);
    for (const struct intake_field *other = packet->field; other < field;
         other++) {
        if (field->at < end_of(other) && other->at < end_of(field) &&
            (field->at != other->at || field->type != other->type))
            return reader_fail(
                why, section, line, "field \"%s\" overlaps field \"%s\"",
                cfg_title(section), intake_channel_name(other->channel));
    }
    return 0;
}

static int read_fields(cfg_t *section, const struct packet_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why)
{
    unsigned count = cfg_size(section, "field");

    if (count == 0 || count > INTAKE_MAX_FIELDS)
        return reader_fail(why, section, reader_line(section),
                           "packet \"%s\" has %u fields; accepted: 1 to %d",
                           cfg_title(section), count, INTAKE_MAX_FIELDS);
    for (unsigned i = 0; i < count; i++) {
        cfg_t *at = cfg_getnsec(section, "field", i);
        struct intake_field *field = &packet->field[i];
        int status = read_field(at, ground, field, why);

        if (status != 0)
            return status;
        status = ground->form == INTAKE_FORM_TEXT
                     ? check_column(at, packet, field, why)
                     : check_bytes(at, packet, field, why);
        if (status != 0)
            return status;
        packet->field_count++;
    }
    return 0;
}

static int read_packet(cfg_t *section, const struct packet_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why)
{
    static const char *const text_words[] = {"separator", "decimal", NULL};
    static const uint32_t sizes[2] = {1, INTAKE_MAX_DATAGRAM};
    int status =
        section_read_name(section, packet->name, sizeof packet->name, why);

    if (status == 0)
        status = reader_whole(section, "size", sizes, &packet->size, why);
    if (status == 0)
        status =
            reader_whole(section, "min_size", sizes, &packet->min_size, why);
    if (status == 0)
        status = read_beginning(section, packet, why);
    if (status == 0)
        status = ground->form == INTAKE_FORM_TEXT
                     ? read_text_ground(section, packet, why)
                     : refuse_options(section, text_words, "binary", why);
    if (status != 0)
        return status;
    if (packet->size != 0 && (packet->min_size > packet->size ||
                              packet->starts_with_length > packet->size))
        return reader_fail(why, section, reader_line(section),
                           "packet \"%s\": min_size and starts_with must fit "
                           "size",
                           packet->name);
    return read_fields(section, ground, packet, why);
}

static bool fits_everything(const struct intake_packet *packet)
{
    return packet->size == 0 && packet->min_size == 0 &&
           packet->starts_with_length == 0;
}

int section_read_layout(cfg_t *section, struct intake_layout *out,
                        const struct reader_why *why)
{
    struct packet_ground ground = {INTAKE_FORM_TEXT, false};
    unsigned count = cfg_size(section, "packet");
    int status;

    memset(out, 0, sizeof *out);
    status = section_read_name(section, out->name, sizeof out->name, why);
    if (status == 0)
        status = read_form(section, &ground.form, why);
    if (status == 0)
        status = read_byte_order(section, &ground.big_endian, why);
    if (status != 0)
        return status;
    out->form = ground.form;
    if (count == 0 || count > INTAKE_MAX_PACKETS)
        return reader_fail(why, section, reader_line(section),
                           "layout \"%s\" has %u packets; accepted: 1 to %d",
                           out->name, count, INTAKE_MAX_PACKETS);
    for (unsigned i = 0; i < count; i++) {
        cfg_t *at = cfg_getnsec(section, "packet", i);

        if (i > 0 && fits_everything(&out->packet[i - 1]))
            return reader_fail(why, at, reader_line(at),
                               "packet \"%s\" is never reached: packet \"%s\" "
                               "before it has neither size nor starts_with",
                               cfg_title(at), out->packet[i - 1].name);
        status = read_packet(at, &ground, &out->packet[i], why);
        if (status != 0)
            return status;
        out->packet_count++;
    }
    return 0;
}
