/* csv.h - records and fields of a CSV file. Source: RFC 4180, section 2. */
#ifndef LOGBOOK_CSV_H
#define LOGBOOK_CSV_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    CSV_MAX_FIELDS = 256,
    CSV_MAX_QUOTED = 65536 /* a longer quoted field is one left open */
};

struct csv_field {
    const char *at;
    size_t length; /* without the outer quotes; inner ones still doubled */
    bool quoted;
};

struct csv_record {
    const char *begin;
    size_t length; /* without its line end */
    uint32_t line; /* from 1, of its beginning */
    bool ended;    /* by a line end */
    bool broken;   /* an open quote, text behind a closing one, a NUL */
    uint32_t count;
    struct csv_field field[CSV_MAX_FIELDS]; /* further ones: broken */
};

struct csv_reader {
    const char *at;
    const char *end;
    char separator;
    uint32_t line; /* of at */
};

/* Read a record. A quote that nobody closes ends with its line, so that it
 * takes no other row with it. Returns: false at the end. */
bool csv_next(struct csv_reader *reader, struct csv_record *out);
/* The text of a field, cut to size. */
void csv_copy(const struct csv_field *field, char *out, size_t size);

/* Text that grows. Zero to begin with; failed when memory gave out. */
struct csv_text {
    char *text;
    size_t length;
    size_t capacity;
    bool failed;
};

void csv_put_bytes(struct csv_text *to, const void *bytes, size_t length);
/* A field, in quotes where it needs them. */
void csv_put_field(struct csv_text *to, const char *text, char separator);

#endif
