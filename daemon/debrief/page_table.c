/* page_table.c - the same in numbers, for whoever hears a page read. */
#include <math.h>

#include "page.h"

static const double step_deg = 15.0;
enum { MOST_ROWS = 48 };

static void cell(struct page *page, double value, int decimals)
{
    paper_markup(&page->paper, "<td class=\"n\">");
    paper_number(&page->paper, value, decimals);
    paper_markup(&page->paper, "</td>");
}

static void write_row(struct page *page, const struct debrief_point *point)
{
    const struct debrief_attempt *attempt = page->attempt;

    paper_markup(&page->paper, "<tr>");
    cell(page, units_deg(point->turn_rad), 0);
    cell(page, point->t_s, 1);
    cell(page, page_bank_deg(attempt, point), 1);
    cell(page, units_deg(point->pitch_rad), 1);
    cell(page, units_kt(point->cas_mps), 1);
    cell(page, units_kt(point->stall_speed_mps), 1);
    cell(page, page_gain_ft(attempt, point), 0);
    cell(page, page_ball(attempt, point), page_ball_is_g(attempt) ? 3 : 1);
    paper_markup(&page->paper, "</tr>\n");
}

static void write_rows(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct debrief_point level;
    int rows = 0;

    for (uint32_t i = 0; i < attempt->point_count && rows < MOST_ROWS; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (point->t_s > page->axis.until_s)
            break;
        if (point->t_s >= 0.0 &&
            units_deg(point->turn_rad) >= rows * step_deg) {
            write_row(page, point);
            rows++;
        }
    }
    if (!isnan(attempt->level_s)) {
        debrief_point_at(attempt, attempt->level_s, &level);
        write_row(page, &level);
    }
}

static void write_calls(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct paper *paper = &page->paper;

    if (attempt->call_count == 0)
        return;
    paper_markup(paper, "<table>\n<caption>Calls</caption>\n<thead><tr>"
                        "<th scope=\"col\" class=\"n\">turn, deg</th>"
                        "<th scope=\"col\" class=\"n\">time, s</th>"
                        "<th scope=\"col\">call</th>"
                        "<th scope=\"col\">rank</th></tr></thead>\n<tbody>\n");
    for (uint32_t i = 0; i < attempt->call_count; i++) {
        const struct debrief_call *call = &attempt->call[i];

        paper_markup(paper, "<tr>");
        cell(page, units_deg(call->turn_rad), 0);
        cell(page, call->onset_s, 1);
        paper_element(paper, "td", NULL, call->text);
        paper_element(paper, "td", NULL, callout_rank_name(call->rank));
        paper_markup(paper, "</tr>\n");
    }
    paper_markup(paper, "</tbody></table>\n");
}

void page_write_table(struct page *page)
{
    struct paper *paper = &page->paper;

    paper_markup(paper,
                 "<details>\n<summary>The flight in numbers</summary>\n"
                 "<div class=\"wide\">\n"
                 "<table>\n<caption>The turn, every 15 degrees and at level "
                 "wings</caption>\n<thead><tr>"
                 "<th scope=\"col\" class=\"n\">turn, deg</th>"
                 "<th scope=\"col\" class=\"n\">time, s</th>"
                 "<th scope=\"col\" class=\"n\">bank, deg</th>"
                 "<th scope=\"col\" class=\"n\">pitch, deg</th>"
                 "<th scope=\"col\" class=\"n\">airspeed, kt</th>"
                 "<th scope=\"col\" class=\"n\">stall, kt</th>"
                 "<th scope=\"col\" class=\"n\">gain, ft</th>");
    paper_format(paper, "<th scope=\"col\" class=\"n\">ball right, %s</th>",
                 page_ball_is_g(page->attempt) ? "g" : "deg");
    paper_markup(paper, "</tr></thead>\n<tbody>\n");
    write_rows(page);
    paper_markup(paper, "</tbody></table>\n");
    write_calls(page);
    paper_markup(paper, "</div>\n</details>\n");
}
