/* discover_form.c - what the datagrams of an unknown stream are made of. */
#include <string.h>

#include "bytes.h"
#include "decode.h"
#include "discover.h"
#include "quarterturn/error.h"

enum {
    LOOKED_AT = 200, /* datagrams a form is judged by */
    MOST_HEADER = 32,
    LEAST_RECORD = 8,
    MOST_RECORD = 128,
    MOST_KEY = 4095,
    MOST_KEYS = 64
};

static const uint8_t *bytes_of(const struct intake_discovery *d,
                               const struct discover_datagram *datagram)
{
    return d->bytes + datagram->at;
}

/* Keep only what was sent to one port. */
static int choose_port(struct intake_discovery *d, uint16_t port)
{
    uint32_t kept = 0;
    uint32_t best = 0;

    for (uint32_t i = 0; port == 0 && i < d->datagram_count && i < 1000; i++) {
        uint32_t count = 0;

        for (uint32_t k = 0; k < d->datagram_count; k++)
            count += d->datagram[k].port == d->datagram[i].port;
        if (count > best) {
            best = count;
            d->port = d->datagram[i].port;
        }
        if (best * 2 > d->datagram_count)
            break;
    }
    if (port != 0)
        d->port = port;
    for (uint32_t i = 0; i < d->datagram_count; i++) {
        if (d->datagram[i].port == d->port && d->datagram[i].length > 0)
            d->datagram[kept++] = d->datagram[i];
    }
    d->datagram_count = kept;
    return kept == 0 ? ERR_ABSENT : 0;
}

/* ---- text --------------------------------------------------------------- */

static bool is_text(const uint8_t *data, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        bool last = i + 1 == length;

        if (!(data[i] >= 0x20 && data[i] < 0x7f) && data[i] != '\t' &&
            data[i] != '\r' && data[i] != '\n' && !(last && data[i] == 0))
            return false;
    }
    return true;
}

static void count_number(void *context, const char *name, size_t name_length,
                         uint32_t column, double value)
{
    uint32_t *count = context;

    (void)name;
    (void)name_length;
    (void)column;
    (void)value;
    *count += 1;
}

/* How many numbers the first datagrams give, read so; 0 when some cannot be
 * read so at all. */
static uint32_t numbers_in(const struct intake_discovery *d,
                           const struct discover_form *form)
{
    uint32_t count = 0;
    uint32_t failed = 0;

    for (uint32_t i = 0; i < d->datagram_count && i < LOOKED_AT; i++)
        failed +=
            discover_scan(form, bytes_of(d, &d->datagram[i]),
                          d->datagram[i].length, count_number, &count) < 1;
    return failed > LOOKED_AT / 20 || failed == d->datagram_count ? 0 : count;
}

static uint32_t try_form(const struct intake_discovery *d,
                         const struct discover_form *form,
                         struct discover_form *best, uint32_t most)
{
    uint32_t count = numbers_in(d, form);

    if (count > most) {
        *best = *form;
        return count;
    }
    return most;
}

static int recognise_text(struct intake_discovery *d)
{
    static const char separators[] = ",;\t| :/&";
    static const char assigns[] = "=:";
    struct discover_form form = {.form = INTAKE_FORM_JSON};
    uint32_t most = try_form(d, &form, &d->form, 0);

    if (most > 0)
        return 0;
    form.form = INTAKE_FORM_PAIRS;
    for (size_t i = 0; i < strlen(assigns) * strlen(separators) * 2; i++) {
        form.decimal_comma = i % 2 != 0;
        form.assign = assigns[i / 2 % strlen(assigns)];
        form.separator = separators[i / 2 / strlen(assigns)];
        if (form.separator != form.assign &&
            !(form.decimal_comma && form.separator == ','))
            most = try_form(d, &form, &d->form, most);
    }
    if (most > 0)
        return 0;
    form = (struct discover_form){.form = INTAKE_FORM_TEXT};
    for (size_t i = 0; i < strlen(separators) * 2; i++) {
        form.decimal_comma = i % 2 != 0;
        form.separator = separators[i / 2];
        if (!(form.decimal_comma && form.separator == ','))
            most = try_form(d, &form, &d->form, most);
    }
    return most > 0 ? 0 : ERR_FORMAT;
}

/* ---- records ------------------------------------------------------------ */

static int64_t read_key(const struct discover_form *form, const uint8_t *b)
{
    return form->key_type == INTAKE_U32
               ? (int64_t)bytes_u32(b, form->key_big_endian)
               : (int64_t)bytes_u16(b, form->key_big_endian);
}

