/* test_plot.c - pictures: where values fall, which numbers axes bear. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"
#include "quarterturn/paper.h"
#include "quarterturn/plot.h"

static FILE *file;
static struct paper paper;
static struct plot plot;
static char text[16384];

static const struct plot_words words = {"one", "A < b", "what \"it\" shows"};

static void begin(void)
{
    file = tmpfile();
    assert_non_null(file);
    paper = (struct paper){.file = file};
    plot_begin(&plot, &paper, 200.0, &words);
    plot_set_box(&plot, 40.0, 10.0, 440.0, 160.0);
    plot_set_range(&plot, 0.0, 200.0, -10.0, 40.0);
}

static void end(void)
{
    size_t length;

    plot_end(&plot);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    text[length] = '\0';
    (void)fclose(file);
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf"));
}

static void expect_ticks(double least, double greatest, int most,
                         const char *expected)
{
    struct plot_ticks ticks;
    char got[256] = "";
    size_t used = 0;

    plot_make_ticks(least, greatest, most, &ticks);
    for (int i = 0; i < ticks.count; i++)
        used += (size_t)snprintf(got + used, sizeof got - used, "%.*f ",
                                 ticks.decimals, ticks.at[i] + 0.0);
    assert_string_equal(got, expected);
}

static void ticks_are_round_numbers_inside_the_range(void **state)
{
    (void)state;
    expect_ticks(0.0, 40.0, 5, "0 10 20 30 40 ");
    expect_ticks(-3.0, 41.0, 6, "0 10 20 30 40 ");
    expect_ticks(47.0, 112.0, 5, "60 80 100 ");
    expect_ticks(-0.06, 0.06, 5, "-0.05 0.00 0.05 ");
    expect_ticks(0.0, 0.5, 6, "0.0 0.1 0.2 0.3 0.4 0.5 ");
    expect_ticks(0.0, 1234.0, 6, "0 500 1000 ");
    expect_ticks(5.0, 5.0, 5, "");
    expect_ticks(9.0, 5.0, 5, "");
    expect_ticks((double)NAN, 5.0, 5, "");
    expect_ticks(0.0, (double)INFINITY, 5, "");
}

static void a_range_is_widened_to_whole_steps(void **state)
{
    double least = 3.0;
    double greatest = 33.0;

    (void)state;
    plot_widen(&least, &greatest, 5);
    assert_near(least, 0.0, 1e-9);
    assert_near(greatest, 40.0, 1e-9);
    /* Whole steps already. */
    plot_widen(&least, &greatest, 5);
    assert_near(least, 0.0, 1e-9);
    assert_near(greatest, 40.0, 1e-9);
    greatest = least;
    plot_widen(&least, &greatest, 5);
    assert_true(greatest > least);
}

static void values_fall_into_the_box_and_are_held_to_it(void **state)
{
    (void)state;
    begin();
    assert_near(plot_x(&plot, 0.0), 40.0, 1e-9);
    assert_near(plot_x(&plot, 100.0), 240.0, 1e-9);
    assert_near(plot_x(&plot, 900.0), 440.0, 1e-9);
    assert_near(plot_y(&plot, -10.0), 160.0, 1e-9);
    assert_near(plot_y(&plot, 15.0), 85.0, 1e-9);
    assert_near(plot_y(&plot, -900.0), 160.0, 1e-9);
    assert_true(isnan(plot_y(&plot, (double)NAN)));
    end();
}

static void what_is_not_known_interrupts_a_line(void **state)
{
    (void)state;
    begin();
    plot_line_begin(&plot, "flown");
    plot_line_to(&plot, 0.0, 0.0);
    plot_line_to(&plot, 20.0, 10.0);
    plot_line_to(&plot, 30.0, (double)NAN);
    plot_line_to(&plot, 40.0, 10.0);
    plot_line_to(&plot, 60.0, (double)INFINITY);
    plot_line_end(&plot);
    end();
    /* What lies beyond every range is held to the edge of the box. */
    assert_non_null(strstr(text, "d=\"M40.0 130.0L80.0 100.0M120.0 100.0"
                                 "L160.0 10.0\"/>"));
}

static void nothing_is_drawn_of_nothing_known(void **state)
{
    const double nothing[2] = {(double)NAN, (double)NAN};

    (void)state;
    begin();
    plot_line_begin(&plot, "flown");
    plot_line_to(&plot, (double)NAN, 1.0);
    plot_line_end(&plot);
    plot_band(&plot, "band", 2, nothing, nothing, nothing);
    plot_rule_y(&plot, "limit", (double)NAN);
    plot_rule_x(&plot, "mark", (double)NAN);
    plot_marker(&plot, "spot", PLOT_CIRCLE, (double)NAN, 1.0);
    plot_label(&plot, "quiet", PLOT_START, (double)NAN, 1.0, "x");
    end();
    assert_null(strstr(text, "<path"));
    assert_null(strstr(text, "<polygon"));
    assert_null(strstr(text, "<line"));
    assert_null(strstr(text, "<circle"));
    assert_null(strstr(text, "<text"));
}

static void points_nearer_than_can_be_seen_are_left_out(void **state)
{
    (void)state;
    begin();
    plot_line_begin(&plot, "flown");
    for (int i = 0; i <= 100000; i++)
        plot_line_to(&plot, i / 500.0, 20.0);
    plot_line_end(&plot);
    end();
    assert_in_range(strlen(text), 2000, 7000);
}

static void whoever_cannot_see_it_is_told(void **state)
{
    struct plot_ticks ticks;

    (void)state;
    begin();
    plot_make_ticks(-10.0, 40.0, 6, &ticks);
    plot_axis_y(&plot, &ticks);
    plot_label(&plot, "strong", PLOT_END, 10.0, 20.0, "<tag>");
    end();
    assert_non_null(strstr(text, "role=\"img\" "
                                 "aria-labelledby=\"one-title one-text\""));
    assert_non_null(strstr(text, "<title id=\"one-title\">A &lt; b</title>"));
    assert_non_null(strstr(text, "<desc id=\"one-text\">what &quot;it&quot; "
                                 "shows</desc>"));
    assert_non_null(strstr(text, ">\xE2\x88\x92"
                                 "10</text>"));
    assert_non_null(strstr(text, ">&lt;tag&gt;</text>"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ticks_are_round_numbers_inside_the_range),
        cmocka_unit_test(a_range_is_widened_to_whole_steps),
        cmocka_unit_test(values_fall_into_the_box_and_are_held_to_it),
        cmocka_unit_test(what_is_not_known_interrupts_a_line),
        cmocka_unit_test(nothing_is_drawn_of_nothing_known),
        cmocka_unit_test(points_nearer_than_can_be_seen_are_left_out),
        cmocka_unit_test(whoever_cannot_see_it_is_told),
    };

    return cmocka_run_group_tests_name("plot", tests, NULL, NULL) != 0;
}
