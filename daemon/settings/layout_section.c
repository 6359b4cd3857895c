/* layout_section.c - the description of packets. */
#include <string.h>

#include "layout_words.h"
#include "quarterturn/error.h"
#include "sections.h"

enum { LIST_SIZE = 320 };

/* ---- words ------------------------------------------------------------- */

int layout_fail_word(cfg_t *section, const char *name, const char *accepted,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);

    return reader_fail(why, section, value->at,
                       "%s = \"%s\" is not known; accepted: %s", name,
                       value->text, accepted);
}

int layout_refuse(cfg_t *section, const struct layout_option *option,
                  size_t count, enum intake_form form,
                  const struct reader_why *why)
{
    for (size_t i = 0; i < count; i++) {
        const struct reader_value *value = reader_get(section, option[i].name);

        if (value != NULL && (option[i].forms & FORM_BIT(form)) == 0)
            return reader_fail(why, section, value->at,
                               "%s has no meaning in form \"%s\"",
                               option[i].name, intake_form_name(form));
    }
    return 0;
}

int layout_read_byte_order(cfg_t *section, bool *big_endian,
                           const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "byte_order");

    if (value == NULL)
        return 0;
    if (strcmp(value->text, "little") != 0 && strcmp(value->text, "big") != 0)
        return layout_fail_word(section, "byte_order", "little, big", why);
    *big_endian = strcmp(value->text, "big") == 0;
    return 0;
}

int layout_read_type(cfg_t *section, const char *name, bool integer,
                     enum intake_type *out, const struct reader_why *why)
{
    const struct reader_value *value = reader_need(section, name, why);
    char accepted[LIST_SIZE] = "";

    if (value == NULL)
        return ERR_USAGE;
    if (intake_type_find(value->text, out) == 0 &&
        !(integer && (*out == INTAKE_F32 || *out == INTAKE_F64)))
        return 0;
    for (int i = 0; i < (integer ? INTAKE_F32 : INTAKE_TYPE_COUNT); i++)
        reader_list_add(accepted, sizeof accepted,
                        intake_type_name((enum intake_type)i));
    return layout_fail_word(section, name, accepted, why);
}

static int read_form(cfg_t *section, enum intake_form *out,
                     const struct reader_why *why)
{
    const struct reader_value *value = reader_need(section, "form", why);
    char accepted[LIST_SIZE] = "";

    if (value == NULL)
        return ERR_USAGE;
    if (intake_form_find(value->text, out) == 0)
        return 0;
    for (int i = 0; i < INTAKE_FORM_COUNT; i++)
        reader_list_add(accepted, sizeof accepted,
                        intake_form_name((enum intake_form)i));
    return layout_fail_word(section, "form", accepted, why);
}

/* ---- packets ----------------------------------------------------------- */

static const struct layout_option packet_options[] = {
    {"size", FORMS_DECLARED},
    {"min_size", FORMS_DECLARED},
    {"starts_with", FORMS_DECLARED},
    {"starts_at", FORMS_BYTES},
    {"separator", FORMS_LINES},
    {"decimal", FORMS_WORDS},
    {"assign", FORM_BIT(INTAKE_FORM_PAIRS)},
    {"records_at", FORM_BIT(INTAKE_FORM_RECORDS)},
    {"record_size", FORM_BIT(INTAKE_FORM_RECORDS)},
    {"key_type", FORM_BIT(INTAKE_FORM_RECORDS)},
    {"checksum", FORMS_LINES | FORMS_BYTES},
};

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
        high = intake_hex_digit(text[0]);
        low = high < 0 ? -1 : intake_hex_digit(text[1]);
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
        return reader_fail(why, section, value->at,
                           "starts_with = \"%s\" cannot be used; accepted: 1 "
                           "to %d characters, or \"hex:\" and as many bytes "
                           "in hexadecimal",
                           value->text, INTAKE_MAX_PREFIX);
    if (packet->starts_with_length == 0)
        packet->starts_with_length = (uint32_t)length;
    return 0;
}

/* One character, or a word for a blank. */
static bool read_mark(const struct reader_value *value, const char *marks,
                      char *out)
{
    if (strcmp(value->text, "tab") == 0)
        *out = '\t';
    else if (strcmp(value->text, "space") == 0)
        *out = ' ';
    else if (strlen(value->text) == 1 && strchr(marks, value->text[0]) != NULL)
        *out = value->text[0];
    else
        return false;
    return true;
}

static int read_separator(cfg_t *section, struct intake_packet *packet,
                          const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "separator");

    packet->separator = ',';
    if (value == NULL ||
        read_mark(value, ",;:|/\t !#$%&*=_~", &packet->separator))
        return 0;
    return layout_fail_word(section, "separator",
                            "one of , ; : | / ! # $ % & * = _ ~ tab space",
                            why);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static int read_assign(cfg_t *section, struct intake_packet *packet,
                       const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "assign");

    packet->assign = '=';
    if (value != NULL && !read_mark(value, "=:|/\t !#&~<>", &packet->assign))
        return layout_fail_word(section, "assign",
                                "one of = : | / ! # & ~ < > tab space", why);
    if (packet->assign == packet->separator ||
        (is_blank(packet->assign) && is_blank(packet->separator)))
        return reader_fail(why, section,
                           value != NULL ? value->at : reader_place(section),
                           "assign and separator must differ");
    return 0;
}

