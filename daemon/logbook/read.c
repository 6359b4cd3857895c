/* read.c - a logbook as somebody left it. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "columns.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "store.h"

struct reading {
    struct logbook *book;
    struct header header;
    struct csv_reader reader;
    struct id_set seen;
    struct csv_text text; /* of the rows, each ended by a NUL */
    struct csv_record record;
};

static void complain(struct logbook *book, uint32_t line, const char *what)
{
    if (book->unreadable++ == 0)
        (void)snprintf(book->said, sizeof book->said, "%s:%u: %s", book->path,
                       line, what);
}

/* ---- fields ------------------------------------------------------------- */

/* "2026-03-01T10:15:00Z", as we write it. A spreadsheet may have put a blank
 * for the T and left the Z out. Such texts sort by time. */
static bool is_time(const char *text)
{
    static const char form[] = "0000-00-00T00:00";

    for (size_t i = 0; form[i] != '\0'; i++) {
        bool digit = text[i] >= '0' && text[i] <= '9';
        bool fits = form[i] == '0'   ? digit
                    : form[i] == 'T' ? text[i] == 'T' || text[i] == ' '
                                     : text[i] == form[i];

        if (!fits)
            return false;
    }
    return true;
}

/* Keep a text and tell where it begins: the place may still move. */
static size_t keep_text(struct reading *reading, const char *text)
{
    size_t at = reading->text.length;

    csv_put_bytes(&reading->text, text, strlen(text) + 1);
    return at;
}

static double read_number(struct reading *reading,
                          const struct csv_field *field)
{
    char text[32];
    char *end;
    char *comma;
    double value;

    csv_copy(field, text, sizeof text);
    if (text[strspn(text, " ")] == '\0')
        return (double)NAN;
    comma = strchr(text, ',');
    if (comma != NULL && reading->header.separator != ',')
        *comma = '.';
    value = strtod(text, &end);
    if (end != text && end[strspn(end, " ")] == '\0' &&
        strspn(text, "0123456789+-.eE ") == strlen(text) && isfinite(value))
        return value;
    complain(reading->book, reading->record.line,
             "a figure is no number; it counts as not known");
    return (double)NAN;
}

/* The figures that a list names. */
static uint32_t read_list(const struct header *header,
                          const struct csv_field *field)
{
    char text[1024];
    uint32_t bits = 0;
    char *at = text;

    csv_copy(field, text, sizeof text);
    while (*at != '\0') {
        size_t length = strcspn(at, ";");
        char *next = at + length + (at[length] != '\0');

        at[length] = '\0';
        while (length > 0 && at[length - 1] == ' ')
            at[--length] = '\0';
        at += strspn(at, " ");
        for (uint32_t i = 0; i < header->figure_count; i++)
            if (strcmp(header->figure[i], at) == 0)
                bits |= UINT32_C(1) << i;
        at = next;
    }
    return bits;
}

static enum debrief_verdict read_verdict(const char *text)
{
    for (int i = VERDICT_IN_STANDARD; i <= VERDICT_NOT_JUDGED; i++)
        if (strcmp(text, debrief_verdict_name((enum debrief_verdict)i)) == 0)
            return (enum debrief_verdict)i;
    return VERDICT_NOT_JUDGED;
}

/* ---- rows --------------------------------------------------------------- */

/* Where the texts of a row stand, until all have been read. */
struct places {
    size_t begun, person, maneuver, aircraft;
};

static void read_text(struct reading *reading, uint32_t column,
                      struct logbook_row *row, struct places *places)
{
    char text[256];

