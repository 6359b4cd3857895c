/* decode_text.c - numbers in columns.
 *
 * One datagram is one message. When it holds several lines, the last one
 * counts: the earlier ones are older. What ends a line (CR, LF, NUL) and
 * blanks at its end do not matter, and the last line needs no end. Columns
 * are counted from the line's beginning, starts_with included. */
#include "decode.h"

#include <assert.h>
#include <string.h>

static bool is_line_end(char c)
{
    return c == '\n' || c == '\r' || c == '\0';
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

struct decode_line decode_last_line(const uint8_t *data, size_t length)
{
    const char *text = (const char *)data;
    size_t end = length;
    size_t begin;

    while (end > 0 && (is_line_end(text[end - 1]) || is_blank(text[end - 1])))
        end--;
    begin = end;
    while (begin > 0 && !is_line_end(text[begin - 1]))
        begin--;
    return (struct decode_line){text + begin, end - begin};
}

static size_t skip_blanks(struct decode_line line, size_t at)
{
    while (at < line.length && is_blank(line.text[at]))
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
    while (first < line.length && is_blank(line.text[first]) &&
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

static struct decode_line trim(struct decode_line column)
{
    size_t begin = skip_blanks(column, 0);
    size_t end = column.length;

    while (end > begin && is_blank(column.text[end - 1]))
        end--;
    return (struct decode_line){column.text + begin, end - begin};
}

static struct decode_line unquote(struct decode_line column)
{
    column = trim(column);
    if (column.length < 2 || column.text[0] != '"' ||
        column.text[column.length - 1] != '"')
        return column;
    return trim((struct decode_line){column.text + 1, column.length - 2});
}

/* ASCII letters without regard to case. */
static bool is_word(struct decode_line column, const char *word)
{
    if (column.length != strlen(word))
        return false;
    for (size_t i = 0; i < column.length; i++) {
        char c = column.text[i];

        if (c >= 'A' && c <= 'Z')
            c = (char)(c - 'A' + 'a');
        if (c != word[i])
            return false;
    }
    return true;
}

/* What printf makes of a value that the sender does not have. */
static bool is_nan_word(struct decode_line column)
{
    if (column.length > 0 && (column.text[0] == '-' || column.text[0] == '+')) {
        column.text++;
        column.length--;
    }
    return is_word(column, "nan");
}

static enum intake_reject take_column(const struct intake_packet *packet,
                                      const struct intake_field *field,
                                      struct decode_line column,
                                      struct intake_sample *out)
{
    char decimal = packet->decimal_comma ? ',' : '.';
    double raw;

    column = unquote(column);
    if (field->optional && (column.length == 0 || is_nan_word(column)))
        return INTAKE_TAKEN;
    if (decode_number(column.text, column.length, decimal, &raw))
        return decode_store(field, raw, out);
    if (field->unit == UNIT_BOOL && is_word(column, "true"))
        return decode_store(field, 1.0, out);
    if (field->unit == UNIT_BOOL && is_word(column, "false"))
        return decode_store(field, 0.0, out);
    return INTAKE_NOT_A_NUMBER;
}

enum intake_reject decode_text(const struct intake_packet *packet,
                               struct decode_line line,
                               struct intake_sample *out)
{
    struct decode_line column[INTAKE_MAX_COLUMNS];
    uint32_t most = 0;
    uint32_t count;

    for (uint32_t i = 0; i < packet->field_count; i++) {
        if (packet->field[i].column > most)
            most = packet->field[i].column;
    }
    count = split_columns(line, packet->separator, column, most);
    for (uint32_t i = 0; i < packet->field_count; i++) {
        const struct intake_field *field = &packet->field[i];
        enum intake_reject reject;

        assert(field->column > 0);
        if (field->column > count) {
            if (field->optional)
                continue;
            return INTAKE_TOO_FEW_COLUMNS;
        }
        reject = take_column(packet, field, column[field->column - 1], out);
        if (reject != INTAKE_TAKEN)
            return reject;
    }
    return INTAKE_TAKEN;
}
