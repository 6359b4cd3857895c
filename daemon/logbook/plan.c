/* plan.c - what is to be done to a logbook's bytes so that entries stand in
 * it.
 *
 * As a rule: one text is added at the end. Its id is the last field of a row,
 * so that a row that was torn off in the writing is known. A file whose
 * columns somebody has moved, or that lacks one, is written anew beside its
 * place instead. */
#include "plan.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "columns.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

/* What is known while the file is gone through. */
struct planning {
    const char *bytes;
    size_t size;
    struct header header;
    struct id_set seen;
    struct header before; /* as it was */
    uint32_t widest;      /* fields of a row, at most */
    bool comma;           /* numbers with a decimal comma */
    struct csv_text *out;
};

/* ---- the fields of an entry --------------------------------------------- */

static void put_figure(const struct planning *planning,
                       const struct debrief_item *item)
{
    int decimals = strcmp(item->unit, "ft") == 0 ? 0 : 1;
    double scale = decimals == 0 ? 1.0 : 10.0;
    char text[64];
    char *point;

    if (!isfinite(item->flown))
        return;
    /* No minus in front of a nought. */
    (void)snprintf(text, sizeof text, "%.*f", decimals,
                   round(item->flown * scale) / scale + 0.0);
    point = strchr(text, '.');
    if (planning->comma && point != NULL)
        *point = ',';
    csv_put_field(planning->out, text, planning->header.separator);
}

/* The names of the items with a verdict, "; " between them. */
static void list_items(const struct debrief_grade *grade,
                       enum debrief_verdict verdict, char *out, size_t size)
{
    size_t used = 0;

    out[0] = '\0';
    for (uint32_t i = 0; i < grade->item_count; i++) {
        int length;

        if (grade->item[i].verdict != verdict)
            continue;
        length = snprintf(out + used, size - used, "%s%s", used > 0 ? "; " : "",
                          grade->item[i].item);
        if (length < 0 || (size_t)length >= size - used)
            break;
        used += (size_t)length;
    }
}

static const char *text_of(const struct logbook_entry *entry,
                           enum column column)
{
    switch (column) {
    case COLUMN_BEGUN: return entry->begun;
    case COLUMN_PERSON: return entry->person;
    case COLUMN_AIRCRAFT: return entry->aircraft;
    case COLUMN_MANEUVER: return entry->maneuver;
    case COLUMN_DIRECTION: return entry->direction;
    case COLUMN_STANDARD: return entry->grade.standard;
    case COLUMN_HELP: return entry->help;
    case COLUMN_ENDING: return entry->ending;
    case COLUMN_REASON: return entry->reason;
    case COLUMN_VERDICT: return debrief_verdict_name(entry->grade.verdict);
    case COLUMN_ID: return entry->id;
    case COLUMN_MISSED:
    case COLUMN_NOT_JUDGED:
    case COLUMN_OTHER:
    case COLUMN_FIGURE:
    case COLUMN_KINDS: break;
    }
    return "";
}

static void put_text(const struct planning *planning,
                     const struct logbook_entry *entry, enum column column)
{
    char text[1024];
    char guarded[1026];

    if (column == COLUMN_MISSED)
        list_items(&entry->grade, VERDICT_MISSED, text, sizeof text);
    else if (column == COLUMN_NOT_JUDGED)
        list_items(&entry->grade, VERDICT_NOT_JUDGED, text, sizeof text);
    else
        (void)snprintf(text, sizeof text, "%s", text_of(entry, column));
    guard_text(text, guarded, sizeof guarded);
    csv_put_field(planning->out, guarded, planning->header.separator);
}

