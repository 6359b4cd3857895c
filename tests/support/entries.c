/* entries.c - made-up attempts for the tests of the logbook. */
#include "entries.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/debrief.h"
#include "quarterturn/units.h"

/* 2026-03-01T00:00:00Z: 20,513 days after 1970-01-01, which is 56 years with
 * 14 leap days and the 59 days of January and February. */
static const int64_t begin_s = INT64_C(20513) * 86400;

void entry_build(uint32_t n, const char *person, struct logbook_entry *out)
{
    struct debrief_attempt *attempt = calloc(1, sizeof *attempt);

    assert_non_null(attempt);
    attempt->number = 1;
    attempt->direction = n % 2 == 0 ? 1 : -1;
    attempt->begun_unix_ns = (begin_s + 60 * (int64_t)n) * UNITS_NS_PER_S;
    attempt->ending = ENDING_FINISHED;
    memcpy(attempt->standard.name, "commercial", sizeof "commercial");
    memcpy(attempt->aircraft.name, "club-trainer", sizeof "club-trainer");
    debrief_copy_text(person, attempt->person, sizeof attempt->person);
    debrief_grade(attempt, &attempt->grade);
    for (uint32_t i = 0; i < attempt->grade.item_count; i++) {
        attempt->grade.item[i].verdict = VERDICT_IN_STANDARD;
        attempt->grade.item[i].flown = 1.5 + i;
    }
    attempt->grade.verdict = VERDICT_IN_STANDARD;
    logbook_entry_make(attempt, "full", out);
    free(attempt);
}

void entry_set(struct logbook_entry *entry, const char *item, double flown,
               enum debrief_verdict verdict)
{
    for (uint32_t i = 0; i < entry->grade.item_count; i++)
        if (strcmp(entry->grade.item[i].item, item) == 0) {
            entry->grade.item[i].flown = flown;
            entry->grade.item[i].verdict = verdict;
            if (verdict == VERDICT_MISSED)
                entry->grade.verdict = VERDICT_MISSED;
            return;
        }
    fail_msg("no item is called %s", item);
}

uint32_t entry_append(const char *path, const struct logbook_entry *entry,
                      size_t count)
{
    struct logbook_added added;
    char why[LOGBOOK_WHY_SIZE] = "";

    if (logbook_append(path, entry, count, &added, why) < 0)
        fail_msg("%s", why);
    assert_int_equal(added.added + added.present, count);
    return added.added;
}

struct logbook *entry_read(const char *path)
{
    struct logbook *book = NULL;
    char why[LOGBOOK_WHY_SIZE] = "";

    if (logbook_read(path, &book, why) < 0)
        fail_msg("%s", why);
    return book;
}

uint32_t entry_figure(const struct logbook *book, const char *name)
{
    for (uint32_t i = 0; i < book->figure_count; i++)
        if (strcmp(book->figure[i], name) == 0)
            return i;
    fail_msg("no figure is called %s", name);
    return 0;
}
