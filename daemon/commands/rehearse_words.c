/* rehearse_words.c - what a rehearsal was asked to be. */
#include "rehearse_words.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "words.h"

enum { MOST_ERRORS = 32 };

/* ---- errors ------------------------------------------------------------- */

void rehearse_words_list(void)
{
    (void)printf("%-15s %8s  %9s  %s\n", "error", "usual", "from - to",
                 "what is done");
    for (int i = 0; i < REHEARSE_ERRORS; i++) {
        const struct rehearse_error_about *about =
            rehearse_error_about((enum rehearse_error)i);

        (void)printf("%-15s %4g %-3s  %4g-%-4g  %s\n", about->name,
                     about->usual, units_name(about->unit), about->least,
                     about->most, about->text);
    }
}

static void tell_errors(const struct rehearse_plan *plan)
{
    bool perfect = true;

    for (int i = 0; i < REHEARSE_ERRORS; i++) {
        const struct rehearse_error_about *about =
            rehearse_error_about((enum rehearse_error)i);

        if (plan->size[i] <= 0.0)
            continue;
        (void)printf("%s  %-15s %.3g %s\n", perfect ? ", in error:\n" : "",
                     about->name,
                     units_from_internal(about->unit, plan->size[i]),
                     units_name(about->unit));
        perfect = false;
    }
    if (perfect)
        (void)printf(", flown well\n");
}

void rehearse_words_tell(const struct rehearse_plan *plan)
{
    const struct performance_conditions *day = &plan->conditions;

    (void)printf("a chandelle to the %s from %.0f kt at %.0f ft",
                 plan->direction < 0 ? "left" : "right",
                 units_kt(plan->aircraft.entry_speed_mps),
                 units_ft(day->altitude_m));
    tell_errors(plan);
    if (day->wind_mps > 0.0)
        (void)printf("wind %03.0f/%.0f\n", units_deg(day->wind_from_rad),
                     units_kt(day->wind_mps));
    if (plan->gusts_mps > 0.0)
        (void)printf("gusts of %.2g kt, seed %" PRIu64 "\n",
                     units_kt(plan->gusts_mps), plan->seed);
    if (plan->hand > 0.0)
        (void)printf("hand unsteady by %g, seed %" PRIu64 "\n", plan->hand,
                     plan->seed);
}

static int say_unknown(const char *name)
{
    char names[400] = "";
    size_t used = 0;

    for (int i = 0; i < REHEARSE_ERRORS; i++)
        used += (size_t)snprintf(
            names + used, sizeof names - used, "%s%s", i > 0 ? ", " : "",
            rehearse_error_about((enum rehearse_error)i)->name);
    log_line(LOG_LEVEL_ERROR, "rehearse: no error \"%s\"; there is:", name);
    log_wrapped(LOG_LEVEL_ERROR, "  ", names);
    return EXIT_WRONG_USAGE;
}

/* "pitch-sag", "pitch-sag=4", "pitch-sag=4 deg". */
static int plant(const char *word, struct rehearse_plan *plan)
{
    char name[32];
    size_t length = strcspn(word, "=");
    const struct rehearse_error_about *about;
    enum rehearse_error error;
    double least;
    double most;
    double size;

    (void)snprintf(name, sizeof name, "%.*s", (int)length, word);
    if (length >= sizeof name || rehearse_error_find(name, &error) != 0)
        return say_unknown(name);
    about = rehearse_error_about(error);
    size = units_to_internal(about->unit, about->usual);
    least = units_to_internal(about->unit, about->least);
    most = units_to_internal(about->unit, about->most);
    if (word[length] == '=' &&
        (settings_parse_quantity(word + length + 1, about->unit, &size) != 0 ||
         !(size >= least * (1.0 - 1e-9)) || !(size <= most * (1.0 + 1e-9)))) {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --error %s takes %g to %g %s, not \"%s\"", name,
                 about->least, about->most, units_name(about->unit),
                 word + length + 1);
        return EXIT_WRONG_USAGE;
    }
    plan->size[error] = size;
    return 0;
}

