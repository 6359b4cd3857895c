/* text.c - the plan card for a terminal of 80 columns. */
#include "quarterturn/brief.h"
#include "quarterturn/error.h"
#include "quarterturn/wrap.h"

enum { LABEL_WIDTH = 20, VALUE_WIDTH = 17, NOTE_AT = 40 };

static void print_lines(FILE *file, const struct brief_plan *plan)
{
    /* Computed is what most lines are: the others say it. */
    static const char mark[] = {[BASIS_COMPUTED] = ' ',
                                [BASIS_HANDBOOK] = 'h',
                                [BASIS_STANDARD] = 's',
                                [BASIS_CONVENTION] = 'c'};
    struct brief_line line[BRIEF_MAX_LINES];
    uint32_t count = brief_lines(plan, line);
    const char *section = NULL;

    for (uint32_t i = 0; i < count; i++) {
        if (line[i].section != section)
            (void)fprintf(file, "\n%s\n", line[i].section);
        section = line[i].section;
        (void)fprintf(file, "%c %-*s", mark[line[i].basis], LABEL_WIDTH,
                      line[i].label);
        if (line[i].note[0] == '\0')
            (void)fputs(line[i].value, file);
        else
            (void)fprintf(file, "%-*s ", VALUE_WIDTH, line[i].value);
        wrap_print(file, NOTE_AT, NOTE_AT, line[i].note);
        (void)fputc('\n', file);
    }
}

static void print_list(FILE *file, const char *title, const char *const *lines)
{
    (void)fprintf(file, "\n%s\n", title);
    for (; *lines != NULL; lines++)
        (void)fprintf(file, "%s%s\n", **lines == ' ' ? "" : "- ", *lines);
}

int brief_print(FILE *file, const struct brief_plan *plan)
{
    (void)fprintf(
        file, "Chandelle to the %s, %s at %.0f lb\n",
        plan->wish.direction > 0 ? "right" : "left", plan->aircraft.name,
        units_from_internal(UNIT_LB, plan->wish.conditions.weight_kg));
    print_lines(file, plan);
    print_list(file, "Before the entry (convention)", brief_setup);
    print_list(file, "Watch (after the handbook's list of common errors)",
               brief_watch);
    (void)fprintf(
        file,
        "\nMarked s: published standard (FAA-S-ACS-7B, CA.V.C); c: convention "
        "or this\nproject's own number; the rest was computed from the "
        "airplane's figures in the\nconfiguration. Speeds are calibrated.\n"
        "For simulator practice only. The airplane's own handbook, the "
        "current standards,\nlocal rules and a licensed instructor come "
        "first.\n");
    return fflush(file) != 0 || ferror(file) ? ERR_IO : 0;
}
