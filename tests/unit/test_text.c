/* test_text.c - what is text and what is only bytes.
 *
 * The judge of UTF-8 is jansson, which takes no other strings. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/text.h"

static bool is_taken_by_jansson(const char *text, size_t length)
{
    json_t *string = json_stringn(text, length);
    bool taken = string != NULL;

    json_decref(string);
    return taken;
}

static void judge(const char *text)
{
    assert_int_equal(text_is_utf8(text),
                     is_taken_by_jansson(text, strlen(text)));
}

/* All of two and three bytes; of four, all of the first two with the bounds of
 * the others. */
static void every_short_sequence_is_judged_alike(void **state)
{
    static const unsigned char edge[] = {0x01, 0x7F, 0x80, 0xBF, 0xC0, 0xFF};
    unsigned char byte[5] = {0};

    (void)state;
    for (unsigned first = 1; first < 256; first++) {
        for (unsigned second = 0; second < 256; second++) {
            byte[0] = (unsigned char)first;
            byte[1] = (unsigned char)second;
            byte[2] = 0;
            judge((const char *)byte);
            for (unsigned third = 1; second > 0 && third < 256; third++) {
                byte[2] = (unsigned char)third;
                byte[3] = 0;
                judge((const char *)byte);
                for (size_t i = 0; third % 64 < 2 && i < sizeof edge; i++) {
                    byte[3] = edge[i];
                    judge((const char *)byte);
                }
            }
        }
    }
}

/* A character ends where the judge says that it does. */
static void characters_have_their_length(void **state)
{
    static const char *const one[] = {"a", "\xC3\xAB", "\xE2\x9C\x88",
                                      "\xF0\x9F\x9B\xA9"};

    (void)state;
    for (size_t i = 0; i < 4; i++) {
        char text[8];

        assert_int_equal(text_character_length(one[i]), i + 1);
        (void)snprintf(text, sizeof text, "%sb", one[i]);
        assert_int_equal(text_character_length(text), i + 1);
        text[i] = '\0';
        assert_int_equal(text_character_length(text), i == 0 ? 1 : 0);
    }
}

/* Source: The Unicode Standard, section 23.1: U+0000 to U+001F, U+007F to
 * U+009F; from memory. */
static void controls_are_told(void **state)
{
    (void)state;
    assert_true(text_is_control("\x1b["));
    assert_true(text_is_control("\t"));
    assert_true(text_is_control("\x7F"));
    assert_true(text_is_control("\xC2\x80"));
    assert_true(text_is_control("\xC2\x9F"));
    assert_false(text_is_control(" "));
    assert_false(text_is_control("~"));
    assert_false(text_is_control("\xC2\xA0"));
    /* Not whole. */
    assert_false(text_is_control("\xC2"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_short_sequence_is_judged_alike),
        cmocka_unit_test(characters_have_their_length),
        cmocka_unit_test(controls_are_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
