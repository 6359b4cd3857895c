/* plot.c - pictures: what lines, bands and marks are made of. */
#include "quarterturn/plot.h"
#include "quarterturn/paper.h"

#include <math.h>
#include <stddef.h>

/* ---- a picture ---------------------------------------------------------- */

void plot_begin(struct plot *plot, struct paper *paper, double height,
                const struct plot_words *words)
{
    *plot = (struct plot){.paper = paper,
                          .right = PLOT_WIDTH,
                          .bottom = height,
                          .x_right = 1.0,
                          .y_top = 1.0};
    paper_format(paper,
                 "<svg class=\"plot\" viewBox=\"0 0 %d %.0f\" role=\"img\" "
                 "aria-labelledby=\"%s-title %s-text\">\n"
                 "<title id=\"%s-title\">",
                 PLOT_WIDTH, height, words->id, words->id, words->id);
    paper_text(paper, words->title);
    paper_format(paper, "</title><desc id=\"%s-text\">", words->id);
    paper_text(paper, words->description);
    paper_markup(paper, "</desc>\n");
}

void plot_end(struct plot *plot)
{
    paper_markup(plot->paper, "</svg>\n");
}

void plot_set_box(struct plot *plot, double left, double top, double right,
                  double bottom)
{
    plot->left = left;
    plot->top = top;
    plot->right = right;
    plot->bottom = bottom;
}

void plot_set_range(struct plot *plot, double x_left, double x_right,
                    double y_bottom, double y_top)
{
    plot->x_left = x_left;
    plot->x_right = x_right > x_left ? x_right : x_left + 1.0;
    plot->y_bottom = y_bottom;
    plot->y_top = y_top > y_bottom ? y_top : y_bottom + 1.0;
}

/* NaN fails every comparison, and is given back. */
static double hold(double value, double least, double greatest)
{
    if (value < least)
        return least;
    if (value > greatest)
        return greatest;
    return value;
}

double plot_x(const struct plot *plot, double x)
{
    double share = (x - plot->x_left) / (plot->x_right - plot->x_left);

    return hold(plot->left + share * (plot->right - plot->left), plot->left,
                plot->right);
}

double plot_y(const struct plot *plot, double y)
{
    double share = (y - plot->y_bottom) / (plot->y_top - plot->y_bottom);

    return hold(plot->bottom - share * (plot->bottom - plot->top), plot->top,
                plot->bottom);
}

/* ---- lines -------------------------------------------------------------- */

void plot_line_begin(struct plot *plot, const char *class_name)
{
    plot->line_class = class_name;
    plot->line_open = false;
    plot->pen_down = false;
}

void plot_line_to(struct plot *plot, double x, double y)
{
    double at_x = plot_x(plot, x);
    double at_y = plot_y(plot, y);

    if (!isfinite(at_x) || !isfinite(at_y)) {
        plot->pen_down = false;
        return;
    }
    /* Less than a line is thick. */
    if (plot->pen_down && fabs(at_x - plot->last_x) < 1.0 &&
        fabs(at_y - plot->last_y) < 0.2)
        return;
    if (!plot->line_open)
        paper_format(plot->paper, "<path class=\"%s\" d=\"", plot->line_class);
    plot->line_open = true;
    paper_format(plot->paper, "%s%.1f %.1f", plot->pen_down ? "L" : "M", at_x,
                 at_y);
    plot->pen_down = true;
    plot->last_x = at_x;
    plot->last_y = at_y;
}

void plot_line_end(struct plot *plot)
{
    if (plot->line_open)
        paper_markup(plot->paper, "\"/>\n");
    plot->line_open = false;
}

/* The points of one side, there or back. */
static void write_side(struct plot *plot, int count, const double *x,
                       const double *y, bool back)
{
    int written = 0;

    for (int k = 0; k < count; k++) {
        int i = back ? count - 1 - k : k;
        double at_x = plot_x(plot, x[i]);
        double at_y = plot_y(plot, y[i]);

        if (isfinite(at_x) && isfinite(at_y))
            paper_format(plot->paper, "%s%.1f %.1f",
                         back || written++ > 0 ? "L" : "M", at_x, at_y);
    }
}

void plot_band(struct plot *plot, const char *class_name, int count,
               const double *x, const double *low, const double *high)
{
    bool any = false;

    for (int i = 0; i < count; i++)
        any = any || (isfinite(x[i]) && isfinite(high[i]) && isfinite(low[i]));
    if (!any)
        return;
    paper_format(plot->paper, "<path class=\"%s\" d=\"", class_name);
    write_side(plot, count, x, high, false);
    write_side(plot, count, x, low, true);
    paper_markup(plot->paper, "Z\"/>\n");
}

