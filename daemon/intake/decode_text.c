/* decode_text.c - numbers in columns.
 *
 * One line is one message. When a datagram holds several lines, the last one
 * counts: the earlier ones are older. A layout of several packets takes the
 * last line of each kind. What ends a line (CR, LF, NUL) and blanks at its
 * end do not matter, and the last line needs no end. Columns are counted from
 * the line's beginning, starts_with included. */
#include <assert.h>
#include <string.h>

#include "decode.h"

static size_t skip_blanks(struct decode_line line, size_t at)
{
    while (at < line.length && decode_is_blank(line.text[at]))
        at++;
    return at;
}

/* Where the column that begins at `at` ends: at a separator or at the end.
 * A quoted column may hold separators. */
static size_t column_end(struct decode_line line, size_t at, char separator)
{
    size_t first = at;
    const char *hit;

    /* A tab that separates is no blank before a quote. */
    while (first < line.length && decode_is_blank(line.text[first]) &&
           line.text[first] != separator)
        first++;
    if (first < line.length && line.text[first] == '"') {
        hit = memchr(line.text + first + 1, '"', line.length - first - 1);
        if (hit != NULL)
            at = (size_t)(hit - line.text) + 1;
    }
    hit = memchr(line.text + at, separator, line.length - at);
    return hit == NULL ? line.length : (size_t)(hit - line.text);
}

/* Split the first `most` columns.
 * Returns: how many there are, at most `most`. */
static uint32_t split_columns(struct decode_line line, char separator,
                              struct decode_line *column, uint32_t most)
{
    size_t at = 0;
    uint32_t count = 0;

    while (count < most) {
        size_t end;

        /* Where blanks separate, a run of them separates once. */
        if (separator == ' ')
            at = skip_blanks(line, at);
        end = column_end(line, at, separator);
        column[count].text = line.text + at;
        column[count].length = end - at;
        count++;
        if (end == line.length)
            break;
        at = end + 1;
    }
    return count;
}

static enum intake_reject take_line(const struct intake_packet *packet,
                                    struct decode_line line,
                                    struct intake_sample *out)
{
    struct decode_line column[INTAKE_MAX_COLUMNS];
    enum intake_reject reject = decode_check_line(packet, &line);
    uint32_t most = 0;
    uint32_t count;

    if (reject != INTAKE_TAKEN)
        return reject;
    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column > most)
            most = packet->field[i].column;
    }
    count = split_columns(line, packet->separator, column, most);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];

        assert(field->column > 0);
        if (field->column > count) {
            if (field->optional)
                continue;
            return INTAKE_TOO_FEW_COLUMNS;
        }
        reject = decode_word(packet, field, column[field->column - 1], out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}

/* What a newer line has told stands. */
static void merge_older(const struct intake_sample *older,
                        struct intake_sample *out)
{
    uint32_t valid = older->valid & ~out->valid;
    uint32_t beyond = older->beyond & ~(out->valid | out->beyond);

    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if (((valid | beyond) & CHANNEL_BIT(i)) != 0)
            out->value[i] = older->value[i];
    }
    out->valid |= valid;
    out->beyond = (out->beyond | beyond) & ~out->valid;
}

/* Lines of kinds that were seen already, or that no packet fits, are passed
 * over; the newest line comes first, and its values stand. */
enum intake_reject decode_text(const struct intake_layout *layout,
                               const uint8_t *data, size_t length,
                               struct intake_sample *out)
{
    const char *text = (const char *)data;
    struct decode_line line = decode_last_line(text, length);
    bool seen[INTAKE_MAX_PACKETS] = {false};
    uint32_t kinds = 0;

    if (line.length == 0)
        return INTAKE_EMPTY;
    while (line.length > 0) {
        const struct intake_packet *packet =
            decode_packet(layout, length, line.text, line.length);
        struct intake_sample older = {0};

        if (packet != NULL && !seen[packet - layout->packet]) {
            enum intake_reject reject = take_line(packet, line, &older);

            merge_older(&older, out);
            if (reject != INTAKE_TAKEN)
                return reject;
            seen[packet - layout->packet] = true;
            kinds++;
        }
        if (kinds == layout->packet_count)
            break;
        line = decode_last_line(text, (size_t)(line.text - text));
    }
    return kinds > 0 ? INTAKE_TAKEN : INTAKE_NO_PACKET;
}
