/* test_pages.c - pages as files: whole or not there, beside a loop or at once.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <uv.h>

#include "../../daemon/commands/pages.h"
#include "folder.h"
#include "quarterturn/error.h"

static struct debrief_attempt *attempt;
static char why[1200];

static int set_up(void **state)
{
    attempt = calloc(1, sizeof *attempt);
    if (attempt == NULL)
        return 1;
    attempt->number = 2;
    attempt->direction = 1;
    /* 2024-02-29 12:00:00 UTC, by "date -u -d @1709208000". */
    attempt->begun_unix_ns = INT64_C(1709208000) * UNITS_NS_PER_S;
    return folder_set_up(state);
}

static int tear_down(void **state)
{
    free(attempt);
    return folder_tear_down(state);
}

static void expect_page(const char *path)
{
    size_t length;
    char *text = folder_read_file(path, &length);

    assert_memory_equal(text, "<!DOCTYPE html>", 15);
    assert_string_equal(text + length - 8, "</html>\n");
    free(text);
}

static void a_page_takes_its_place_whole(void **state)
{
    char path[FOLDER_PATH_SIZE];

    (void)folder_write(*state, "a.html", "older", 5, path);
    assert_int_equal(pages_write_file(path, attempt, why, sizeof why), 0);
    expect_page(path);
    assert_int_equal(folder_count(*state), 1);
}

static void a_page_that_cannot_be_written_leaves_the_older_one(void **state)
{
    char path[FOLDER_PATH_SIZE];
    char part[FOLDER_PATH_SIZE];
    char *text;
    size_t length;
    uv_fs_t request;

    (void)folder_write(*state, "a.html", "older", 5, path);
    /* What would hold it meanwhile cannot be opened. */
    (void)folder_path(*state, "a.html.part", part);
    assert_int_equal(uv_fs_mkdir(NULL, &request, part, 0700, NULL), 0);
    uv_fs_req_cleanup(&request);
    assert_int_equal(pages_write_file(path, attempt, why, sizeof why), ERR_IO);
    assert_non_null(strstr(why, "a.html: the page cannot be written"));
    text = folder_read_file(path, &length);
    assert_string_equal(text, "older");
    free(text);
    (void)folder_path(*state, "none/a.html", path);
    assert_int_equal(pages_write_file(path, attempt, why, sizeof why), ERR_IO);
}

/* A page must never take the place of what is no file. */
static void a_device_is_written_to_and_not_replaced(void **state)
{
    char path[FOLDER_PATH_SIZE];
    uv_fs_t request;

    (void)folder_path(*state, "full", path);
    assert_int_equal(uv_fs_symlink(NULL, &request, "/dev/full", path, 0, NULL),
                     0);
    uv_fs_req_cleanup(&request);
    assert_int_equal(pages_write_file(path, attempt, why, sizeof why), ERR_IO);
    assert_non_null(strstr(why, "No space left on device"));
    assert_int_equal(uv_fs_readlink(NULL, &request, path, NULL), 0);
    assert_string_equal(request.ptr, "/dev/full");
    uv_fs_req_cleanup(&request);
    assert_int_equal(folder_count(*state), 1);
}

static void a_folder_is_made_and_pages_are_named_by_their_entry(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct pages *pages;

    (void)folder_path(*state, "pages", path);
    assert_int_equal(pages_open(path, &pages, why, sizeof why), 0);
    pages_write(pages, attempt);
    assert_int_equal(pages_close(pages), 0);
    expect_page(folder_path(
        *state, "pages/quarterturn-20240229-120000Z-attempt-2.html", path));
    /* A folder that is there already does as well. */
    (void)folder_path(*state, "pages", path);
    assert_int_equal(pages_open(path, &pages, why, sizeof why), 0);
    assert_int_equal(pages_close(pages), 0);
}

static void a_file_is_no_folder(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct pages *pages;

    (void)folder_write(*state, "file", "x", 1, path);
    assert_int_equal(pages_open(path, &pages, why, sizeof why), ERR_IO);
    assert_non_null(strstr(why, "not a directory"));
    (void)folder_path(*state, "none/below", path);
    assert_int_equal(pages_open(path, &pages, why, sizeof why), ERR_IO);
}

/* More at once than there is room for: what is over is left out and told. */
static void pages_are_written_beside_a_loop(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct pages *pages;
    uv_loop_t loop;

    (void)folder_path(*state, "pages", path);
    assert_int_equal(pages_open(path, &pages, why, sizeof why), 0);
    assert_int_equal(uv_loop_init(&loop), 0);
    pages_use_loop(pages, &loop);
    for (uint32_t number = 1; number <= 3; number++) {
        attempt->number = number;
        pages_write(pages, attempt);
    }
    /* The attempt is the caller's again at once. */
    attempt->number = 99;
    assert_int_equal(uv_run(&loop, UV_RUN_DEFAULT), 0);
    assert_int_equal(uv_loop_close(&loop), 0);
    assert_int_equal(folder_count(*state), 3); /* two, and their folder */
    expect_page(folder_path(
        *state, "pages/quarterturn-20240229-120000Z-attempt-1.html", path));
    expect_page(folder_path(
        *state, "pages/quarterturn-20240229-120000Z-attempt-2.html", path));
    assert_int_equal(pages_close(pages), ERR_IO);
}

#define PAGES_TEST(name) \
    cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PAGES_TEST(a_page_takes_its_place_whole),
        PAGES_TEST(a_page_that_cannot_be_written_leaves_the_older_one),
        PAGES_TEST(a_device_is_written_to_and_not_replaced),
        PAGES_TEST(a_folder_is_made_and_pages_are_named_by_their_entry),
        PAGES_TEST(a_file_is_no_folder),
        PAGES_TEST(pages_are_written_beside_a_loop),
    };

    return cmocka_run_group_tests_name("pages", tests, NULL, NULL) != 0;
}
