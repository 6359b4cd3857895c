/* page_axis.c - what the charts of an attempt share: one axis, degrees of turn
 * and then seconds, so that what stands above one another happened at once. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page.h"

/* Where the parts lie, in units of the picture. */
static const double box_left = 58.0;
static const double box_right = 468.0;
static const double after_width = 96.0;
static const double gap = 12.0;
static const double above = 8.0;
static const double below = 44.0;
/* Less is not worth a part of its own. */
static const double after_least_s = 2.0;
static const double disc_size = 22.0;

void page_make_axis(const struct debrief_attempt *attempt,
                    struct page_axis *out)
{
    double most_deg = 182.0;

    out->until_s =
        isnan(attempt->level_s) ? attempt->ended_s : attempt->level_s;
    out->after_s = attempt->ended_s - attempt->level_s;
    if (!(out->after_s >= after_least_s))
        out->after_s = 0.0;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (!(point->t_s > out->until_s) &&
            units_deg(point->turn_rad) > most_deg)
            most_deg = units_deg(point->turn_rad);
    }
    /* Nobody reads a turn of many circles from it. */
    out->most_deg = fmin(most_deg, 720.0);
}

static void draw_turn_axis(struct chart *chart)
{
    struct plot *plot = &chart->turn;
    struct plot_ticks ticks = {.count = 0};
    double step = chart->page->axis.most_deg > 300.0 ? 90.0 : 45.0;

    while (ticks.count < PLOT_MAX_TICKS &&
           ticks.count * step <= chart->page->axis.most_deg) {
        ticks.at[ticks.count] = ticks.count * step;
        ticks.count++;
    }
    plot_axis_x(plot, &ticks);
    plot_rule_x(plot, "mark", 90.0);
    plot_rule_x(plot, "mark", 180.0);
    plot_label(plot, "quiet", PLOT_MIDDLE, (plot->left + plot->right) / 2.0,
               plot->bottom + 2.5 * PLOT_TEXT_SIZE, "degrees of turn");
}

static void draw_after_axis(struct chart *chart)
{
    struct plot *plot = &chart->after;
    struct plot_ticks ticks;

    plot_make_ticks(0.0, chart->page->axis.after_s, 4, &ticks);
    /* The nought would stand beside the end of the turn. */
    for (int i = 1; i < ticks.count; i++)
        ticks.at[i - 1] = ticks.at[i];
    if (ticks.count > 0)
        ticks.count--;
    plot_axis_x(plot, &ticks);
    plot_label(plot, "quiet", PLOT_END, plot->right,
               plot->bottom + 2.5 * PLOT_TEXT_SIZE, "s after level");
}

void chart_lay_out(struct chart *chart, struct page *page,
                   const struct chart_frame *frame)
{
    double bottom = frame->height - below;
    double right = box_right;

    *chart =
        (struct chart){.page = page, .has_after = page->axis.after_s > 0.0};
    chart->turn.paper = chart->after.paper = &page->paper;
    if (chart->has_after)
        right -= after_width + gap;
    plot_set_box(&chart->turn, box_left, above, right, bottom);
    plot_set_range(&chart->turn, 0.0, page->axis.most_deg, frame->least,
                   frame->greatest);
    plot_set_box(&chart->after, right + gap, above, box_right, bottom);
    plot_set_range(&chart->after, 0.0, page->axis.after_s, frame->least,
                   frame->greatest);
}

void chart_begin(struct chart *chart, struct page *page,
                 const struct chart_frame *frame)
{
    struct plot_ticks ticks;

    plot_begin(&chart->turn, &page->paper, frame->height, &frame->words);
    chart_lay_out(chart, page, frame);
    plot_make_ticks(frame->least, frame->greatest, 6, &ticks);
    draw_turn_axis(chart);
    if (chart->has_after)
        draw_after_axis(chart);
    if (!frame->numbers) {
        plot_stroke(&chart->turn, "ground", box_left, chart->turn.bottom,
                    box_right, chart->turn.bottom);
        return;
    }
    plot_axis_y(&chart->turn, &ticks);
    plot_frame(&chart->turn);
    if (!chart->has_after)
        return;
    for (int i = 0; i < ticks.count; i++)
        plot_rule_y(&chart->after, "grid", ticks.at[i]);
    plot_frame(&chart->after);
}