static int read_decimal(cfg_t *section, bool among_commas,
                        struct intake_packet *packet,
                        const struct reader_why *why)
{
    const struct reader_value *decimal = reader_get(section, "decimal");

    if (decimal == NULL)
        return 0;
    if (strcmp(decimal->text, "point") != 0 &&
        strcmp(decimal->text, "comma") != 0)
        return layout_fail_word(section, "decimal", "point, comma", why);
    packet->decimal_comma = strcmp(decimal->text, "comma") == 0;
    if (packet->decimal_comma && among_commas)
        return reader_fail(why, section, decimal->at,
                           "decimal = \"comma\" needs another separator than "
                           "a comma");
    return 0;
}

static int read_checksum(cfg_t *section, const struct layout_ground *ground,
                         struct intake_packet *packet,
                         const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, "checksum");
    bool bytes = (FORM_BIT(ground->layout->form) & FORMS_BYTES) != 0;

    if (value == NULL || strcmp(value->text, "none") == 0)
        return 0;
    packet->checksum_big_endian = ground->big_endian;
    packet->checksum = bytes ? INTAKE_CHECKSUM_CRC16 : INTAKE_CHECKSUM_XOR;
    if (strcmp(value->text, bytes ? "crc16" : "xor") == 0)
        return 0;
    return layout_fail_word(section, "checksum",
                            bytes ? "none, crc16" : "none, xor", why);
}

static uint32_t beginning_end(const struct intake_packet *packet)
{
    return packet->starts_at + packet->starts_with_length;
}

static int read_records(cfg_t *section, const struct layout_ground *ground,
                        struct intake_packet *packet,
                        const struct reader_why *why)
{
    uint32_t places[2] = {beginning_end(packet), INTAKE_MAX_DATAGRAM - 1};
    uint32_t sizes[2] = {2, INTAKE_MAX_DATAGRAM};
    int status =
        layout_read_type(section, "key_type", true, &packet->key_type, why);

    if (status != 0 || reader_need(section, "record_size", why) == NULL)
        return ERR_USAGE;
    packet->key_big_endian = ground->big_endian;
    packet->records_at = places[0];
    sizes[0] = intake_type_size(packet->key_type) + 1;
    status =
        reader_whole(section, "records_at", places, &packet->records_at, why);
    if (status == 0)
        status = reader_whole(section, "record_size", sizes,
                              &packet->record_size, why);
    return status;
}

/* What only some forms have. */
static int read_nature(cfg_t *section, const struct layout_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why)
{
    unsigned form = FORM_BIT(ground->layout->form);
    int status = read_checksum(section, ground, packet, why);

    if (status == 0 && (form & FORMS_LINES) != 0)
        status = read_separator(section, packet, why);
    if (status == 0 && ground->layout->form == INTAKE_FORM_PAIRS)
        status = read_assign(section, packet, why);
    if (status == 0 && (form & FORMS_WORDS) != 0)
        status = read_decimal(
            section, (form & FORMS_LINES) != 0 && packet->separator == ',',
            packet, why);
    if (status == 0 && ground->layout->form == INTAKE_FORM_RECORDS)
        status = read_records(section, ground, packet, why);
    return status;
}

static int read_guard(cfg_t *section, struct intake_packet *packet,
                      const struct reader_why *why)
{
    static const uint32_t sizes[2] = {1, INTAKE_MAX_DATAGRAM};
    static const uint32_t places[2] = {0,
                                       INTAKE_MAX_DATAGRAM - INTAKE_MAX_PREFIX};
    int status = reader_whole(section, "size", sizes, &packet->size, why);

    if (status == 0)
        status =
            reader_whole(section, "min_size", sizes, &packet->min_size, why);
    if (status == 0)
        status = read_beginning(section, packet, why);
    if (status == 0)
        status =
            reader_whole(section, "starts_at", places, &packet->starts_at, why);
    if (status == 0 && packet->starts_at != 0 &&
        packet->starts_with_length == 0)
        status = reader_fail(why, section, reader_get(section, "starts_at")->at,
                             "starts_at needs starts_with");
    if (status == 0 && packet->size != 0 &&
        (packet->min_size > packet->size ||
         beginning_end(packet) > packet->size))
        status = reader_fail(why, section, reader_place(section),
                             "packet \"%s\": min_size and starts_with must "
                             "fit size",
                             packet->name);
    return status;
}

static int read_packet(cfg_t *section, const struct layout_ground *ground,
                       struct intake_packet *packet,
                       const struct reader_why *why)
{
    int status =
        section_read_name(section, packet->name, sizeof packet->name, why);

    if (status == 0)
        status = layout_refuse(section, packet_options,
                               sizeof packet_options / sizeof packet_options[0],
                               ground->layout->form, why);
    if (status == 0)
        status = read_guard(section, packet, why);
    if (status == 0)
        status = read_nature(section, ground, packet, why);
    return status == 0 ? layout_read_fields(section, ground, packet, why)
                       : status;
}

