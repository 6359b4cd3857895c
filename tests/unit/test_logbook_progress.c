/* test_logbook_progress.c - what gets better, and what to practise next. */
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

enum { MOST = 40 };

struct course {
    struct logbook_entry entry[MOST];
    uint32_t count;
    struct logbook *book;
    struct logbook_progress progress;
    char advice[LOGBOOK_ADVICE_SIZE];
};

static void begin(struct course *course, uint32_t count)
{
    memset(course, 0, sizeof *course);
    course->count = count;
    for (uint32_t i = 0; i < count; i++)
        entry_build(i, i % 4 < 2 ? "Ada" : "Bo", &course->entry[i]);
}

static void miss(struct course *course, uint32_t n, const char *item)
{
    entry_set(&course->entry[n], item, 99.0, VERDICT_MISSED);
}

static void look(void **state, struct course *course, const char *person)
{
    char path[FOLDER_PATH_SIZE];

    (void)folder_path(*state, "logbook.csv", path);
    (void)entry_append(path, course->entry, course->count);
    course->book = entry_read(path);
    logbook_progress_make(course->book, person, &course->progress);
    logbook_progress_advice(course->book, &course->progress, course->advice,
                            sizeof course->advice);
}

static const struct logbook_trend *trend(const struct course *course,
                                         const char *figure)
{
    return &course->progress.trend[entry_figure(course->book, figure)];
}

static void counts_what_was_missed_lately_and_before(void **state)
{
    struct course course;

    begin(&course, 12);
    miss(&course, 1, "ball out"); /* too long ago */
    miss(&course, 3, "ball out");
    miss(&course, 6, "ball out");
    miss(&course, 9, "ball out");
    entry_set(&course.entry[11], "ball out", (double)NAN, VERDICT_NOT_JUDGED);
    look(state, &course, NULL);
    /* Judged: 10 to 6, then 5 to 1. */
    assert_int_equal(trend(&course, "ball out")->recent.judged, 5);
    assert_int_equal(trend(&course, "ball out")->recent.missed, 2);
    assert_int_equal(trend(&course, "ball out")->before.judged, 5);
    assert_int_equal(trend(&course, "ball out")->before.missed, 2);
    assert_int_equal(trend(&course, "ball out")->left.missed, 3);
    assert_int_equal(trend(&course, "ball out")->right.missed, 1);
    assert_int_equal(course.progress.attempts, 12);
    assert_int_equal(course.progress.in_standard, 8);
    assert_string_equal(course.advice,
                        "to keep the ball in the middle, in left turns (\"ball "
                        "out\" missed in 2 of the last 5)");
    logbook_free(course.book);
}

static void follows_one_person_alone(void **state)
{
    struct course course;

    begin(&course, 12);
    miss(&course, 10, "ball out"); /* Bo's */
    miss(&course, 9, "bank set");  /* Ada's */
    look(state, &course, "Ada");
    assert_int_equal(course.progress.attempts, 6);
    assert_int_equal(trend(&course, "ball out")->recent.missed, 0);
    assert_string_equal(course.advice,
                        "to stop the roll at the planned bank (\"bank set\" "
                        "missed in 1 of the last 5)");
    logbook_free(course.book);
}

static void a_stall_comes_before_what_is_missed_more_often(void **state)
{
    struct course course;

    begin(&course, 6);
    miss(&course, 3, "ball out");
    miss(&course, 4, "ball out");
    miss(&course, 2, "time stalled");
    look(state, &course, NULL);
    assert_string_equal(
        course.advice,
        "not to stall (\"time stalled\" missed in 1 of the last 5)");
    logbook_free(course.book);
}

/* A name of an item is nothing to do: "Practise next: time stalled". */
static void each_item_is_said_as_an_exercise(void **state)
{
    struct course first;

    begin(&first, 1);
    for (uint32_t i = 0; i < first.entry[0].grade.item_count; i++) {
        const char *item = first.entry[0].grade.item[i].item;
        char path[FOLDER_PATH_SIZE];
        struct course course;

        if (first.entry[0].grade.item[i].rule == RULE_INFORMATION &&
            strcmp(item, "altitude gained") != 0)
            continue;
        begin(&course, 1);
        miss(&course, 0, item);
        look(state, &course, NULL);
        if (strncmp(course.advice, "to keep \"", 9) == 0 ||
            (strncmp(course.advice, "to ", 3) != 0 &&
             strncmp(course.advice, "not to ", 7) != 0))
            fail_msg("%s: \"%s\"", item, course.advice);
        logbook_free(course.book);
        assert_int_equal(remove(folder_path(*state, "logbook.csv", path)), 0);
    }
}

static void of_two_alike_the_one_missed_last_comes_first(void **state)
{
    struct course course;

    begin(&course, 6);
    miss(&course, 3, "bank set");
    miss(&course, 4, "ball out");
    look(state, &course, NULL);
    assert_string_equal(course.advice, "to keep the ball in the middle (\"ball "
                                       "out\" missed in 1 of the last 5)");
    logbook_free(course.book);
}

static void asks_for_the_side_that_was_not_flown(void **state)
{
    struct course course;

    begin(&course, 24);
    for (uint32_t i = 0; i < course.count; i++)
        course.entry[i].direction = "right";
    look(state, &course, NULL);
    assert_string_equal(course.advice,
                        "turns to the left: none among the last 10 attempts");
    logbook_free(course.book);
}

static void fits_on_eighty_columns(void **state)
{
    struct course course;
    FILE *file = tmpfile();
    char line[256];
    size_t lines = 0;

    assert_non_null(file);
    begin(&course, MOST);
    for (uint32_t i = 0; i < course.count; i++)
        for (uint32_t k = 0; k < course.entry[i].grade.item_count; k++)
            miss(&course, i, course.entry[i].grade.item[k].item);
    look(state, &course, NULL);
    assert_int_equal(
        logbook_progress_print(file, course.book, &course.progress), 0);
    rewind(file);
    while (fgets(line, sizeof line, file) != NULL) {
        lines++;
        assert_true(strcspn(line, "\n") <= 80);
    }
    assert_true(lines > LOGBOOK_TO_SHOW);
    (void)fclose(file);
    logbook_free(course.book);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(counts_what_was_missed_lately_and_before),
        in_folder(follows_one_person_alone),
        in_folder(a_stall_comes_before_what_is_missed_more_often),
        in_folder(each_item_is_said_as_an_exercise),
        in_folder(of_two_alike_the_one_missed_last_comes_first),
        in_folder(asks_for_the_side_that_was_not_flown),
        in_folder(fits_on_eighty_columns),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
