/* page_track.c - the way over the ground, turned so that every attempt sets
 * out upward: one to the left and one to the right can be compared. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "page.h"

static const double height = 400.0;
static const double foot = 44.0;   /* of it, for scale and north */
static const double margin = 66.0; /* for the words at the edge */
/* What is flown after level wings would make the turn small. */
static const double after_level_s = 5.0;

/* What the picture holds, m, ahead and to the right of the entry. */
struct track {
    const struct debrief_attempt *attempt;
    double until_s;
    double sine; /* of the entry heading */
    double cosine;
    double least_x, most_x;
    double least_y, most_y;
};

static void to_track(const struct track *track,
                     const struct debrief_point *point, double *x, double *y)
{
    *x = point->east_m * track->cosine - point->north_m * track->sine;
    *y = point->north_m * track->cosine + point->east_m * track->sine;
}

static bool measure(struct track *track)
{
    const struct debrief_attempt *attempt = track->attempt;
    double heading_rad = attempt->summary.entry_heading_rad;
    bool any = false;

    /* Without it north is up. */
    track->sine = isfinite(heading_rad) ? sin(heading_rad) : 0.0;
    track->cosine = isfinite(heading_rad) ? cos(heading_rad) : 1.0;
    track->least_x = track->least_y = INFINITY;
    track->most_x = track->most_y = -INFINITY;
    for (uint32_t i = 0; i < attempt->point_count; i++) {
        double x;
        double y;

        if (attempt->point[i].t_s > track->until_s)
            break;
        to_track(track, &attempt->point[i], &x, &y);
        if (!isfinite(x) || !isfinite(y))
            continue;
        any = true;
        track->least_x = fmin(track->least_x, x);
        track->most_x = fmax(track->most_x, x);
        track->least_y = fmin(track->least_y, y);
        track->most_y = fmax(track->most_y, y);
    }
    return any;
}

/* The same scale both ways, with the track in the middle. */
static void choose_scale(const struct track *track, struct plot *plot)
{
    double wide = PLOT_WIDTH - 2.0 * margin;
    double high = height - foot - margin;
    double m_per_unit = fmax(fmax((track->most_x - track->least_x) / wide,
                                  (track->most_y - track->least_y) / high),
                             0.5);
    double x = (track->least_x + track->most_x) / 2.0;
    double y = (track->least_y + track->most_y) / 2.0;

    plot_set_box(plot, 0.0, 0.0, PLOT_WIDTH, height - foot);
    plot_set_range(plot, x - PLOT_WIDTH / 2.0 * m_per_unit,
                   x + PLOT_WIDTH / 2.0 * m_per_unit,
                   y - (height - foot) / 2.0 * m_per_unit,
                   y + (height - foot) / 2.0 * m_per_unit);
}

/* A round number of feet, about a fifth of the picture. */
static void draw_scale(struct plot *plot)
{
    double ft_per_unit =
        units_ft(plot->x_right - plot->x_left) / (plot->right - plot->left);
    struct plot_ticks ticks;
    double length;
    double y = height - 12.0;
    char text[32];

    plot_make_ticks(0.0, 90.0 * ft_per_unit, 2, &ticks);
    length = ticks.step / ft_per_unit;
    if (!(length > 0.0))
        return;
    if (length > 140.0) {
        length /= 2.0;
        ticks.step /= 2.0;
    }
    plot_stroke(plot, "bar", 12.0, y, 12.0 + length, y);
    (void)snprintf(text, sizeof text, "%.0f ft", ticks.step);
    plot_label(plot, NULL, PLOT_START, 12.0, y - 8.0, text);
}

/* From the middle of the picture to where north is. */
static void draw_north(struct plot *plot, const struct track *track)
{
    const double x = PLOT_WIDTH - 30.0;
    const double y = height - 28.0;
    const double reach = 16.0;
    double to_x = -track->sine;
    double to_y = -track->cosine;

    plot_stroke(plot, "arrow", x - 0.4 * reach * to_x, y - 0.4 * reach * to_y,
                x + 0.6 * reach * to_x, y + 0.6 * reach * to_y);
    for (int side = -1; side <= 1; side += 2)
        plot_stroke(plot, "arrow", x + 0.6 * reach * to_x,
                    y + 0.6 * reach * to_y,
                    x + reach * (0.2 * to_x + side * 0.25 * to_y),
                    y + reach * (0.2 * to_y - side * 0.25 * to_x));
    plot_label(plot, "strong", PLOT_MIDDLE, x + 1.3 * reach * to_x,
               y + 1.3 * reach * to_y + 0.35 * PLOT_TEXT_SIZE, "N");
}

