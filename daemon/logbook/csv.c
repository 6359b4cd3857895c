/* csv.c - records and fields of a CSV file. */
#include "csv.h"

#include <stdlib.h>
#include <string.h>

/* ---- reading ------------------------------------------------------------ */

static bool at_line_end(const struct csv_reader *reader, const char *at)
{
    return at < reader->end &&
           (*at == '\n' ||
            (*at == '\r' && at + 1 < reader->end && at[1] == '\n'));
}

/* The closing quote of a field whose text begins at "at"; NULL: none. */
static const char *closing_quote(const struct csv_reader *reader,
                                 const char *at)
{
    const char *most =
        reader->end - at > CSV_MAX_QUOTED ? at + CSV_MAX_QUOTED : reader->end;

    while ((at = memchr(at, '"', (size_t)(most - at))) != NULL) {
        if (at + 1 >= most || at[1] != '"')
            return at;
        at += 2;
        if (at >= most)
            return NULL;
    }
    return NULL;
}

static void add(struct csv_record *record, const char *at, size_t length,
                bool quoted)
{
    if (record->count == CSV_MAX_FIELDS)
        record->broken = true;
    else
        record->field[record->count++] = (struct csv_field){at, length, quoted};
}

/* Read the field at reader->at. Returns: whether another one follows. */
static bool read_field(struct csv_reader *reader, struct csv_record *record)
{
    const char *begin = reader->at;
    const char *at = begin;
    bool quoted = false;

    if (at < reader->end && *at == '"') {
        const char *close = closing_quote(reader, at + 1);

        if (close != NULL) {
            quoted = true;
            begin++;
            at = close + 1;
            for (const char *c = begin; c < close; c++)
                reader->line += *c == '\n';
            add(record, begin, (size_t)(close - begin), true);
        } else {
            record->broken = true;
        }
    }
    for (; at < reader->end && *at != reader->separator &&
           !at_line_end(reader, at);
         at++)
        if (quoted)
            record->broken = true;
    if (!quoted)
        add(record, begin, (size_t)(at - begin), false);
    reader->at = at;
    if (at == reader->end || *at != reader->separator)
        return false;
    reader->at++;
    return true;
}

bool csv_next(struct csv_reader *reader, struct csv_record *out)
{
    if (reader->at == reader->end)
        return false;
    out->begin = reader->at;
    out->line = reader->line;
    out->broken = false;
    out->count = 0;
    while (read_field(reader, out))
        ;
    out->length = (size_t)(reader->at - out->begin);
    /* What a disk that lost its power leaves of a row. */
    if (memchr(out->begin, '\0', out->length) != NULL)
        out->broken = true;
    out->ended = reader->at < reader->end;
    if (out->ended) {
        reader->at += *reader->at == '\r' ? 2 : 1;
        reader->line++;
    }
    return true;
}

void csv_copy(const struct csv_field *field, char *out, size_t size)
{
    size_t used = 0;

    for (size_t i = 0; i < field->length && used + 1 < size; i++) {
        out[used++] = field->at[i];
        if (field->quoted && field->at[i] == '"')
            i++;
    }
    out[used] = '\0';
}

/* ---- writing ------------------------------------------------------------ */

void csv_put_bytes(struct csv_text *to, const void *bytes, size_t length)
{
    if (to->failed || length == 0)
        return;
    if (to->length + length > to->capacity) {
        size_t capacity = 2 * (to->length + length) + 1024;
        char *text = realloc(to->text, capacity);

        if (text == NULL) {
            to->failed = true;
            return;
        }
        to->text = text;
        to->capacity = capacity;
    }
    memcpy(to->text + to->length, bytes, length);
    to->length += length;
}

void csv_put_field(struct csv_text *to, const char *text, char separator)
{
    const char needing[] = {'"', '\r', '\n', separator, '\0'};

    if (text[strcspn(text, needing)] == '\0') {
        csv_put_bytes(to, text, strlen(text));
        return;
    }
    csv_put_bytes(to, "\"", 1);
    for (; *text != '\0'; text++) {
        if (*text == '"')
            csv_put_bytes(to, "\"", 1);
        csv_put_bytes(to, text, 1);
    }
    csv_put_bytes(to, "\"", 1);
}
