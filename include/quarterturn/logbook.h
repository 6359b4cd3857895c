/* logbook.h - one row for each attempt, in a CSV file that a spreadsheet opens.
 *
 * RFC 4180, UTF-8. Columns are known by their names in the first line and may
 * stand in any order, with a person's own among them. Nothing leaves the
 * machine. */
#ifndef QUARTERTURN_LOGBOOK_H
#define QUARTERTURN_LOGBOOK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "quarterturn/attempt.h"

enum {
    LOGBOOK_ID_SIZE = 18, /* "q" and 16 letters from a to p: no spreadsheet
                             takes that for a number or a date */
    LOGBOOK_TIME_SIZE = 24,
    LOGBOOK_FIGURE_SIZE = 56, /* "heading error at level (deg)" */
    LOGBOOK_MAX_FIGURES = 32,
    LOGBOOK_PATH_SIZE = 512,
    LOGBOOK_WHY_SIZE = 1152,
    LOGBOOK_ADVICE_SIZE = 320,
    LOGBOOK_MOST_MIB = 128 /* a larger file is refused */
};

/* ---- writing ------------------------------------------------------------ */

/* What is kept of an attempt. Plain data without pointers into the attempt
 * (the grade's names are constants), so that it can be handed to another
 * thread. */
struct logbook_entry {
    char id[LOGBOOK_ID_SIZE];
    char begun[LOGBOOK_TIME_SIZE]; /* "2026-03-01T10:15:00Z" */
    char person[DEBRIEF_PERSON_SIZE];
    char aircraft[INTAKE_NAME_SIZE];
    const char *maneuver;
    const char *direction;
    const char *help; /* "" when not known */
    const char *ending;
    const char *reason; /* of an attempt given up, else "" */
    struct debrief_grade grade;
};

/* Take what is kept of an attempt. Pure.
 * help: amount of help it was flown with, a constant; NULL not known.
 * The id comes from when, which way and how it was flown: a recording that is
 * debriefed twice, by whatever standard and for whomever, gives the same. */
void logbook_entry_make(const struct debrief_attempt *attempt, const char *help,
                        struct logbook_entry *out);

struct logbook_added {
    uint32_t added;
    uint32_t present;            /* were there already */
    char said[LOGBOOK_WHY_SIZE]; /* something worth a line, or "" */
};

/* Append what is not there yet, whole or not at all, and see it onto the disk.
 * Waits while another writer holds the file. A torn last row is put into
 * PATH.torn before. May block: not on the loop.
 * path: made (for its user alone) if it is not there; its folder is not.
 * why: one line on failure, LOGBOOK_WHY_SIZE bytes.
 * Returns: 0; ERR_FORMAT when the file is no logbook, ERR_IO, ERR_NO_MEMORY,
 *    ERR_FULL; the file then holds what it held before.
 * Thread: any, but one at a time for each file. */
int logbook_append(const char *path, const struct logbook_entry *entry,
                   size_t count, struct logbook_added *out, char *why);

/* Whether entries could be put into a logbook, as things are: before anybody
 * flies for it. Makes and changes nothing, waits for nobody.
 * path, why, returns: as above; 0 when it is not there and can be made.
 * Thread: any. */
int logbook_probe(const char *path, char *why);

/* $XDG_DATA_HOME/quarterturn/logbook.csv, else that under
 * $HOME/.local/share. Source: XDG Base Directory Specification 0.8.
 * make: also make its folder, for its user alone.
 * Returns: 0; ERR_ABSENT when the environment names no home; ERR_IO. */
int logbook_default_path(bool make, char *out, size_t size);

/* ---- reading ------------------------------------------------------------ */

struct logbook_row {
    const char *begun; /* "" when it is no ISO 8601 time */
    const char *person;
    const char *maneuver;
    const char *aircraft;
    int direction; /* +1 right, -1 left, 0 not known */
    enum debrief_verdict verdict;
    uint32_t missed; /* bits of figures */
    uint32_t not_judged;
    uint32_t line;
};

/* A logbook as it was read: attempts in the order of their dates, each once. */
struct logbook {
    char path[LOGBOOK_PATH_SIZE];
    uint32_t count;
    struct logbook_row *row;
    uint32_t figure_count;
    char figure[LOGBOOK_MAX_FIGURES][LOGBOOK_FIGURE_SIZE]; /* "bank set" */
    char unit[LOGBOOK_MAX_FIGURES][8];
    double *value;               /* count times figure_count; NaN not known */
    uint32_t unreadable;         /* rows and numbers left out */
    uint32_t doubled;            /* rows with an id that had been */
    char said[LOGBOOK_WHY_SIZE]; /* "file:line: ..." of the first of those */
    char *text;                  /* private: what the rows point into */
};

/* Read a logbook. Takes no lock: rows are appended whole.
 * why: one line on failure, LOGBOOK_WHY_SIZE bytes.
 * Returns: 0; ERR_ABSENT, ERR_FORMAT, ERR_FULL, ERR_IO, ERR_NO_MEMORY.
 * Owns: *out until logbook_free. */
int logbook_read(const char *path, struct logbook **out, char *why);
void logbook_free(struct logbook *book);

/* ---- progress ----------------------------------------------------------- */

enum {
    LOGBOOK_RECENT = 5,   /* judged attempts that count as recent */
    LOGBOOK_A_SIDE = 10,  /* of each direction, for left against right */
    LOGBOOK_TO_SHOW = 10, /* last attempts in a table */
    LOGBOOK_TO_PLOT = 40
};

struct logbook_tally {
    uint32_t judged;
    uint32_t missed;
};

struct logbook_trend {
    struct logbook_tally recent; /* of the last LOGBOOK_RECENT judged */
    struct logbook_tally before; /* of as many before these */
    struct logbook_tally left;   /* of the last LOGBOOK_A_SIDE that way */
    struct logbook_tally right;
    double latest;       /* NaN not known */
    uint32_t since_miss; /* judged attempts since the last miss */
};

struct logbook_progress {
    const char *person; /* NULL: everybody */
    uint32_t attempts;
    uint32_t in_standard;
    uint32_t last_count;
    uint32_t last[LOGBOOK_TO_PLOT]; /* rows, the oldest first */
    uint32_t flown_left;            /* of the last LOGBOOK_A_SIDE */
    uint32_t flown_right;
    struct logbook_trend trend[LOGBOOK_MAX_FIGURES];
    int practise;   /* figure to practise next, or -1 */
    int side;       /* in which turns, +1 right, -1 left, 0 both */
    int other_side; /* side that was not flown lately, else 0 */
};

/* Look at the attempts of a person, or of everybody. Pure.
 * person: NULL everybody; borrowed. */
void logbook_progress_make(const struct logbook *book, const char *person,
                           struct logbook_progress *out);
/* What to practise next, in one sentence without its full stop; out:
 * LOGBOOK_ADVICE_SIZE bytes are enough. */
void logbook_progress_advice(const struct logbook *book,
                             const struct logbook_progress *progress, char *out,
                             size_t size);
/* Print for a person, at most 80 columns. Returns: 0 or ERR_IO. */
int logbook_progress_print(FILE *file, const struct logbook *book,
                           const struct logbook_progress *progress);
/* Write a page with a plot for each figure. Returns: 0 or ERR_IO. */
int logbook_progress_page(FILE *file, const struct logbook *book,
                          const struct logbook_progress *progress);

#endif
