/* number.c - decimal text to double, exactly, whatever the locale's habits. */
#include "decode.h"

#include <stdlib.h>
#include <string.h>

enum {
    EXACT_DIGITS = 19,     /* any 19 digits fit 64 bits */
    EXACT_POWER = 22,      /* 10^22 is the last exact power in a double */
    EXPONENT_LIMIT = 9999, /* beyond it every number is 0 or infinite */
    SLOW_SIZE = 1024       /* 767 digits decide any double */
};

#define EXACT_MANTISSA (UINT64_C(1) << 53)

static const double power_of_ten[EXACT_POWER + 1] = {
    1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* A number taken apart: mantissa x 10^exponent, when digits <= 19. */
struct parts {
    uint64_t mantissa;
    int exponent;
    size_t digits; /* significant ones */
    bool negative;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* Digits from *at on into the mantissa.
 * Returns: how many there were, leading zeros included. */
static size_t take_digits(const char *text, size_t length, size_t *at,
                          struct parts *parts)
{
    size_t first = *at;

    while (*at < length && is_digit(text[*at])) {
        unsigned digit = (unsigned)(text[*at] - '0');

        if (parts->digits > 0 || digit > 0)
            parts->digits++;
        if (parts->digits <= EXACT_DIGITS)
            parts->mantissa = parts->mantissa * 10 + digit;
        (*at)++;
    }
    return *at - first;
}

static bool take_exponent(const char *text, size_t length, size_t *at,
                          int *exponent)
{
    bool negative = false;
    size_t first;
    int value = 0;

    (*at)++;
    if (*at < length && (text[*at] == '+' || text[*at] == '-')) {
        negative = text[*at] == '-';
        (*at)++;
    }
    first = *at;
    while (*at < length && is_digit(text[*at])) {
        if (value < EXPONENT_LIMIT)
            value = value * 10 + (text[*at] - '0');
        (*at)++;
    }
    *exponent += negative ? -value : value;
    return *at > first;
}

static bool take_apart(const char *text, size_t length, char decimal,
                       struct parts *parts)
{
    size_t at = 0;
    size_t before;
    size_t behind = 0;

    if (at < length && (text[at] == '+' || text[at] == '-')) {
        parts->negative = text[at] == '-';
        at++;
    }
    before = take_digits(text, length, &at, parts);
    if (at < length && text[at] == decimal) {
        at++;
        behind = take_digits(text, length, &at, parts);
    }
    if (before + behind == 0)
        return false;
    parts->exponent = -(int)behind;
    if (at < length && (text[at] == 'e' || text[at] == 'E') &&
        !take_exponent(text, length, &at, &parts->exponent))
        return false;
    return at == length;
}

/* strtod reads the decimal mark of the C locale: this program never calls
 * setlocale. The text was checked before, so it can hold nothing else that
 * strtod knows (hexadecimal, "inf"). */
static bool read_slowly(const char *text, size_t length, char decimal,
                        double *out)
{
    char copy[SLOW_SIZE];
    char *mark;

    if (length >= sizeof copy)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    mark = strchr(copy, decimal);
    if (mark != NULL)
        *mark = '.';
    *out = strtod(copy, NULL);
    return true;
}

/* Source of the short way: W. D. Clinger, How to Read Floating Point Numbers
 * Accurately (ACM PLDI, 1990): a mantissa below 2^53 and a power of ten up to
 * 22 are both exact, so one multiplication or division rounds once. */
bool decode_number(const char *text, size_t length, char decimal, double *out)
{
    struct parts parts = {0};
    double value;

    if (!take_apart(text, length, decimal, &parts))
        return false;
    if (parts.digits > EXACT_DIGITS || parts.mantissa > EXACT_MANTISSA ||
        parts.exponent > EXACT_POWER || parts.exponent < -EXACT_POWER)
        return read_slowly(text, length, decimal, out);
    value = (double)parts.mantissa;
    if (parts.exponent < 0)
        value /= power_of_ten[-parts.exponent];
    else
        value *= power_of_ten[parts.exponent];
    *out = parts.negative ? -value : value;
    return true;
}