/* Whether every datagram is a header and records with small keys, each key
 * once in a datagram, few of them in all, and the same ones in the same place
 * while the size is the same. Short keys must come thrice: numbers hold such
 * bytes too. */
static bool fits_records(const struct intake_discovery *d,
                         const struct discover_form *form)
{
    int64_t known[MOST_KEYS];
    uint32_t known_count = 0;
    uint32_t records = 0;
    uint32_t looked = 0;
    uint32_t moved = 0;
    uint32_t most = form->key_type == INTAKE_U32 ? 2 : 3;
    uint32_t spread = 1 + d->datagram_count / LOOKED_AT;

    for (uint32_t i = 0; i < d->datagram_count; i += spread) {
        const uint8_t *b = bytes_of(d, &d->datagram[i]);
        uint32_t length = d->datagram[i].length;
        uint64_t seen = 0;

        if (length <= form->records_at ||
            (length - form->records_at) % form->record_size != 0)
            return false;
        looked++;
        for (uint32_t at = form->records_at; at < length;
             at += form->record_size) {
            int64_t key = read_key(form, b + at);
            uint32_t k = 0;

            while (k < known_count && known[k] != key)
                k++;
            if (key > MOST_KEY || k == MOST_KEYS)
                return false;
            if (k == known_count)
                known[known_count++] = key;
            if ((seen >> k & 1) != 0)
                return false;
            seen |= UINT64_C(1) << k;
            records++;
            if (length == d->datagram[0].length &&
                key != read_key(form, bytes_of(d, &d->datagram[0]) + at))
                moved++;
        }
    }
    return records >= most * looked && known_count <= records / 4 &&
           moved <= records / 10;
}

static bool recognise_records(struct intake_discovery *d)
{
    struct discover_form form = {.form = INTAKE_FORM_RECORDS};

    for (form.record_size = LEAST_RECORD; form.record_size <= MOST_RECORD;
         form.record_size++) {
        for (uint32_t variant = 0; variant < 4; variant++) {
            form.key_type = variant < 2 ? INTAKE_U32 : INTAKE_U16;
            form.key_big_endian = variant % 2 != 0;
            for (form.records_at = 0; form.records_at <= MOST_HEADER;
                 form.records_at++) {
                if (fits_records(d, &form)) {
                    d->form = form;
                    return true;
                }
            }
        }
    }
    return false;
}

/* ---- kinds -------------------------------------------------------------- */

/* Text kinds differ by their first letters, binary ones by size and first
 * bytes. */
static bool same_kind(const struct intake_discovery *d,
                      const struct discover_kind *kind,
                      const struct discover_datagram *datagram,
                      uint32_t head_length)
{
    const uint8_t *b = bytes_of(d, datagram);

    if (d->form.form == INTAKE_FORM_BINARY && kind->size != datagram->length)
        return false;
    return head_length <= datagram->length &&
           memcmp(kind->head, b, head_length) == 0;
}

static void narrow_head(struct discover_kind *kind, const uint8_t *b,
                        uint32_t length)
{
    uint32_t i = 0;

    while (i < kind->head_length && i < length && kind->head[i] == b[i])
        i++;
    kind->head_length = i;
    if (length < kind->size_min)
        kind->size_min = length;
    if (length != kind->size)
        kind->size = 0;
}

/* Sort the datagrams into kinds that agree in so many first bytes.
 * Returns: false when there are too many kinds. */
static bool sort_kinds(struct intake_discovery *d, uint32_t head_length)
{
    uint32_t rare = 0;

    d->kind_count = 0;
    memset(d->kind, 0, sizeof d->kind);
    for (uint32_t i = 0; i < d->datagram_count; i++) {
        struct discover_datagram *datagram = &d->datagram[i];
        struct discover_kind *kind = d->kind;

        while (kind < d->kind + d->kind_count &&
               !same_kind(d, kind, datagram, head_length))
            kind++;
        datagram->kind = (uint16_t)(kind - d->kind);
        if (kind == d->kind + DISCOVER_KINDS) {
            rare++;
            continue;
        }
        if (kind == d->kind + d->kind_count) {
            d->kind_count++;
            kind->size = kind->size_min = datagram->length;
            kind->head_length = datagram->length < INTAKE_MAX_PREFIX
                                    ? datagram->length
                                    : INTAKE_MAX_PREFIX;
            memcpy(kind->head, bytes_of(d, datagram), kind->head_length);
        }
        kind->count++;
        if (kind->count > 1)
            narrow_head(kind, bytes_of(d, datagram), datagram->length);
    }
    return rare * 50 < d->datagram_count;
}

