/* test_wrap.c - text broken between words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/wrap.h"

static void assert_printed(int column, int indent, const char *text,
                           const char *expected)
{
    char *out = NULL;
    size_t length;
    FILE *file = open_memstream(&out, &length);

    assert_non_null(file);
    wrap_print(file, column, indent, text);
    assert_int_equal(fclose(file), 0);
    assert_string_equal(out, expected);
    free(out);
}

static void takes_as_many_words_as_fit(void **state)
{
    const char *text = "one two  three";

    (void)state;
    assert_int_equal(wrap_take(&text, 7), 7);
    assert_string_equal(text, "three");
    assert_int_equal(wrap_take(&text, 7), 5);
    assert_string_equal(text, "");
    text = "one two";
    assert_int_equal(wrap_take(&text, 6), 3);
    assert_string_equal(text, "two");
}

static void a_word_that_is_too_long_stays_whole(void **state)
{
    const char *text = "configuration of it";

    (void)state;
    assert_int_equal(wrap_take(&text, 5), 13);
    assert_string_equal(text, "of it");
}

/* "Zo\u00eb" is three columns and four bytes. */
static void counts_characters_and_not_bytes(void **state)
{
    const char *text = "Zo\xc3\xab Zo\xc3\xab flies";

    (void)state;
    assert_int_equal(wrap_take(&text, 7), 9);
    assert_string_equal(text, "flies");
}

static void later_lines_stand_under_the_first(void **state)
{
    (void)state;
    assert_printed(74, 2, "a note of words", "a note\n  of words");
    assert_printed(0, 0, "", "");
    assert_printed(75, 4, "whole", "whole");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_as_many_words_as_fit),
        cmocka_unit_test(a_word_that_is_too_long_stays_whole),
        cmocka_unit_test(counts_characters_and_not_bytes),
        cmocka_unit_test(later_lines_stand_under_the_first),
    };

    return cmocka_run_group_tests_name("wrap", tests, NULL, NULL) != 0;
}