    csv_copy(&reading->record.field[column], text, sizeof text);
    unguard_text(text);
    switch (reading->header.at[column].kind) {
    case COLUMN_BEGUN:
        if (is_time(text))
            places->begun = keep_text(reading, text);
        break;
    case COLUMN_PERSON: places->person = keep_text(reading, text); break;
    case COLUMN_MANEUVER: places->maneuver = keep_text(reading, text); break;
    case COLUMN_AIRCRAFT: places->aircraft = keep_text(reading, text); break;
    case COLUMN_DIRECTION:
        row->direction = strcmp(text, "right") == 0  ? 1
                         : strcmp(text, "left") == 0 ? -1
                                                     : 0;
        break;
    case COLUMN_VERDICT: row->verdict = read_verdict(text); break;
    case COLUMN_OTHER:
    case COLUMN_STANDARD:
    case COLUMN_HELP:
    case COLUMN_ENDING:
    case COLUMN_REASON:
    case COLUMN_MISSED:
    case COLUMN_NOT_JUDGED:
    case COLUMN_ID:
    case COLUMN_FIGURE:
    case COLUMN_KINDS: break;
    }
}

/* A row that a person wrote may have no id; it counts once for each time it
 * stands there. */
static bool is_doubled(struct reading *reading)
{
    for (uint32_t i = 0; i < reading->header.count; i++) {
        char id[LOGBOOK_ID_SIZE + 1];

        if (reading->header.at[i].kind != COLUMN_ID)
            continue;
        csv_copy(&reading->record.field[i], id, sizeof id);
        return id_number(id) != 0 && id_set_add(&reading->seen, id_number(id));
    }
    return false;
}

static void read_row(struct reading *reading, struct places *places)
{
    struct logbook *book = reading->book;
    struct logbook_row *row = &book->row[book->count];
    double *value = &book->value[(size_t)book->count * book->figure_count];

    *row = (struct logbook_row){.verdict = VERDICT_NOT_JUDGED,
                                .line = reading->record.line};
    *places = (struct places){0, 0, 0, 0};
    for (uint32_t i = 0; i < book->figure_count; i++)
        value[i] = (double)NAN;
    for (uint32_t i = 0; i < reading->header.count; i++) {
        const struct csv_field *field = &reading->record.field[i];

        switch (reading->header.at[i].kind) {
        case COLUMN_FIGURE:
            value[reading->header.at[i].figure] = read_number(reading, field);
            break;
        case COLUMN_MISSED:
            row->missed = read_list(&reading->header, field);
            break;
        case COLUMN_NOT_JUDGED:
            row->not_judged = read_list(&reading->header, field);
            break;
        case COLUMN_OTHER: break;
        default: read_text(reading, i, row, places); break;
        }
    }
    book->count++;
}

/* An empty line, or one of nothing but separators: what a spreadsheet leaves
 * of a row that was cleared. */
static bool is_empty(const struct csv_record *record)
{
    for (uint32_t i = 0; i < record->count; i++)
        if (record->field[i].length > 0)
            return false;
    return true;
}

static void read_rows(struct reading *reading, struct places *places)
{
    while (csv_next(&reading->reader, &reading->record)) {
        if (is_empty(&reading->record))
            continue;
        if (!header_row_whole(&reading->header, &reading->record))
            complain(reading->book, reading->record.line,
                     "a row that is not whole is left out");
        else if (is_doubled(reading))
            reading->book->doubled++;
        else
            read_row(reading, &places[reading->book->count]);
    }
}

/* ---- the whole ---------------------------------------------------------- */

/* To be sorted: where a row was. */
struct order {
    const char *begun;
    uint32_t at;
};

/* Rows without a time come first; those of one second stay as they were. */
static int compare(const void *a, const void *b)
{
    const struct order *one = a;
    const struct order *other = b;
    int by_time = strncmp(one->begun, other->begun, 10);

    /* Behind the day, T and a blank are the same. */
    if (by_time == 0 && one->begun[0] != '\0' && other->begun[0] != '\0')
        by_time = strcmp(one->begun + 11, other->begun + 11);
    return by_time != 0 ? by_time
                        : (one->at > other->at) - (one->at < other->at);
}

