/* reader.c - one configuration file, read by libConfuse. */
#include "reader.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "comments.h"
#include "memory.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"
#include "schema.h"

enum { LIST_SIZE = 512 };

/* libConfuse hands its error function no pointer of ours. Reading is done by
 * one thread, one file at a time. */
static const struct reader_why *parse_why;

void reader_list_add(char *out, size_t size, const char *word)
{
    size_t used = strlen(out);

    if (used + 2 + strlen(word) + 1 > size)
        return;
    (void)snprintf(out + used, size - used, "%s%s", used > 0 ? ", " : "", word);
}

/* What may stand in a section, for a message about what may not. */
static void list_options(const cfg_t *section, char *out, size_t size)
{
    out[0] = '\0';
    for (const cfg_opt_t *option = section->opts; option->name != NULL;
         option++) {
        if (strcmp(option->name, SCHEMA_OPENED) != 0)
            reader_list_add(out, size, option->name);
    }
}

static void on_parse_error(cfg_t *section, const char *format, va_list list)
{
    char message[LIST_SIZE];
    char accepted[LIST_SIZE];
    struct place at;

    if (parse_why == NULL || parse_why->text[0] != '\0')
        return;
    at = places_stopped(section->line);
    (void)vsnprintf(message, sizeof message, format, list);
    if (strncmp(message, "no such option", 14) == 0) {
        list_options(section, accepted, sizeof accepted);
        (void)reader_fail(parse_why, section, at, "%s; accepted: %s", message,
                          accepted);
        return;
    }
    (void)reader_fail(parse_why, section, at, "%s", message);
}

/* What a file holds may be quoted in a message: it must not break the line,
 * nor tell a terminal anything. */
static void keep_to_one_line(char *text)
{
    for (; *text != '\0'; text++) {
        if ((unsigned char)*text < ' ' || *text == 0x7f)
            *text = '?';
    }
}

int reader_fail(const struct reader_why *why, const cfg_t *section,
                struct place at, const char *format, ...)
{
    va_list list;
    int used;

    if (why->text[0] != '\0')
        return ERR_USAGE;
    used = snprintf(why->text, why->size, "%s:%d:%d: ", section->filename,
                    at.line, at.column);
    if (used < 0 || (size_t)used >= why->size)
        return ERR_USAGE;
    va_start(list, format);
    (void)vsnprintf(why->text + used, why->size - (size_t)used, format, list);
    va_end(list);
    keep_to_one_line(why->text + used);
    return ERR_USAGE;
}

static int fail_file(const struct reader_why *why, const char *path, int error)
{
    (void)snprintf(why->text, why->size, "%s: %s", path, strerror(error));
    return ERR_USAGE;
}

/* Read a file that can be read. libConfuse's scanner would end the program when
 * it finds out that it cannot, as with a folder. */
static int read_content(const char *path, struct comments_text *left,
                        const struct reader_why *why)
{
    FILE *file = fopen(path, "r");
    struct place at;
    int error;

    if (file == NULL)
        return fail_file(why, path, errno);
    error = comments_leave_out(file, left, &at);
    if (error == ERR_IO || error == ERR_NO_MEMORY)
        (void)fail_file(why, path, error == ERR_IO ? errno : ENOMEM);
    else if (error == ERR_FULL)
        (void)snprintf(why->text, why->size,
                       "%s: a configuration holds at most %d KiB", path,
                       COMMENTS_MOST_KIB);
    else if (error == ERR_FORMAT)
        (void)snprintf(why->text, why->size,
                       "%s:%d:%d: a comment without an end", path, at.line,
                       at.column);
    else if (error < 0)
        (void)snprintf(why->text, why->size,
                       "%s:%d:%d: more than %d braces are opened", path,
                       at.line, at.column, COMMENTS_MOST_BRACES);
    (void)fclose(file);
    return error < 0 ? ERR_USAGE : 0;
}

/* Returns: CFG_SUCCESS, or what libConfuse said, *why filled in. */
static int parse(cfg_t *cfg, FILE *file, const struct comments_text *left,
                 const struct reader_why *why)
{
    int status;

    parse_why = why;
    places_begin(left->text, left->length);
    status = cfg_parse_fp(cfg, file);
    if (status != CFG_SUCCESS && why->text[0] == '\0')
        (void)reader_fail(why, cfg, places_stopped(cfg->line),
                          "cannot be read as configuration");
    places_end();
    parse_why = NULL;
    return status;
}

