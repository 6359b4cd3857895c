/* test_debrief_notes.c - the notes beside a recording. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

static struct debrief_noted read[DEBRIEF_MAX_NOTED];
static uint32_t count;
static uint32_t line;

static int read_text(const struct folder *folder, const char *text)
{
    char path[FOLDER_PATH_SIZE];

    folder_write(folder, "f.notes.jsonl", text, strlen(text), path);
    return debrief_notes_read(path, read, &count, &line);
}

static void what_was_written_is_read_to_the_nanosecond(void **state)
{
    static const struct debrief_noted note[] = {
        {0, "first"},
        {INT64_C(123456789), "quotes \" and \\ and \xc3\xa9"},
        {INT64_C(35999999999999), "after ten hours"}};
    char path[FOLDER_PATH_SIZE];
    FILE *file = fopen(folder_path(*state, "notes", path), "w");

    assert_non_null(file);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(debrief_notes_write(file, &note[i]), 0);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(debrief_notes_read(path, read, &count, &line), 0);
    assert_int_equal(count, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(read[i].since_ns, note[i].since_ns);
        assert_string_equal(read[i].text, note[i].text);
    }
}

static void no_file_is_no_note(void **state)
{
    char path[FOLDER_PATH_SIZE];

    assert_int_equal(debrief_notes_read(folder_path(*state, "none", path), read,
                                        &count, &line),
                     0);
    assert_int_equal(count, 0);
}

static void what_is_no_note_is_refused_with_its_line(void **state)
{
    static const char *const wrong[] = {
        "\n",
        "x\n",
        "[]\n",
        "{\"t\":1}\n",
        "{\"text\":\"x\"}\n",
        "{\"t\":\"1\",\"text\":\"x\"}\n",
        "{\"t\":-1,\"text\":\"x\"}\n",
        "{\"t\":1e300,\"text\":\"x\"}\n",
        "{\"t\":0.5,\"text\":\"before the first\"}\n",
        "{\"t\":2,\"text\":7}\n"};

    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        char text[256];

        (void)snprintf(text, sizeof text, "{\"t\":1,\"text\":\"ok\"}\n%s",
                       wrong[i]);
        assert_int_equal(read_text(*state, text), ERR_FORMAT);
        assert_int_equal(line, 2);
        assert_int_equal(count, 1);
    }
}

static void many_notes_and_long_ones_stay_in_their_room(void **state)
{
    char text[40 * (DEBRIEF_MAX_NOTED + 5)];
    size_t used = 0;

    for (int i = 0; i < DEBRIEF_MAX_NOTED + 5; i++)
        used += (size_t)snprintf(text + used, sizeof text - used,
                                 "{\"t\":%d,\"text\":\"n\"}\n", i);
    assert_int_equal(read_text(*state, text), 0);
    assert_int_equal(count, DEBRIEF_MAX_NOTED);
    used = (size_t)snprintf(text, sizeof text, "{\"t\":0,\"text\":\"");
    memset(text + used, 'n', 4000);
    (void)snprintf(text + used + 4000, 8, "\"}\n");
    assert_int_equal(read_text(*state, text), ERR_FORMAT);
    assert_int_equal(count, 0);
}

static void a_path_that_does_not_fit_is_told(void **state)
{
    char path[32];

    (void)state;
    assert_int_equal(debrief_notes_path("a.pcap", path, sizeof path), 0);
    assert_string_equal(path, "a.pcap.notes.jsonl");
    assert_int_equal(debrief_notes_path("a.pcap", path, 18), ERR_FULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(what_was_written_is_read_to_the_nanosecond),
        in_folder(no_file_is_no_note),
        in_folder(what_is_no_note_is_refused_with_its_line),
        in_folder(many_notes_and_long_ones_stay_in_their_room),
        cmocka_unit_test(a_path_that_does_not_fit_is_told),
    };

    return cmocka_run_group_tests_name("debrief: notes", tests, NULL, NULL) !=
           0;
}