void plot_stroke(struct plot *plot, const char *class_name, double from_x,
                 double from_y, double to_x, double to_y)
{
    if (isfinite(from_x) && isfinite(from_y) && isfinite(to_x) &&
        isfinite(to_y))
        paper_format(plot->paper,
                     "<line class=\"%s\" x1=\"%.1f\" y1=\"%.1f\" x2=\"%.1f\" "
                     "y2=\"%.1f\"/>\n",
                     class_name, from_x, from_y, to_x, to_y);
}

void plot_rule_y(struct plot *plot, const char *class_name, double y)
{
    double at = plot_y(plot, y);

    plot_stroke(plot, class_name, plot->left, at, plot->right, at);
}

void plot_rule_x(struct plot *plot, const char *class_name, double x)
{
    double at = plot_x(plot, x);

    plot_stroke(plot, class_name, at, plot->top, at, plot->bottom);
}

/* ---- marks -------------------------------------------------------------- */

void plot_sign(struct plot *plot, const char *class_name, enum plot_shape shape,
               double x, double y, double size)
{
    double r = size / 2.0;

    if (!isfinite(x) || !isfinite(y))
        return;
    switch (shape) {
    case PLOT_CIRCLE:
        paper_format(plot->paper,
                     "<circle class=\"%s\" cx=\"%.1f\" cy=\"%.1f\" "
                     "r=\"%.1f\"/>\n",
                     class_name, x, y, r);
        break;
    case PLOT_SQUARE:
        paper_format(plot->paper,
                     "<rect class=\"%s\" x=\"%.1f\" y=\"%.1f\" "
                     "width=\"%.1f\" height=\"%.1f\"/>\n",
                     class_name, x - 0.9 * r, y - 0.9 * r, 1.8 * r, 1.8 * r);
        break;
    case PLOT_DIAMOND:
        paper_format(plot->paper,
                     "<polygon class=\"%s\" points=\"%.1f,%.1f %.1f,%.1f "
                     "%.1f,%.1f %.1f,%.1f\"/>\n",
                     class_name, x, y - 1.25 * r, x + 1.25 * r, y, x,
                     y + 1.25 * r, x - 1.25 * r, y);
        break;
    case PLOT_TRIANGLE:
        paper_format(plot->paper,
                     "<polygon class=\"%s\" points=\"%.1f,%.1f %.1f,%.1f "
                     "%.1f,%.1f\"/>\n",
                     class_name, x, y - 1.2 * r, x + 1.2 * r, y + r,
                     x - 1.2 * r, y + r);
        break;
    }
}

void plot_marker(struct plot *plot, const char *class_name,
                 enum plot_shape shape, double x, double y)
{
    plot_sign(plot, class_name, shape, plot_x(plot, x), plot_y(plot, y), 12.0);
}

/* ---- words -------------------------------------------------------------- */

void plot_label(struct plot *plot, const char *class_name,
                enum plot_anchor anchor, double x, double y, const char *text)
{
    static const char *const name[] = {
        [PLOT_START] = "start", [PLOT_MIDDLE] = "middle", [PLOT_END] = "end"};

    if (!isfinite(x) || !isfinite(y))
        return;
    paper_markup(plot->paper, "<text ");
    if (class_name != NULL)
        paper_format(plot->paper, "class=\"%s\" ", class_name);
    paper_format(plot->paper,
                 "x=\"%.1f\" y=\"%.1f\" "
                 "text-anchor=\"%s\">",
                 x, y, name[anchor]);
    paper_text(plot->paper, text);
    paper_markup(plot->paper, "</text>\n");
}

/* A page does not know the letters that a reader's screen has: 0.6 of their
 * size is what they take in the widest of the usual ones. */
double plot_text_width(const char *text)
{
    size_t letters = 0;

    for (size_t i = 0; text[i] != '\0'; i++)
        letters += ((unsigned char)text[i] & 0xC0) != 0x80;
    return 0.6 * PLOT_TEXT_SIZE * (double)letters;
}

void plot_key(struct paper *paper, const char *class_name, const char *text)
{
    paper_format(paper, "<span class=\"key\"><i class=\"%s\"></i>", class_name);
    paper_text(paper, text);
    paper_markup(paper, "</span>\n");
}
