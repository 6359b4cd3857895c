/* page.c - progress as a page: a picture for each figure. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/logbook.h"
#include "quarterturn/paper.h"
#include "quarterturn/plot.h"

enum { PICTURE_HEIGHT = 190, LEAST_TO_PLOT = 2 };

/* What a picture is drawn from. */
struct drawing {
    const struct logbook *book;
    const struct logbook_progress *progress;
    struct paper paper;
};

static double value_at(const struct drawing *drawing, uint32_t attempt,
                       uint32_t figure)
{
    const struct logbook *book = drawing->book;

    return book
        ->value[(size_t)drawing->progress->last[attempt] * book->figure_count +
                figure];
}

/* ---- a picture ---------------------------------------------------------- */

/* The range of a figure. Returns: how many attempts have it. */
static uint32_t find_range(const struct drawing *drawing, uint32_t figure,
                           double *least, double *greatest)
{
    uint32_t known = 0;

    for (uint32_t i = 0; i < drawing->progress->last_count; i++) {
        double value = value_at(drawing, i, figure);

        if (isnan(value))
            continue;
        *least = known == 0 ? value : fmin(*least, value);
        *greatest = known == 0 ? value : fmax(*greatest, value);
        known++;
    }
    return known;
}

/* Small differences are to look small. Returns: how much of a figure a picture
 * shows at least. */
static double least_span(const char *unit)
{
    return strcmp(unit, "ft") == 0  ? 200.0
           : strcmp(unit, "s") == 0 ? 4.0
                                    : 10.0;
}

static void set_range(const struct drawing *drawing, uint32_t figure,
                      double least, double greatest, struct plot *plot)
{
    uint32_t count = drawing->progress->last_count;
    double more =
        (least_span(drawing->book->unit[figure]) - (greatest - least)) / 2.0;
    struct plot_ticks ticks;

    if (more > 0.0) {
        least -= more;
        greatest += more;
    }
    plot_widen(&least, &greatest, 5);
    plot_set_range(plot, 0.5, count + 0.5, least, greatest);
    plot_make_ticks(least, greatest, 5, &ticks);
    plot_axis_y(plot, &ticks);
    plot_make_ticks(1.0, count, 8, &ticks);
    if (ticks.step >= 1.0)
        plot_axis_x(plot, &ticks);
}

/* Where a miss was, the sign is filled; a circle is a turn to the left, a
 * square one to the right. */
static void draw_attempts(struct drawing *drawing, struct plot *plot,
                          uint32_t figure)
{
    plot_line_begin(plot, "trend");
    for (uint32_t i = 0; i < drawing->progress->last_count; i++)
        if (!isnan(value_at(drawing, i, figure)))
            plot_line_to(plot, i + 1.0, value_at(drawing, i, figure));
    plot_line_end(plot);
    for (uint32_t i = 0; i < drawing->progress->last_count; i++) {
        const struct logbook_row *row =
            &drawing->book->row[drawing->progress->last[i]];
        bool missed = (row->missed >> figure & 1) != 0;

        if (!isnan(value_at(drawing, i, figure)))
            plot_marker(plot, missed ? "alarm" : "spot",
                        row->direction < 0 ? PLOT_CIRCLE : PLOT_SQUARE, i + 1.0,
                        value_at(drawing, i, figure));
    }
}

