/* test_debrief.c - the debrief command as its user runs it: what it shows, and
 * what it refuses. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "folder.h"
#include "process.h"

enum { COULD_NOT = 1, WRONG_USAGE = 2 };

static const char flight[] = "tests/replay/overshoot.pcap";

static void run(struct process *process, const char *file, const char *layout,
                const char *option, const char *value)
{
    const char *const words[] = {"--layout", layout, "debrief", file,
                                 option,     value,  NULL};

    process_run(process, words);
}

static void expect(const char *text, const char *what)
{
    if (strstr(text, what) == NULL)
        fail_msg("\"%s\" is not in:\n%s", what, text);
}

/* One line on standard error, and nothing shown. */
static void expect_refusal(const struct process *process, int status,
                           const char *said)
{
    const char *end = strchr(process->err, '\n');

    if (process->status != status || end == NULL || end[1] != '\0')
        fail_msg("exit status %d (expected %d), said: %s", process->status,
                 status, process->err);
    expect(process->err, said);
    assert_string_equal(process->out, "");
}

/* A copy of the flight, for files that stand beside it. */
static char *copy_flight(const struct folder *folder,
                         char path[FOLDER_PATH_SIZE])
{
    size_t length;
    char *bytes = folder_read_file(flight, &length);

    folder_write(folder, "flight.pcap", bytes, length, path);
    free(bytes);
    return path;
}

/* ---- what it shows ------------------------------------------------------ */

static void the_verdict_comes_with_what_to_do(void **state)
{
    struct process process;

    (void)state;
    run(&process, flight, "plain-binary", "--person", "Zo\xc3\xab");
    assert_int_equal(process.status, 0);
    expect(process.out, "chandelle to the left, Zo\xc3\xab");
    expect(process.out, "MISSED: 1 of");
    expect(process.out, "next time:");
}

/* The flight rolls in 8.6 s after its first datagram and is known for a
 * chandelle some seconds later: a note at 30 s is of 21 s after the entry, one
 * at 10 s of 1 s, one at 2 s belongs to no attempt. */
static void notes_beside_a_recording_stand_in_its_debrief(void **state)
{
    static const char notes[] = "{\"t\":2,\"text\":\"before\"}\n"
                                "{\"t\":10,\"text\":\"rolling in\"}\n"
                                "{\"t\":30,\"text\":\"look out <there>\"}\n";
    struct process process;
    char room[2][FOLDER_PATH_SIZE];
    char *path = copy_flight(*state, room[0]);
    json_t *object;
    json_t *note;

    folder_write(*state, "flight.pcap.notes.jsonl", notes, sizeof notes - 1,
                 room[1]);
    run(&process, path, "plain-binary", "--attempt", "1");
    assert_int_equal(process.status, 0);
    expect(process.out, "Notes\n\n  1 s, ");
    expect(process.out, "deg: rolling in\n  21 s, ");
    expect(process.out, "deg: look out <there>\n");
    assert_null(strstr(process.out, "before\n"));

    folder_path(*state, "out.json", room[1]);
    run(&process, path, "plain-binary", "--json", room[1]);
    assert_int_equal(process.status, 0);
    object = json_load_file(room[1], 0, NULL);
    note = json_array_get(json_object_get(object, "notes"), 1);
    assert_int_equal(json_array_size(json_object_get(object, "notes")), 2);
    assert_string_equal(json_string_value(json_object_get(note, "text")),
                        "look out <there>");
    assert_int_equal((int)json_number_value(json_object_get(note, "at_s")), 21);
    json_decref(object);
}

static void attempts_and_files_are_chosen(void **state)
{
    struct process process;
    char csv[FOLDER_PATH_SIZE];
    char *text;

    run(&process, flight, "plain-binary", "--csv",
        folder_path(*state, "out.csv", csv));
    assert_int_equal(process.status, 0);
    expect(process.out, "MISSED");
    text = folder_read_file(csv, NULL);
    expect(text, "time (s),turn (deg)");
    free(text);
    run(&process, flight, "plain-binary", "--csv", "-");
    assert_int_equal(process.status, 0);
    assert_int_equal(strncmp(process.out, "time (s),", 9), 0);
}

/* ---- what it refuses ---------------------------------------------------- */

