/* test_words.c - the words of a command line. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../../daemon/commands/commands.h"
#include "../../daemon/commands/words.h"
#include "near.h"

struct read {
    bool asked;
    const char *maybe;
    const char *text;
    bool flag;
    double number;
    double part;
    const char *plain[2];
    int count;
};

static int read_words(struct read *read, int argc, char **argv)
{
    const struct words_option options[] = {
        {.name = "--text", .text = &read->text},
        {.name = "--flag", .flag = &read->flag},
        {.name = "--maybe", .flag = &read->asked, .text = &read->maybe},
        {.name = "--number", .number = &read->number, .least = 1, .most = 9},
        {.name = "--part",
         .number = &read->part,
         .fraction = true,
         .least = 1,
         .most = 9},
        {.name = NULL}};

    *read = (struct read){.number = -1.0};
    return words_read(argc, argv, options, read->plain, 2, &read->count);
}

static void options_and_plain_words_may_stand_anywhere(void **state)
{
    char *argv[] = {"command", "a",          "--number=3", "--flag", "--text",
                    "--b",     "--part=3.5", "c",          NULL};
    struct read read;

    (void)state;
    assert_int_equal(read_words(&read, 8, argv), 0);
    assert_int_equal(read.count, 2);
    assert_string_equal(read.plain[0], "a");
    assert_string_equal(read.plain[1], "c");
    assert_string_equal(read.text, "--b");
    assert_true(read.flag);
    assert_near(read.number, 3.0, 1e-12);
    assert_near(read.part, 3.5, 1e-12);
}

static void a_value_that_may_be_left_out_stands_behind_its_sign(void **state)
{
    char *without[] = {"command", "--maybe", "a", NULL};
    char *with[] = {"command", "--maybe=b=c", NULL};
    struct read read;

    (void)state;
    assert_int_equal(read_words(&read, 3, without), 0);
    assert_true(read.asked);
    assert_null(read.maybe);
    assert_string_equal(read.plain[0], "a");
    assert_int_equal(read_words(&read, 2, with), 0);
    assert_true(read.asked);
    assert_string_equal(read.maybe, "b=c");
}

static void what_is_not_known_or_not_whole_is_refused(void **state)
{
    static char *const word[] = {"--nothing",    "--number",   "--number=0",
                                 "--number=10",  "--number=x", "--number=3x",
                                 "--number=nan", "--flag=1",   "--text",
                                 "--",           "--numb=3",   "--number=3.5",
                                 "--part=0.5"};

    (void)state;
    for (size_t i = 0; i < sizeof word / sizeof word[0]; i++) {
        char *argv[] = {"command", word[i], NULL};
        struct read read;

        assert_int_equal(read_words(&read, 2, argv), EXIT_WRONG_USAGE);
    }
}

static void one_word_too_many_is_refused(void **state)
{
    char *argv[] = {"command", "a", "b", "c", NULL};
    struct read read;

    (void)state;
    assert_int_equal(read_words(&read, 4, argv), EXIT_WRONG_USAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(options_and_plain_words_may_stand_anywhere),
        cmocka_unit_test(a_value_that_may_be_left_out_stands_behind_its_sign),
        cmocka_unit_test(what_is_not_known_or_not_whole_is_refused),
        cmocka_unit_test(one_word_too_many_is_refused),
    };

    return cmocka_run_group_tests_name("commands: words", tests, NULL, NULL) !=
           0;
}
