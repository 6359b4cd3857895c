/* quantity.c - "64 mph": numbers with units, as people write them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static const char *skip_blanks(const char *text)
{
    while (*text == ' ' || *text == '\t')
        text++;
    return text;
}

/* strtod also reads "inf", "nan" and hexadecimal: only digits, signs, one
 * point and an exponent of ten get there. The decimal point is that of the C
 * locale, which this program never leaves. */
static size_t number_length(const char *text)
{
    size_t at = 0;
    size_t digits = 0;

    if (text[at] == '+' || text[at] == '-')
        at++;
    for (; text[at] >= '0' && text[at] <= '9'; at++)
        digits++;
    if (text[at] == '.')
        at++;
    for (; text[at] >= '0' && text[at] <= '9'; at++)
        digits++;
    if (digits == 0)
        return 0;
    if (text[at] == 'e' || text[at] == 'E') {
        size_t exponent = at + 1;

        if (text[exponent] == '+' || text[exponent] == '-')
            exponent++;
        if (text[exponent] >= '0' && text[exponent] <= '9') {
            at = exponent;
            while (text[at] >= '0' && text[at] <= '9')
                at++;
        }
    }
    return at;
}

static int find_unit(const char *text, enum unit *out)
{
    char name[16];
    size_t length = strlen(text);

    while (length > 0 && (text[length - 1] == ' ' || text[length - 1] == '\t'))
        length--;
    if (length == 0 || length >= sizeof name)
        return ERR_ABSENT;
    memcpy(name, text, length);
    name[length] = '\0';
    return units_find(name, out);
}

int settings_parse_quantity(const char *text, enum unit bare_unit, double *out)
{
    char number[64];
    enum unit unit = bare_unit;
    size_t length;

    text = skip_blanks(text);
    length = number_length(text);
    if (length == 0 || length >= sizeof number)
        return ERR_FORMAT;
    memcpy(number, text, length);
    number[length] = '\0';
    text = skip_blanks(text + length);
    /* A digit or a mark behind a number is a slip, not a unit. */
    if (*text == '.' || *text == ',' || *text == '+' || *text == '-' ||
        (*text >= '0' && *text <= '9'))
        return ERR_FORMAT;
    if (*text != '\0' && find_unit(text, &unit) != 0)
        return ERR_ABSENT;
    if (units_quantity(unit) != units_quantity(bare_unit))
        return ERR_USAGE;
    *out = units_to_internal(unit, strtod(number, NULL));
    return 0;
}
