/* test_logbook.c - rows written, read again, and edited by hand between. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "entries.h"
#include "folder.h"
#include "near.h"
#include "quarterturn/error.h"

/* Where the logbook of a test lies. */
static char path[FOLDER_PATH_SIZE];

static void begin(void **state)
{
    (void)folder_path(*state, "logbook.csv", path);
}

static void append(uint32_t n, const char *person)
{
    struct logbook_entry entry;

    entry_build(n, person, &entry);
    assert_int_equal(entry_append(path, &entry, 1), 1);
}

/* Put a text for every place of another one. */
static void replace(const char *from, const char *to)
{
    size_t length;
    char *text = folder_read_file(path, &length);
    FILE *file = fopen(path, "wb");
    char *at = text;
    char *next;

    assert_non_null(file);
    while ((next = strstr(at, from)) != NULL) {
        (void)fwrite(at, 1, (size_t)(next - at), file);
        (void)fputs(to, file);
        at = next + strlen(from);
    }
    (void)fputs(at, file);
    assert_int_equal(fclose(file), 0);
    free(text);
}

static void write_text(const char *text)
{
    FILE *file = fopen(path, "wb");

    assert_non_null(file);
    (void)fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

static void expect_holds(const char *text)
{
    size_t length;
    char *all = folder_read_file(path, &length);

    if (strstr(all, text) == NULL)
        fail_msg("\"%s\" does not stand in:\n%s", text, all);
    free(all);
}

/* ---- as we write it ----------------------------------------------------- */

static void keeps_what_a_spreadsheet_needs(void **state)
{
    struct logbook_entry entry;
    struct logbook *book;

    begin(state);
    entry_build(0, "Ada \"Quick\" Moor, jr.", &entry);
    entry_set(&entry, "heading error at level", -12.34, VERDICT_MISSED);
    entry_set(&entry, "ball out", 2.5, VERDICT_MISSED);
    entry_set(&entry, "altitude gained", (double)NAN, VERDICT_NOT_JUDGED);
    assert_int_equal(entry_append(path, &entry, 1), 1);

    /* RFC 4180, section 2, rules 1, 3, 6 and 7: lines end with CR LF, the
     * first one names the columns, a field with a comma stands in quotes, a
     * quote in it is doubled. ISO 8601 for the time. */
    expect_holds("begun,who,aircraft,maneuver,direction,standard,help,ending,"
                 "reason,verdict,missed,not judged,entry speed (kt),");
    expect_holds(",id\r\n2026-03-01T00:00:00Z,\"Ada \"\"Quick\"\" Moor, jr.\","
                 "club-trainer,chandelle,right,commercial,full,finished,,"
                 "missed,heading error at level; ball out,altitude gained,");
    expect_holds(",-12.3,");
    book = entry_read(path);
    assert_int_equal(book->count, 1);
    assert_string_equal(book->row[0].person, "Ada \"Quick\" Moor, jr.");
    assert_string_equal(book->row[0].begun, "2026-03-01T00:00:00Z");
    assert_int_equal(book->row[0].direction, 1);
    assert_int_equal(book->row[0].verdict, VERDICT_MISSED);
    assert_int_equal(book->row[0].missed,
                     1U << entry_figure(book, "heading error at level") |
                         1U << entry_figure(book, "ball out"));
    assert_near(book->value[entry_figure(book, "heading error at level")],
                -12.3, 1e-9);
    assert_true(isnan(book->value[entry_figure(book, "altitude gained")]));
    assert_int_equal(book->unreadable, 0);
    logbook_free(book);
}

/* OWASP, "CSV Injection": fields that begin with one of = + - @ are formulas
 * to a spreadsheet. */
static void no_name_becomes_a_formula(void **state)
{
    static const char *const names[] = {
        "=HYPERLINK(\"x\")", "+1", "-2",           "@sum", "'=1", "''",
        "'t Veer",           "Jo", "\xEF\xBC\x9Dx"};
    struct logbook *book;

    begin(state);
    for (uint32_t i = 0; i < sizeof names / sizeof names[0]; i++)
        append(i, names[i]);
    expect_holds(",\"'=HYPERLINK(\"\"x\"\")\",");
    expect_holds(",'+1,");
    expect_holds(",'-2,");
    expect_holds(",'@sum,");
    expect_holds(",'t Veer,");
    book = entry_read(path);
    assert_int_equal(book->count, sizeof names / sizeof names[0]);
    for (uint32_t i = 0; i < book->count; i++)
        assert_string_equal(book->row[i].person, names[i]);
    logbook_free(book);
}

static void takes_an_attempt_once(void **state)
{
    struct logbook_entry entry[3];
    struct logbook *book;

    begin(state);
    for (uint32_t i = 0; i < 3; i++)
        entry_build(i, "", &entry[i]);
    assert_int_equal(entry_append(path, entry, 2), 2);
    assert_int_equal(entry_append(path, entry, 3), 1);
    assert_int_equal(entry_append(path, entry, 3), 0);
    book = entry_read(path);
    assert_int_equal(book->count, 3);
    assert_int_equal(book->doubled, 0);
    logbook_free(book);
}

static void puts_attempts_in_the_order_of_their_dates(void **state)
{
    struct logbook *book;

    begin(state);
    append(70, "later");
    append(3, "earlier");
    book = entry_read(path);
    assert_string_equal(book->row[0].person, "earlier");
    assert_string_equal(book->row[1].person, "later");
    assert_string_equal(book->row[1].begun, "2026-03-01T01:10:00Z");
    logbook_free(book);
}

/* ---- as a person leaves it ---------------------------------------------- */

/* A file that was edited is read, and another attempt goes into it. */
static void expect_still_grows(uint32_t rows)
{
    struct logbook *book = entry_read(path);

    if (book->count != rows || book->unreadable != 0)
        fail_msg("%u rows, %s", book->count, book->said);
    logbook_free(book);
    append(1000, "new");
    book = entry_read(path);
    assert_int_equal(book->count, rows + 1);
    assert_int_equal(book->unreadable, 0);
    assert_string_equal(book->row[rows].person, "new");
    assert_near(book->value[rows * book->figure_count +
                            entry_figure(book, "entry speed")],
                1.5, 1e-9);
    logbook_free(book);
}

static void understands_line_feeds_alone(void **state)
{
    begin(state);
    append(0, "a");
    replace("\r\n", "\n");
    expect_still_grows(1);
    expect_holds("\n2026-03-01T16:40:00Z,new,");
}

static void understands_a_byte_order_mark(void **state)
{
    begin(state);
    append(0, "a");
    replace("begun,", "\xEF\xBB\xBF"
                      "begun,");
    expect_still_grows(1);
    expect_holds("\xEF\xBB\xBF"
                 "begun,who");
}

static void understands_semicolons_and_decimal_commas(void **state)
{
    begin(state);
    write_text("begun;who;missed;entry speed (kt);id\n"
               "2026-03-01 00:00:00;Ada;\"ball out; bank set\";104,5;"
               "qaaaaaaaaaaaaaaab\n");
    expect_still_grows(1);
    expect_holds("\n2026-03-01 00:00:00;Ada;\"ball out; bank set\";104,5;"
                 "qaaaaaaaaaaaaaaab;");
    expect_holds(";1,5;");
}

static void keeps_columns_that_are_not_its_own(void **state)
{
    struct logbook *book;

    begin(state);
    write_text("weather,id,who,begun,wind (kt)\r\n"
               "\"rain,\r\nlater sun\",qaaaaaaaaaaaaaaab,Ada,"
               "2026-03-01T00:00:00Z,12\r\n");
    expect_still_grows(1);
    expect_holds("\"rain,\r\nlater sun\",qaaaaaaaaaaaaaaab,Ada,"
                 "2026-03-01T00:00:00Z,12,");
    expect_holds("weather,id,who,begun,wind (kt),aircraft,maneuver,");
    book = entry_read(path);
    assert_string_equal(book->row[0].person, "Ada");
    logbook_free(book);
}

static void keeps_remarks_in_columns_without_a_name(void **state)
{
    begin(state);
    write_text("begun,who,id\r\n2026-03-01T00:00:00Z,Ada,qaaaaaaaaaaaaaaab,"
               "gusty\r\n");
    expect_still_grows(1);
    expect_holds("begun,who,id,,aircraft,");
    expect_holds("qaaaaaaaaaaaaaaab,gusty,");
}

static void does_without_rows_that_were_deleted(void **state)
{
    begin(state);
    append(0, "a");
    append(1, "b");
    append(2, "c");
    replace("\r\n2026-03-01T00:01:00Z,b,", "\r\n,,,\r\n\r\n#,b,");
    replace("#,b,", "2026-03-01T00:01:00Z,bb,");
    expect_still_grows(3);
}

static void goes_on_behind_a_last_row_without_line_end(void **state)
{
    begin(state);
    write_text("begun,who,id\r\n2026-03-01T00:00:00Z,Ada,qaaaaaaaaaaaaaaab");
    expect_still_grows(1);
}

static void a_quote_left_open_takes_no_other_row(void **state)
{
    struct logbook *book;

    begin(state);
    append(0, "a");
    append(1, "b");
    append(2, "c");
    replace("Z,b,", "Z,\"b,");
    book = entry_read(path);
    assert_int_equal(book->count, 2);
    assert_int_equal(book->unreadable, 1);
    assert_non_null(strstr(book->said, "logbook.csv:3: "));
    logbook_free(book);
    append(3, "d");
    expect_holds("Z,\"b,");
    book = entry_read(path);
    assert_int_equal(book->count, 3);
    logbook_free(book);
}

static void counts_a_row_that_was_copied_once(void **state)
{
    struct logbook *book;
    FILE *file;
    size_t length;
    char *text;

    begin(state);
    append(0, "a");
    text = folder_read_file(path, &length);
    file = fopen(path, "ab");
    assert_non_null(file);
    (void)fputs(strstr(text, "\r\n") + 2, file);
    assert_int_equal(fclose(file), 0);
    free(text);
    book = entry_read(path);
    assert_int_equal(book->count, 1);
    assert_int_equal(book->doubled, 1);
    logbook_free(book);
}

static void refuses_what_is_no_logbook(void **state)
{
    static const char other[] = "shopping,list\r\nmilk,2\r\n";
    struct logbook_entry entry;
    struct logbook_added added;
    struct logbook *book;
    char why[LOGBOOK_WHY_SIZE];

    begin(state);
    write_text(other);
    entry_build(0, "", &entry);
    assert_int_equal(logbook_append(path, &entry, 1, &added, why), ERR_FORMAT);
    assert_non_null(strstr(why, "logbook.csv:1: this is no logbook"));
    assert_int_equal(logbook_read(path, &book, why), ERR_FORMAT);
    expect_holds(other);
    assert_int_equal(folder_count(*state), 1);
}

static void a_figure_that_is_no_number_is_not_known(void **state)
{
    struct logbook *book;

    begin(state);
    write_text("begun,entry speed (kt),bank set (deg),id\n"
               "yesterday,fast,nan,\n");
    book = entry_read(path);
    assert_int_equal(book->count, 1);
    assert_int_equal(book->unreadable, 2);
    assert_non_null(strstr(book->said, "logbook.csv:2: a figure is no number"));
    assert_true(isnan(book->value[0]) && isnan(book->value[1]));
    assert_string_equal(book->row[0].begun, "");
    logbook_free(book);
}

/* XDG Base Directory Specification 0.8: $XDG_DATA_HOME, when absolute, else
 * $HOME/.local/share. */
static void lies_where_the_system_keeps_data(void **state)
{
    char place[FOLDER_PATH_SIZE];
    char expected[FOLDER_PATH_SIZE + 64];
    const struct folder *folder = *state;

    assert_int_equal(setenv("HOME", folder->path, 1), 0);
    assert_int_equal(setenv("XDG_DATA_HOME", "not/absolute", 1), 0);
    assert_int_equal(logbook_default_path(true, place, sizeof place), 0);
    (void)snprintf(expected, sizeof expected,
                   "%s/.local/share/quarterturn/logbook.csv", folder->path);
    assert_string_equal(place, expected);
    (void)snprintf(path, sizeof path, "%s", place);
    append(0, "");
    assert_int_equal(setenv("XDG_DATA_HOME", folder->path, 1), 0);
    assert_int_equal(logbook_default_path(false, place, sizeof place), 0);
    (void)snprintf(expected, sizeof expected, "%s/quarterturn/logbook.csv",
                   folder->path);
    assert_string_equal(place, expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(keeps_what_a_spreadsheet_needs),
        in_folder(no_name_becomes_a_formula),
        in_folder(takes_an_attempt_once),
        in_folder(puts_attempts_in_the_order_of_their_dates),
        in_folder(understands_line_feeds_alone),
        in_folder(understands_a_byte_order_mark),
        in_folder(understands_semicolons_and_decimal_commas),
        in_folder(keeps_columns_that_are_not_its_own),
        in_folder(keeps_remarks_in_columns_without_a_name),
        in_folder(does_without_rows_that_were_deleted),
        in_folder(goes_on_behind_a_last_row_without_line_end),
        in_folder(a_quote_left_open_takes_no_other_row),
        in_folder(counts_a_row_that_was_copied_once),
        in_folder(refuses_what_is_no_logbook),
        in_folder(a_figure_that_is_no_number_is_not_known),
        in_folder(lies_where_the_system_keeps_data),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