static void draw_figure(struct drawing *drawing, uint32_t figure)
{
    const struct logbook *book = drawing->book;
    const struct logbook_trend *trend = &drawing->progress->trend[figure];
    struct plot_words words;
    struct plot plot;
    double least = 0.0;
    double greatest = 0.0;
    char id[24];
    char told[128];

    if (find_range(drawing, figure, &least, &greatest) < LEAST_TO_PLOT)
        return;
    (void)snprintf(id, sizeof id, "figure%u", figure);
    (void)snprintf(told, sizeof told,
                   "Missed in %u of the last %u; left %u of %u, right %u of "
                   "%u. The values stand in the table below.",
                   trend->recent.missed, trend->recent.judged,
                   trend->left.missed, trend->left.judged, trend->right.missed,
                   trend->right.judged);
    words = (struct plot_words){id, book->figure[figure], told};
    paper_markup(&drawing->paper, "<figure><figcaption>");
    paper_element(&drawing->paper, "b", NULL, book->figure[figure]);
    paper_element(&drawing->paper, "span", "key", book->unit[figure]);
    paper_markup(&drawing->paper, "</figcaption>\n");
    plot_begin(&plot, &drawing->paper, PICTURE_HEIGHT, &words);
    plot_set_box(&plot, 56.0, 12.0, PLOT_WIDTH - 14.0, PICTURE_HEIGHT - 26.0);
    set_range(drawing, figure, least, greatest, &plot);
    plot_frame(&plot);
    draw_attempts(drawing, &plot, figure);
    plot_end(&plot);
    paper_markup(&drawing->paper, "</figure>\n");
}

/* ---- tables ------------------------------------------------------------- */

static void write_tally(struct paper *paper, const struct logbook_tally *tally)
{
    if (tally->judged == 0)
        paper_markup(paper, "<td class=\"n\">\xE2\x80\x93</td>");
    else
        paper_format(paper, "<td class=\"n\">%u of %u</td>", tally->missed,
                     tally->judged);
}

static void write_items(struct drawing *drawing)
{
    paper_format(&drawing->paper,
                 "<h2>Missed</h2>\n<div class=\"wide\"><table><thead><tr><th "
                 "scope=\"col\">Item"
                 "</th><th class=\"n\" scope=\"col\">last %d</th>"
                 "<th class=\"n\" scope=\"col\">%d before</th>"
                 "<th class=\"n\" scope=\"col\">left</th>"
                 "<th class=\"n\" scope=\"col\">right</th></tr></thead>"
                 "<tbody>\n",
                 LOGBOOK_RECENT, LOGBOOK_RECENT);
    for (uint32_t i = 0; i < drawing->book->figure_count; i++) {
        const struct logbook_trend *trend = &drawing->progress->trend[i];

        if (trend->recent.judged == 0)
            continue;
        paper_markup(&drawing->paper, "<tr><th scope=\"row\">");
        paper_text(&drawing->paper, drawing->book->figure[i]);
        paper_markup(&drawing->paper, "</th>");
        write_tally(&drawing->paper, &trend->recent);
        write_tally(&drawing->paper, &trend->before);
        write_tally(&drawing->paper, &trend->left);
        write_tally(&drawing->paper, &trend->right);
        paper_markup(&drawing->paper, "</tr>\n");
    }
    paper_markup(&drawing->paper, "</tbody></table></div>\n");
}

static void write_missed(struct drawing *drawing, const struct logbook_row *row)
{
    bool first = true;

    paper_markup(&drawing->paper, "<td>");
    for (uint32_t i = 0; i < drawing->book->figure_count; i++) {
        if ((row->missed >> i & 1) == 0)
            continue;
        if (!first)
            paper_markup(&drawing->paper, ", ");
        paper_text(&drawing->paper, drawing->book->figure[i]);
        first = false;
    }
    paper_markup(&drawing->paper, "</td>");
}

static void write_attempts(struct drawing *drawing)
{
    paper_markup(&drawing->paper,
                 "<h2>Attempts</h2>\n<div class=\"wide\"><table><thead><tr><th "
                 "class=\"n\" "
                 "scope=\"col\">No</th><th scope=\"col\">Begun (UTC)</th>"
                 "<th scope=\"col\">Who</th><th scope=\"col\">Turn</th>"
                 "<th scope=\"col\">Verdict</th><th scope=\"col\">Missed</th>"
                 "</tr></thead><tbody>\n");
    for (uint32_t i = drawing->progress->last_count; i-- > 0;) {
        const struct logbook_row *row =
            &drawing->book->row[drawing->progress->last[i]];
        const char *verdict = debrief_verdict_name(row->verdict);

        paper_format(&drawing->paper, "<tr><td class=\"n\">%u</td>", i + 1);
        paper_element(&drawing->paper, "td", NULL, row->begun);
        paper_element(&drawing->paper, "td", NULL, row->person);
        paper_element(&drawing->paper, "td", NULL,
                      row->direction < 0   ? "left"
                      : row->direction > 0 ? "right"
                                           : "");
        paper_element(&drawing->paper, "td",
                      row->verdict == VERDICT_MISSED        ? "miss"
                      : row->verdict == VERDICT_IN_STANDARD ? "good"
                                                            : "quiet",
                      verdict);
        write_missed(drawing, row);
        paper_markup(&drawing->paper, "</tr>\n");
    }
    paper_markup(&drawing->paper, "</tbody></table></div>\n");
}

