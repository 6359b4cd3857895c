/* test_settings_columns.c - a mistake is told with its own line and column,
 * whatever stands beside it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "folder.h"
#include "mistakes.h"
#include "quarterturn/settings.h"

/* Characters are counted, and a tab is one of them. */
static void every_option_of_a_line_has_its_own_column(void **state)
{
    static const struct mistake mistakes[] = {
        {"network { port = 1 signal_timeout = 0 } sound { gain = 0 }",
         "my.conf:1:20: ", "signal_timeout"},
        {"network { port = 1 signal_timeout = 1 } sound { gain = 2 }",
         "my.conf:1:49: ", "gain"},
        {"network{port=1 prot=2 port=3}", "my.conf:1:16: ", "'prot'"},
        {"network{port=1 port=2 port=3}", "my.conf:1:16: ", "port is given"},
        {"use { } use { } use { }", "my.conf:1:9: ", "use is given twice"},
        {"sound { voice = \"gain = 3\" gain = 2 }", "my.conf:1:28: ", "gain"},
        {"\tsound\t{ gain = 2 }", "my.conf:1:10: ", "gain"},
        {"sound { device = \"\xc3\xa9\xe2\x82\xac\" gain = 2 }",
         "my.conf:1:23: ", "gain"},
        {"sound { /* \xc3\xa9 */ gain = 2 }", "my.conf:1:17: ", "gain"},
        {"/* \xc3\xa9 */ /* no end", "my.conf:1:9: ", "without an end"},
        {"sound { device = ${HOME} gain = 2 }", "my.conf:1:26: ", "gain"},
        {"sound { device = '\\' } { ' gain = 2 }", "my.conf:1:28: ", "gain"},
        {"sound { \"gain\" = 2 }", "my.conf:1:9: ", "gain"},
        /* The name tells the place, whatever line its value is on. */
        {"sound {\n  gain\n=\n2 }", "my.conf:2:3: ", "gain"},
        {"use { }\n  use\n{ }", "my.conf:2:3: ", "use is given twice"},
        {"layout \"a\" {\n form = dis } layout \"a\" { }",
         "my.conf:2:15: ", "duplicate title 'a'"},
    };

    mistakes_expect(*state, mistakes, sizeof mistakes / sizeof mistakes[0]);
}

static void a_path_that_is_too_long_is_told_by_its_option(void **state)
{
    char text[700];
    const struct mistake mistake = {
        text, "my.conf:1:23: ", "logbook: the path is longer than 511"};

    (void)snprintf(text, sizeof text,
                   "debrief { pages = \"p\" logbook = %0600d }", 1);
    mistakes_expect(*state, &mistake, 1);
}

static void an_item_in_braces_has_a_column_of_its_own(void **state)
{
    static const struct mistake mistakes[] = {
        {"network { allow = {::1, \"::1\", x} }", "my.conf:1:32: ", "\"x\""},
        {"network { allow = {x,\n y} group = {} }", "my.conf:1:20: ", "\"x\""},
        {"network { allow = x }", "my.conf:1:11: ", "\"x\""},
        {"network { allow += {::1} allow += {x} }", "my.conf:1:36: ", "\"x\""},
        {"network { allow += ::1 allow += x }", "my.conf:1:24: ", "\"x\""},
        {"network { allow = {} group = {} port = 0 }",
         "my.conf:1:33: ", "port"},
        {"network { allow = {::1} } sound { gain = 2 }",
         "my.conf:1:35: ", "gain"},
    };

    mistakes_expect(*state, mistakes, sizeof mistakes / sizeof mistakes[0]);
}

/* The library that reads the file tells the line it stopped at. */
static void what_cannot_be_read_is_told_where_reading_stopped(void **state)
{
    static const struct mistake mistakes[] = {
        {"network {\n port = 1\n  }\n }", "my.conf:4:2: ", "brace"},
        {"network {\n port\n  4000 }", "my.conf:3:3: ", "equal sign"},
        {"network {\n port 4000 }", "my.conf:2:2: ", "equal sign"},
        {"network {\n port =, 3 }", "my.conf:2:2: ", "unexpected token ','"},
        {"network {\n port = 3 = 4 }", "my.conf:2:11: ", "unexpected token"},
        {"network {\n port = 3\n  ( ) }", "my.conf:3:3: ", "unexpected token"},
    };

    mistakes_expect(*state, mistakes, sizeof mistakes / sizeof mistakes[0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(every_option_of_a_line_has_its_own_column),
        in_folder(a_path_that_is_too_long_is_told_by_its_option),
        in_folder(an_item_in_braces_has_a_column_of_its_own),
        in_folder(what_cannot_be_read_is_told_where_reading_stopped),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
