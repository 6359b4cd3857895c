/* field_section.c - where a channel stands in a packet, and what its number
 * means. */
#include <math.h>
#include <string.h>

#include "layout_words.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

enum { LIST_SIZE = 320 };

#define NMEA FORM_BIT(INTAKE_FORM_NMEA)

static const struct layout_option field_options[] = {
    {"column", FORM_BIT(INTAKE_FORM_TEXT)},
    {"at", FORMS_BYTES},
    {"type", FORMS_BYTES},
    {"bit", FORMS_BYTES},
    {"byte_order", FORMS_BYTES},
    {"key", FORM_BIT(INTAKE_FORM_RECORDS)},
    {"name", FORM_BIT(INTAKE_FORM_PAIRS) | NMEA},
    {"path", FORM_BIT(INTAKE_FORM_JSON)},
    {"optional", FORMS_WORDS},
    {"missing", FORMS_DECLARED},
    {"unit", FORMS_DECLARED | NMEA},
    {"magnetic", FORMS_DECLARED | NMEA},
};

static bool is_declared(const struct layout_ground *ground)
{
    return (FORM_BIT(ground->layout->form) & FORMS_DECLARED) != 0;
}

/* ---- what it is --------------------------------------------------------- */

static int read_channel(cfg_t *section, enum intake_channel *out,
                        const struct reader_why *why)
{
    char accepted[LIST_SIZE] = "";

    if (intake_channel_find(cfg_title(section), out) == 0)
        return 0;
    for (int i = 0; i < CHANNEL_COUNT; i++)
        reader_list_add(accepted, sizeof accepted,
                        intake_channel_name((enum intake_channel)i));
    return reader_fail(why, section, reader_place(section),
                       "field \"%s\" is not known; accepted: %s",
                       cfg_title(section), accepted);
}

/* A plain number needs no unit; a bool's is understood, and so is that of a
 * form that says it itself. */
static int read_unit(cfg_t *section, const struct layout_ground *ground,
                     struct intake_field *field, const struct reader_why *why)
{
    enum units_quantity quantity = intake_channel_quantity(field->channel);
    bool needed = quantity != UNITS_NUMBER && is_declared(ground);
    char accepted[LIST_SIZE];
    const struct reader_value *value;

    field->unit = intake_channel_display_unit(field->channel);
    value = needed ? reader_need(section, "unit", why)
                   : reader_get(section, "unit");
    if (value == NULL)
        return needed ? ERR_USAGE : 0;
    if (!is_declared(ground) && field->name[0] == '\0')
        return reader_fail(why, section, value->at,
                           "unit needs a name in form \"%s\": sentences say "
                           "their own",
                           intake_form_name(ground->layout->form));
    if (units_find(value->text, &field->unit) == 0 &&
        units_quantity(field->unit) == quantity)
        return 0;
    reader_list_units(quantity, accepted, sizeof accepted);
    return reader_fail(why, section, value->at,
                       "unit = \"%s\" does not fit field \"%s\"; accepted: %s",
                       value->text, cfg_title(section), accepted);
}

static int read_bound(cfg_t *section, const char *name,
                      struct intake_field *field, double *out,
                      const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    char accepted[LIST_SIZE];

    if (value == NULL)
        return 0;
    field->has_range = true;
    if (settings_parse_quantity(value->text, field->unit, out) == 0 &&
        isfinite(*out))
        return 0;
    reader_list_units(units_quantity(field->unit), accepted, sizeof accepted);
    return reader_fail(why, section, value->at,
                       "%s = \"%s\" does not fit field \"%s\"; accepted: a "
                       "number, also with one of the units %s",
                       name, value->text, cfg_title(section), accepted);
}

static int read_range(cfg_t *section, struct intake_field *field,
                      const struct reader_why *why)
{
    int status;

    field->least = -HUGE_VAL;
    field->most = HUGE_VAL;
    status = read_bound(section, "least", field, &field->least, why);
    if (status == 0)
        status = read_bound(section, "most", field, &field->most, why);
    if (status == 0 && !(field->least < field->most))
        status = reader_fail(why, section, reader_get(section, "most")->at,
                             "most must be above least");
    return status;
}

static int read_magnetic(cfg_t *section, struct intake_field *field,
                         const struct reader_why *why)
{
    int status = reader_truth(section, "magnetic", &field->magnetic, why);

    if (status == 0 && field->magnetic && field->channel != CHANNEL_HEADING &&
        field->channel != CHANNEL_TRACK)
        status = reader_fail(why, section, reader_get(section, "magnetic")->at,
                             "magnetic has no meaning for field \"%s\"; it "
                             "belongs to: heading, track",
                             cfg_title(section));
    return status;
}

