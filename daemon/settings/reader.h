/* reader.h - private to the settings room: one configuration file, its
 * sections and values, each with the line and column it stands
 * on. */
#ifndef SETTINGS_READER_H
#define SETTINGS_READER_H

#include <confuse.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "places.h"
#include "quarterturn/units.h"

/* Where the one line about a failure goes. */
struct reader_why {
    char *text;
    size_t size;
};

/* A value as it is written. */
struct reader_value {
    struct place at; /* of its name; of an item in braces, its own */
    char text[];     /* NUL-terminated */
};

/* An option that holds a quantity; bounds in the bare unit, both accepted. */
struct reader_quantity {
    const char *name;
    enum unit bare; /* taken by a number without a unit */
    bool required;
    double least;
    double greatest;
    size_t at; /* offset of the double in the struct that is filled */
};

/* Read and parse a file of any of the sections.
 * why: "file:line:column: ..." or "file: ..." on failure.
 * Returns: 0, or ERR_USAGE. Owns: *out until cfg_free. */
int reader_open(const char *path, cfg_t **out, const struct reader_why *why);

/* Write "file:line:column: " and the message; the first one is kept.
 * Returns: ERR_USAGE. */
int reader_fail(const struct reader_why *why, const cfg_t *section,
                struct place at, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* The place a section begins at. */
struct place reader_place(cfg_t *section);

/* The value of an option, or NULL when it is not given. Valid until
 * cfg_free. */
const struct reader_value *reader_get(cfg_t *section, const char *name);

/* The same; a missing one is a failure and gives NULL. */
const struct reader_value *reader_need(cfg_t *section, const char *name,
                                       const struct reader_why *why);

/* Read options into *out when they are given, else leave it.
 * Returns: 0, or ERR_USAGE. */
int reader_whole(cfg_t *section, const char *name, const uint32_t bounds[2],
                 uint32_t *out, const struct reader_why *why);
/* The same for numbers of any sign, also in hexadecimal ("0x1f"). */
int reader_integer(cfg_t *section, const char *name, const int64_t bounds[2],
                   int64_t *out, const struct reader_why *why);
int reader_truth(cfg_t *section, const char *name, bool *out,
                 const struct reader_why *why);
/* A plain number, any finite one. */
int reader_number(cfg_t *section, const char *name, double *out,
                  const struct reader_why *why);
/* Text that must fit size with its NUL. */
int reader_text(cfg_t *section, const char *name, char *out, size_t size,
                const struct reader_why *why);

/* Fill the doubles of a struct, internal units.
 * base: the struct the rows' offsets count from; doubles of options that are
 *    not required and not given are left as they are. */
int reader_quantities(cfg_t *section, const struct reader_quantity *row,
                      size_t count, void *base, const struct reader_why *why);

/* "kt, mph, km/h": the units of a quantity, for messages. */
void reader_list_units(enum units_quantity quantity, char *out, size_t size);

/* Append to a list for a message: ", " between words; what does not fit is
 * left off. */
void reader_list_add(char *out, size_t size, const char *word);

#endif
