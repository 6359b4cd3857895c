/* test_outputs.c - what a live flight writes, a turn of its loop at a time. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>

#include "../../daemon/commands/outputs.h"
#include "folder.h"
#include "quarterturn/file.h"

enum { BYTES_PER_S = 2 * AUDIO_RATE_HZ };

static const int64_t pause_ns = 600 * UNITS_NS_PER_S;

static struct settings settings;
static struct outputs outputs;

static void begin(const struct folder *folder, bool live, char *wav)
{
    const struct settings_choice choice = {0};
    struct outputs_choice wanted = {.quiet = true, .live = live};
    char why[SETTINGS_PATH_SIZE + 128] = "";

    wanted.wav = folder_path(folder, "a.wav", wav);
    if (settings_load(&choice, ".", &settings, why, sizeof why) < 0)
        fail_msg("%s", why);
    assert_int_equal(outputs_open(&outputs, &wanted, &settings), 0);
    outputs_begin(&outputs, 0);
}

static void pass(int64_t now_ns)
{
    struct session_sink sink = outputs_sink(&outputs);

    sink.progress(sink.context, now_ns, now_ns);
}

/* Of the file that is being written. */
static int64_t seconds_written(const struct folder *folder)
{
    char part[FOLDER_PATH_SIZE];

    return file_size(folder_path(folder, "a.wav.part", part)) / BYTES_PER_S;
}

static void the_sound_of_a_pause_is_written_in_small_steps(void **state)
{
    const struct folder *folder = *state;
    char wav[FOLDER_PATH_SIZE];
    int64_t before_s = 1;
    int64_t after_s = 1;
    int turns = 0;

    begin(folder, true, wav);
    pass(UNITS_NS_PER_S);
    assert_in_range(seconds_written(folder), 1, 1);
    pass(pause_ns);
    do {
        before_s = after_s;
        after_s = seconds_written(folder);
        assert_in_range(after_s - before_s, 0, 30);
        outputs_catch_up(&outputs);
        turns++;
    } while (after_s > before_s);
    assert_in_range(turns, 20, 30);
    assert_int_equal(seconds_written(folder), 600);
    assert_int_equal(outputs_close(&outputs, pause_ns, true), 0);
}

static void an_end_in_the_midst_of_it_loses_nothing(void **state)
{
    const struct folder *folder = *state;
    char wav[FOLDER_PATH_SIZE];

    begin(folder, true, wav);
    pass(pause_ns);
    assert_int_equal(outputs_close(&outputs, pause_ns, true), 0);
    assert_in_range(file_size(wav) / BYTES_PER_S, 600, 610);
}

/* Nobody waits for a packet there. */
static void a_replay_writes_it_at_once(void **state)
{
    const struct folder *folder = *state;
    char wav[FOLDER_PATH_SIZE];

    begin(folder, false, wav);
    pass(pause_ns);
    assert_int_equal(seconds_written(folder), 600);
    assert_int_equal(outputs_close(&outputs, pause_ns, true), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(the_sound_of_a_pause_is_written_in_small_steps),
        in_folder(an_end_in_the_midst_of_it_loses_nothing),
        in_folder(a_replay_writes_it_at_once),
    };

    return cmocka_run_group_tests_name("outputs", tests, NULL, NULL) != 0;
}
