/* page_calls.c - every call of an attempt, where it began to be heard. */
#include <math.h>
#include <string.h>

#include "page.h"

enum {
    ROWS = 6, /* of calls above one another */
    TEXT_SIZE = CALLOUT_TEXT_SIZE + 4
};
static const double row_height = 23.0;
static const double edge_left = 4.0;
static const double edge_right = 474.0;
static const double beside = 11.0; /* from a sign to its text */

/* Where a call stands. */
struct place {
    double x;
    double from; /* what its text and sign take */
    double to;
    enum plot_anchor anchor;
    int row; /* -1: there was no room */
    char text[TEXT_SIZE];
};

struct places {
    int rows;
    uint32_t left_out;
    struct place place[DEBRIEF_MAX_CALLS];
};

/* Cut at a blank, with dots, where a text is wider than there is room. */
static void shorten(char *text, double room)
{
    while (plot_text_width(text) > room) {
        char *blank;

        if (strlen(text) > 3)
            text[strlen(text) - 3] = '\0'; /* the dots of last time */
        blank = strrchr(text, ' ');
        if (blank == NULL)
            return;
        *blank = '\0';
        while (blank > text && (blank[-1] == ';' || blank[-1] == ','))
            *--blank = '\0';
        memcpy(blank, "\xE2\x80\xA6", 4);
    }
}

static void choose_side(const struct debrief_call *call, struct place *place)
{
    double right = edge_right - place->x - beside;
    double left = place->x - beside - edge_left;
    double width;

    (void)memcpy(place->text, call->text, sizeof call->text);
    width = plot_text_width(place->text);
    place->anchor = width <= right || right >= left ? PLOT_START : PLOT_END;
    shorten(place->text, place->anchor == PLOT_START ? right : left);
    width = plot_text_width(place->text);
    if (place->anchor == PLOT_START) {
        place->from = place->x - beside;
        place->to = place->x + beside + width;
    } else {
        place->from = place->x - beside - width;
        place->to = place->x + beside;
    }
}

/* The first row where it meets none of those before it. */
static int find_row(const struct places *places, uint32_t index)
{
    const struct place *place = &places->place[index];

    for (int row = 0; row < ROWS; row++) {
        bool free = true;

        for (uint32_t i = 0; i < index && free; i++) {
            const struct place *other = &places->place[i];

            free = other->row != row || other->from > place->to + 4.0 ||
                   other->to < place->from - 4.0;
        }
        if (free)
            return row;
    }
    return -1;
}

static void arrange(const struct chart *chart, struct places *places)
{
    const struct debrief_attempt *attempt = chart->page->attempt;

    places->left_out = attempt->calls_left_out;
    for (uint32_t i = 0; i < attempt->call_count; i++) {
        const struct debrief_call *call = &attempt->call[i];
        struct place *place = &places->place[i];

        place->x = chart_x(chart, call->onset_s, call->turn_rad);
        place->row = -1;
        if (isfinite(place->x)) {
            choose_side(call, place);
            place->row = find_row(places, i);
        }
        if (place->row >= places->rows)
            places->rows = place->row + 1;
        if (place->row < 0)
            places->left_out++;
    }
}

static void draw_call(struct chart *chart, const struct debrief_call *call,
                      const struct place *place)
{
    static const enum plot_shape shape[] = {[RANK_ADVICE] = PLOT_SQUARE,
                                            [RANK_PHASE] = PLOT_CIRCLE,
                                            [RANK_CAUTION] = PLOT_DIAMOND,
                                            [RANK_WARNING] = PLOT_TRIANGLE};
    struct plot *plot = &chart->turn;
    double y = plot->top + ((double)place->row + 0.5) * row_height + 2.0;
    bool alarm = call->rank == RANK_WARNING;

    plot_sign(plot, alarm ? "alarm" : "sign", shape[call->rank], place->x, y,
              12.0);
    plot_label(plot, alarm ? "strong halo" : "halo", place->anchor,
               place->anchor == PLOT_START ? place->x + beside
                                           : place->x - beside,
               y + 0.35 * PLOT_TEXT_SIZE, place->text);
}

void page_write_calls(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    struct paper *paper = &page->paper;
    struct chart_frame frame = {
        .words = {"calls", "Calls over degrees of turn",
                  "Every call where it began to be heard; they are written "
                  "out in the table at the end of the page."},
        .height = 60.0,
        .greatest = 1.0};
    struct chart chart;
    struct places places = {.rows = 1};

    paper_markup(paper, "<figure>\n<figcaption><b>Calls</b>");
    if (attempt->call_count == 0) {
        paper_markup(paper, "</figcaption>\n<p class=\"quiet\">Nothing was "
                            "called.</p>\n</figure>\n");
        return;
    }
    paper_markup(paper, "\n<span class=\"key\">\xE2\x96\xB2 warning</span>\n"
                        "<span class=\"key\">\xE2\x97\x86 caution</span>\n"
                        "<span class=\"key\">\xE2\x97\x8F phase</span>\n"
                        "<span class=\"key\">\xE2\x96\xA0 advice</span>"
                        "</figcaption>\n");
    /* Where calls fall does not depend on the height that they need. */
    chart_lay_out(&chart, page, &frame);
    arrange(&chart, &places);
    frame.height += (double)places.rows * row_height;
    chart_begin(&chart, page, &frame);
    for (uint32_t i = 0; i < attempt->call_count; i++)
        if (places.place[i].row >= 0)
            draw_call(&chart, &attempt->call[i], &places.place[i]);
    chart_end(&chart);
    if (places.left_out > 0)
        paper_format(paper,
                     "<p class=\"quiet\">%u more %s not drawn here.</p>\n",
                     places.left_out, places.left_out == 1 ? "is" : "are");
    paper_markup(paper, "</figure>\n");
}
