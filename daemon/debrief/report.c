/* report.c - an attempt as a person reads it after the flight. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "item_text.h"
#include "misses.h"
#include "quarterturn/wrap.h"

/* A text behind a head; its later lines stand under its beginning. */
static void print_wrapped(FILE *file, const char *head, const char *text)
{
    int indent = (int)strlen(head);

    (void)fputs(head, file);
    wrap_print(file, indent, indent, text);
    (void)fputc('\n', file);
}

/* ---- parts -------------------------------------------------------------- */

static void print_head(FILE *file, const struct debrief_attempt *attempt)
{
    (void)fprintf(file, "\nAttempt %u: %s to the %s", attempt->number,
                  maneuver_kind_name(attempt->maneuver),
                  attempt->direction > 0 ? "right" : "left");
    if (attempt->person[0] != '\0')
        (void)fprintf(file, ", %s", attempt->person);
    (void)fprintf(file, "\n%s, standard \"%s\"", attempt->aircraft.name,
                  attempt->grade.standard);
    if (attempt->ending == ENDING_ABANDONED)
        (void)fprintf(file, "\ngiven up: %s",
                      maneuver_reason_text(attempt->reason));
    else if (attempt->ending == ENDING_CUT_OFF)
        (void)fprintf(file, "\nthe recording ended in it");
    (void)fprintf(file, "\n\n");
}

static void print_verdict(FILE *file, const struct debrief_attempt *attempt)
{
    uint32_t missed = item_count_verdict(&attempt->grade, VERDICT_MISSED);
    uint32_t judged = attempt->grade.item_count -
                      item_count_verdict(&attempt->grade, VERDICT_NOT_JUDGED);
    char text[160];

    if (missed == 0 && attempt->grade.verdict == VERDICT_IN_STANDARD)
        (void)snprintf(text, sizeof text, "  IN STANDARD\n");
    else if (missed == 0)
        (void)snprintf(text, sizeof text,
                       "  NOT JUDGED: not flown to the end\n");
    else
        (void)snprintf(text, sizeof text, "  MISSED: %u of %u item%s\n", missed,
                       judged, judged == 1 ? "" : "s");
    (void)fputs(text, file);
    debrief_result_text(attempt, text, sizeof text);
    if (text[0] != '\0')
        print_wrapped(file, "  ", text);
}

static void print_misses(FILE *file, const struct debrief_grade *grade)
{
    const struct debrief_item *missed[DEBRIEF_MAX_ITEMS];
    uint32_t count = misses_find(grade, missed);

    if (count > 0)
        (void)fprintf(file, "\nWhat to do better\n");
    for (uint32_t i = 0; i < count; i++) {
        const struct debrief_item *item = missed[i];
        char flown[40];
        char wanted[40];
        char when[40];
        char line[200];

        item_flown_text(item, flown, sizeof flown);
        item_wanted_text(item, wanted, sizeof wanted);
        item_when_text(item, when, sizeof when);
        (void)snprintf(line, sizeof line, "%s (%s: %s, wanted %s%s%s)",
                       item->lesson->error, item->item, flown, wanted,
                       when[0] != '\0' ? "; at " : "", when);
        (void)fputc('\n', file);
        print_wrapped(file, "  * ", line);
        print_wrapped(file, "    likely cause: ", item->lesson->cause);
        print_wrapped(file, "    next time:    ", item->lesson->next);
    }
}

static void print_items(FILE *file, const struct debrief_grade *grade)
{
    (void)fprintf(file, "\n  %-24s %12s  %-16s %-13s %s\n", "item", "flown",
                  "wanted", "at", "verdict");
    for (uint32_t i = 0; i < grade->item_count; i++) {
        const struct debrief_item *item = &grade->item[i];
        char flown[40];
        char wanted[40];
        char when[40];

        item_flown_text(item, flown, sizeof flown);
        item_wanted_text(item, wanted, sizeof wanted);
        item_when_text(item, when, sizeof when);
        (void)fprintf(file, "  %-24s %12s  %-16s %-13s %s\n", item->item, flown,
                      wanted, when,
                      item->verdict == VERDICT_MISSED        ? "MISSED"
                      : item->verdict == VERDICT_IN_STANDARD ? "ok"
                                                             : "-");
    }
}

static void print_notes(FILE *file, const struct debrief_attempt *attempt)
{
    if (attempt->note_count > 0)
        (void)fprintf(file, "\nNotes\n\n");
    for (uint32_t i = 0; i < attempt->note_count; i++) {
        const struct debrief_note *note = &attempt->note[i];
        char head[48];

        (void)snprintf(head, sizeof head, "  %.0f s, %.0f deg: ", note->t_s,
                       units_deg(note->turn_rad));
        print_wrapped(file, head, note->text);
    }
}

/* ---- the whole ---------------------------------------------------------- */

/* A figure as it is told: round, and no minus in front of a nought. */
static double told(double value)
{
    return round(value) + 0.0;
}

/* "1 knot", "2 knots". */
static const char *plural(double value)
{
    return fabs(told(value)) == 1.0 ? "" : "s";
}

void debrief_result_text(const struct debrief_attempt *attempt, char *out,
                         size_t size)
{
    const struct maneuver_summary *summary = &attempt->summary;
    double error_deg = told(units_deg(summary->heading_error_rad));
    double margin_kt = told(units_kt(summary->finish_margin_mps));
    double gain_ft = told(units_ft(summary->altitude_gain_m));
    char heading[48] = "at 180 degrees";
    char margin[64] = "";
    char gain[64] = "";

    out[0] = '\0';
    if (isnan(attempt->level_s))
        return;
    if (error_deg != 0.0)
        (void)snprintf(heading, sizeof heading, "%+.0f degree%s from 180",
                       error_deg, plural(error_deg));
    if (margin_kt < 0.0)
        (void)snprintf(margin, sizeof margin, ", %.0f knot%s below the stall",
                       -margin_kt, plural(margin_kt));
    else if (!isnan(margin_kt))
        (void)snprintf(margin, sizeof margin, ", %.0f knot%s above the stall",
                       margin_kt, plural(margin_kt));
    if (!isnan(gain_ft))
        (void)snprintf(gain, sizeof gain, ", %.0f %s gained", gain_ft,
                       fabs(gain_ft) == 1.0 ? "foot" : "feet");
    (void)snprintf(out, size, "Wings level %s%s%s.", heading, margin, gain);
}

void debrief_attempt_print(FILE *file, const struct debrief_attempt *attempt)
{
    print_head(file, attempt);
    print_verdict(file, attempt);
    print_misses(file, &attempt->grade);
    print_notes(file, attempt);
    print_items(file, &attempt->grade);
    (void)fprintf(file,
                  "\nSimulator practice only: the airplane's handbook, current "
                  "standards, local\nrules and a licensed instructor come "
                  "first.\n");
}
