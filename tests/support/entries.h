/* entries.h - made-up attempts for the tests of the logbook. */
#ifndef SUPPORT_ENTRIES_H
#define SUPPORT_ENTRIES_H

#include "quarterturn/logbook.h"

/* The n-th attempt of a made-up person: one a minute since 2026-03-01, the
 * even ones to the right, the odd ones to the left, every item in standard. */
void entry_build(uint32_t n, const char *person, struct logbook_entry *out);
/* Set a figure and its verdict. The test fails when there is no such item. */
void entry_set(struct logbook_entry *entry, const char *item, double flown,
               enum debrief_verdict verdict);
/* Append; the test fails, with the reason, when it cannot be.
 * Returns: how many were not there yet. */
uint32_t entry_append(const char *path, const struct logbook_entry *entry,
                      size_t count);
/* Read; the test fails when it cannot be. Owns: logbook_free. */
struct logbook *entry_read(const char *path);
/* The place of a figure in the logbook; the test fails without. */
uint32_t entry_figure(const struct logbook *book, const char *name);

#endif
