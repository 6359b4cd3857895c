/* tally.c - what was heard against what was true. */
#include "tally.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report.h"

/* Trials to be taken together. */
struct group {
    const char *what;
    const char *player;
    bool loaded;
    double least_hz;
    double most_hz;
};

struct figures {
    size_t trials;
    size_t heard;
    double median; /* of the absolute error */
    double p95;
    double mean; /* signed */
    double spread;
};

void tally_add(struct tally *tally, const struct tally_trial *trial)
{
    if (tally->count == TALLY_MOST)
        report_fail("too many trials");
    tally->trial[tally->count++] = *trial;
    report_begin("call");
    report_word("server", tally->server);
    report_word("what", trial->what);
    report_word("player", trial->player);
    report_word("flight", trial->flight);
    report_number("mirrored", trial->mirrored ? 1.0 : 0.0);
    report_number("loaded", trial->loaded ? 1.0 : 0.0);
    report_number("rate_hz", trial->rate_hz);
    report_number("error_ms", trial->heard ? trial->error_ms : (double)NAN);
    report_number("planned_ms", trial->planned_ms);
    report_number("likeness", trial->likeness);
    report_end();
}

static bool belongs(const struct tally_trial *trial, const struct group *group)
{
    return strcmp(trial->what, group->what) == 0 &&
           strcmp(trial->player, group->player) == 0 &&
           trial->loaded == group->loaded &&
           trial->rate_hz >= group->least_hz &&
           trial->rate_hz <= group->most_hz;
}

static struct figures figure_out(const struct tally *tally,
                                 const struct group *group)
{
    static double value[TALLY_MOST];
    struct figures out = {0};
    double square = 0.0;
    double sum = 0.0;

    for (size_t i = 0; i < tally->count; i++) {
        const struct tally_trial *trial = &tally->trial[i];

        if (!belongs(trial, group))
            continue;
        out.trials++;
        if (!trial->heard)
            continue;
        value[out.heard++] = fabs(trial->error_ms);
        sum += trial->error_ms;
        square += trial->error_ms * trial->error_ms;
    }
    figures_sort(value, out.heard);
    out.median = figures_at(value, out.heard, 0.5);
    out.p95 = figures_at(value, out.heard, 0.95);
    out.mean = sum / (double)out.heard;
    out.spread =
        sqrt(fmax(0.0, square / (double)out.heard - out.mean * out.mean));
    return out;
}

static void print_row(const struct tally *tally, const char *label,
                      const struct group *group)
{
    struct figures figures = figure_out(tally, group);

    if (figures.trials == 0)
        return;
    (void)printf("%-12s %-14s %-6s %3zu/%-3zu %8.1f %7.1f %+8.1f %7.1f\n",
                 group->player, label, group->loaded ? "loaded" : "idle",
                 figures.heard, figures.trials, figures.median, figures.p95,
                 figures.mean, figures.spread);
    report_begin("calls");
    report_word("server", tally->server);
    report_word("what", group->what);
    report_word("player", group->player);
    report_number("loaded", group->loaded ? 1.0 : 0.0);
    report_number("least_hz", group->least_hz);
    report_number("most_hz", group->most_hz);
    report_number("trials", (double)figures.trials);
    report_number("heard", (double)figures.heard);
    report_number("median_abs_ms", figures.median);
    report_number("p95_abs_ms", figures.p95);
    report_number("mean_ms", figures.mean);
    report_number("spread_ms", figures.spread);
    report_end();
}

static void print_head(void)
{
    (void)printf("%-12s %-14s %-6s %7s %8s %7s %8s %7s\n", "", "", "", "heard",
                 "median", "p95", "mean", "spread");
}

static void print_ninety(const struct tally *tally, const char *player)
{
    static const double rates_hz[] = {60.0, 30.0, 20.0, 5.0};
    char label[32];

    for (int loaded = 0; loaded < 2; loaded++) {
        struct group all = {"ninety", player, loaded != 0, 20.0, 60.0};

        for (size_t i = 0; i < sizeof rates_hz / sizeof rates_hz[0]; i++) {
            struct group one = {"ninety", player, loaded != 0, rates_hz[i],
                                rates_hz[i]};

            (void)snprintf(label, sizeof label, "%.0f a second", rates_hz[i]);
            print_row(tally, label, &one);
        }
        print_row(tally, "20 to 60", &all);
    }
}

static void print_others(const struct tally *tally)
{
    static const char *const what[] = {"ten to go", "stall", "wings level"};

    for (size_t i = 0; i < sizeof what / sizeof what[0]; i++) {
        struct group group = {what[i], "quarterturn", false, 0.0, 1000.0};

        print_row(tally, what[i], &group);
    }
}

static void print_warnings(const struct tally *tally,
                           const struct tally_latency latency[2])
{
    (void)printf(
        "\n%s: the simulator's stall warning, from packet to sound, ms "
        "(to be heard\nwithin the output latency, as \"tell status\" "
        "says, and 5 ms more)\n\n",
        tally->server);
    print_head();
    for (int loaded = 0; loaded < 2; loaded++) {
        struct group group = {"stall warning", "quarterturn", loaded != 0, 0.0,
                              1000.0};
        double latency_ms = latency[loaded].sum_ms / latency[loaded].count;

        if (latency[loaded].count == 0)
            continue;
        print_row(tally, "stall warning", &group);
        (void)printf("%-12s latency %.1f, and 5 more: %.1f\n", "", latency_ms,
                     latency_ms + 5.0);
        report_begin("latency");
        report_word("server", tally->server);
        report_number("loaded", loaded);
        report_number("latency_ms", latency_ms);
        report_end();
    }
}

void tally_print(const struct tally *tally,
                 const struct tally_latency latency[2])
{
    (void)printf("\n%s: \"ninety\" against the true moment, ms (packets 0 to "
                 "20 ms late,\n2 %% lost)\n\n",
                 tally->server);
    print_head();
    print_ninety(tally, "quarterturn");
    print_ninety(tally, "script");
    (void)printf("\n%s: other calls after their true moment, ms\n\n",
                 tally->server);
    print_head();
    print_others(tally);
    print_warnings(tally, latency);
}
