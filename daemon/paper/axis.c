/* axis.c - axes of pictures, with numbers that are easy to read. */
#include <math.h>
#include <stdio.h>

#include "quarterturn/paper.h"
#include "quarterturn/plot.h"

/* The step of 1, 2, 5 or 10 times a power of ten that is no smaller. */
static double nice_step(double least)
{
    double power = pow(10.0, floor(log10(least)));
    double rest = least / power;

    /* The last bits of the power do not make a larger step. */
    if (rest <= 1.0 + 1e-9)
        return power;
    if (rest <= 2.0 + 1e-9)
        return 2.0 * power;
    return (rest <= 5.0 + 1e-9 ? 5.0 : 10.0) * power;
}

void plot_make_ticks(double least, double greatest, int most,
                     struct plot_ticks *out)
{
    double first;
    double slack;

    *out = (struct plot_ticks){.count = 0};
    if (!isfinite(least) || !isfinite(greatest) || !(greatest > least))
        return;
    out->step = nice_step((greatest - least) / (most - 1));
    if (!isfinite(out->step) || out->step <= 0.0)
        return;
    slack = 1e-6 * out->step;
    first = ceil((least - slack) / out->step);
    while (out->count < most && out->count < PLOT_MAX_TICKS) {
        double at = (first + out->count) * out->step;

        if (at > greatest + slack)
            break;
        out->at[out->count++] = at;
    }
    if (out->step < 1.0)
        out->decimals = (int)ceil(-log10(out->step) - 1e-9);
}

void plot_widen(double *least, double *greatest, int most)
{
    struct plot_ticks ticks;

    if (!(*greatest > *least))
        *greatest = *least + 1.0;
    plot_make_ticks(*least, *greatest, most, &ticks);
    if (ticks.count == 0)
        return;
    *least = ticks.step * floor(*least / ticks.step + 1e-6);
    *greatest = ticks.step * ceil(*greatest / ticks.step - 1e-6);
}

/* A number of an axis, with the minus of the typographer. */
static void number_label(struct plot *plot, enum plot_anchor anchor, double x,
                         double y, const struct plot_ticks *ticks, int index)
{
    double value = ticks->at[index];
    char text[48];

    (void)snprintf(text, sizeof text, "%s%.*f",
                   value < -0.5 * pow(10.0, -ticks->decimals) ? "\xE2\x88\x92"
                                                              : "",
                   ticks->decimals, fabs(value));
    plot_label(plot, "number", anchor, x, y, text);
}

void plot_axis_y(struct plot *plot, const struct plot_ticks *ticks)
{
    for (int i = 0; i < ticks->count; i++) {
        plot_rule_y(plot, "grid", ticks->at[i]);
        number_label(plot, PLOT_END, plot->left - 7.0,
                     plot_y(plot, ticks->at[i]) + 0.35 * PLOT_TEXT_SIZE, ticks,
                     i);
    }
}

void plot_axis_x(struct plot *plot, const struct plot_ticks *ticks)
{
    for (int i = 0; i < ticks->count; i++) {
        plot_rule_x(plot, "grid", ticks->at[i]);
        number_label(plot, PLOT_MIDDLE, plot_x(plot, ticks->at[i]),
                     plot->bottom + 1.3 * PLOT_TEXT_SIZE, ticks, i);
    }
}

void plot_frame(struct plot *plot)
{
    paper_format(plot->paper,
                 "<rect class=\"frame\" x=\"%.1f\" y=\"%.1f\" width=\"%.1f\" "
                 "height=\"%.1f\"/>\n",
                 plot->left, plot->top, plot->right - plot->left,
                 plot->bottom - plot->top);
}
