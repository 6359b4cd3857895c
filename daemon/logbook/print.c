/* print.c - progress on a terminal, in 80 columns. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "quarterturn/logbook.h"
#include "quarterturn/wrap.h"

enum { LINE_SIZE = 81, NAME_WIDTH = 24 };

/* ---- the last attempts -------------------------------------------------- */

/* The names of what was missed, as far as they fit. */
static void list_missed(const struct logbook *book,
                        const struct logbook_row *row, char *out, size_t size)
{
    uint32_t more = 0;
    size_t used = 0;

    out[0] = '\0';
    for (uint32_t i = 0; i < book->figure_count; i++) {
        size_t needs = strlen(book->figure[i]) + (used > 0 ? 2 : 0);

        if ((row->missed >> i & 1) == 0)
            continue;
        if (more > 0 || used + needs + 5 >= size) {
            more++;
            continue;
        }
        used += (size_t)snprintf(out + used, size - used, "%s%s",
                                 used > 0 ? ", " : "", book->figure[i]);
    }
    if (more > 0)
        (void)snprintf(out + used, size - used, " +%u", more);
}

static const char *way(int direction)
{
    return direction > 0 ? "right" : direction < 0 ? "left" : "-";
}

static void print_attempts(FILE *file, const struct logbook *book,
                           const struct logbook_progress *progress)
{
    uint32_t first = progress->last_count > LOGBOOK_TO_SHOW
                         ? progress->last_count - LOGBOOK_TO_SHOW
                         : 0;

    (void)fprintf(file, "\n%-16s  %-5s  %-11s  %s\n", "begun (UTC)", "turn",
                  "verdict", "missed");
    for (uint32_t i = first; i < progress->last_count; i++) {
        const struct logbook_row *row = &book->row[progress->last[i]];
        char missed[LINE_SIZE - 38];
        char begun[17];

        list_missed(book, row, missed, sizeof missed);
        (void)snprintf(begun, sizeof begun, "%.16s", row->begun);
        if (begun[0] != '\0')
            begun[10] = ' ';
        (void)fprintf(file, "%-16s  %-5s  %-11s  %s\n", begun,
                      way(row->direction), debrief_verdict_name(row->verdict),
                      missed[0] != '\0' ? missed : "-");
    }
}

/* ---- the items ---------------------------------------------------------- */

static void tally_text(const struct logbook_tally *tally, char *out,
                       size_t size)
{
    if (tally->judged == 0)
        (void)snprintf(out, size, "-");
    else
        (void)snprintf(out, size, "%u of %u", tally->missed, tally->judged);
}

/* Better or worse is said when as many attempts stand on both sides. */
static const char *trend_text(const struct logbook_trend *trend)
{
    if (trend->before.judged < LOGBOOK_RECENT)
        return "-";
    if (trend->recent.missed < trend->before.missed)
        return "better";
    return trend->recent.missed > trend->before.missed ? "worse" : "as before";
}

static void print_items(FILE *file, const struct logbook *book,
                        const struct logbook_progress *progress)
{
    (void)fprintf(file, "\n%-*s  %8s  %8s  %-9s  %8s  %8s\n", NAME_WIDTH,
                  "missed", "last 5", "before", "trend", "left", "right");
    for (uint32_t i = 0; i < book->figure_count; i++) {
        const struct logbook_trend *trend = &progress->trend[i];
        char text[4][24];

        if (trend->recent.judged == 0)
            continue;
        tally_text(&trend->recent, text[0], sizeof text[0]);
        tally_text(&trend->before, text[1], sizeof text[1]);
        tally_text(&trend->left, text[2], sizeof text[2]);
        tally_text(&trend->right, text[3], sizeof text[3]);
        (void)fprintf(file, "%-*.*s  %8s  %8s  %-9s  %8s  %8s\n", NAME_WIDTH,
                      NAME_WIDTH, book->figure[i], text[0], text[1],
                      trend_text(trend), text[2], text[3]);
    }
}

int logbook_progress_print(FILE *file, const struct logbook *book,
                           const struct logbook_progress *progress)
{
    char advice[LOGBOOK_ADVICE_SIZE];

    (void)fprintf(file, "%u attempt%s%s%s, %u in standard\n",
                  progress->attempts, progress->attempts == 1 ? "" : "s",
                  progress->person != NULL ? " of " : "",
                  progress->person != NULL ? progress->person : "",
                  progress->in_standard);
    if (progress->attempts > 0) {
        print_attempts(file, book, progress);
        print_items(file, book, progress);
    }
    logbook_progress_advice(book, progress, advice, sizeof advice);
    (void)fprintf(file, "\nPractise next: ");
    wrap_print(file, (int)strlen("Practise next: "), 0, advice);
    (void)fprintf(file, ".\n");
    (void)fprintf(file, "For simulator practice only; handbook, standards and "
                        "instructor come first.\n");
    return fflush(file) != 0 || ferror(file) ? ERR_IO : 0;
}
