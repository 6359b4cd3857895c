/* page_charts.c - what was flown, over degrees of turn, beside what was
 * wanted. */
#include <math.h>
#include <stdio.h>

#include "page.h"

/* ---- values ------------------------------------------------------------- */

double page_bank_deg(const struct debrief_attempt *attempt,
                     const struct debrief_point *point)
{
    return units_deg(point->bank_rad) * (attempt->direction < 0 ? -1.0 : 1.0);
}

static double pitch_deg(const struct debrief_attempt *attempt,
                        const struct debrief_point *point)
{
    (void)attempt;
    return units_deg(point->pitch_rad);
}

static double speed_kt(const struct debrief_attempt *attempt,
                       const struct debrief_point *point)
{
    (void)attempt;
    return units_kt(point->cas_mps);
}

static double stall_kt(const struct debrief_attempt *attempt,
                       const struct debrief_point *point)
{
    (void)attempt;
    return units_kt(point->stall_speed_mps);
}

double page_gain_ft(const struct debrief_attempt *attempt,
                    const struct debrief_point *point)
{
    return units_ft(point->altitude_m - attempt->summary.entry_altitude_m);
}

bool page_ball_is_g(const struct debrief_attempt *attempt)
{
    for (uint32_t i = 0; i < attempt->point_count; i++)
        if (isfinite(attempt->point[i].lateral_g))
            return true;
    return false;
}

static double ball_g(const struct debrief_attempt *attempt,
                     const struct debrief_point *point)
{
    (void)attempt;
    return -point->lateral_g;
}

static double ball_deg(const struct debrief_attempt *attempt,
                       const struct debrief_point *point)
{
    (void)attempt;
    return units_deg(point->sideslip_rad);
}

double page_ball(const struct debrief_attempt *attempt,
                 const struct debrief_point *point)
{
    return page_ball_is_g(attempt) ? ball_g(attempt, point)
                                   : ball_deg(attempt, point);
}

/* ---- parts of a chart --------------------------------------------------- */

static void begin_figure(struct page *page, const char *title)
{
    paper_markup(&page->paper, "<figure>\n<figcaption>");
    paper_element(&page->paper, "b", NULL, title);
    paper_markup(&page->paper, "\n");
}

static void end_caption(struct page *page)
{
    paper_markup(&page->paper, "</figcaption>\n");
}

static void end_figure(struct page *page)
{
    paper_markup(&page->paper, "</figure>\n");
}

/* A figure without the channel that it would show. */
static void write_without(struct page *page, const char *title, const char *why)
{
    begin_figure(page, title);
    end_caption(page);
    paper_element(&page->paper, "p", "quiet", why);
    paper_markup(&page->paper, "\n");
    end_figure(page);
}

/* Some air above and below, so that no line runs along the frame. */
static void set_range(struct chart_frame *frame, double least, double greatest)
{
    double air = 0.05 * (greatest - least);

    frame->least = least - air;
    frame->greatest = greatest + air;
}

/* The ideal line, if there is one. value: of a point of it. */
static void
draw_ideal(struct chart *chart,
           double (*value)(const struct performance_reference_point *))
{
    const struct debrief_attempt *attempt = chart->page->attempt;

    if (!attempt->has_reference)
        return;
    plot_line_begin(&chart->turn, "ideal");
    for (uint32_t i = 0; i < attempt->reference.count; i++)
        plot_line_to(&chart->turn,
                     units_deg(attempt->reference.point[i].turn_rad),
                     value(&attempt->reference.point[i]));
    plot_line_end(&chart->turn);
}

/* An even area from one value of turn to another, between two lines. */
struct area {
    double from_deg, to_deg;
    double from, to; /* its middle there */
    double reach;    /* of it, to both sides */
};

static void draw_area(struct chart *chart, const struct area *area)
{
    const double x[2] = {area->from_deg, area->to_deg};
    const double low[2] = {area->from - area->reach, area->to - area->reach};
    const double high[2] = {area->from + area->reach, area->to + area->reach};

    if (area->to_deg > area->from_deg)
        plot_band(&chart->turn, "band", 2, x, low, high);
}

static void write_keys(struct page *page, bool band)
{
    plot_key(&page->paper, "flown", "flown");
    if (page->attempt->has_reference)
        plot_key(&page->paper, "ideal", "ideal");
    if (band)
        plot_key(&page->paper, "band", "tolerance");
}

/* ---- bank --------------------------------------------------------------- */

static double ideal_bank(const struct performance_reference_point *point)
{
    return units_deg(point->bank_rad);
}

/* From where it was set, or should have been, to 90 degrees. */
static void draw_bank_area(struct chart *chart)
{
    const struct debrief_attempt *attempt = chart->page->attempt;
    double wanted_rad = attempt->standard.entry_bank_rad;
    struct area area = {.from_deg = 15.0,
                        .to_deg = 90.0,
                        .from = units_deg(wanted_rad),
                        .to = units_deg(wanted_rad),
                        .reach =
                            units_deg(attempt->standard.bank_tolerance_rad)};

    for (uint32_t i = 0; i < attempt->event_count; i++)
        if (attempt->event[i].event.kind == EVENT_BANK_SET)
            area.from_deg = units_deg(attempt->event[i].event.turn_rad);
    draw_area(chart, &area);
}

