/* test_supervisor.c - workers that fail, keep silent, or cannot be started,
 * and a loop that never waits for them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <uv.h>

#include "../../daemon/audio/share.h"
#include "children.h"
#include "folder.h"
#include "quarterturn/audio.h"
#include "quarterturn/error.h"

enum { TICK_MS = 5, MOST_STATES = 64 };

static struct folder folder;
static uv_loop_t loop;
static uv_timer_t tick;
static uint32_t ticks;
static struct audio_output *output;
static enum audio_state seen[MOST_STATES];
static int seen_count;

static void on_tick(uv_timer_t *timer)
{
    (void)timer;
    ticks++;
}

static void on_change(void *context, enum audio_state state)
{
    assert_ptr_equal(context, &loop);
    if (seen_count < MOST_STATES)
        seen[seen_count++] = state;
}

static int set_up(void **state)
{
    (void)state;
    folder_make(&folder);
    assert_int_equal(uv_loop_init(&loop), 0);
    (void)uv_timer_init(&loop, &tick);
    (void)uv_timer_start(&tick, on_tick, TICK_MS, TICK_MS);
    ticks = 0;
    seen_count = 0;
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    uv_close((uv_handle_t *)&tick, NULL);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&loop), 0);
    folder_remove(&folder);
    return 0;
}

/* Start with a script in place of the program. */
static int open_script(const char *script)
{
    struct audio_settings settings;
    char path[FOLDER_PATH_SIZE];

    audio_settings_defaults(&settings);
    (void)folder_write(&folder, "worker", script, strlen(script), path);
    assert_int_equal(chmod(path, 0700), 0);
    return audio_output_open(&loop, path, &settings, on_change, &loop, &output);
}

static struct audio_status status(void)
{
    struct audio_status now;

    audio_output_status(output, &now);
    return now;
}

static void says_so_when_a_worker_does_not_stay_up(void **state)
{
    (void)state;
    assert_int_equal(open_script("#!/bin/sh\nexit 1\n"), 0);
    assert_int_equal(status().state, AUDIO_STARTING);
    while (status().state != AUDIO_FAILED)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(seen[0], AUDIO_FAILED);
    assert_int_equal(seen_count, 1);
    /* And it goes on trying. */
    for (uint32_t restarts = status().restarts; status().restarts == restarts;)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_true(ticks > 10);
    audio_output_close(output, 1000);
}

static void replaces_a_worker_that_keeps_silent(void **state)
{
    (void)state;
    assert_int_equal(open_script("#!/bin/sh\nexec sleep 600\n"), 0);
    while (status().restarts < 1)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_true(ticks > 10);
    audio_output_close(output, 1000);
}

static void ends_a_worker_that_does_not_leave(void **state)
{
    (void)state;
    /* It reads neither its pipe nor signals that can be ignored. */
    assert_int_equal(
        open_script("#!/bin/sh\ntrap '' TERM INT HUP\nexec sleep 600\n"), 0);
    (void)uv_run(&loop, UV_RUN_ONCE);
    audio_output_close(output, 0);
    /* tear_down runs the loop to its end, which comes only if the worker's
     * does. */
}

static void counts_commands_that_find_the_ring_full(void **state)
{
    struct audio_command command = {.action = AUDIO_TONE};
    uint32_t taken = 0;

    (void)state;
    assert_int_equal(open_script("#!/bin/sh\nexec sleep 600\n"), 0);
    while (audio_output_submit(output, &command) == 0)
        taken++;
    assert_true(taken >= 64);
    assert_int_equal(audio_output_submit(output, &command), ERR_FULL);
    assert_int_equal(status().dropped, 2);
    audio_output_close(output, 0);
}

/* ---- resting ------------------------------------------------------------ */

static void await_state(enum audio_state state)
{
    while (status().state != state)
        (void)uv_run(&loop, UV_RUN_ONCE);
}

