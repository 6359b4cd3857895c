/* words.c - the words of a command line behind the command's name. */
#include "words.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "quarterturn/log.h"
#include "quarterturn/settings.h"
#include "quarterturn/text.h"
#include "targets.h"

static const struct words_option *find(const struct words_option *options,
                                       const char *word, size_t length)
{
    for (; options->name != NULL; options++)
        if (strlen(options->name) == length &&
            strncmp(options->name, word, length) == 0)
            return options;
    return NULL;
}

static int set_quantity(const char *command, const struct words_option *option,
                        const char *value)
{
    double internal = 0.0;
    int status = settings_parse_quantity(value, option->unit, &internal);
    double in_unit = units_from_internal(option->unit, internal);

    if (status == 0 && in_unit >= option->least && in_unit <= option->most) {
        *option->quantity = internal;
        return 0;
    }
    log_line(LOG_LEVEL_ERROR,
             "%s: %s takes %g to %g %s, or the like in another unit, not "
             "\"%s\"",
             command, option->name, option->least, option->most,
             units_name(option->unit), value);
    return EXIT_WRONG_USAGE;
}

/* Elsewhere "-" is standard output: a file of that name would be a surprise. */
static int set_text(const char *command, const struct words_option *option,
                    const char *value)
{
    *option->text = value;
    if (option->utf8 && !text_is_utf8(value)) {
        log_line(LOG_LEVEL_ERROR, "%s: %s: this is not UTF-8", command,
                 option->name);
        return EXIT_WRONG_USAGE;
    }
    if (!option->file || !targets_is_output(value))
        return 0;
    log_line(LOG_LEVEL_ERROR,
             "%s: %s takes a file, and cannot write it to standard output; "
             "one that is called \"-\" is ./-",
             command, option->name);
    return EXIT_WRONG_USAGE;
}

static int set_value(const char *command, const struct words_option *option,
                     const char *value)
{
    char *end;

    if (option->text != NULL)
        return set_text(command, option, value);
    if (option->quantity != NULL)
        return set_quantity(command, option, value);
    *option->number = strtod(value, &end);
    if (end != value && *end == '\0' && *option->number >= option->least &&
        *option->number <= option->most &&
        (option->fraction || *option->number == floor(*option->number)))
        return 0;
    log_line(LOG_LEVEL_ERROR,
             "%s: %s takes a %snumber from %g to %g, not \"%s\"", command,
             option->name, option->fraction ? "" : "whole ", option->least,
             option->most, value);
    return EXIT_WRONG_USAGE;
}

int words_read(int argc, char **argv, const struct words_option *options,
               const char **plain, int most, int *plain_count)
{
    *plain_count = 0;
    for (int i = 1; i < argc; i++) {
        const char *word = argv[i];
        const char *value = strchr(word, '=');
        const struct words_option *option;

        if (strncmp(word, "--", 2) != 0) {
            if (*plain_count == most) {
                log_line(LOG_LEVEL_ERROR, "%s: \"%s\" is one word too many",
                         argv[0], word);
                return EXIT_WRONG_USAGE;
            }
            plain[(*plain_count)++] = word;
            continue;
        }
        option = find(options, word,
                      value != NULL ? (size_t)(value - word) : strlen(word));
        if (option == NULL ||
            (option->flag != NULL && option->text == NULL && value != NULL)) {
            log_line(LOG_LEVEL_ERROR,
                     "%s has no option %s; see quarterturn --help", argv[0],
                     word);
            return EXIT_WRONG_USAGE;
        }
        if (option->flag != NULL) {
            *option->flag = true;
            if (value != NULL && set_text(argv[0], option, value + 1) != 0)
                return EXIT_WRONG_USAGE;
            continue;
        }
        value = value != NULL ? value + 1 : argv[++i];
        if (value == NULL) {
            log_line(LOG_LEVEL_ERROR, "%s: %s needs a value", argv[0], word);
            return EXIT_WRONG_USAGE;
        }
        if (set_value(argv[0], option, value) != 0)
            return EXIT_WRONG_USAGE;
    }
    return 0;
}

/* More is no flying weather for a maneuver; ours. */
static const double most_wind_kt = 80.0;

int words_read_wind(const char *command, const char *text,
                    struct performance_conditions *day)
{
    char *slash;
    char *end;
    double from_deg;
    double speed_kt;

    if (text == NULL)
        return 0;
    from_deg = strtod(text, &slash);
    speed_kt = *slash == '/' ? strtod(slash + 1, &end) : -1.0;
    if (slash == text || *slash != '/' || end == slash + 1 || *end != '\0' ||
        !(from_deg >= 0.0 && from_deg <= 360.0) ||
        !(speed_kt >= 0.0 && speed_kt <= most_wind_kt)) {
        log_line(LOG_LEVEL_ERROR,
                 "%s: --wind takes degrees it blows from, 0 to 360, and knots, "
                 "0 to %g, as in 270/15, not \"%s\"",
                 command, most_wind_kt, text);
        return EXIT_WRONG_USAGE;
    }
    day->wind_from_rad = units_rad(from_deg);
    day->wind_mps = units_to_internal(UNIT_KT, speed_kt);
    return 0;
}

int words_read_direction(const char *command, const char *text, int *direction)
{
    if (text == NULL)
        return 0;
    if (strcmp(text, "left") != 0 && strcmp(text, "right") != 0) {
        log_line(LOG_LEVEL_ERROR,
                 "%s: --direction takes left or right, not \"%s\"", command,
                 text);
        return EXIT_WRONG_USAGE;
    }
    *direction = text[0] == 'l' ? -1 : 1;
    return 0;
}
