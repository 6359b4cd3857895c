/* page.h - parts of the page that shows an attempt. Private. */
#ifndef DEBRIEF_PAGE_H
#define DEBRIEF_PAGE_H

#include "quarterturn/debrief.h"
#include "quarterturn/paper.h"
#include "quarterturn/plot.h"

/* ---- the misses that the page speaks of first --------------------------- */

enum { PAGE_MISSES = 3 };

struct page_misses {
    uint32_t count; /* of them that are named */
    uint32_t more;  /* that are not */
    const struct debrief_item *item[PAGE_MISSES];
};

/* What endangers an airplane goes first, then what was furthest out. */
void page_find_misses(const struct debrief_grade *grade,
                      struct page_misses *out);

/* ---- the axis that charts share ----------------------------------------- */

/* Degrees of turn up to level wings; right of them, where there is anything
 * to see, seconds after it. */
struct page_axis {
    double most_deg; /* of turn */
    double until_s;  /* the turn is over, or the attempt */
    double after_s;  /* from level wings to the end; 0: nothing to see */
};

void page_make_axis(const struct debrief_attempt *attempt,
                    struct page_axis *out);

struct page {
    struct paper paper;
    const struct debrief_attempt *attempt;
    struct page_misses misses;
    struct page_axis axis;
};

/* A picture over that axis: its part over the turn, and the one after. */
struct chart {
    struct page *page;
    struct plot turn;
    struct plot after;
    bool has_after;
    double flag_x[PAGE_MISSES]; /* where one stands already */
    int flags;
};

/* The value to draw of a point; NaN: none. */
typedef double (*chart_value)(const struct debrief_attempt *attempt,
                              const struct debrief_point *point);

struct chart_frame {
    struct plot_words words;
    double height;
    double least; /* of the values */
    double greatest;
    bool numbers; /* beside the axis of values */
};

/* Only say where everything will fall: nothing is written. */
void chart_lay_out(struct chart *chart, struct page *page,
                   const struct chart_frame *frame);
void chart_begin(struct chart *chart, struct page *page,
                 const struct chart_frame *frame);
/* Draw a value of every point as a line. */
void chart_series(struct chart *chart, const char *class_name,
                  chart_value value);
/* Mark a miss on the line of a value, with its number, where it is one of an
 * item whose name begins so. */
void chart_flag(struct chart *chart, const char *item, chart_value value);
/* Where a moment falls on the picture. */
double chart_x(const struct chart *chart, double t_s, double turn_rad);
void chart_end(struct chart *chart);

/* Widen a range so that it holds a value of every point; NaN begins one.
 * Returns: whether any was known. */
bool chart_span(const struct debrief_attempt *attempt, chart_value value,
                double *least, double *greatest);

/* A number in a disc, as a miss bears it everywhere. x, y: its middle. */
void page_disc(struct plot *plot, double x, double y, uint32_t number);

/* ---- parts; each writes itself ------------------------------------------ */

void page_write_charts_left(struct page *page);  /* bank, pitch */
void page_write_charts_right(struct page *page); /* speed, altitude, ball */
void page_write_calls(struct page *page);
void page_write_track(struct page *page);
void page_write_table(struct page *page);

/* The ball's place, right positive: in g of lateral acceleration where that
 * was sent, else in degrees of sideslip. */
double page_ball(const struct debrief_attempt *attempt,
                 const struct debrief_point *point);
bool page_ball_is_g(const struct debrief_attempt *attempt);
/* Feet above the entry. */
double page_gain_ft(const struct debrief_attempt *attempt,
                    const struct debrief_point *point);
/* Bank in the direction of the turn, deg. */
double page_bank_deg(const struct debrief_attempt *attempt,
                     const struct debrief_point *point);

#endif