static void write_bank(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    double least = 0.0;
    double greatest = units_deg(attempt->standard.entry_bank_rad +
                                attempt->standard.bank_tolerance_rad);
    struct chart chart;
    struct chart_frame frame = {
        .words = {"bank", "Bank over degrees of turn",
                  "The bank as it was flown, the ideal one, which is kept to "
                  "90 degrees of turn and then comes off evenly, and the "
                  "tolerance. The table at the end of the page has the "
                  "values."},
        .height = 220.0,
        .numbers = true};

    if (!chart_span(attempt, page_bank_deg, &least, &greatest)) {
        write_without(page, "Bank", "Not known.");
        return;
    }
    set_range(&frame, least, greatest);
    begin_figure(page, "Bank, deg");
    write_keys(page, true);
    end_caption(page);
    chart_begin(&chart, page, &frame);
    draw_bank_area(&chart);
    plot_rule_y(&chart.turn, "nought", 0.0);
    draw_ideal(&chart, ideal_bank);
    chart_series(&chart, "flown", page_bank_deg);
    chart_flag(&chart, "bank", page_bank_deg);
    chart_flag(&chart, "time to set bank", page_bank_deg);
    chart_flag(&chart, "roll-out", page_bank_deg);
    chart_end(&chart);
    end_figure(page);
}

/* ---- pitch -------------------------------------------------------------- */

static double ideal_pitch(const struct performance_reference_point *point)
{
    return units_deg(point->pitch_rad);
}

/* What it is judged by: an even rise to what it was at 90, then that. */
static void draw_pitch_areas(struct chart *chart)
{
    const struct debrief_attempt *attempt = chart->page->attempt;
    const struct maneuver_standard *standard = &attempt->standard;
    double held_rad = attempt->summary.pitch_held_rad;
    struct debrief_point first;
    struct debrief_point ninety;
    struct area rise = {.from_deg = 0.0, .to_deg = 90.0};
    struct area kept = {.from_deg = 90.0, .to_deg = 180.0};

    if (isnan(attempt->ninety_s))
        return;
    debrief_point_at(attempt, 0.0, &first);
    debrief_point_at(attempt, attempt->ninety_s, &ninety);
    rise.from = units_deg(first.pitch_rad);
    rise.to = units_deg(ninety.pitch_rad);
    rise.reach = units_deg(standard->pitch_rise_tolerance_rad);
    draw_area(chart, &rise);
    kept.from = kept.to = units_deg(held_rad);
    kept.reach = units_deg(standard->pitch_tolerance_rad);
    draw_area(chart, &kept);
}

static void write_pitch(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    double limit_deg = units_deg(attempt->aircraft.pitch_limit_rad);
    double least = 0.0;
    double greatest = isfinite(limit_deg) ? limit_deg : 10.0;
    struct chart chart;
    struct chart_frame frame = {
        .words = {"pitch", "Pitch over degrees of turn",
                  "The pitch as it was flown, the ideal one, which rises "
                  "evenly to 90 degrees of turn and is then kept, the limit, "
                  "and the tolerance about an even rise and about the pitch "
                  "that was reached."},
        .height = 220.0,
        .numbers = true};

    if (!chart_span(attempt, pitch_deg, &least, &greatest)) {
        write_without(page, "Pitch", "Not known.");
        return;
    }
    set_range(&frame, least, greatest);
    begin_figure(page, "Pitch, deg");
    write_keys(page, !isnan(attempt->ninety_s));
    if (isfinite(limit_deg))
        plot_key(&page->paper, "limit", "limit");
    end_caption(page);
    chart_begin(&chart, page, &frame);
    draw_pitch_areas(&chart);
    plot_rule_y(&chart.turn, "limit", limit_deg);
    draw_ideal(&chart, ideal_pitch);
    chart_series(&chart, "flown", pitch_deg);
    chart_flag(&chart, "pitch", pitch_deg);
    chart_flag(&chart, "highest pitch", pitch_deg);
    chart_end(&chart);
    end_figure(page);
}

/* ---- airspeed ----------------------------------------------------------- */

static double ideal_speed(const struct performance_reference_point *point)
{
    return units_kt(point->cas_mps);
}