/* A moment on the track; its word stands away from the middle of it. */
static void draw_moment(struct plot *plot, const struct track *track,
                        double t_s, const char *word)
{
    struct debrief_point point;
    double middle_x = plot_x(plot, (track->least_x + track->most_x) / 2.0);
    double x;
    double y;

    if (isnan(t_s))
        return;
    debrief_point_at(track->attempt, t_s, &point);
    to_track(track, &point, &x, &y);
    plot_marker(plot, "spot", PLOT_CIRCLE, x, y);
    x = plot_x(plot, x);
    y = plot_y(plot, y) + 0.35 * PLOT_TEXT_SIZE;
    if (x < middle_x)
        plot_label(plot, "strong halo", PLOT_END, x - 12.0, y, word);
    else
        plot_label(plot, "strong halo", PLOT_START, x + 12.0, y, word);
}

static void draw_track(struct plot *plot, const struct track *track)
{
    plot_line_begin(plot, "flown");
    for (uint32_t i = 0; i < track->attempt->point_count; i++) {
        double x;
        double y;

        if (track->attempt->point[i].t_s > track->until_s)
            break;
        to_track(track, &track->attempt->point[i], &x, &y);
        plot_line_to(plot, x, y);
    }
    plot_line_end(plot);
}

/* The heading, where it was missed, on the side that has no word. */
static void draw_flag(struct plot *plot, const struct track *track,
                      const struct page *page)
{
    double middle_x = plot_x(plot, (track->least_x + track->most_x) / 2.0);
    struct debrief_point point;
    double x;
    double y;

    for (uint32_t i = 0; i < page->misses.count; i++) {
        const struct debrief_item *item = page->misses.item[i];

        if (strncmp(item->item, "heading", 7) != 0 || isnan(item->t_s))
            continue;
        debrief_point_at(track->attempt, item->t_s, &point);
        to_track(track, &point, &x, &y);
        x = plot_x(plot, x);
        page_disc(plot, x < middle_x ? x + 26.0 : x - 26.0, plot_y(plot, y),
                  i + 1);
    }
}

/* When 180 degrees were turned; NaN: never. */
static double half_circle_s(const struct debrief_attempt *attempt)
{
    for (uint32_t i = 0; i < attempt->event_count; i++) {
        const struct maneuver_event *event = &attempt->event[i].event;

        if (event->kind == EVENT_MARK &&
            fabs(event->angle_rad - UNITS_PI) < 1e-6)
            return attempt->event[i].t_s;
    }
    return (double)NAN;
}

/* Where the turn ended: 180 degrees and level wings, one mark where both are
 * so near that two words would not fit. */
static void draw_end(struct plot *plot, const struct track *track)
{
    double level_s = track->attempt->level_s;
    double half_s = half_circle_s(track->attempt);
    struct debrief_point half;
    struct debrief_point level;
    double from[2];
    double to[2];

    if (isnan(half_s) || isnan(level_s)) {
        draw_moment(plot, track, half_s, "180");
        draw_moment(plot, track, level_s, "level");
        return;
    }
    debrief_point_at(track->attempt, half_s, &half);
    debrief_point_at(track->attempt, level_s, &level);
    to_track(track, &half, &from[0], &from[1]);
    to_track(track, &level, &to[0], &to[1]);
    if (fabs(plot_y(plot, from[1]) - plot_y(plot, to[1])) <
        1.6 * PLOT_TEXT_SIZE) {
        draw_moment(plot, track, level_s, "180");
        return;
    }
    draw_moment(plot, track, half_s, "180");
    draw_moment(plot, track, level_s, "level");
}

void page_write_track(struct page *page)
{
    static const struct plot_words words = {
        "track", "Track over the ground",
        "The way over the ground, with the entry, 90 and 180 degrees of turn "
        "and level wings marked. The direction of the entry is up."};
    const struct debrief_attempt *attempt = page->attempt;
    struct track track = {.attempt = attempt,
                          .until_s = isnan(attempt->level_s)
                                         ? attempt->ended_s
                                         : attempt->level_s + after_level_s};
    struct paper *paper = &page->paper;
    struct plot plot;

    paper_markup(paper, "<figure>\n<figcaption><b>Track over the ground</b>");
    if (!measure(&track)) {
        paper_markup(paper, "</figcaption>\n<p class=\"quiet\">Neither "
                            "positions nor what they could be worked out "
                            "from were sent.</p>\n</figure>\n");
        return;
    }
    paper_element(paper, "span", "key",
                  attempt->positions_sent
                      ? "from the positions sent; entry heading up"
                      : "dead reckoned in calm air; entry heading up");
    paper_markup(paper, "</figcaption>\n");
    plot_begin(&plot, paper, height, &words);
    choose_scale(&track, &plot);
    draw_track(&plot, &track);
    draw_moment(&plot, &track, 0.0, "entry");
    draw_moment(&plot, &track, attempt->ninety_s, "90");
    draw_end(&plot, &track);
    draw_flag(&plot, &track, page);
    draw_scale(&plot);
    draw_north(&plot, &track);
    plot_end(&plot);
    paper_markup(paper, "</figure>\n");
}