void chart_end(struct chart *chart)
{
    plot_end(&chart->turn);
}

void chart_series(struct chart *chart, const char *class_name,
                  chart_value value)
{
    const struct debrief_attempt *attempt = chart->page->attempt;
    double until_s = chart->page->axis.until_s;
    uint32_t i = 0;

    plot_line_begin(&chart->turn, class_name);
    for (; i < attempt->point_count; i++) {
        const struct debrief_point *point = &attempt->point[i];

        if (point->t_s > until_s)
            break;
        plot_line_to(&chart->turn, units_deg(point->turn_rad),
                     value(attempt, point));
    }
    plot_line_end(&chart->turn);
    if (!chart->has_after)
        return;
    plot_line_begin(&chart->after, class_name);
    for (; i < attempt->point_count; i++)
        plot_line_to(&chart->after, attempt->point[i].t_s - until_s,
                     value(attempt, &attempt->point[i]));
    plot_line_end(&chart->after);
}

bool chart_span(const struct debrief_attempt *attempt, chart_value value,
                double *least, double *greatest)
{
    bool any = false;

    for (uint32_t i = 0; i < attempt->point_count; i++) {
        double now = value(attempt, &attempt->point[i]);

        if (!isfinite(now))
            continue;
        any = true;
        *least = fmin(*least, now);
        *greatest = fmax(*greatest, now);
    }
    return any;
}

double chart_x(const struct chart *chart, double t_s, double turn_rad)
{
    double until_s = chart->page->axis.until_s;

    if (chart->has_after && t_s > until_s)
        return plot_x(&chart->after, t_s - until_s);
    return plot_x(&chart->turn, units_deg(turn_rad));
}

/* ---- misses ------------------------------------------------------------- */

void page_disc(struct plot *plot, double x, double y, uint32_t number)
{
    char text[16];

    if (!isfinite(x) || !isfinite(y))
        return;
    (void)snprintf(text, sizeof text, "%u", number);
    plot_sign(plot, "alarm", PLOT_CIRCLE, x, y, disc_size);
    plot_label(plot, "disc", PLOT_MIDDLE, x, y + 0.36 * PLOT_TEXT_SIZE, text);
}

/* Beside one that stands there already there is room on the other side. */
static bool is_taken(const struct chart *chart, double x)
{
    for (int i = 0; i < chart->flags; i++)
        if (fabs(chart->flag_x[i] - x) < disc_size + 4.0)
            return true;
    return false;
}

static void draw_flag(struct chart *chart, const struct debrief_item *item,
                      uint32_t number, chart_value value)
{
    struct plot *plot = &chart->turn;
    double reach = 1.6 * disc_size;
    struct debrief_point point;
    double x;
    double y;
    double to;
    bool up;

    debrief_point_at(chart->page->attempt, item->t_s, &point);
    x = chart_x(chart, item->t_s, point.turn_rad);
    y = plot_y(plot, value(chart->page->attempt, &point));
    if (!isfinite(x) || !isfinite(y))
        return;
    up = y - reach - disc_size / 2.0 >= plot->top;
    if (is_taken(chart, x))
        up = !up;
    to = up ? y - reach : y + reach;
    to = fmin(fmax(to, plot->top + disc_size / 2.0),
              plot->bottom - disc_size / 2.0);
    x = fmin(fmax(x, plot->left + disc_size / 2.0), box_right - 2.0);
    plot_stroke(plot, "flag", x, y, x, to);
    page_disc(plot, x, to, number);
    if (chart->flags < PAGE_MISSES)
        chart->flag_x[chart->flags++] = x;
}

void chart_flag(struct chart *chart, const char *item, chart_value value)
{
    const struct page_misses *misses = &chart->page->misses;

    for (uint32_t i = 0; i < misses->count; i++)
        if (strncmp(misses->item[i]->item, item, strlen(item)) == 0 &&
            isfinite(misses->item[i]->t_s))
            draw_flag(chart, misses->item[i], i + 1, value);
}
