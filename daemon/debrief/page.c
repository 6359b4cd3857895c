/* page.c - the page that shows an attempt: verdict, misses, pictures, items. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "item_text.h"
#include "page.h"

/* ---- head --------------------------------------------------------------- */

/* Year, month and day of a number of days since 1970-01-01, in the calendar
 * that ISO 8601 uses: months are counted from March, so that a leap day ends
 * its year. */
static void date_of(int64_t days, int *year, int *month, int *day)
{
    /* Days since 0000-03-01, split into 400 years each. */
    int64_t since = days + 719468;
    int64_t era = since / 146097;
    int64_t rest = since % 146097;
    int64_t years = (rest - rest / 1460 + rest / 36524 - rest / 146096) / 365;
    int64_t in_year = rest - (365 * years + years / 4 - years / 100);
    int64_t from_march = (5 * in_year + 2) / 153;

    *day = (int)(in_year - (153 * from_march + 2) / 5 + 1);
    *month = (int)(from_march < 10 ? from_march + 3 : from_march - 9);
    *year = (int)(years + era * 400 + (*month <= 2));
}

static void write_date(struct paper *paper, int64_t unix_ns)
{
    int64_t s = unix_ns / UNITS_NS_PER_S;
    int64_t minute = s % 86400 / 60;
    int year;
    int month;
    int day;

    /* A clock that was never set, or times that count from nothing. */
    if (s < 86400 * INT64_C(365))
        return;
    date_of(s / 86400, &year, &month, &day);
    paper_format(paper, " \xC2\xB7 %04d-%02d-%02d %02d:%02d UTC", year, month,
                 day, (int)(minute / 60), (int)(minute % 60));
}

static void write_head(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct paper *paper = &page->paper;

    paper_format(paper, "<header>\n<h1>%c%s to the %s",
                 'A' + maneuver_kind_name(attempt->maneuver)[0] - 'a',
                 maneuver_kind_name(attempt->maneuver) + 1,
                 attempt->direction < 0 ? "left" : "right");
    if (attempt->person[0] != '\0') {
        paper_markup(paper, ", ");
        paper_text(paper, attempt->person);
    }
    paper_format(paper, "</h1>\n<p class=\"quiet\">attempt %u",
                 attempt->number);
    write_date(paper, attempt->begun_unix_ns);
    if (attempt->aircraft.name[0] != '\0') {
        paper_markup(paper, " \xC2\xB7 ");
        paper_text(paper, attempt->aircraft.name);
    }
    paper_markup(paper, " \xC2\xB7 standard \xE2\x80\x9C");
    paper_text(paper, attempt->grade.standard);
    paper_markup(paper, "\xE2\x80\x9D</p>\n");
}

static void write_verdict(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct paper *paper = &page->paper;
    const struct debrief_grade *grade = &attempt->grade;
    uint32_t missed = item_count_verdict(grade, VERDICT_MISSED);
    uint32_t judged =
        grade->item_count - item_count_verdict(grade, VERDICT_NOT_JUDGED);
    char text[200];

    if (attempt->grade.verdict == VERDICT_IN_STANDARD)
        paper_markup(paper, "<p class=\"big good\">\xE2\x9C\x93 In standard");
    else if (missed > 0)
        paper_format(paper,
                     "<p class=\"big miss\">\xE2\x9C\x97 Missed: %u of %u "
                     "item%s",
                     missed, judged, judged == 1 ? "" : "s");
    else
        paper_markup(paper, "<p class=\"big\">\xE2\x80\x93 Not judged");
    paper_markup(paper, "</p>\n<p>");
    debrief_result_text(attempt, text, sizeof text);
    paper_text(paper, text);
    if (attempt->ending == ENDING_ABANDONED) {
        paper_markup(paper, " Given up: ");
        paper_text(paper, maneuver_reason_text(attempt->reason));
        paper_markup(paper, ".");
    } else if (attempt->ending == ENDING_CUT_OFF) {
        paper_markup(paper, " The stream ended before the attempt did.");
    }
    paper_markup(paper, "</p>\n</header>\n");
}

/* Figures, with the minus of the typographer before a digit. */
static void write_figures(struct paper *paper, const char *text)
{
    char part[2] = "";

    for (const char *at = text; *at != '\0'; at++) {
        part[0] = *at;
        if (*at == '-' && at[1] >= '0' && at[1] <= '9')
            paper_markup(paper, "\xE2\x88\x92");
        else
            paper_text(paper, part);
    }
}

static void write_cell(struct paper *paper, const char *class_name,
                       const char *text)
{
    paper_format(paper, "<td class=\"%s\">", class_name);
    write_figures(paper, text);
    paper_markup(paper, "</td>");
}

/* ---- what to do better -------------------------------------------------- */

static void write_lesson(struct page *page, const struct debrief_item *item,
                         uint32_t number)
{
    struct paper *paper = &page->paper;
    char text[64];

    paper_format(paper,
                 "<div class=\"card\">\n<h3><span class=\"disc\">%u"
                 "</span> ",
                 number);
    paper_text(paper, item->lesson->error);
    paper_markup(paper, "</h3>\n<p class=\"quiet\">");
    paper_text(paper, item->item);
    paper_markup(paper, ": ");
    item_flown_text(item, text, sizeof text);
    write_figures(paper, text);
    item_wanted_text(item, text, sizeof text);
    if (text[0] != '\0') {
        paper_markup(paper, ", wanted ");
        write_figures(paper, text);
    }
    item_when_text(item, text, sizeof text);
    if (text[0] != '\0') {
        paper_markup(paper, "; at ");
        paper_text(paper, text);
    }
    paper_markup(paper, "</p>\n<p>Likely cause: ");
    paper_text(paper, item->lesson->cause);
    paper_markup(paper, ".</p>\n<p><b>Next time:</b> ");
    paper_text(paper, item->lesson->next);
    paper_markup(paper, ".</p>\n</div>\n");
}

