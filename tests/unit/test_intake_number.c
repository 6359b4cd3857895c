/* test_intake_number.c - decimal text becomes the nearest double, always. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "../../daemon/intake/decode.h"

/* Source: S. Vigna, SplitMix64; any good spread of bits would do. */
static uint64_t next_random(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15);

    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static void expect_same_bits(const char *text, double expected)
{
    double value = -1.0;

    if (!decode_number(text, strlen(text), '.', &value))
        fail_msg("\"%s\" was not read", text);
    if (memcmp(&value, &expected, sizeof value) != 0)
        fail_msg("\"%s\": %.17g, not %.17g", text, value, expected);
}

/* The C library's strtod is the reference (C11 7.22.1.3: correctly rounded
 * by any library worth its name). */
static void reads_any_double_as_strtod_does(void **unused)
{
    static const char *const format[] = {"%.17g", "%.15g", "%.9e", "%.0f",
                                         "%+.3f"};
    uint64_t state = 1;
    char text[400];

    (void)unused;
    for (int i = 0; i < 100000; i++) {
        uint64_t bits = next_random(&state);
        double value;

        memcpy(&value, &bits, sizeof value);
        if (value - value != 0.0)
            continue;
        (void)snprintf(text, sizeof text, format[i % 5], value);
        expect_same_bits(text, strtod(text, NULL));
    }
}

static void reads_digits_of_any_length_as_strtod_does(void **unused)
{
    uint64_t state = 2;

    (void)unused;
    for (int i = 0; i < 200000; i++) {
        uint64_t dice = next_random(&state);
        size_t length = 1 + dice % 30;
        size_t point = (dice >> 8) % (length + 1);
        size_t used = 0;
        char text[64];

        for (size_t d = 0; d < length; d++) {
            if (d == point)
                text[used++] = '.';
            text[used++] = (char)('0' + next_random(&state) % 10);
        }
        if ((dice & 0x10000) != 0)
            used += (size_t)snprintf(text + used, sizeof text - used, "e%d",
                                     (int)(dice >> 20 & 0x3f) - 32);
        text[used] = '\0';
        expect_same_bits(text, strtod(text, NULL));
    }
}

/* The compiler reads these with arithmetic of its own (GCC: GNU MPFR), so
 * they also check the C library. */
static void reads_the_hard_cases_as_the_compiler_does(void **unused)
{
    (void)unused;
    expect_same_bits("9007199254740992", 9007199254740992.0);
    expect_same_bits("9007199254740993", 9007199254740993.0);
    expect_same_bits("9007199254740994", 9007199254740994.0);
    expect_same_bits("123456789012345678", 123456789012345678.0);
    expect_same_bits("9999999999999999999", 9999999999999999999.0);
    expect_same_bits("18446744073709551616", 18446744073709551616.0);
    expect_same_bits("1e22", 1e22);
    expect_same_bits("1e23", 1e23);
    expect_same_bits("1e-22", 1e-22);
    expect_same_bits("1e-23", 1e-23);
    expect_same_bits("8.5e-23", 8.5e-23);
    expect_same_bits("2.2250738585072011e-308", 2.2250738585072011e-308);
    expect_same_bits("1.7976931348623157e308", 1.7976931348623157e308);
    expect_same_bits("4.9e-324", 4.9e-324);
    expect_same_bits("1700000000.123456789", 1700000000.123456789);
}

static void reads_what_people_write(void **unused)
{
    (void)unused;
    expect_same_bits("0", 0.0);
    expect_same_bits("-0", -0.0);
    expect_same_bits("+7", 7.0);
    expect_same_bits(".5", 0.5);
    expect_same_bits("5.", 5.0);
    expect_same_bits("-0012.50", -12.5);
    expect_same_bits("1E3", 1000.0);
    expect_same_bits("1e+3", 1000.0);
    expect_same_bits("25e-1", 2.5);
    expect_same_bits("0e99999", 0.0);
    expect_same_bits("1e-99999", 0.0);
}

static void refuses_what_is_no_number(void **unused)
{
    static const char *const text[] = {
        "",    "+",     "-",     ".",   "e5",       "1e",    "1e+",
        "1e-", "--1",   "+-1",   "1-",  "1 ",       " 1",    "1.2.3",
        "1,5", "0x10",  "0x1p3", "inf", "-inf",     "nan",   "NaN(1)",
        "1_0", "1e5.0", "1 2",   "12a", "infinity", "\"1\"", "1\t"};
    double value = 42.0;

    (void)unused;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        if (decode_number(text[i], strlen(text[i]), '.', &value))
            fail_msg("\"%s\" was read as %g", text[i], value);
    }
    assert_true(value == 42.0);
}

static void gives_infinity_for_what_no_double_can_hold(void **unused)
{
    double value = 0.0;

    (void)unused;
    assert_true(decode_number("1e999", 5, '.', &value));
    assert_true(value > 1e308);
    assert_true(decode_number("-1e999", 6, '.', &value));
    assert_true(value < -1e308);
}

static void takes_the_decimal_comma_only_when_told(void **unused)
{
    double value = 0.0;

    (void)unused;
    assert_true(decode_number("-12,5", 5, ',', &value));
    assert_true(value == -12.5);
    /* The way through strtod as well. */
    assert_true(decode_number("0,12345678901234567890", 22, ',', &value));
    assert_true(value == 0.12345678901234567890);
    assert_false(decode_number("12.5", 4, ',', &value));
}

static void stops_at_the_length_it_is_given(void **unused)
{
    double value = 0.0;

    (void)unused;
    assert_true(decode_number("1234", 2, '.', &value));
    assert_true(value == 12.0);
}

static void reads_long_numbers_and_refuses_endless_ones(void **unused)
{
    char text[2000];
    double value = 0.0;

    (void)unused;
    memset(text, '1', sizeof text);
    text[1] = '.';
    assert_true(decode_number(text, 1000, '.', &value));
    assert_true(value == 10.0 / 9.0);
    assert_false(decode_number(text, 1024, '.', &value));
    assert_false(decode_number(text, sizeof text, '.', &value));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_any_double_as_strtod_does),
        cmocka_unit_test(reads_digits_of_any_length_as_strtod_does),
        cmocka_unit_test(reads_the_hard_cases_as_the_compiler_does),
        cmocka_unit_test(reads_what_people_write),
        cmocka_unit_test(refuses_what_is_no_number),
        cmocka_unit_test(gives_infinity_for_what_no_double_can_hold),
        cmocka_unit_test(takes_the_decimal_comma_only_when_told),
        cmocka_unit_test(stops_at_the_length_it_is_given),
        cmocka_unit_test(reads_long_numbers_and_refuses_endless_ones),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