/* The one undoes the other, or ends the flight before it. */
static int check_together(const struct rehearse_plan *plan)
{
    static const enum rehearse_error pair[][2] = {
        {REHEARSE_BANK_SHALLOW, REHEARSE_BANK_STEEP},
        {REHEARSE_PITCH_EARLY, REHEARSE_PITCH_LATE},
        {REHEARSE_PITCH_HIGH, REHEARSE_PITCH_LOW},
        {REHEARSE_ROLL_OUT_EARLY, REHEARSE_ROLL_OUT_LATE},
        {REHEARSE_LEVEL_SHORT, REHEARSE_LEVEL_PAST},
        {REHEARSE_STALL, REHEARSE_ABANDON},
        {REHEARSE_STALL, REHEARSE_LEVEL_SHORT},
        {REHEARSE_STALL, REHEARSE_LEVEL_PAST},
        {REHEARSE_STALL, REHEARSE_SINK},
        {REHEARSE_ABANDON, REHEARSE_LEVEL_SHORT},
        {REHEARSE_ABANDON, REHEARSE_LEVEL_PAST},
        {REHEARSE_ABANDON, REHEARSE_SINK}};

    for (size_t i = 0; i < sizeof pair / sizeof pair[0]; i++) {
        if (plan->size[pair[i][0]] <= 0.0 || plan->size[pair[i][1]] <= 0.0)
            continue;
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: %s and %s do not go together: make one of them",
                 rehearse_error_about(pair[i][0])->name,
                 rehearse_error_about(pair[i][1])->name);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

/* The option that may come more than once is taken out of the words.
 * value: receives what is behind each; NULL when nothing is.
 * Returns: how many words are left; *count values were found. */
static int take_errors(int argc, char **argv, const char **value, int *count)
{
    static const char option[] = "--error";
    const size_t length = sizeof option - 1;
    int kept = 0;

    *count = 0;
    for (int i = 0; i < argc; i++) {
        if (strncmp(argv[i], option, length) != 0 ||
            (argv[i][length] != '\0' && argv[i][length] != '=') ||
            *count == MOST_ERRORS)
            argv[kept++] = argv[i];
        else if (argv[i][length] == '=')
            value[(*count)++] = argv[i] + length + 1;
        else
            value[(*count)++] = i + 1 < argc ? argv[++i] : NULL;
    }
    argv[kept] = NULL;
    return kept;
}

static int plant_all(const char *const *value, int count,
                     struct rehearse_plan *plan)
{
    for (int i = 0; i < count; i++) {
        if (value[i] == NULL) {
            log_line(LOG_LEVEL_ERROR, "rehearse: --error needs a name; "
                                      "rehearse --list tells them");
            return EXIT_WRONG_USAGE;
        }
        if (plant(value[i], plan) != 0)
            return EXIT_WRONG_USAGE;
    }
    return 0;
}

/* ---- other words -------------------------------------------------------- */

static int read_turbulence(const char *text, double *gusts_mps)
{
    if (text == NULL || strcmp(text, "none") == 0)
        return 0;
    if (strcmp(text, "light") == 0) {
        *gusts_mps = PERFORMANCE_GUSTS_LIGHT_MPS;
    } else if (strcmp(text, "moderate") == 0) {
        *gusts_mps = PERFORMANCE_GUSTS_MODERATE_MPS;
    } else {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --turbulence takes none, light or moderate, not "
                 "\"%s\"",
                 text);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

static int read_speed(const char *text, double *speed)
{
    char *end;

    if (text == NULL)
        return 0;
    if (strcmp(text, "max") == 0) {
        *speed = 0.0;
        return 0;
    }
    *speed = strtod(text, &end);
    if (end == text || *end != '\0' || !(*speed >= 0.05 && *speed <= 100.0)) {
        log_line(LOG_LEVEL_ERROR,
                 "rehearse: --speed takes max or a number from 0.05 to 100, "
                 "not \"%s\"",
                 text);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

/* Words that mean more than what they set. */
struct said {
    const char *direction; /* NULL: not said, and so below */
    const char *turbulence;
    const char *wind;
    const char *speed;
    const char *error[MOST_ERRORS];
    int errors;
    double seed;
};

static int follow(const struct said *said, struct rehearse_choice *choice,
                  struct rehearse_plan *plan)
{
    int status = plant_all(said->error, said->errors, plan);

    if (status == 0)
        status = check_together(plan);
    if (status == 0)
        status =
            words_read_direction("rehearse", said->direction, &plan->direction);
    if (status == 0)
        status = read_turbulence(said->turbulence, &plan->gusts_mps);
    if (status == 0)
        status = words_read_wind("rehearse", said->wind, &plan->conditions);
    if (status == 0)
        status = read_speed(said->speed, &choice->speed);
    plan->seed = (uint64_t)said->seed;
    return status;
}

int rehearse_words_read(int argc, char **argv, struct rehearse_choice *choice,
                        struct rehearse_plan *plan)
{
    struct performance_conditions *day = &plan->conditions;
    struct said said = {.seed = 1.0};
    const struct words_option options[] = {
        {.name = "--direction", .text = &said.direction},
        {.name = "--turbulence", .text = &said.turbulence},
        {.name = "--wind", .text = &said.wind},
        {.name = "--weight",
         .quantity = &day->weight_kg,
         .least = 200,
         .most = 20000,
         .unit = UNIT_LB},
        {.name = "--altitude",
         .quantity = &day->altitude_m,
         .least = 0,
         .most = 15000,
         .unit = UNIT_FT},
        {.name = "--temperature",
         .quantity = &day->temperature_k,
         .least = -50,
         .most = 50,
         .unit = UNIT_DEG_C},
        {.name = "--ground",
         .quantity = &plan->ground_m,
         .least = -1000,
         .most = 12000,
         .unit = UNIT_FT},
        {.name = "--heading",
         .quantity = &plan->entry_heading_rad,
         .least = 0,
         .most = 360,
         .unit = UNIT_DEG},
        {.name = "--unsteady",
         .number = &plan->hand,
         .fraction = true,
         .least = 0,
         .most = 3},
        {.name = "--seed", .number = &said.seed, .least = 0, .most = 1e9},
        {.name = "--rate",
         .number = &choice->rate_hz,
         .fraction = true,
         .least = 1,
         .most = 200},
        {.name = "--speed", .text = &said.speed},
        {.name = "--hold-at",
         .number = &choice->hold_at,
         .fraction = true,
         .least = 1,
         .most = 179},
        {.name = "--address", .text = &choice->address},
        {.name = "--port", .number = &choice->port, .least = 1, .most = 65535},
        {.name = "--record", .text = &choice->record, .file = true},
        {.name = "--truth", .text = &choice->truth},
        {.name = "--force", .flag = &choice->force},
        {.name = "--list", .flag = &choice->list},
        {.name = NULL}};
    int words;
    int status;

    argc = take_errors(argc, argv, said.error, &said.errors);
    status = words_read(argc, argv, options, NULL, 0, &words);
    return status != 0 ? status : follow(&said, choice, plan);
}
