/* page.c - the plan card as a page. */
#include "quarterturn/brief.h"
#include "quarterturn/paper.h"

static void write_table(struct paper *paper, const struct brief_line *line,
                        uint32_t count)
{
    const char *section = NULL;

    for (uint32_t i = 0; i < count; i++) {
        if (line[i].section != section) {
            if (section != NULL)
                paper_markup(paper, "</tbody></table>\n");
            paper_element(paper, "h2", NULL, line[i].section);
            paper_markup(paper, "\n<table class=\"plan\"><tbody>\n");
        }
        section = line[i].section;
        paper_markup(paper, "<tr><th scope=\"row\">");
        paper_text(paper, line[i].label);
        paper_markup(paper, "</th>");
        paper_element(paper, "td", "n", line[i].value);
        paper_element(paper, "td", NULL, line[i].note);
        paper_element(paper, "td", "quiet", brief_basis_name(line[i].basis));
        paper_markup(paper, "</tr>\n");
    }
    if (section != NULL)
        paper_markup(paper, "</tbody></table>\n");
}

/* A line that begins with a blank goes on with the one before it. */
static void write_list(struct paper *paper, const char *title,
                       const char *const *lines)
{
    paper_element(paper, "h2", NULL, title);
    paper_markup(paper, "\n<ul>\n");
    for (; *lines != NULL; lines++) {
        paper_markup(paper, "<li>");
        paper_text(paper, *lines);
        for (; lines[1] != NULL && lines[1][0] == ' '; lines++)
            paper_text(paper, lines[1] + 1);
        paper_markup(paper, "</li>\n");
    }
    paper_markup(paper, "</ul>\n");
}

static void write_card(struct paper *paper, const char *label, double value,
                       int decimals, const char *unit)
{
    paper_markup(paper, "<div class=\"card\">");
    paper_element(paper, "div", "quiet", label);
    paper_markup(paper, "<div class=\"big\">");
    paper_number(paper, value, decimals);
    paper_text(paper, unit);
    paper_markup(paper, "</div></div>\n");
}

int brief_write_page(FILE *file, const struct brief_plan *plan)
{
    const char *side = plan->wish.direction > 0 ? "right" : "left";
    struct brief_line line[BRIEF_MAX_LINES];
    uint32_t count = brief_lines(plan, line);
    struct paper paper;

    paper_begin(&paper, file, "Chandelle: the plan");
    paper_format(&paper, "<h1>Chandelle to the %s</h1>\n<p>", side);
    paper_text(&paper, plan->aircraft.name);
    paper_markup(&paper, " at ");
    paper_number(&paper,
                 units_from_internal(UNIT_LB, plan->wish.conditions.weight_kg),
                 0);
    paper_markup(&paper, " lb</p>\n<div class=\"cards\">\n");
    write_card(&paper, "Entry", units_kt(plan->entry_mps), 0, " kt");
    write_card(&paper, "At or above",
               units_ft(plan->wish.conditions.altitude_m), 0, " ft");
    write_card(&paper, "Pitch at 90", units_deg(plan->line.finish_pitch_rad), 0,
               "\xC2\xB0");
    write_card(&paper, "Stall, wings level", units_kt(plan->stall_mps), 0,
               " kt");
    write_card(&paper, "Gain", units_ft(plan->line.gain_m), 0, " ft");
    paper_markup(&paper, "</div>\n");
    write_table(&paper, line, count);
    write_list(&paper, "Before the entry", brief_setup);
    write_list(&paper, "Watch", brief_watch);
    paper_markup(&paper,
                 "<p class=\"quiet\">Standard: FAA-S-ACS-7B, CA.V.C. "
                 "Convention: common practice or this project's own number. "
                 "Speeds are calibrated.</p>\n");
    return paper_end(&paper);
}
