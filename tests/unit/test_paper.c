/* test_paper.c - what gets onto a page, and what does not. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "quarterturn/error.h"
#include "quarterturn/paper.h"

static char text[8192];

static void expect_text(const char *given, const char *expected)
{
    FILE *file = tmpfile();
    struct paper paper = {.file = file};
    size_t length;

    assert_non_null(file);
    paper_text(&paper, given);
    assert_false(paper.failed);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    text[length] = '\0';
    (void)fclose(file);
    assert_string_equal(text, expected);
}

static void expect_number(double value, int decimals, const char *expected)
{
    FILE *file = tmpfile();
    struct paper paper = {.file = file};
    size_t length;

    assert_non_null(file);
    paper_number(&paper, value, decimals);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    text[length] = '\0';
    (void)fclose(file);
    assert_string_equal(text, expected);
}

/* The five characters that mean something in HTML text and in attributes
 * (HTML Living Standard, 13.1.2 and 13.3). */
static void text_stays_text(void **state)
{
    (void)state;
    expect_text("<script>alert('1' & \"2\")</script>",
                "&lt;script&gt;alert(&#39;1&#39; &amp; &quot;2&quot;)"
                "&lt;/script&gt;");
    expect_text("J\xC3\xB6rg \xE2\x9C\x93 \xF0\x9F\x9B\xA9",
                "J\xC3\xB6rg \xE2\x9C\x93 \xF0\x9F\x9B\xA9");
}

/* RFC 3629, section 3: overlong forms, surrogates, what is beyond U+10FFFF,
 * a continuation without a beginning, a beginning without an end. */
static void what_is_no_text_is_replaced(void **state)
{
    (void)state;
    expect_text("a\xC0\x80z", "a\xEF\xBF\xBD\xEF\xBF\xBDz");
    expect_text("\xED\xA0\x80", "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD");
    expect_text("\xF4\x90\x80\x80",
                "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD");
    expect_text("\x80", "\xEF\xBF\xBD");
    expect_text("\xE2\x9C", "\xEF\xBF\xBD\xEF\xBF\xBD");
    expect_text("a\x01\x7F\xC2\x85z", "a\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBDz");
}

static void numbers_carry_a_true_minus_and_no_negative_nought(void **state)
{
    (void)state;
    expect_number(12.345, 1, "12.3");
    expect_number(-12.345, 2,
                  "\xE2\x88\x92"
                  "12.35");
    expect_number(-0.04, 1, "0.0");
    expect_number((double)NAN, 1, "\xE2\x80\x93");
    expect_number((double)INFINITY, 1, "\xE2\x80\x93");
}

static void a_page_is_whole_and_warns(void **state)
{
    FILE *file = tmpfile();
    struct paper paper;
    size_t length;

    (void)state;
    assert_non_null(file);
    paper_begin(&paper, file, "a < b");
    paper_element(&paper, "h1", NULL, "x & y");
    paper_element(&paper, "p", "quiet", "z");
    assert_int_equal(paper_end(&paper), 0);
    rewind(file);
    length = fread(text, 1, sizeof text - 1, file);
    text[length] = '\0';
    (void)fclose(file);
    assert_memory_equal(text, "<!DOCTYPE html>\n<html lang=\"en\">", 32);
    assert_non_null(strstr(text, "<title>a &lt; b</title>"));
    assert_non_null(strstr(text, "<h1>x &amp; y</h1><p class=\"quiet\">z</p>"));
    assert_non_null(strstr(text, "For simulator practice only."));
    assert_string_equal(text + length - 8, "</html>\n");
    assert_null(strstr(text, "http"));
    assert_null(strstr(text, "<script"));
}

static void a_full_disk_is_told(void **state)
{
    FILE *file = fopen("/dev/full", "w");
    struct paper paper;

    (void)state;
    assert_non_null(file);
    paper_begin(&paper, file, "x");
    assert_int_equal(paper_end(&paper), ERR_IO);
    (void)fclose(file);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_stays_text),
        cmocka_unit_test(what_is_no_text_is_replaced),
        cmocka_unit_test(numbers_carry_a_true_minus_and_no_negative_nought),
        cmocka_unit_test(a_page_is_whole_and_warns),
        cmocka_unit_test(a_full_disk_is_told),
    };

    return cmocka_run_group_tests_name("paper", tests, NULL, NULL) != 0;
}