static int sort(struct logbook *book)
{
    size_t width = book->figure_count;
    struct order *order = calloc(book->count + 1U, sizeof *order);
    struct logbook_row *row = calloc(book->count + 1U, sizeof *row);
    double *value = calloc(book->count * width + 1U, sizeof *value);

    if (order == NULL || row == NULL || value == NULL) {
        free(order);
        free(row);
        free(value);
        return ERR_NO_MEMORY;
    }
    for (uint32_t i = 0; i < book->count; i++)
        order[i] = (struct order){book->row[i].begun, i};
    qsort(order, book->count, sizeof *order, compare);
    for (uint32_t i = 0; i < book->count; i++) {
        row[i] = book->row[order[i].at];
        if (width > 0)
            memcpy(&value[i * width], &book->value[order[i].at * width],
                   width * sizeof *value);
    }
    free(order);
    free(book->row);
    free(book->value);
    book->row = row;
    book->value = value;
    return 0;
}

static void set_texts(struct logbook *book, const struct places *places)
{
    for (uint32_t i = 0; i < book->count; i++) {
        book->row[i].begun = book->text + places[i].begun;
        book->row[i].person = book->text + places[i].person;
        book->row[i].maneuver = book->text + places[i].maneuver;
        book->row[i].aircraft = book->text + places[i].aircraft;
    }
}

static size_t count_lines(const char *bytes, size_t size)
{
    size_t lines = 1;

    for (const char *end = bytes + size;
         (bytes = memchr(bytes, '\n', (size_t)(end - bytes))) != NULL; bytes++)
        lines++;
    return lines;
}

static int read_book(struct reading *reading, const struct store *store)
{
    struct logbook *book = reading->book;
    size_t most = count_lines(store->bytes, store->size);
    struct places *places;
    int error = header_read(store->bytes, store->size, &reading->reader,
                            &reading->header);

    /* Nothing has been written yet. */
    if (store->size == 0)
        return 0;
    if (error < 0)
        return error;
    book->figure_count = reading->header.figure_count;
    memcpy(book->figure, reading->header.figure, sizeof book->figure);
    memcpy(book->unit, reading->header.unit, sizeof book->unit);
    places = calloc(most, sizeof *places);
    book->row = calloc(most, sizeof *book->row);
    book->value = calloc(most * (book->figure_count + 1U), sizeof(double));
    error = id_set_make(&reading->seen, most);
    (void)keep_text(reading, "");
    if (places != NULL && book->row != NULL && book->value != NULL &&
        error == 0) {
        read_rows(reading, places);
        error = reading->text.failed ? ERR_NO_MEMORY : 0;
    } else {
        error = ERR_NO_MEMORY;
    }
    book->text = reading->text.text;
    if (error == 0) {
        set_texts(book, places);
        error = sort(book);
    }
    free(places);
    free(reading->seen.slot);
    return error;
}

static void say_why(const char *path, int error, char *why)
{
    const char *what = strerror(errno);

    if (error == ERR_FORMAT)
        what = "this is no logbook; its first line names the columns, "
               "\"begun\" and \"id\" among them";
    else if (error == ERR_NO_MEMORY)
        what = error_name(error);
    (void)snprintf(why, LOGBOOK_WHY_SIZE, "%s%s: %s", path,
                   error == ERR_FORMAT ? ":1" : "", what);
}

int logbook_read(const char *path, struct logbook **out, char *why)
{
    struct store store;
    struct reading *reading = NULL;
    int error = store_read(path, &store);

    *out = NULL;
    if (error < 0) {
        say_why(path, error, why);
        return error;
    }
    reading = calloc(1, sizeof *reading);
    *out = calloc(1, sizeof **out);
    if (reading != NULL && *out != NULL) {
        reading->book = *out;
        (void)snprintf((*out)->path, sizeof(*out)->path, "%s", path);
        error = read_book(reading, &store);
    } else {
        error = ERR_NO_MEMORY;
    }
    free(reading);
    store_close(&store);
    if (error < 0) {
        say_why(path, error, why);
        logbook_free(*out);
        *out = NULL;
    }
    return error;
}

void logbook_free(struct logbook *book)
{
    if (book == NULL)
        return;
    free(book->row);
    free(book->value);
    free(book->text);
    free(book);
}