static void put_entry(const struct planning *planning,
                      const struct logbook_entry *entry)
{
    const struct header *header = &planning->header;

    for (uint32_t i = 0; i < header->count; i++) {
        if (i > 0)
            csv_put_bytes(planning->out, &header->separator, 1);
        if (header->at[i].kind != COLUMN_FIGURE) {
            put_text(planning, entry, header->at[i].kind);
            continue;
        }
        for (uint32_t k = 0; k < entry->grade.item_count; k++) {
            const struct debrief_item *item = &entry->grade.item[k];

            if (header_figure(header, item) == (int)header->at[i].figure)
                put_figure(planning, item);
        }
    }
    csv_put_bytes(planning->out, header->newline, strlen(header->newline));
}

/* ---- the first line ----------------------------------------------------- */

static void put_name(struct planning *planning, const char *name, bool first)
{
    if (!first)
        csv_put_bytes(planning->out, &planning->header.separator, 1);
    csv_put_field(planning->out, name, planning->header.separator);
}

/* Columns for the items that have none yet. */
static void put_new_figures(struct planning *planning,
                            const struct logbook_entry *entry, size_t count)
{
    struct header *header = &planning->header;

    for (size_t k = 0; k < count; k++)
        for (uint32_t i = 0; i < entry[k].grade.item_count; i++) {
            const struct debrief_item *item = &entry[k].grade.item[i];
            char name[LOGBOOK_FIGURE_SIZE];

            if (header_figure(header, item) >= 0 ||
                header->figure_count == LOGBOOK_MAX_FIGURES ||
                header->count == CSV_MAX_FIELDS)
                continue;
            figure_name(item, name);
            put_name(planning, name, false);
            header_add_figure(header, header->count++, item);
        }
}

static void put_new_column(struct planning *planning, enum column kind)
{
    struct header *header = &planning->header;

    if (header->count == CSV_MAX_FIELDS)
        return;
    put_name(planning, column_name(kind), header->count == 0);
    header->at[header->count++].kind = kind;
}

static void begin_file(struct planning *planning,
                       const struct logbook_entry *entry, size_t count)
{
    planning->header =
        (struct header){.separator = ',', .newline = "\r\n", .ended = true};
    for (int i = COLUMN_BEGUN; i < COLUMN_ID; i++)
        put_new_column(planning, (enum column)i);
    put_new_figures(planning, entry, count);
    put_new_column(planning, COLUMN_ID);
    csv_put_bytes(planning->out, "\r\n", 2);
}

/* ---- what is there ------------------------------------------------------ */

/* A number with a decimal comma; between commas it would be something else. */
static bool has_comma(const struct csv_field *field)
{
    size_t digits = 0;

    for (size_t i = 0; i < field->length; i++) {
        char c = field->at[i];

        if (c >= '0' && c <= '9')
            digits++;
        else if (c != ',' && c != '-')
            return false;
    }
    return digits > 0 && memchr(field->at, ',', field->length) != NULL;
}

/* Note the ids of the rows, how they write numbers, and what is torn. */
static void look_through(struct planning *planning, struct csv_reader reader,
                         struct plan *plan)
{
    const struct header *header = &planning->header;
    struct csv_record record;

