/* test_rest.c - sound rests while nobody flies, and comes with the packets.
 *
 * A running "listen" without packets lets its sound worker go; flown to, it is
 * heard at a private server as if nothing had been. Started by
 * tests/audio/run. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "children.h"
#include "endless.h"
#include "folder.h"
#include "live.h"
#include "process.h"
#include "rig.h"

static struct rig rig;
static struct folder folder;
static char control[FOLDER_PATH_SIZE];
static struct process daemon_run;
static struct endless flight;

static struct live_told tell(void)
{
    return live_tell(control);
}

static bool is_state(void *context)
{
    return strcmp(tell().state, context) == 0;
}

static bool has_called(void *context)
{
    return tell().calls >= *(int64_t *)context;
}

static bool is_heard(void *context)
{
    const float *sound = rig_heard(&rig);
    uint32_t frames = rig_heard_frames(&rig);

    (void)context;
    for (uint32_t i = 0; i < frames; i++)
        if (fabsf(sound[i]) > 0.05F)
            return true;
    return false;
}

static bool has_no_child(void *context)
{
    (void)context;
    return children_one(daemon_run.pid) == 0;
}

static int set_up(void **state)
{
    const char *words[] = {"--config", NULL,        "listen", "--port",
                           "0",        "--control", control,  NULL};
    char config[FOLDER_PATH_SIZE];
    char text[512];

    (void)state;
    folder_make(&folder);
    folder_path(&folder, "control", control);
    (void)snprintf(text, sizeof text, "%ssound { rest = \"1 s\" }\n",
                   endless_config);
    words[1] = folder_write(&folder, "rest.conf", text, strlen(text), config);
    rig_open(&rig);
    process_start(&daemon_run, words);
    process_await(&daemon_run, "listening on ");
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    rig_close(&rig);
    folder_remove(&folder);
    return 0;
}

/* Processor time goes with the worker: there is nothing that could take any. */
static void there_is_no_worker_without_packets(void **state)
{
    (void)state;
    rig_await(&rig, is_state, "resting", "sound rests");
    rig_await(&rig, has_no_child, NULL, "the worker ends");
    assert_int_equal(tell().restarts, 0);
}

static void is_heard_when_packets_come(void **state)
{
    int64_t calls = 2;
    int64_t from_ns;

    (void)state;
    rig_listen(&rig);
    from_ns = (int64_t)uv_hrtime();
    endless_begin(&flight, &rig.loop, live_port(&daemon_run));
    rig_await(&rig, is_state, "playing", "sound comes");
    print_message("           sound came %.2f s after the first packet\n",
                  (double)((int64_t)uv_hrtime() - from_ns) * 1e-9);
    rig_await(&rig, has_called, &calls, "calls");
    rig_await(&rig, is_heard, NULL, "a call is heard");
    assert_int_equal(tell().restarts, 0);
}

static void rests_again_when_they_end(void **state)
{
    (void)state;
    endless_end(&flight);
    rig_await(&rig, is_state, "resting", "sound rests");
    rig_await(&rig, has_no_child, NULL, "the worker ends");
}

/* To be told the last call once more is a reason to wake. */
static void wakes_to_say_it_again(void **state)
{
    json_t *answer = live_ask(control, "{\"ask\":\"again\"}");

    (void)state;
    assert_true(json_is_true(json_object_get(answer, "ok")));
    json_decref(answer);
    rig_await(&rig, is_state, "playing", "sound comes");
}

static void ends_in_good_order(void **state)
{
    (void)state;
    rig_await(&rig, is_state, "resting", "sound rests");
    process_signal(&daemon_run, SIGTERM);
    process_finish(&daemon_run);
    if (daemon_run.status != 0)
        fail_msg("%s", daemon_run.err);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(there_is_no_worker_without_packets),
        cmocka_unit_test(is_heard_when_packets_come),
        cmocka_unit_test(rests_again_when_they_end),
        cmocka_unit_test(wakes_to_say_it_again),
        cmocka_unit_test(ends_in_good_order),
    };

    return cmocka_run_group_tests_name("sound, when nobody flies", tests,
                                       set_up, tear_down) != 0;
}