static void write_lessons(struct page *page)
{
    struct paper *paper = &page->paper;

    if (page->misses.count == 0)
        return;
    paper_markup(paper, "<section>\n<h2>What to do better</h2>\n"
                        "<div class=\"cards lessons\">\n");
    for (uint32_t i = 0; i < page->misses.count; i++)
        write_lesson(page, page->misses.item[i], i + 1);
    paper_markup(paper, "</div>\n");
    if (page->misses.more > 0)
        paper_format(
            paper, "<p class=\"quiet\">%u more %s in the table below.</p>\n",
            page->misses.more, page->misses.more == 1 ? "stands" : "stand");
    paper_markup(paper, "</section>\n");
}

/* ---- items -------------------------------------------------------------- */

static void write_item(struct page *page, const struct debrief_item *item)
{
    static const char *const verdict[] = {
        [VERDICT_IN_STANDARD] =
            "<td class=\"good\">\xE2\x9C\x93 in standard</td>",
        [VERDICT_MISSED] = "<td class=\"miss\">\xE2\x9C\x97 missed</td>",
        [VERDICT_NOT_JUDGED] =
            "<td class=\"quiet\">\xE2\x80\x93 not judged</td>"};
    struct paper *paper = &page->paper;
    char text[64];

    paper_markup(paper, "<tr><th scope=\"row\">");
    paper_text(paper, item->item);
    paper_markup(paper, "</th>");
    item_flown_text(item, text, sizeof text);
    write_cell(paper, "n", text);
    item_wanted_text(item, text, sizeof text);
    write_cell(paper, "n wanted", text);
    item_when_text(item, text, sizeof text);
    write_cell(paper, "when", text);
    paper_markup(paper, item->rule == RULE_INFORMATION
                            ? "<td class=\"quiet\">information</td>"
                            : verdict[item->verdict]);
    paper_markup(paper, "</tr>\n");
}

static void write_items(struct page *page)
{
    const struct debrief_grade *grade = &page->attempt->grade;
    struct paper *paper = &page->paper;

    paper_markup(paper, "<div class=\"card\">\n"
                        "<table class=\"items\">\n"
                        "<caption>Every item</caption>\n<thead><tr>"
                        "<th scope=\"col\">item</th>"
                        "<th scope=\"col\" class=\"n\">flown</th>"
                        "<th scope=\"col\" class=\"n wanted\">wanted</th>"
                        "<th scope=\"col\" class=\"when\">at</th>"
                        "<th scope=\"col\">verdict</th></tr></thead>\n"
                        "<tbody>\n");
    for (uint32_t i = 0; i < grade->item_count; i++)
        write_item(page, &grade->item[i]);
    paper_markup(paper, "</tbody></table>\n</div>\n");
}

/* ---- notes -------------------------------------------------------------- */

static void write_notes(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct paper *paper = &page->paper;

    if (attempt->note_count == 0)
        return;
    paper_markup(paper, "<section class=\"card\">\n<h2>Notes</h2>\n");
    for (uint32_t i = 0; i < attempt->note_count; i++) {
        const struct debrief_note *note = &attempt->note[i];

        paper_markup(paper, "<p class=\"note\"><span class=\"quiet\">at ");
        paper_number(paper, note->t_s, 0);
        paper_markup(paper, " s, ");
        paper_number(paper, units_deg(note->turn_rad), 0);
        paper_markup(paper, " deg:</span> ");
        paper_text(paper, note->text);
        paper_markup(paper, "</p>\n");
    }
    paper_markup(paper, "</section>\n");
}

/* ---- the whole ---------------------------------------------------------- */

int debrief_page_write(FILE *file, const struct debrief_attempt *attempt)
{
    struct page page = {.attempt = attempt};
    char title[DEBRIEF_PERSON_SIZE + 80];

    page_find_misses(&attempt->grade, &page.misses);
    page_make_axis(attempt, &page.axis);
    (void)snprintf(title, sizeof title, "%s to the %s, attempt %u%s%s",
                   maneuver_kind_name(attempt->maneuver),
                   attempt->direction < 0 ? "left" : "right", attempt->number,
                   attempt->person[0] != '\0' ? ", " : "", attempt->person);
    paper_begin(&page.paper, file, title);
    write_head(&page);
    write_verdict(&page);
    write_lessons(&page);
    paper_markup(&page.paper, "<main class=\"plots\">\n<div>\n");
    page_write_charts_left(&page);
    page_write_calls(&page);
    paper_markup(&page.paper, "</div>\n<div>\n");
    page_write_charts_right(&page);
    paper_markup(&page.paper, "</div>\n</main>\n<div class=\"halves\">\n");
    write_items(&page);
    paper_markup(&page.paper, "<div>\n");
    page_write_track(&page);
    write_notes(&page);
    paper_markup(&page.paper, "</div>\n</div>\n");
    page_write_table(&page);
    return paper_end(&page.paper);
}
