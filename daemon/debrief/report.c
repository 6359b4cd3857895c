/* report.c - an attempt as a person reads it after the flight. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "item_text.h"

enum { COLUMNS = 80 };

/* Print a text behind a head, broken at blanks; later lines stand under the
 * text's beginning. */
static void print_wrapped(FILE *file, const char *head, const char *text)
{
    int indent = (int)strlen(head);
    int used = indent;

    (void)fputs(head, file);
    for (const char *at = text; *at != '\0';) {
        int length = (int)strcspn(at, " ");

        if (used > indent && used + 1 + length > COLUMNS) {
            (void)fprintf(file, "\n%*s", indent, "");
            used = indent;
        } else if (used > indent) {
            (void)fputc(' ', file);
            used++;
        }
        (void)fprintf(file, "%.*s", length, at);
        used += length;
        at += length;
        at += strspn(at, " ");
    }
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

static uint32_t count_missed(const struct debrief_grade *grade)
{
    return item_count_verdict(grade, VERDICT_MISSED);
}

static void print_verdict(FILE *file, const struct debrief_attempt *attempt)
{
    uint32_t missed = count_missed(&attempt->grade);
    char text[160];

    if (missed == 0 && attempt->grade.verdict == VERDICT_IN_STANDARD)
        (void)snprintf(text, sizeof text, "  IN STANDARD\n");
    else if (missed == 0)
        (void)snprintf(text, sizeof text,
                       "  NOT JUDGED: not flown to the end\n");
    else
        (void)snprintf(
            text, sizeof text, "  MISSED: %u of %u items\n", missed,
            attempt->grade.item_count -
                item_count_verdict(&attempt->grade, VERDICT_NOT_JUDGED));
    (void)fputs(text, file);
    debrief_result_text(attempt, text, sizeof text);
    if (text[0] != '\0')
        print_wrapped(file, "  ", text);
}

static void print_misses(FILE *file, const struct debrief_grade *grade)
{
    if (count_missed(grade) > 0)
        (void)fprintf(file, "\nWhat to do better\n");
    for (uint32_t i = 0; i < grade->item_count; i++) {
        const struct debrief_item *item = &grade->item[i];
        char flown[40];
        char wanted[40];
        char when[40];
        char line[200];

        if (item->verdict != VERDICT_MISSED || item->lesson == NULL)
            continue;
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

void debrief_result_text(const struct debrief_attempt *attempt, char *out,
                         size_t size)
{
    const struct maneuver_summary *summary = &attempt->summary;
    int used;

    out[0] = '\0';
    if (isnan(attempt->level_s))
        return;
    if (fabs(units_deg(summary->heading_error_rad)) < 0.5)
        used = snprintf(out, size, "Wings level at 180 degrees");
    else
        used = snprintf(out, size, "Wings level %+.0f degrees from 180",
                        units_deg(summary->heading_error_rad));
    if (used > 0 && (size_t)used < size && !isnan(summary->finish_margin_mps))
        used += snprintf(out + used, size - (size_t)used,
                         ", %.0f knots above the stall",
                         units_kt(summary->finish_margin_mps));
    if (used > 0 && (size_t)used < size && !isnan(summary->altitude_gain_m))
        used += snprintf(out + used, size - (size_t)used, ", %.0f feet gained",
                         units_ft(summary->altitude_gain_m));
    if (used > 0 && (size_t)used < size)
        (void)snprintf(out + used, size - (size_t)used, ".");
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