static void what_cannot_be_debriefed_is_refused(void **state)
{
    static const struct {
        const char *file;
        const char *layout;
        const char *option;
        const char *value;
        int status;
        const char *says;
    } row[] = {
        {flight, "plain-binary", "--attempt", "2", COULD_NOT,
         "there is no attempt 2; it holds 1"},
        {flight, "plain-binary", "--attempt", "0", WRONG_USAGE, "--attempt"},
        {flight, "plain-binary", "--attempt", NULL, WRONG_USAGE, "--attempt"},
        {flight, "plain-text", NULL, NULL, COULD_NOT,
         "no datagram fits layout \"plain-text\""},
        {flight, "no-such", NULL, NULL, WRONG_USAGE, "no-such"},
        {flight, "plain-binary", "--port", "9", COULD_NOT,
         "no UDP datagram to port 9"},
        {"tests/replay/cruise.pcap", "plain-binary", NULL, NULL, COULD_NOT,
         "nobody began a chandelle in it (it begins from steady, level flight "
         "at 95 to 115 kt)"},
        {"README.md", "plain-binary", NULL, NULL, COULD_NOT, "README.md: "},
        {"no-such.pcap", "plain-binary", NULL, NULL, COULD_NOT,
         "no-such.pcap: "},
        {"tests", "plain-binary", NULL, NULL, COULD_NOT, "tests"},
        {NULL, "plain-binary", NULL, NULL, WRONG_USAGE, "which recording"},
        {flight, "plain-binary", "--csv", "tests", COULD_NOT,
         "tests: cannot be written"},
        {flight, "plain-binary", "--json", "none/out.json", COULD_NOT,
         "none/out.json: cannot be written"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct process process;

        run(&process, row[i].file, row[i].layout, row[i].option, row[i].value);
        expect_refusal(&process, row[i].status, row[i].says);
    }
}

/* A chandelle of another airplane: right, but for this one's speed. */
static void a_turn_that_was_not_taken_is_told_with_its_reason(void **state)
{
    char capture[FOLDER_PATH_SIZE];
    const char *const fly[] = {"rehearse",
                               "--aircraft",
                               "two-seater",
                               "--record",
                               folder_path(*state, "other.pcap", capture),
                               NULL};
    const char *const replay[] = {"replay",  capture, "--no-sound",
                                  "--speed", "max",   NULL};
    const char *const debrief[] = {"debrief", capture, NULL};
    struct process process;

    process_run(&process, fly);
    assert_int_equal(process.status, 0);
    process_run(&process, replay);
    assert_int_equal(process.status, 0);
    expect(process.out, " s    not begun: entered at 92.");
    process_run(&process, debrief);
    assert_int_equal(process.status, COULD_NOT);
    assert_string_equal(process.out, "");
    expect(process.err, " s was not taken for a chandelle: entered\n");
    expect(process.err, " kt, 95 to 115 kt wanted\n");
    expect(process.err, ": nobody began a chandelle in it\n");
}

/* Two built-in forms never claim the same packet, so one fits or none. */
static void a_ready_layout_that_fits_is_taken_when_none_is_named(void **state)
{
    static const char *const name[] = {
        "plain-binary", "keyed-records", "name-value", "json-object",
        "nmea",         "dis",           "mavlink"};

    (void)state;
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        char file[64];
        char taken[64];
        const char *words[] = {"debrief", file, NULL};
        struct process process;

        (void)snprintf(file, sizeof file, "tests/wire/%s.pcap", name[i]);
        (void)snprintf(taken, sizeof taken, "read by layout \"%s\",", name[i]);
        process_run(&process, words);
        assert_int_equal(process.status, 0);
        expect(process.err, taken);
        expect(process.out, "Attempt 1: chandelle to the left");
    }
}

static void a_capture_without_udp_is_refused(void **state)
{
    struct process process;
    char path[FOLDER_PATH_SIZE];
    char *bytes = folder_read_file(flight, NULL);

    /* The file header of a classic capture is 24 bytes long. */
    folder_write(*state, "bare.pcap", bytes, 24, path);
    free(bytes);
    run(&process, path, "plain-binary", NULL, NULL);
    expect_refusal(&process, COULD_NOT, "no UDP datagram");
}

/* A name that leads to itself: nobody can open it. */
static void a_file_that_cannot_be_opened_is_refused(void **state)
{
    struct process process;
    char path[FOLDER_PATH_SIZE];

    folder_path(*state, "loop.pcap", path);
    assert_int_equal(symlink("loop.pcap", path), 0);
    run(&process, path, "plain-binary", NULL, NULL);
    expect_refusal(&process, COULD_NOT, "loop.pcap: ");
}

/* /dev/full takes no byte. */
static void a_full_disk_is_told(void **state)
{
    static const char *const option[] = {"--csv", "--json"};

    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct process process;

        run(&process, flight, "plain-binary", option[i], "/dev/full");
        assert_int_equal(process.status, COULD_NOT);
        expect(process.err, "/dev/full: not written whole");
        /* What could be shown has been. */
        expect(process.out, "MISSED");
    }
}

/* What was whole before the damage is graded, and the damage told. */
static void a_recording_that_is_cut_is_graded_as_far_as_it_goes(void **state)
{
    struct process process;
    size_t length;
    char path[FOLDER_PATH_SIZE];
    char *bytes = folder_read_file(flight, &length);

    folder_write(*state, "cut.pcap", bytes, length / 2 - 11, path);
    free(bytes);
    run(&process, path, "plain-binary", NULL, NULL);
    assert_int_equal(process.status, COULD_NOT);
    expect(process.err, "cut.pcap: ");
    expect(process.out, "the recording ended in it");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_verdict_comes_with_what_to_do),
        in_folder(notes_beside_a_recording_stand_in_its_debrief),
        in_folder(attempts_and_files_are_chosen),
        cmocka_unit_test(what_cannot_be_debriefed_is_refused),
        in_folder(a_turn_that_was_not_taken_is_told_with_its_reason),
        cmocka_unit_test(a_ready_layout_that_fits_is_taken_when_none_is_named),
        in_folder(a_capture_without_udp_is_refused),
        in_folder(a_file_that_cannot_be_opened_is_refused),
        cmocka_unit_test(a_full_disk_is_told),
        in_folder(a_recording_that_is_cut_is_graded_as_far_as_it_goes),
    };

    return cmocka_run_group_tests_name("system: debrief", tests, NULL, NULL) !=
           0;
}
