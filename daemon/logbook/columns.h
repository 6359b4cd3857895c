/* columns.h - the first line of a logbook: what stands in which column. */
#ifndef LOGBOOK_COLUMNS_H
#define LOGBOOK_COLUMNS_H

#include "csv.h"
#include "quarterturn/logbook.h"

enum column {
    COLUMN_OTHER, /* a person's own */
    COLUMN_BEGUN,
    COLUMN_PERSON,
    COLUMN_AIRCRAFT,
    COLUMN_MANEUVER,
    COLUMN_DIRECTION,
    COLUMN_STANDARD,
    COLUMN_HELP,
    COLUMN_ENDING,
    COLUMN_REASON,
    COLUMN_VERDICT,
    COLUMN_MISSED,
    COLUMN_NOT_JUDGED,
    COLUMN_ID,
    COLUMN_FIGURE, /* an item of the grade: "bank set (deg)" */
    COLUMN_KINDS
};

const char *column_name(enum column column);
/* "bank set (deg)". */
void figure_name(const struct debrief_item *item,
                 char out[LOGBOOK_FIGURE_SIZE]);

struct header {
    char separator;
    const char *newline; /* "\r\n" or "\n" */
    bool ended;          /* by a line end */
    uint32_t count;
    struct {
        enum column kind;
        uint32_t figure; /* of COLUMN_FIGURE */
    } at[CSV_MAX_FIELDS];
    uint32_t figure_count;
    char figure[LOGBOOK_MAX_FIGURES][LOGBOOK_FIGURE_SIZE];
    char unit[LOGBOOK_MAX_FIGURES][8];
};

/* Begin to read a file, behind its byte order mark, and read its first line
 * with the separator that it uses: comma, semicolon or tab.
 * reader: set, behind that line. Returns: 0, or ERR_FORMAT when the columns
 * begun and id do not stand in it; ERR_NO_MEMORY. */
int header_read(const char *bytes, size_t size, struct csv_reader *reader,
                struct header *out);
/* Whether a column stands in it. */
bool header_has(const struct header *header, enum column kind);
/* The figure of an item, or -1. */
int header_figure(const struct header *header, const struct debrief_item *item);
/* Let the column at a place be that of an item that has none. */
void header_add_figure(struct header *header, uint32_t place,
                       const struct debrief_item *item);
/* Whether a row is whole. Torn off by ours is one without a line end whose id
 * is not; where the id is not the last column, we do not append in place. */
bool header_row_whole(const struct header *header,
                      const struct csv_record *record);

/* Text that a spreadsheet would take for a formula gets an apostrophe in
 * front; what is read loses it again.
 * Source: OWASP, CSV Injection. */
void guard_text(const char *text, char *out, size_t size);
void unguard_text(char *text);

/* The id as a number; 0 when it is none. */
uint64_t id_number(const char *id);

/* Numbers seen, to tell which were there before. Open addressing; never more
 * than the capacity that it was made for. */
struct id_set {
    uint64_t *slot;
    size_t mask;
};
/* Returns: 0 or ERR_NO_MEMORY. Owns: free slot. */
int id_set_make(struct id_set *set, size_t most);
/* Returns: whether it was there already. number: not 0. */
bool id_set_add(struct id_set *set, uint64_t number);

#endif