static void await_workers(int count)
{
    struct children now;

    do {
        (void)uv_run(&loop, UV_RUN_ONCE);
        memset(&now, 0, sizeof now);
        children_find(&now, (int)uv_os_getpid());
    } while (now.count != count);
}

static void there_is_no_worker_while_it_rests(void **state)
{
    struct audio_command off = {.action = AUDIO_TONE};
    struct audio_command cut = {.action = AUDIO_CUT};
    struct audio_command clip = {.action = AUDIO_PLAY};

    (void)state;
    assert_int_equal(open_script("#!/bin/sh\ncat\n"), 0);
    await_workers(1);
    audio_output_rest(output);
    audio_output_rest(output);
    assert_int_equal(status().state, AUDIO_RESTING);
    await_workers(0);
    /* What ends a sound wakes nobody. */
    assert_int_equal(audio_output_submit(output, &off), 0);
    assert_int_equal(audio_output_submit(output, &cut), 0);
    assert_int_equal(status().state, AUDIO_RESTING);
    assert_int_equal(audio_output_submit(output, &clip), 0);
    assert_int_equal(status().state, AUDIO_STARTING);
    await_workers(1);
    assert_int_equal(status().restarts, 0);
    audio_output_close(output, 0);
}

/* Whatever the worker is at when it is told to rest or to come. */
static void rests_and_wakes_at_any_time(void **state)
{
    (void)state;
    assert_int_equal(open_script("#!/bin/sh\ncat\n"), 0);
    for (int i = 0; i < 20; i++) {
        audio_output_rest(output);
        for (int turn = 0; turn < i % 4; turn++)
            (void)uv_run(&loop, UV_RUN_ONCE);
        audio_output_wake(output);
        for (int turn = 0; turn < i % 3; turn++)
            (void)uv_run(&loop, UV_RUN_ONCE);
    }
    audio_output_wake(output);
    await_workers(1);
    audio_output_rest(output);
    await_workers(0);
    assert_int_equal(status().state, AUDIO_RESTING);
    assert_int_equal(status().restarts, 0);
    audio_output_close(output, 1000);
}

static void rests_when_a_worker_does_not_stay_up(void **state)
{
    uint32_t restarts;

    (void)state;
    assert_int_equal(open_script("#!/bin/sh\nexit 1\n"), 0);
    await_state(AUDIO_FAILED);
    audio_output_rest(output);
    restarts = status().restarts;
    await_workers(0);
    for (uint32_t until = ticks + 100; ticks < until;)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(status().restarts, restarts);
    assert_int_equal(status().state, AUDIO_RESTING);
    audio_output_wake(output);
    await_state(AUDIO_FAILED);
    audio_output_close(output, 0);
}

/* ---- a worker of the test's own ------------------------------------------
 */

/* What a worker would begin with: a line for each command that waits. It fails
 * until it is told to stay. */
static int be_worker(void)
{
    struct audio_share *share = audio_share_map(AUDIO_SHARE_FD);
    const char *stay = getenv("SUPERVISED_STAY");
    const char *heard = getenv("SUPERVISED_HEARD");
    struct audio_command command;
    FILE *in = stay != NULL ? fopen(stay, "r") : NULL;
    FILE *out;

    if (share == NULL || in == NULL || heard == NULL)
        return 1;
    (void)fclose(in);
    out = fopen(heard, "w");
    if (out == NULL)
        return 1;
    for (; audio_ring_peek(&share->ring, &command);
         audio_ring_drop(&share->ring))
        (void)fprintf(out, "%u %u %u\n", command.action, command.argument,
                      command.sequence);
    (void)fputs("end\n", out);
    (void)fclose(out);
    while (audio_worker_wait(100))
        (void)atomic_fetch_add(&share->heartbeat, 1);
    return 0;
}

static void await_heard(const char *path, char *text, size_t size)
{
    text[0] = '\0';
    while (strstr(text, "end\n") == NULL) {
        FILE *file = fopen(path, "r");

        if (file != NULL) {
            text[fread(text, 1, size - 1, file)] = '\0';
            (void)fclose(file);
        }
        (void)uv_run(&loop, UV_RUN_ONCE);
    }
}