static int read_max_age(cfg_t *section, const struct layout_ground *ground,
                        const struct intake_field *field,
                        const struct reader_why *why)
{
    static const struct reader_quantity row = {"max_age", UNIT_S, false,
                                               0.01,      60.0,   0};
    int64_t *age_ns = &ground->layout->max_age_ns[field->channel];
    double age_s = 0.0;
    int status = reader_quantities(section, &row, 1, &age_s, why);

    if (status == 0 && reader_get(section, "max_age") != NULL)
        *age_ns = (int64_t)(age_s * 1e9 + 0.5);
    return status;
}

static int read_meaning(cfg_t *section, const struct layout_ground *ground,
                        struct intake_field *field,
                        const struct reader_why *why)
{
    int status = read_unit(section, ground, field, why);

    if (status == 0)
        status = reader_number(section, "scale", &field->scale, why);
    if (status == 0 && field->scale == 0.0)
        status = reader_fail(why, section, reader_get(section, "scale")->at,
                             "scale must not be 0");
    if (status == 0)
        status = reader_number(section, "offset", &field->offset, why);
    if (status == 0)
        status = reader_number(section, "missing", &field->missing, why);
    if (status == 0)
        status = read_range(section, field, why);
    if (status == 0)
        status = read_magnetic(section, field, why);
    if (status == 0)
        status = read_max_age(section, ground, field, why);
    return status;
}

/* ---- where it stands ---------------------------------------------------- */

static uint32_t end_of(const struct intake_field *field)
{
    return field->at + intake_type_size(field->type);
}

static int read_bit(cfg_t *section, struct intake_field *field,
                    const struct reader_why *why)
{
    uint32_t bounds[2] = {0, 8 * intake_type_size(field->type) - 1};
    const struct reader_value *value = reader_get(section, "bit");

    if (value == NULL)
        return 0;
    if (field->type == INTAKE_F32 || field->type == INTAKE_F64)
        return reader_fail(why, section, value->at,
                           "bit has no meaning in type \"%s\"",
                           intake_type_name(field->type));
    field->has_bit = true;
    return reader_whole(section, "bit", bounds, &field->bit, why);
}

static int read_bytes(cfg_t *section, const struct layout_ground *ground,
                      struct intake_field *field, const struct reader_why *why)
{
    static const uint32_t offsets[2] = {0, INTAKE_MAX_DATAGRAM - 1};
    int status;

    if (reader_need(section, "at", why) == NULL)
        return ERR_USAGE;
    field->big_endian = ground->big_endian;
    status = reader_whole(section, "at", offsets, &field->at, why);
    if (status == 0)
        status = layout_read_type(section, "type", false, &field->type, why);
    if (status == 0)
        status = layout_read_byte_order(section, &field->big_endian, why);
    if (status == 0)
        status = read_bit(section, field, why);
    return status;
}

static int read_key(cfg_t *section, const struct intake_packet *packet,
                    struct intake_field *field, const struct reader_why *why)
{
    enum intake_type type = packet->key_type;
    uint32_t bits = 8 * intake_type_size(type);
    bool has_sign = type == INTAKE_I8 || type == INTAKE_I16 ||
                    type == INTAKE_I32 || type == INTAKE_I64;
    int64_t most = bits == 64
                       ? INT64_MAX
                       : (INT64_C(1) << (has_sign ? bits - 1 : bits)) - 1;
    int64_t least = has_sign ? -most - 1 : 0;
    int64_t bounds[2] = {least, most};

    if (reader_need(section, "key", why) == NULL)
        return ERR_USAGE;
    return reader_integer(section, "key", bounds, &field->key, why);
}

/* A name in pairs, a path in JSON: the channel's own when none is given. */
static int read_name(cfg_t *section, const char *option,
                     struct intake_field *field, const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, option);
    size_t length;

    if (value == NULL) {
        const char *title = cfg_title(section);

        memcpy(field->name, title, strlen(title) + 1);
        return 0;
    }
    length = strlen(value->text);
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)value->text[i];

        if (c < ' ' || c == '"' || c == '\\')
            length = 0;
    }
    if (length == 0)
        return reader_fail(why, section, value->at,
                           "%s = \"%s\" cannot be used; accepted: 1 to %d "
                           "characters, no quote or backslash among them",
                           option, value->text, INTAKE_FIELD_NAME - 1);
    return reader_text(section, option, field->name, sizeof field->name, why);
}

static int check_path(cfg_t *section, const struct intake_field *field,
                      const struct reader_why *why)
{
    const char *path = field->name;
    size_t length = strlen(path);

    if (path[0] == '.' || path[length - 1] == '.' || strstr(path, "..") != NULL)
        return reader_fail(why, section, reader_get(section, "path")->at,
                           "path = \"%s\" cannot be used; accepted: names and "
                           "numbers with a dot between them, such as "
                           "attitude.heading or values.3",
                           path);
    return 0;
}

static int read_place(cfg_t *section, const struct layout_ground *ground,
                      const struct intake_packet *packet,
                      struct intake_field *field, const struct reader_why *why)
{
    static const uint32_t columns[2] = {1, INTAKE_MAX_COLUMNS};
    int status = 0;

