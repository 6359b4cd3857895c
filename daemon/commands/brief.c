/* brief.c - the plan card of a chandelle, before it is flown. */
#include "quarterturn/brief.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "targets.h"
#include "words.h"

struct brief_choice {
    struct brief_wish wish;
    const char *direction;
    const char *wind;
    const char *page;
    bool json;
};

static int write_page(const char *path, const struct brief_plan *plan)
{
    FILE *file = targets_open(path);
    int error;

    if (file == NULL) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", path,
                 strerror(errno));
        return EXIT_COULD_NOT;
    }
    error = brief_write_page(file, plan);
    if (!targets_close(file) || error != 0) {
        log_line(LOG_LEVEL_ERROR, "%s: the page is not whole: %s", path,
                 strerror(errno));
        return EXIT_COULD_NOT;
    }
    if (!targets_is_output(path))
        log_line(LOG_LEVEL_NOTE, "the plan is on the page %s", path);
    return 0;
}

static int write_plan(const struct brief_choice *choice,
                      const struct brief_plan *plan)
{
    bool printed = targets_is_output(choice->page);
    int status = 0;

    if (choice->page != NULL)
        status = write_page(choice->page, plan);
    if (status == 0 && !printed &&
        (choice->json ? brief_write_json(stdout, plan)
                      : brief_print(stdout, plan)) != 0) {
        log_line(LOG_LEVEL_ERROR, "the plan could not be written");
        status = EXIT_COULD_NOT;
    }
    if (plan->below_height)
        log_line(LOG_LEVEL_WARNING,
                 "that altitude is less than 1,500 ft above the ground");
    return status;
}

static int plan_with(const struct command_context *context,
                     const struct brief_choice *choice)
{
    struct settings *settings = malloc(sizeof *settings);
    struct brief_plan *plan = malloc(sizeof *plan);
    char why[SETTINGS_PATH_SIZE + 128];
    int status = 0;

    if (settings == NULL || plan == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        status = EXIT_COULD_NOT;
    } else if (settings_load(&context->choice, context->data_folder, settings,
                             why, sizeof why) != 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        status = EXIT_WRONG_USAGE;
    } else if (brief_make(&settings->aircraft, &settings->standard,
                          &choice->wish, plan, why, sizeof why) != 0) {
        log_line(LOG_LEVEL_ERROR, "brief: %s", why);
        status = EXIT_WRONG_USAGE;
    }
    if (status == 0)
        status = write_plan(choice, plan);
    free(plan);
    free(settings);
    return status;
}

int command_brief(int argc, char **argv, const struct command_context *context)
{
    struct brief_choice choice = {
        .wish = {
            .conditions = {(double)NAN, (double)NAN, (double)NAN, 0.0, 0.0},
            .direction = -1}};
    struct performance_conditions *day = &choice.wish.conditions;
    const struct words_option options[] = {
        {.name = "--weight",
         .quantity = &day->weight_kg,
         .least = 100,
         .most = 20000,
         .unit = UNIT_LB},
        {.name = "--altitude",
         .quantity = &day->altitude_m,
         .least = -1600,
         .most = 19000,
         .unit = UNIT_FT},
        {.name = "--temperature",
         .quantity = &day->temperature_k,
         .least = -50,
         .most = 55,
         .unit = UNIT_DEG_C},
        {.name = "--ground",
         .quantity = &choice.wish.ground_m,
         .least = -1600,
         .most = 16000,
         .unit = UNIT_FT},
        {.name = "--heading",
         .quantity = &choice.wish.heading_rad,
         .least = 0,
         .most = 360,
         .unit = UNIT_DEG},
        {.name = "--wind", .text = &choice.wind},
        {.name = "--direction", .text = &choice.direction},
        {.name = "--page", .text = &choice.page},
        {.name = "--json", .flag = &choice.json},
        {.name = NULL}};
    int words = 0;
    int status = words_read(argc, argv, options, NULL, 0, &words);

    if (status == 0)
        status = words_read_direction("brief", choice.direction,
                                      &choice.wish.direction);
    if (status == 0)
        status = words_read_wind("brief", choice.wind, day);
    if (status == 0 && choice.json && targets_is_output(choice.page)) {
        log_line(LOG_LEVEL_ERROR, "brief: --page - and --json together: "
                                  "standard output holds one thing");
        status = EXIT_WRONG_USAGE;
    }
    return status != 0 ? status : plan_with(context, &choice);
}
