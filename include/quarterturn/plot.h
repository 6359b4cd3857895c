/* plot.h - drawing on a page: pictures with axes, lines, bands and marks.
 *
 * Part of the paper room, as the page that it draws on is: inline SVG 2 that
 * needs no script. Colours, widths and dashes are the style's: a class names
 * what a thing is ("flown", "ideal"), never how it looks. A picture is as wide
 * as its place on the page and its text grows with it: made PLOT_WIDTH wide, it
 * is readable in a column of a telephone's width and larger on a wall. No
 * number of a picture is written that is not finite. */
#ifndef QUARTERTURN_PLOT_H
#define QUARTERTURN_PLOT_H

#include <stdbool.h>

struct paper; /* paper.h */

enum {
    PLOT_WIDTH = 480,   /* of a picture, in its own units */
    PLOT_TEXT_SIZE = 15 /* of its letters */
};

/* ---- a picture ---------------------------------------------------------- */

/* One picture being drawn. Embedded by its owner; fields are private but for
 * the box, which may be read. */
struct plot {
    struct paper *paper; /* borrowed */
    /* the box that values fall into, in units of the picture */
    double left, top, right, bottom;
    /* values at its edges */
    double x_left, x_right, y_bottom, y_top;
    /* a line being drawn */
    const char *line_class;
    bool line_open; /* something of it is on the page */
    bool pen_down;
    double last_x, last_y;
};

/* What somebody who cannot see a picture is told of it.
 * id: a word of the program's own, once on a page. */
struct plot_words {
    const char *id;
    const char *title; /* escaped */
    const char *description;
};

/* Begin a picture, PLOT_WIDTH by height units. */
void plot_begin(struct plot *plot, struct paper *paper, double height,
                const struct plot_words *words);
void plot_end(struct plot *plot);

/* Choose the box that values fall into. */
void plot_set_box(struct plot *plot, double left, double top, double right,
                  double bottom);
/* Choose the values at its edges; a side without extent is widened by 1. All
 * finite. */
void plot_set_range(struct plot *plot, double x_left, double x_right,
                    double y_bottom, double y_top);
/* Where a value falls, held to the box; NaN stays NaN. */
double plot_x(const struct plot *plot, double x);
double plot_y(const struct plot *plot, double y);

/* ---- axes --------------------------------------------------------------- */

enum { PLOT_MAX_TICKS = 12 };

/* Even steps of 1, 2, 5 or 10 times a power of ten inside a range. */
struct plot_ticks {
    int count;
    int decimals; /* that tell them apart */
    double step;
    double at[PLOT_MAX_TICKS];
};

/* most: how many there may be, 2..PLOT_MAX_TICKS. A range that is not finite
 * or empty gets none. */
void plot_make_ticks(double least, double greatest, int most,
                     struct plot_ticks *out);
/* Widen a range outward to whole steps of the ticks it would get. */
void plot_widen(double *least, double *greatest, int most);
/* Grid lines across the box with the numbers left of it. */
void plot_axis_y(struct plot *plot, const struct plot_ticks *ticks);
/* Grid lines up the box with the numbers under it. */
void plot_axis_x(struct plot *plot, const struct plot_ticks *ticks);
/* The frame of the box. */
void plot_frame(struct plot *plot);

/* ---- what is in it; values outside the box are held to its edge ---------- */

/* A line, point by point; a NaN interrupts it. What lies nearer to the last
 * point than can be seen is left out. */
void plot_line_begin(struct plot *plot, const char *class_name);
void plot_line_to(struct plot *plot, double x, double y);
void plot_line_end(struct plot *plot);

/* The area between two lines over the same x. count: 2 or more. Values that
 * are not finite are left out. */
void plot_band(struct plot *plot, const char *class_name, int count,
               const double *x, const double *low, const double *high);
/* Straight across the box at a value, and straight up. */
void plot_rule_y(struct plot *plot, const char *class_name, double y);
void plot_rule_x(struct plot *plot, const char *class_name, double x);

enum plot_shape { PLOT_CIRCLE, PLOT_SQUARE, PLOT_DIAMOND, PLOT_TRIANGLE };

void plot_marker(struct plot *plot, const char *class_name,
                 enum plot_shape shape, double x, double y);

/* ---- at a place of the picture ------------------------------------------ */

enum plot_anchor { PLOT_START, PLOT_MIDDLE, PLOT_END };

/* A line of text. x, y: where it begins, has its middle or ends, on the line
 * that its letters stand on. class_name: NULL for none. text: escaped. */
void plot_label(struct plot *plot, const char *class_name,
                enum plot_anchor anchor, double x, double y, const char *text);
void plot_stroke(struct plot *plot, const char *class_name, double from_x,
                 double from_y, double to_x, double to_y);
void plot_sign(struct plot *plot, const char *class_name, enum plot_shape shape,
               double x, double y, double size);
/* How wide a text is at most, in ordinary letters of the picture's size. */
double plot_text_width(const char *text);

/* ---- beside it ---------------------------------------------------------- */

/* What a line, an area or a mark means, for the heading of a picture: a
 * sample of it, and the word. Escaped. */
void plot_key(struct paper *paper, const char *class_name, const char *text);

#endif