    switch (ground->layout->form) {
    case INTAKE_FORM_TEXT:
        if (reader_need(section, "column", why) == NULL)
            return ERR_USAGE;
        return reader_whole(section, "column", columns, &field->column, why);
    case INTAKE_FORM_RECORDS:
        status = read_key(section, packet, field, why);
        if (status != 0)
            return status;
        return read_bytes(section, ground, field, why);
    case INTAKE_FORM_BINARY: return read_bytes(section, ground, field, why);
    case INTAKE_FORM_JSON:
        status = read_name(section, "path", field, why);
        return status == 0 ? check_path(section, field, why) : status;
    case INTAKE_FORM_PAIRS: return read_name(section, "name", field, why);
    case INTAKE_FORM_NMEA:
        /* Without a name the sentences themselves say which. */
        if (reader_get(section, "name") == NULL)
            return 0;
        return read_name(section, "name", field, why);
    default: return 0;
    }
}

/* ---- what it must fit --------------------------------------------------- */

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
        return reader_fail(why, section, reader_get(section, "column")->at,
                           "column %u is taken by starts_with; accepted: %u "
                           "to %d",
                           field->column, taken + 1, INTAKE_MAX_COLUMNS);
    return 0;
}

static bool overlaps(const struct intake_packet *packet,
                     const struct intake_field *a, const struct intake_field *b)
{
    if (packet->record_size != 0 && a->key != b->key)
        return false;
    return a->at < end_of(b) && b->at < end_of(a) &&
           (a->at != b->at || a->type != b->type);
}

static int check_bytes(cfg_t *section, const struct intake_packet *packet,
                       const struct intake_field *field,
                       const struct reader_why *why)
{
    uint32_t crc = packet->checksum == INTAKE_CHECKSUM_CRC16 ? 2 : 0;
    uint32_t most =
        (packet->size != 0 ? packet->size : INTAKE_MAX_DATAGRAM) - crc;
    struct place at = reader_get(section, "at")->at;
    const char *whole = "packet";
    uint32_t begin = packet->starts_at;
    uint32_t end = begin + packet->starts_with_length;

    if (packet->record_size != 0) {
        most = packet->record_size;
        whole = "record";
        begin = 0;
        end = intake_type_size(packet->key_type);
    }
    if (end_of(field) > most)
        return reader_fail(why, section, at,
                           "field \"%s\" ends at byte %u, beyond the %s's "
                           "%u%s",
                           cfg_title(section), end_of(field), whole, most,
                           crc != 0 ? " before the checksum" : "");
    if (field->at < end && end_of(field) > begin)
        return reader_fail(
            why, section, at, "field \"%s\" lies in %s, bytes %u to %u",
            cfg_title(section),
            packet->record_size != 0 ? "the record's key" : "starts_with",
            begin, end - 1);
    for (const struct intake_field *other = packet->field; other < field;
         other++) {
        if (overlaps(packet, field, other))
            return reader_fail(
                why, section, at, "field \"%s\" overlaps field \"%s\"",
                cfg_title(section), intake_channel_name(other->channel));
    }
    return 0;
}

static int read_field(cfg_t *section, const struct layout_ground *ground,
                      const struct intake_packet *packet,
                      struct intake_field *field, const struct reader_why *why)
{
    enum intake_form form = ground->layout->form;
    int status;

    memset(field, 0, sizeof *field);
    field->scale = 1.0;
    field->line = (uint32_t)reader_place(section).line;
    field->has_missing = reader_get(section, "missing") != NULL;
    status = layout_refuse(section, field_options,
                           sizeof field_options / sizeof field_options[0], form,
                           why);
    if (status == 0)
        status = read_channel(section, &field->channel, why);
    if (status == 0)
        status = read_place(section, ground, packet, field, why);
    if (status == 0)
        status = reader_truth(section, "optional", &field->optional, why);
    if (status == 0)
        status = read_meaning(section, ground, field, why);
    if (status == 0 && form == INTAKE_FORM_TEXT)
        status = check_column(section, packet, field, why);
    if (status == 0 && (FORM_BIT(form) & FORMS_BYTES) != 0)
        status = check_bytes(section, packet, field, why);
    return status;
}

int layout_read_fields(cfg_t *section, const struct layout_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why)
{
    unsigned count = cfg_size(section, "field");

    if (count == 0 || count > INTAKE_MAX_FIELDS)
        return reader_fail(why, section, reader_place(section),
                           "packet \"%s\" has %u fields; accepted: 1 to %d",
                           cfg_title(section), count, INTAKE_MAX_FIELDS);
    for (unsigned i = 0; i < count; i++) {
        int status = read_field(cfg_getnsec(section, "field", i), ground,
                                packet, &packet->field[i], why);

        if (status != 0)
            return status;
        packet->field_count++;
    }
    return 0;
}