/* The letters before the first number or separator. */
static uint32_t letters_at_start(const struct intake_discovery *d)
{
    const uint8_t *b = bytes_of(d, &d->datagram[0]);
    uint32_t i = 0;

    while (i < d->datagram[0].length && i < 8 &&
           ((b[i] >= 'A' && b[i] <= 'Z') || (b[i] >= 'a' && b[i] <= 'z') ||
            b[i] == '$' || b[i] == '@' || b[i] == '#' || b[i] == '!'))
        i++;
    return i;
}

/* How often the kind changes from one datagram to the next. */
static uint32_t count_switches(const struct intake_discovery *d)
{
    uint32_t switches = 0;

    for (uint32_t i = 1; i < d->datagram_count; i++)
        switches += d->datagram[i].kind != d->datagram[i - 1].kind;
    return switches;
}

static int find_kinds(struct intake_discovery *d)
{
    uint32_t switches;

    if (d->form.form == INTAKE_FORM_TEXT) {
        if (!sort_kinds(d, letters_at_start(d)) && !sort_kinds(d, 0))
            return ERR_FORMAT;
        return 0;
    }
    switches = sort_kinds(d, 0) ? count_switches(d) : d->datagram_count;
    if (d->form.form != INTAKE_FORM_BINARY)
        return 0;
    /* First bytes that take few values tell kinds of one size apart, when
     * they take turns; a number's leading byte changes now and then. */
    for (uint32_t head = 4; head > 0; head--) {
        if (sort_kinds(d, head) &&
            count_switches(d) > switches + d->datagram_count / 5)
            return 0;
    }
    return sort_kinds(d, 0) ? 0 : ERR_FORMAT;
}

int discover_recognise(struct intake_discovery *d, uint16_t port)
{
    uint32_t text = 0;
    uint32_t looked = 0;
    int status = choose_port(d, port);

    if (status != 0)
        return status;
    for (; looked < d->datagram_count && looked < LOOKED_AT; looked++)
        text += is_text(bytes_of(d, &d->datagram[looked]),
                        d->datagram[looked].length);
    memset(&d->form, 0, sizeof d->form);
    d->form.form = INTAKE_FORM_BINARY;
    if (text * 20 > looked * 19)
        status = recognise_text(d);
    else
        (void)recognise_records(d);
    return status == 0 ? find_kinds(d) : status;
}

/* ---- the standards ------------------------------------------------------ */

static bool is_sentence(const uint8_t *data, size_t length)
{
    struct intake_packet packet = {.checksum = INTAKE_CHECKSUM_XOR};
    struct decode_line line = decode_last_line((const char *)data, length);
    const uint8_t *star = memchr(data, '*', length);

    return line.length > 6 && star != NULL &&
           (line.text[0] == '$' || line.text[0] == '!') &&
           decode_check_line(&packet, &line) == INTAKE_TAKEN;
}

static bool is_entity_state(const uint8_t *data, size_t length)
{
    return length >= 144 && data[0] >= 5 && data[0] <= 7 && data[2] == 1 &&
           data[3] == 1 && bytes_u16(data + 8, true) == length &&
           length == 144 + 16 * (size_t)data[19];
}

/* Frames end to end, by their magic and length bytes. */
static bool is_frames(const uint8_t *data, size_t length)
{
    size_t at = 0;

    while (length - at >= 8) {
        size_t frame = data[at] == 0xfe   ? 8U + data[at + 1]
                       : data[at] == 0xfd ? 12U + data[at + 1]
                                          : 0;

        if (data[at] == 0xfd && (data[at + 2] & 1) != 0)
            frame += 13;
        if (frame == 0 || frame > length - at)
            return false;
        at += frame;
    }
    return at == length && at > 0;
}

bool discover_standard(const struct intake_discovery *d, enum intake_form *out)
{
    static const struct {
        enum intake_form form;
        bool (*is)(const uint8_t *data, size_t length);
    } standards[] = {{INTAKE_FORM_NMEA, is_sentence},
                     {INTAKE_FORM_DIS, is_entity_state},
                     {INTAKE_FORM_MAVLINK, is_frames}};

    for (size_t s = 0; s < sizeof standards / sizeof standards[0]; s++) {
        uint32_t fit = 0;
        uint32_t looked = 0;

        for (; looked < d->datagram_count && looked < LOOKED_AT; looked++)
            fit += standards[s].is(bytes_of(d, &d->datagram[looked]),
                                   d->datagram[looked].length);
        if (fit * 10 >= looked * 8 && fit > 0) {
            *out = standards[s].form;
            return true;
        }
    }
    return false;
}