/* The same without a file: left stays its owner's. */
static int parse_text(cfg_t *cfg, const struct comments_text *left,
                      const char *path, const struct reader_why *why)
{
    FILE *file = memory_open(left->text, left->length);
    int status;

    if (file == NULL) {
        (void)fail_file(why, path, errno);
        return CFG_FILE_ERROR;
    }
    status = parse(cfg, file, left, why);
    (void)fclose(file);
    return status;
}

int reader_open(const char *path, cfg_t **out, const struct reader_why *why)
{
    struct comments_text left;
    cfg_t *cfg;
    int status;

    if (read_content(path, &left, why) < 0)
        return ERR_USAGE;
    cfg = cfg_init(schema_of_file(), CFGF_NONE);
    if (cfg == NULL) {
        free(left.text);
        return fail_file(why, path, ENOMEM);
    }
    (void)cfg_set_error_function(cfg, on_parse_error);
    /* Freed by cfg_free. */
    cfg->filename = strdup(path);
    status = parse_text(cfg, &left, path, why);
    free(left.text);
    if (status != CFG_SUCCESS) {
        cfg_free(cfg);
        return ERR_USAGE;
    }
    *out = cfg;
    return 0;
}

const struct reader_value *reader_get(cfg_t *section, const char *name)
{
    return cfg_getptr(section, name);
}

struct place reader_place(cfg_t *section)
{
    const struct reader_value *opened = reader_get(section, SCHEMA_OPENED);

    return opened == NULL ? (struct place){section->line, 1} : opened->at;
}

const struct reader_value *reader_need(cfg_t *section, const char *name,
                                       const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);

    if (value == NULL)
        (void)reader_fail(why, section, reader_place(section),
                          "%s \"%s\" has no %s, which is required",
                          cfg_name(section), cfg_title(section), name);
    return value;
}

/* ---- plain values ------------------------------------------------------ */

static int fail_value(const struct reader_why *why, const cfg_t *section,
                      const char *name, const struct reader_value *value,
                      const char *accepted)
{
    return reader_fail(why, section, value->at,
                       "%s = \"%s\" cannot be used; accepted: %s", name,
                       value->text, accepted);
}

int reader_whole(cfg_t *section, const char *name, const uint32_t bounds[2],
                 uint32_t *out, const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    uint64_t number = 0;

    if (value == NULL)
        return 0;
    for (const char *c = value->text; *c != '\0'; c++) {
        if (*c < '0' || *c > '9' || number > UINT32_MAX) {
            number = UINT64_MAX;
            break;
        }
        number = number * 10 + (uint64_t)(*c - '0');
    }
    if (value->text[0] == '\0' || number < bounds[0] || number > bounds[1])
        return reader_fail(why, section, value->at,
                           "%s = \"%s\" cannot be used; accepted: a whole "
                           "number from %u to %u",
                           name, value->text, bounds[0], bounds[1]);
    *out = (uint32_t)number;
    return 0;
}

/* Digits with an optional sign, decimal or, behind 0x, hexadecimal. */
static bool parse_integer(const char *text, int64_t *out)
{
    const char *digits = text[0] == '-' ? text + 1 : text;
    bool hex = digits[0] == '0' && (digits[1] == 'x' || digits[1] == 'X');
    const char *known = hex ? "0123456789abcdefABCDEF" : "0123456789";
    char *end;

    if (hex)
        digits += 2;
    if (digits[0] == '\0' || digits[strspn(digits, known)] != '\0')
        return false;
    errno = 0;
    *out = strtoll(text, &end, hex ? 16 : 10);
    return errno == 0 && *end == '\0';
}

int reader_integer(cfg_t *section, const char *name, const int64_t bounds[2],
                   int64_t *out, const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    int64_t number;

    if (value == NULL)
        return 0;
    if (!parse_integer(value->text, &number) || number < bounds[0] ||
        number > bounds[1])
        return reader_fail(why, section, value->at,
                           "%s = \"%s\" cannot be used; accepted: a whole "
                           "number from %" PRId64 " to %" PRId64,
                           name, value->text, bounds[0], bounds[1]);
    *out = number;
    return 0;
}