static void write_speed(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    double least = INFINITY;
    double greatest = -INFINITY;
    struct chart chart;
    struct chart_frame frame = {
        .words = {"speed", "Airspeed over degrees of turn",
                  "The calibrated airspeed as it was flown, the ideal one, "
                  "and under them the stall speed at the load factor of the "
                  "moment."},
        .height = 220.0,
        .numbers = true};
    bool stall;

    if (!chart_span(attempt, speed_kt, &least, &greatest)) {
        write_without(page, "Airspeed", "Not known.");
        return;
    }
    stall = chart_span(attempt, stall_kt, &least, &greatest);
    set_range(&frame, least, greatest);
    begin_figure(page, "Airspeed, kt");
    write_keys(page, false);
    if (stall)
        plot_key(&page->paper, "limit", "stall");
    end_caption(page);
    chart_begin(&chart, page, &frame);
    draw_ideal(&chart, ideal_speed);
    chart_series(&chart, "limit", stall_kt);
    chart_series(&chart, "flown", speed_kt);
    chart_flag(&chart, "entry speed", speed_kt);
    chart_flag(&chart, "maneuvering speed", speed_kt);
    chart_flag(&chart, "speed above stall", speed_kt);
    chart_flag(&chart, "time stalled", speed_kt);
    chart_end(&chart);
    end_figure(page);
}

/* ---- altitude ----------------------------------------------------------- */

static double ideal_gain(const struct performance_reference_point *point)
{
    return units_ft(point->gain_m);
}

/* The altitude to hold after the finish. */
static void draw_hold_area(struct chart *chart)
{
    const struct debrief_attempt *attempt = chart->page->attempt;
    double reach = units_ft(attempt->standard.hold_band_m);
    double until_s =
        fmin(attempt->standard.hold_time_s, chart->page->axis.after_s);
    struct debrief_point level;
    double gain_ft;

    if (!chart->has_after)
        return;
    debrief_point_at(attempt, attempt->level_s, &level);
    gain_ft = page_gain_ft(attempt, &level);
    plot_band(&chart->after, "band", 2, (const double[2]){0.0, until_s},
              (const double[2]){gain_ft - reach, gain_ft - reach},
              (const double[2]){gain_ft + reach, gain_ft + reach});
}

static void write_altitude(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    double least = 0.0;
    double greatest = 100.0;
    struct chart chart;
    struct chart_frame frame = {
        .words = {"altitude", "Altitude gained over degrees of turn",
                  "The altitude above that of the entry as it was flown, "
                  "what the airplane could have gained, and the band to hold "
                  "after the wings were level."},
        .height = 200.0,
        .numbers = true};

    if (!chart_span(attempt, page_gain_ft, &least, &greatest)) {
        write_without(page, "Altitude gained", "The altitude was not sent.");
        return;
    }
    if (attempt->has_reference && isfinite(attempt->reference.gain_m))
        greatest = fmax(greatest, units_ft(attempt->reference.gain_m));
    set_range(&frame, least, greatest);
    begin_figure(page, "Altitude gained, ft");
    plot_key(&page->paper, "flown", "flown");
    if (attempt->has_reference && isfinite(attempt->reference.gain_m))
        plot_key(&page->paper, "ideal", "ideal");
    if (page->axis.after_s > 0.0)
        plot_key(&page->paper, "band", "to hold");
    end_caption(page);
    chart_begin(&chart, page, &frame);
    draw_hold_area(&chart);
    plot_rule_y(&chart.turn, "nought", 0.0);
    draw_ideal(&chart, ideal_gain);
    chart_series(&chart, "flown", page_gain_ft);
    chart_flag(&chart, "altitude", page_gain_ft);
    chart_flag(&chart, "least height", page_gain_ft);
    chart_end(&chart);
    end_figure(page);
}

/* ---- ball --------------------------------------------------------------- */

static void write_ball(struct page *page)
{
    const struct debrief_attempt *attempt = page->attempt;
    bool is_g = page_ball_is_g(attempt);
    chart_value value = is_g ? ball_g : ball_deg;
    double reach = is_g ? attempt->standard.ball_tolerance_g
                        : units_deg(attempt->standard.slip_tolerance_rad);
    struct area area = {.to_deg = page->axis.most_deg, .reach = reach};
    double least = -2.0 * reach;
    double greatest = 2.0 * reach;
    struct chart chart;
    struct chart_frame frame = {
        .words = {"ball", "Ball over degrees of turn",
                  "Where the ball was: up is to the right, down to the left, "
                  "and how far out it may be."},
        .height = 168.0,
        .numbers = true};

    if (!chart_span(attempt, value, &least, &greatest)) {
        write_without(page, "Ball",
                      "Neither lateral acceleration nor sideslip was sent.");
        return;
    }
    greatest = fmax(greatest, -least);
    least = -greatest;
    set_range(&frame, least, greatest);
    begin_figure(page, is_g ? "Ball, g (up: right)"
                            : "Ball, deg of sideslip (up: right)");
    plot_key(&page->paper, "flown", "flown");
    plot_key(&page->paper, "band", "tolerance");
    end_caption(page);
    chart_begin(&chart, page, &frame);
    draw_area(&chart, &area);
    plot_rule_y(&chart.turn, "nought", 0.0);
    chart_series(&chart, "flown", value);
    chart_flag(&chart, "ball", value);
    chart_end(&chart);
    end_figure(page);
}

void page_write_charts_left(struct page *page)
{
    write_bank(page);
    write_pitch(page);
}

void page_write_charts_right(struct page *page)
{
    write_speed(page);
    write_altitude(page);
    write_ball(page);
}