/* Returns: how many were taken. */
static uint32_t submit_clips(uint32_t count, int64_t expiry_ns)
{
    uint32_t taken = 0;

    for (uint32_t i = 0; i < count; i++) {
        struct audio_command clip = {.action = AUDIO_PLAY,
                                     .start_ns = expiry_ns,
                                     .expiry_ns = expiry_ns,
                                     .sequence = i + 1};

        taken += audio_output_submit(output, &clip) == 0;
    }
    return taken;
}

/* While no worker stays up, a tone begins and ends, and clips come until none
 * is taken any more. */
static void a_tone_that_is_over_is_not_begun_by_the_next_worker(void **state)
{
    const int64_t hour_ns = INT64_C(3600000000000);
    struct audio_command on = {.action = AUDIO_TONE, .argument = 3};
    struct audio_command off = {.action = AUDIO_TONE};
    struct audio_settings settings;
    char stay[FOLDER_PATH_SIZE], heard[FOLDER_PATH_SIZE], text[16384];
    uint32_t taken, dropped;

    (void)state;
    assert_int_equal(
        setenv("SUPERVISED_STAY", folder_path(&folder, "stay", stay), 1), 0);
    assert_int_equal(
        setenv("SUPERVISED_HEARD", folder_path(&folder, "heard", heard), 1), 0);
    audio_settings_defaults(&settings);
    assert_int_equal(audio_output_open(&loop, "/proc/self/exe", &settings,
                                       on_change, &loop, &output),
                     0);
    while (status().state != AUDIO_FAILED)
        (void)uv_run(&loop, UV_RUN_ONCE);
    assert_int_equal(submit_clips(2, (int64_t)uv_hrtime() + hour_ns), 2);
    taken = submit_clips(300, (int64_t)uv_hrtime());
    assert_in_range(taken, 200, 299);
    assert_int_equal(audio_output_submit(output, &on), 0);
    assert_int_equal(audio_output_submit(output, &off), 0);
    (void)folder_write(&folder, "stay", "", 0, stay);
    await_heard(heard, text, sizeof text);
    dropped = status().dropped;
    audio_output_close(output, 0);
    /* The clips that may still begin, and the last of the tone. */
    assert_string_equal(text, "1 0 1\n1 0 2\n3 0 0\nend\n");
    assert_int_equal(dropped, 300);
}

static void refuses_a_program_that_is_not_there(void **state)
{
    struct audio_settings settings;

    (void)state;
    audio_settings_defaults(&settings);
    assert_int_equal(audio_output_open(&loop, "/nowhere/program", &settings,
                                       NULL, NULL, &output),
                     ERR_IO);
}

static void knows_no_latency_before_the_first_callback(void **state)
{
    (void)state;
    assert_int_equal(open_script("#!/bin/sh\nexec sleep 600\n"), 0);
    assert_true(status().latency_s != status().latency_s);
    assert_int_equal(status().callbacks, 0);
    assert_string_equal(status().device, "");
    audio_output_close(output, 0);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        CASE(says_so_when_a_worker_does_not_stay_up),
        CASE(replaces_a_worker_that_keeps_silent),
        CASE(ends_a_worker_that_does_not_leave),
        CASE(counts_commands_that_find_the_ring_full),
        CASE(there_is_no_worker_while_it_rests),
        CASE(rests_and_wakes_at_any_time),
        CASE(rests_when_a_worker_does_not_stay_up),
        CASE(a_tone_that_is_over_is_not_begun_by_the_next_worker),
        CASE(refuses_a_program_that_is_not_there),
        CASE(knows_no_latency_before_the_first_callback),
    };

    if (argc == 2 && strcmp(argv[1], "sound-worker") == 0)
        return be_worker();
    return cmocka_run_group_tests_name("sound worker's supervisor", tests, NULL,
                                       NULL) != 0;
}