/* Whether every datagram that fits `later` fits `first` too. */
static bool covers(const struct intake_packet *first,
                   const struct intake_packet *later)
{
    uint32_t least = later->size != 0 ? later->size : later->min_size;

    if (first->size != 0 && first->size != later->size)
        return false;
    if (first->min_size > least)
        return false;
    return first->starts_with_length == 0 ||
           (first->starts_at == later->starts_at &&
            first->starts_with_length <= later->starts_with_length &&
            memcmp(first->starts_with, later->starts_with,
                   first->starts_with_length) == 0);
}

static int check_reached(cfg_t *section, const struct intake_layout *layout,
                         const struct intake_packet *packet,
                         const struct reader_why *why)
{
    for (const struct intake_packet *first = layout->packet; first < packet;
         first++) {
        if (covers(first, packet))
            return reader_fail(why, section, reader_place(section),
                               "packet \"%s\" is never reached: by size and "
                               "starts_with, packet \"%s\" before it takes "
                               "all of its datagrams",
                               packet->name, first->name);
    }
    return 0;
}

/* ---- layouts ----------------------------------------------------------- */

static const struct layout_option layout_options[] = {
    {"byte_order", FORMS_BYTES},
    {"still_air", FORM_BIT(INTAKE_FORM_DIS)},
    {"system", FORM_BIT(INTAKE_FORM_MAVLINK)},
    {"time_wrap", FORMS_DECLARED},
};

static int read_port(cfg_t *section, struct intake_layout *out,
                     const struct reader_why *why)
{
    static const uint32_t ports[2] = {1, 65535};
    uint32_t port = 0;
    int status = reader_whole(section, "port", ports, &port, why);

    out->port = (uint16_t)port;
    return status;
}

static int read_system(cfg_t *section, struct intake_layout *out,
                       const struct reader_why *why)
{
    static const uint32_t systems[2] = {1, 255};
    uint32_t system = 0;
    int status = reader_whole(section, "system", systems, &system, why);

    out->system = reader_get(section, "system") == NULL ? -1 : (int32_t)system;
    return status;
}

/* The standards' clocks wrap as the standards say; others as their layout. */
static int read_time_wrap(cfg_t *section, struct intake_layout *out,
                          const struct reader_why *why)
{
    static const struct reader_quantity row = {"time_wrap", UNIT_S, false,
                                               1.0,         1e9,    0};

    out->sim_time_wrap_s = intake_form_time_wrap_s(out->form);
    return reader_quantities(section, &row, 1, &out->sim_time_wrap_s, why);
}

static int read_whole_layout(cfg_t *section, struct layout_ground *ground,
                             const struct reader_why *why)
{
    struct intake_layout *out = ground->layout;
    const struct reader_value *version = reader_get(section, "version");
    int status = read_form(section, &out->form, why);

    if (status == 0 && version != NULL && strcmp(version->text, "1") != 0)
        status = layout_fail_word(section, "version", "1", why);
    if (status == 0)
        status = layout_refuse(section, layout_options,
                               sizeof layout_options / sizeof layout_options[0],
                               out->form, why);
    if (status == 0)
        status = layout_read_byte_order(section, &ground->big_endian, why);
    if (status == 0)
        status = read_port(section, out, why);
    if (status == 0)
        status = reader_truth(section, "still_air", &out->still_air, why);
    if (status == 0)
        status = read_system(section, out, why);
    if (status == 0)
        status = read_time_wrap(section, out, why);
    return status;
}

int section_read_layout(cfg_t *section, struct intake_layout *out,
                        const struct reader_why *why)
{
    struct layout_ground ground = {out, false};
    unsigned count = cfg_size(section, "packet");
    unsigned least;
    unsigned most;
    int status;

    memset(out, 0, sizeof *out);
    status = section_read_name(section, out->name, sizeof out->name, why);
    if (status == 0)
        status = read_whole_layout(section, &ground, why);
    if (status != 0)
        return status;
    /* A standard says itself what its packets hold; one packet section may
     * say more about it. */
    least = (FORM_BIT(out->form) & FORMS_DECLARED) != 0 ? 1 : 0;
    most = least == 1 ? INTAKE_MAX_PACKETS : 1;
    if (count < least || count > most)
        return reader_fail(why, section, reader_place(section),
                           "layout \"%s\" has %u packets; accepted: %u to %u",
                           out->name, count, least, most);
    for (unsigned i = 0; i < count; i++) {
        cfg_t *at = cfg_getnsec(section, "packet", i);

        status = read_packet(at, &ground, &out->packet[i], why);
        if (status == 0)
            status = check_reached(at, out, &out->packet[i], why);
        if (status != 0)
            return status;
        out->packet_count++;
    }
    return 0;
}