/* The figures behind the pictures. */
static void write_values(struct drawing *drawing)
{
    const struct logbook *book = drawing->book;

    paper_markup(&drawing->paper, "<details><summary>All figures</summary>\n"
                                  "<div class=\"wide\"><table><thead><tr>"
                                  "<th scope=\"col\">Item</th>");
    for (uint32_t i = 0; i < drawing->progress->last_count; i++)
        paper_format(&drawing->paper, "<th class=\"n\" scope=\"col\">%u</th>",
                     i + 1);
    paper_markup(&drawing->paper, "</tr></thead><tbody>\n");
    for (uint32_t k = 0; k < book->figure_count; k++) {
        paper_markup(&drawing->paper, "<tr><th scope=\"row\">");
        paper_text(&drawing->paper, book->figure[k]);
        paper_format(&drawing->paper, " (%s)</th>", book->unit[k]);
        for (uint32_t i = 0; i < drawing->progress->last_count; i++) {
            paper_markup(&drawing->paper, "<td class=\"n\">");
            paper_number(&drawing->paper, value_at(drawing, i, k), 1);
            paper_markup(&drawing->paper, "</td>");
        }
        paper_markup(&drawing->paper, "</tr>\n");
    }
    paper_markup(&drawing->paper, "</tbody></table></div></details>\n");
}

/* ---- the page ----------------------------------------------------------- */

static void write_head(struct drawing *drawing)
{
    const struct logbook_progress *progress = drawing->progress;
    char advice[LOGBOOK_ADVICE_SIZE];

    paper_markup(&drawing->paper, "<h1>Progress");
    if (progress->person != NULL) {
        paper_markup(&drawing->paper, " of ");
        paper_text(&drawing->paper, progress->person);
    }
    paper_format(&drawing->paper,
                 "</h1>\n<p>%u attempt%s in the logbook, %u in standard</p>\n",
                 progress->attempts, progress->attempts == 1 ? "" : "s",
                 progress->in_standard);
    logbook_progress_advice(drawing->book, progress, advice, sizeof advice);
    paper_markup(&drawing->paper, "<div class=\"card\"><div class=\"quiet\">"
                                  "Practise next</div>");
    paper_element(&drawing->paper, "div", "big", advice);
    paper_markup(&drawing->paper, "</div>\n");
}

int logbook_progress_page(FILE *file, const struct logbook *book,
                          const struct logbook_progress *progress)
{
    struct drawing drawing = {.book = book, .progress = progress};

    paper_begin(&drawing.paper, file, "Progress");
    write_head(&drawing);
    if (progress->last_count >= LEAST_TO_PLOT) {
        paper_format(&drawing.paper,
                     "<p class=\"quiet\">The last %u attempts, the latest on "
                     "the right. Circle: left turn. Square: right turn. "
                     "Filled: missed.</p>\n<div class=\"plots\">\n",
                     progress->last_count);
        for (uint32_t i = 0; i < book->figure_count; i++)
            draw_figure(&drawing, i);
        paper_markup(&drawing.paper, "</div>\n");
    }
    if (progress->attempts > 0) {
        write_items(&drawing);
        write_attempts(&drawing);
        write_values(&drawing);
    }
    return paper_end(&drawing.paper);
}