    while (csv_next(&reader, &record)) {
        bool whole = header_row_whole(header, &record);

        if (whole && record.count > planning->widest)
            planning->widest = record.count;
        if (!whole && !record.ended) {
            plan->torn_from = (size_t)(record.begin - planning->bytes);
            plan->torn_length = record.length;
            plan->torn_line = record.line;
            plan->keep = plan->torn_from;
        }
        for (uint32_t i = 0; whole && i < header->count; i++) {
            char id[LOGBOOK_ID_SIZE + 1];

            if (header->at[i].kind == COLUMN_FIGURE && !planning->comma &&
                header->separator != ',')
                planning->comma = has_comma(&record.field[i]);
            if (header->at[i].kind != COLUMN_ID)
                continue;
            csv_copy(&record.field[i], id, sizeof id);
            if (id_number(id) != 0)
                (void)id_set_add(&planning->seen, id_number(id));
        }
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

/* Write what stays anew, every row filled up to the columns there are now. */
static void put_rows(struct planning *planning, struct csv_reader reader)
{
    const struct header *header = &planning->header;
    struct csv_record record;

    while (csv_next(&reader, &record)) {
        csv_put_bytes(planning->out, record.begin, record.length);
        if (header_row_whole(&planning->before, &record))
            for (uint32_t i = record.count; i < header->count; i++)
                csv_put_bytes(planning->out, &header->separator, 1);
        csv_put_bytes(planning->out, header->newline, strlen(header->newline));
    }
}

/* Write the first line anew: its own columns, those without a name that rows
 * have beyond them, and what it lacks. */
static void put_header(struct planning *planning, size_t length,
                       const struct logbook_entry *entry, size_t count)
{
    struct header *header = &planning->header;

    csv_put_bytes(planning->out, planning->bytes, length);
    while (header->count < planning->widest)
        put_new_column(planning, COLUMN_OTHER);
    for (int i = COLUMN_BEGUN; i < COLUMN_ID; i++)
        if (!header_has(header, (enum column)i))
            put_new_column(planning, (enum column)i);
    put_new_figures(planning, entry, count);
    csv_put_bytes(planning->out, header->newline, strlen(header->newline));
}

static bool lacks_columns(const struct header *header,
                          const struct logbook_entry *entry, size_t count)
{
    for (int i = COLUMN_BEGUN; i <= COLUMN_ID; i++)
        if (!header_has(header, (enum column)i))
            return true;
    for (size_t k = 0; k < count; k++)
        for (uint32_t i = 0; i < entry[k].grade.item_count; i++)
            if (header_figure(header, &entry[k].grade.item[i]) < 0)
                return true;
    return false;
}

/* A file of which not even the first line got onto the disk. */
static bool is_nothing(const char *bytes, size_t size)
{
    static const char begin[] = "begun,who,aircraft,maneuver,";
    size_t length = size < sizeof begin - 1 ? size : sizeof begin - 1;

    return memchr(bytes, '\n', size) == NULL &&
           memcmp(bytes, begin, length) == 0;
}

static int plan_existing(struct planning *planning,
                         const struct logbook_entry *entry, size_t count,
                         struct plan *plan)
{
    struct csv_reader reader;
    size_t length;
    int error = header_read(planning->bytes, planning->size, &reader,
                            &planning->header);

    if (error < 0)
        return error;
    look_through(planning, reader, plan);
    length = (size_t)(reader.at - planning->bytes);
    reader.end = planning->bytes + plan->keep;
    plan->whole =
        planning->header.at[planning->header.count - 1].kind != COLUMN_ID ||
        lacks_columns(&planning->header, entry, count);
    planning->before = planning->header;
    if (plan->whole) {
        if (planning->header.ended)
            length -= strlen(planning->header.newline);
        put_header(planning, length, entry, count);
        put_rows(planning, reader);
    } else if (plan->keep > 0 && planning->bytes[plan->keep - 1] != '\n') {
        csv_put_bytes(planning->out, planning->header.newline,
                      strlen(planning->header.newline));
    }
    return 0;
}

int plan_make(const char *bytes, size_t size, const struct logbook_entry *entry,
              size_t count, struct plan *out)
{
    struct planning planning = {
        .bytes = bytes, .size = size, .out = &out->text};
    int error = 0;

    memset(out, 0, sizeof *out);
    if (id_set_make(&planning.seen, count_lines(bytes, size) + count) < 0)
        return ERR_NO_MEMORY;
    out->keep = size;
    error = plan_existing(&planning, entry, count, out);
    if (error == ERR_FORMAT && is_nothing(bytes, size)) {
        out->keep = 0;
        begin_file(&planning, entry, count);
        error = 0;
    }
    for (size_t i = 0; error == 0 && i < count; i++) {
        if (id_set_add(&planning.seen, id_number(entry[i].id))) {
            out->present++;
            continue;
        }
        put_entry(&planning, &entry[i]);
        out->added++;
    }
    free(planning.seen.slot);
    return error == 0 && out->text.failed ? ERR_NO_MEMORY : error;
}
