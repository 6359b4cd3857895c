/* columns.c - the first line of a logbook: what stands in which column. */
#include "columns.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

_Static_assert((int)DEBRIEF_MAX_ITEMS <= (int)LOGBOOK_MAX_FIGURES,
               "every item of a grade is a figure of the logbook");

static const char *const names[COLUMN_KINDS] = {
    [COLUMN_OTHER] = "",
    [COLUMN_BEGUN] = "begun",
    [COLUMN_PERSON] = "who",
    [COLUMN_AIRCRAFT] = "aircraft",
    [COLUMN_MANEUVER] = "maneuver",
    [COLUMN_DIRECTION] = "direction",
    [COLUMN_STANDARD] = "standard",
    [COLUMN_HELP] = "help",
    [COLUMN_ENDING] = "ending",
    [COLUMN_REASON] = "reason",
    [COLUMN_VERDICT] = "verdict",
    [COLUMN_MISSED] = "missed",
    [COLUMN_NOT_JUDGED] = "not judged",
    [COLUMN_ID] = "id",
    [COLUMN_FIGURE] = "",
};

const char *column_name(enum column column)
{
    return names[column];
}

void figure_name(const struct debrief_item *item, char out[LOGBOOK_FIGURE_SIZE])
{
    if (item->unit[0] == '\0')
        (void)snprintf(out, LOGBOOK_FIGURE_SIZE, "%s", item->item);
    else
        (void)snprintf(out, LOGBOOK_FIGURE_SIZE, "%s (%s)", item->item,
                       item->unit);
}

/* ---- the first line ----------------------------------------------------- */

static enum column find(const char *name)
{
    for (int i = COLUMN_BEGUN; i <= COLUMN_ID; i++)
        if (strcmp(names[i], name) == 0)
            return (enum column)i;
    return COLUMN_OTHER;
}

/* The items that the program grades. A person's own "wind (kt)" is none. */
static int list_known(struct debrief_grade *out)
{
    struct debrief_attempt *nothing = calloc(1, sizeof *nothing);

    if (nothing == NULL)
        return ERR_NO_MEMORY;
    debrief_grade(nothing, out);
    free(nothing);
    return 0;
}

static const struct debrief_item *find_item(const struct debrief_grade *known,
                                            const char *text)
{
    char name[LOGBOOK_FIGURE_SIZE];

    for (uint32_t i = 0; i < known->item_count; i++) {
        figure_name(&known->item[i], name);
        if (strcmp(name, text) == 0)
            return &known->item[i];
    }
    return NULL;
}

static void trim(char *text)
{
    size_t from = strspn(text, " ");
    size_t length = strlen(text);

    while (length > from && text[length - 1] == ' ')
        length--;
    memmove(text, text + from, length - from);
    text[length - from] = '\0';
}

static void take_name(struct header *header, const struct csv_field *field,
                      const struct debrief_grade *known)
{
    char text[LOGBOOK_FIGURE_SIZE];
    const struct debrief_item *item;
    uint32_t place = header->count++;

    csv_copy(field, text, sizeof text);
    trim(text);
    header->at[place].kind = find(text);
    header->at[place].figure = 0;
    /* A name that stands there twice: the first one counts. */
    for (uint32_t i = 0; i < place; i++)
        if (header->at[i].kind == header->at[place].kind)
            header->at[place].kind = COLUMN_OTHER;
    item = find_item(known, text);
    if (item != NULL && header_figure(header, item) < 0)
        header_add_figure(header, place, item);
}

static bool read_with(struct csv_reader *reader,
                      const struct debrief_grade *known, struct header *out)
{
    struct csv_record record;

    memset(out, 0, sizeof *out);
    if (!csv_next(reader, &record) || record.broken)
        return false;
    out->separator = reader->separator;
    out->ended = record.ended;
    out->newline =
        record.ended && record.begin[record.length] == '\n' ? "\n" : "\r\n";
    for (uint32_t i = 0; i < record.count; i++)
        take_name(out, &record.field[i], known);
    return header_has(out, COLUMN_BEGUN) && header_has(out, COLUMN_ID);
}