int reader_truth(cfg_t *section, const char *name, bool *out,
                 const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    int truth;

    if (value == NULL)
        return 0;
    truth = cfg_parse_boolean(value->text);
    if (truth < 0)
        return fail_value(why, section, name, value, "true, false");
    *out = truth != 0;
    return 0;
}

int reader_number(cfg_t *section, const char *name, double *out,
                  const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);

    if (value == NULL)
        return 0;
    if (settings_parse_quantity(value->text, UNIT_NONE, out) != 0 ||
        !isfinite(*out))
        return fail_value(why, section, name, value, "a number");
    return 0;
}

int reader_text(cfg_t *section, const char *name, char *out, size_t size,
                const struct reader_why *why)
{
    const struct reader_value *value = reader_get(section, name);
    size_t length;

    if (value == NULL)
        return 0;
    length = strlen(value->text);
    if (length >= size)
        return reader_fail(why, section, value->at,
                           "%s is longer than %zu characters", name, size - 1);
    memcpy(out, value->text, length + 1);
    return 0;
}

/* ---- quantities -------------------------------------------------------- */

static const char *const name_of_quantity[] = {
    [UNITS_NUMBER] = "plain number",
    [UNITS_ANGLE] = "angle",
    [UNITS_ANGLE_RATE] = "rate of turn",
    [UNITS_SPEED] = "speed",
    [UNITS_LENGTH] = "length",
    [UNITS_TIME] = "time",
    [UNITS_ACCELERATION] = "acceleration",
    [UNITS_MASS] = "mass",
    [UNITS_PRESSURE] = "pressure",
    [UNITS_TEMPERATURE] = "temperature",
    [UNITS_AREA] = "area",
    [UNITS_POWER] = "power",
};

void reader_list_units(enum units_quantity quantity, char *out, size_t size)
{
    out[0] = '\0';
    for (int i = UNIT_NONE + 1; i < UNIT_COUNT; i++) {
        if (units_quantity((enum unit)i) == quantity)
            reader_list_add(out, size, units_name((enum unit)i));
    }
}

static int fail_quantity(cfg_t *section, const struct reader_quantity *row,
                         const struct reader_value *value, int status,
                         const struct reader_why *why)
{
    char units[LIST_SIZE];
    enum units_quantity quantity = units_quantity(row->bare);

    reader_list_units(quantity, units, sizeof units);
    if (status == ERR_FORMAT)
        return reader_fail(why, section, value->at,
                           "%s = \"%s\" is no number with a unit; accepted "
                           "units: %s",
                           row->name, value->text, units);
    return reader_fail(why, section, value->at,
                       "%s = \"%s\": not a unit of a %s; accepted: %s",
                       row->name, value->text, name_of_quantity[quantity],
                       units);
}

static int read_quantity(cfg_t *section, const struct reader_quantity *row,
                         double *out, const struct reader_why *why)
{
    const struct reader_value *value =
        row->required ? reader_need(section, row->name, why)
                      : reader_get(section, row->name);
    double internal;
    double shown;
    int status;

    if (value == NULL)
        return row->required ? ERR_USAGE : 0;
    status = settings_parse_quantity(value->text, row->bare, &internal);
    if (status != 0)
        return fail_quantity(section, row, value, status, why);
    shown = units_from_internal(row->bare, internal);
    /* The bounds are round numbers in the bare unit: leave the conversion
     * there and back its rounding. */
    if (!(shown >= row->least - 1e-9 && shown <= row->greatest + 1e-9))
        return reader_fail(why, section, value->at,
                           "%s = \"%s\" is out of range; accepted: %g to %g %s",
                           row->name, value->text, row->least, row->greatest,
                           units_name(row->bare));
    *out = internal;
    return 0;
}

int reader_quantities(cfg_t *section, const struct reader_quantity *row,
                      size_t count, void *base, const struct reader_why *why)
{
    for (size_t i = 0; i < count; i++) {
        double value;
        char *at = (char *)base + row[i].at;
        int status;

        memcpy(&value, at, sizeof value);
        status = read_quantity(section, &row[i], &value, why);
        if (status != 0)
            return status;
        memcpy(at, &value, sizeof value);
    }
    return 0;
}
