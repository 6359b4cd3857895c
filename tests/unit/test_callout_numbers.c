/* test_callout_numbers.c - how numbers are spoken. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "quarterturn/callout.h"
#include "quarterturn/error.h"
#include "quarterturn/units.h"

static void say(long number, enum callout_numbers style, char *text,
                size_t size)
{
    enum callout_clip clips[8];
    uint32_t count = 0;

    assert_int_equal(callout_say_number(number, style, clips, &count, 8), 0);
    callout_clips_text(clips, count, text, size);
}

/* Round hundreds and thousands by their words, else digit by digit: ICAO
 * Annex 10, Volume II, 5.2.1.4.1, and the FAA's Aeronautical Information
 * Manual, 4-2-8 (500 "five hundred", 4,500 "four thousand five hundred", 10
 * "one zero", 75 "seven five"); both from memory. */
static void numbers_are_spoken_digit_by_digit_or_grouped(void **state)
{
    static const struct {
        long number;
        const char *digits;
        const char *grouped;
    } row[] = {
        {0, "zero", "zero"},
        {7, "seven", "seven"},
        {10, "one zero", "ten"},
        {13, "one three", "thirteen"},
        {20, "two zero", "twenty"},
        {75, "seven five", "seventy five"},
        {100, "one hundred", "one hundred"},
        {101, "one zero one", "one hundred one"},
        {500, "five hundred", "five hundred"},
        {850, "eight five zero", "eight hundred fifty"},
        {1000, "one thousand", "one thousand"},
        {1350, "one three five zero", "one thousand three hundred fifty"},
        {4500, "four thousand five hundred", "four thousand five hundred"},
        {9999, "nine nine nine nine",
         "nine thousand nine hundred ninety nine"}};

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        char text[CALLOUT_TEXT_SIZE];

        say(row[i].number, NUMBERS_DIGITS, text, sizeof text);
        assert_string_equal(text, row[i].digits);
        say(row[i].number, NUMBERS_GROUPED, text, sizeof text);
        assert_string_equal(text, row[i].grouped);
    }
}

static void no_two_numbers_sound_the_same(void **state)
{
    static char said[2001][CALLOUT_TEXT_SIZE];
    static const enum callout_numbers style[] = {NUMBERS_DIGITS,
                                                 NUMBERS_GROUPED};

    (void)state;
    for (size_t s = 0; s < sizeof style / sizeof style[0]; s++) {
        for (long n = 0; n <= 2000; n++)
            say(n, style[s], said[n], sizeof said[n]);
        for (long n = 0; n <= 2000; n++) {
            for (long other = 0; other < n; other++)
                assert_true(strcmp(said[n], said[other]) != 0);
        }
    }
}

static void a_number_that_does_not_fit_is_refused(void **state)
{
    static const enum callout_numbers style[] = {NUMBERS_DIGITS,
                                                 NUMBERS_GROUPED};
    enum callout_clip clips[8];
    uint32_t count = 0;

    (void)state;
    for (size_t s = 0; s < sizeof style / sizeof style[0]; s++) {
        assert_int_equal(callout_say_number(-1, style[s], clips, &count, 8),
                         ERR_RANGE);
        assert_int_equal(callout_say_number(10000, style[s], clips, &count, 8),
                         ERR_RANGE);
        assert_int_equal(callout_say_number(850, style[s], clips, &count, 2),
                         ERR_FULL);
        assert_int_equal(count, 0);
    }
}

/* The longest there is: the caption must hold all of it. */
static void the_longest_result_is_told_whole_in_both_styles(void **state)
{
    static const char *const text[] = {
        [NUMBERS_DIGITS] = "heading minus one seven seven; gained seven "
                           "thousand seven hundred feet; one seven above the "
                           "stall",
        [NUMBERS_GROUPED] = "heading minus one hundred seventy seven; gained "
                            "seven thousand seven hundred feet; seventeen "
                            "above the stall"};
    const struct maneuver_event level = {
        .kind = EVENT_WINGS_LEVEL,
        .attempt = 1,
        .direction = 1,
        .angle_rad = units_rad(-177.0),
        .length_m = 7700.0 * UNITS_M_PER_FT,
        .stall_margin_mps = 17.0 * UNITS_MPS_PER_KT,
    };

    (void)state;
    for (int i = NUMBERS_DIGITS; i <= NUMBERS_GROUPED; i++) {
        struct callout_call calls[CALLOUT_MAX_CALLS] = {0};
        struct callout_settings settings;
        struct callout callout;
        int64_t now_ns = 0;
        uint32_t count = 0;

        callout_defaults(&settings);
        settings.numbers = (enum callout_numbers)i;
        callout_init(&callout, &settings);
        callout_offer(&callout, now_ns, &level);
        while (count == 0 || calls[0].cue != CUE_RESULT) {
            assert_true(now_ns < 10 * UNITS_NS_PER_S);
            now_ns += UNITS_NS_PER_S / 100;
            count = callout_advance(&callout, now_ns, calls);
        }
        assert_string_equal(calls[0].text, text[i]);
        assert_true(calls[0].clip_count <= CALLOUT_MAX_CLIPS);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_are_spoken_digit_by_digit_or_grouped),
        cmocka_unit_test(no_two_numbers_sound_the_same),
        cmocka_unit_test(a_number_that_does_not_fit_is_refused),
        cmocka_unit_test(the_longest_result_is_told_whole_in_both_styles),
    };

    return cmocka_run_group_tests_name("numbers", tests, NULL, NULL) != 0;
}