int header_read(const char *bytes, size_t size, struct csv_reader *reader,
                struct header *out)
{
    static const char separators[] = {',', ';', '\t'};
    struct debrief_grade known;
    size_t mark = size >= 3 && memcmp(bytes, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;

    if (list_known(&known) < 0)
        return ERR_NO_MEMORY;
    for (size_t i = 0; i < sizeof separators; i++) {
        *reader = (struct csv_reader){.at = bytes + mark,
                                      .end = bytes + size,
                                      .separator = separators[i],
                                      .line = 1};
        if (read_with(reader, &known, out))
            return 0;
    }
    return ERR_FORMAT;
}

bool header_has(const struct header *header, enum column kind)
{
    for (uint32_t i = 0; i < header->count; i++)
        if (header->at[i].kind == kind)
            return true;
    return false;
}

int header_figure(const struct header *header, const struct debrief_item *item)
{
    for (uint32_t i = 0; i < header->figure_count; i++)
        if (strcmp(header->figure[i], item->item) == 0 &&
            strcmp(header->unit[i], item->unit) == 0)
            return (int)i;
    return -1;
}

void header_add_figure(struct header *header, uint32_t place,
                       const struct debrief_item *item)
{
    uint32_t figure = header->figure_count++;

    header->at[place].kind = COLUMN_FIGURE;
    header->at[place].figure = figure;
    (void)snprintf(header->figure[figure], LOGBOOK_FIGURE_SIZE, "%s",
                   item->item);
    (void)snprintf(header->unit[figure], sizeof header->unit[figure], "%s",
                   item->unit);
}

bool header_row_whole(const struct header *header,
                      const struct csv_record *record)
{
    char id[LOGBOOK_ID_SIZE + 1];

    if (record->broken || record->count < header->count)
        return false;
    if (record->ended || header->at[header->count - 1].kind != COLUMN_ID)
        return true;
    csv_copy(&record->field[header->count - 1], id, sizeof id);
    return id_number(id) != 0;
}

/* ---- formulas ----------------------------------------------------------- */

/* What makes a spreadsheet take text for a formula, the wide forms of East
 * Asian keyboards included. */
static bool begins_formula(const char *text)
{
    static const char *const starts[] = {"=",
                                         "+",
                                         "-",
                                         "@",
                                         "\t",
                                         "\r",
                                         "\xEF\xBC\x9D",
                                         "\xEF\xBC\x8B",
                                         "\xEF\xBC\x8D",
                                         "\xEF\xBC\xA0"};

    for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++)
        if (strncmp(text, starts[i], strlen(starts[i])) == 0)
            return true;
    return false;
}

/* An apostrophe that would be taken for ours gets another one in front. */
static bool looks_guarded(const char *text)
{
    return text[0] == '\'' && (text[1] == '\'' || begins_formula(text + 1));
}

void guard_text(const char *text, char *out, size_t size)
{
    bool guard = begins_formula(text) || looks_guarded(text);

    (void)snprintf(out, size, "%s%s", guard ? "'" : "", text);
}

void unguard_text(char *text)
{
    if (looks_guarded(text))
        memmove(text, text + 1, strlen(text));
}

/* ---- ids ---------------------------------------------------------------- */

uint64_t id_number(const char *id)
{
    uint64_t number = 0;

    if (strlen(id) != LOGBOOK_ID_SIZE - 1 || id[0] != 'q')
        return 0;
    for (const char *at = id + 1; *at != '\0'; at++) {
        if (*at < 'a' || *at > 'p')
            return 0;
        number = number << 4 | (uint64_t)(*at - 'a');
    }
    return number;
}

int id_set_make(struct id_set *set, size_t most)
{
    size_t size = 64;

    while (size < 2 * most)
        size *= 2;
    set->mask = size - 1;
    set->slot = calloc(size, sizeof *set->slot);
    return set->slot != NULL ? 0 : ERR_NO_MEMORY;
}

bool id_set_add(struct id_set *set, uint64_t number)
{
    size_t at = (size_t)(number ^ number >> 29) & set->mask;

    assert(number != 0);
    for (; set->slot[at] != 0; at = (at + 1) & set->mask)
        if (set->slot[at] == number)
            return true;
    set->slot[at] = number;
    return false;
}
