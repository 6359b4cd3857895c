/* test_faults.c - whatever happens to the sound, the flight goes on.
 *
 * A running "listen" is flown to, and what it plays on a private server is
 * heard, while its worker, the server and the device are killed, stopped and
 * taken away. In each case its loop must not stand still, the calls must go
 * on, sound must come back, and what is heard must be what was due. Started
 * by tests/audio/run. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <math.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

#include "children.h"
#include "endless.h"
#include "folder.h"
#include "live.h"
#include "process.h"
#include "quarterturn/audio.h"
#include "quarterturn/units.h"
#include "rig.h"

enum { MOST_CALLS = 256, QUIET_FRAMES = 2400, SEARCH = 480 };

/* The target is 2 s; a busy machine gets more here, and the figure is
 * printed. */
static const double back_most_s = 10.0;
/* Of a turn that waited. What a machine did for others is counted to one that
 * did not, too, and can be as much: that gets more here. */
static const double wait_most_ms = 5.0;
static const double held_most_ms = 25.0;
/* How far a sound may lie from its plan: the server's own offset and a
 * machine that others use too. */
static const double plan_most_s = 0.06;
/* The first one that is heard again may have been due this much before. */
static const double first_late_s = 0.1;

static struct rig rig;
static struct audio_bank bank;
static struct folder folder;
static char events[FOLDER_PATH_SIZE];
static char control[FOLDER_PATH_SIZE];
static struct process daemon_run;
static struct endless flight;
static struct children workers; /* every one that was seen */

static struct live_told tell(void)
{
    struct live_told told = live_tell(control);

    children_find(&workers, daemon_run.pid);
    return told;
}

/* ---- waiting, while the flight goes on ----------------------------------- */

static bool is_past(void *context)
{
    return (int64_t)uv_hrtime() >= *(int64_t *)context;
}

static void fly_for(double seconds)
{
    int64_t until_ns = (int64_t)uv_hrtime() + (int64_t)(seconds * 1e9);

    rig_await(&rig, is_past, &until_ns, "time passes");
}

/* Calls go on: as captions, whatever the sound does. */
static void fly_for_calls(int64_t count)
{
    int64_t wanted = tell().calls + count;
    int64_t give_up_ns = (int64_t)uv_hrtime() + 30 * UNITS_NS_PER_S;

    while (tell().calls < wanted) {
        if ((int64_t)uv_hrtime() > give_up_ns)
            fail_msg("no calls any more: %s", daemon_run.err);
        fly_for(0.05);
    }
}

/* Sound is back when buffers are taken again. Returns: seconds it took. */
static double await_sound(int64_t since_ns)
{
    for (;;) {
        struct live_told before = tell();
        struct live_told now;
        double took_s = (double)((int64_t)uv_hrtime() - since_ns) * 1e-9;

        fly_for(0.05);
        now = tell();
        if (strcmp(now.state, "playing") == 0 && now.buffers > before.buffers &&
            now.restarts == before.restarts)
            return took_s;
        if (took_s > 60.0)
            fail_msg("no sound any more: %s", now.state);
    }
}

/* ---- hearing ------------------------------------------------------------- */

static double likeness(const struct audio_clip *clip, const float *sound)
{
    double product = 0.0;
    double clip_power = 0.0;
    double sound_power = 1e-12;

    for (uint32_t i = 0; i < clip->frames; i++) {
        product += (double)clip->sample[i] * (double)sound[i];
        clip_power += (double)clip->sample[i] * (double)clip->sample[i];
        sound_power += (double)sound[i] * (double)sound[i];
    }
    return product / sqrt(clip_power * sound_power);
}

/* Where the clip begins that made this noise, or -1: it is not whole. */
static int64_t find_clip(int64_t onset)
{
    const struct audio_clip *clip = &bank.clip[CLIP_PITCH_LIMIT];
    double best = 0.9;
    int64_t found = -1;

    for (int64_t at = onset - SEARCH; at <= onset; at++) {
        double fit;

        if (at < 0 || at + clip->frames > rig_heard_frames(&rig))
            continue;
        fit = likeness(clip, rig_heard(&rig) + at);
        if (fit > best) {
            best = fit;
            found = at;
        }
    }
    return found;
}

struct planned {
    double onset_s[MOST_CALLS];
    int count;
};

static void read_plan(struct planned *planned)
{
    char *lines = folder_read_file(events, NULL);
    char *rest = NULL;

    planned->count = 0;
    for (char *line = strtok_r(lines, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *event = json_loads(line, 0, NULL);
        const char *cue = NULL;
        double onset_s;

        /* The last line may be half written. */
        if (event != NULL &&
            json_unpack(event, "{s:s, s:F}", "cue", &cue, "onset_t",
                        &onset_s) == 0 &&
            planned->count < MOST_CALLS) {
            assert_string_equal(cue, "pitch-limit");
            planned->onset_s[planned->count++] = onset_s;
        }
        json_decref(event);
    }
    free(lines);
}

/* How long after the last plan before it a sound began. */
static double after_plan_s(const struct planned *planned, double heard_s)
{
    double least_s = INFINITY;

    for (int i = 0; i < planned->count; i++) {
        double after_s = heard_s - planned->onset_s[i];

        if (after_s > -plan_most_s && after_s < least_s)
            least_s = after_s;
    }
    return least_s;
}

/* The frame at which the next noise begins after some silence, or the end. */
static int64_t next_noise(int64_t at)
{
    const float *sound = rig_heard(&rig);
    int64_t quiet = at == 0 ? QUIET_FRAMES : 0;

    for (; at < rig_heard_frames(&rig); at++) {
        if (fabsf(sound[at]) < 0.002F)
            quiet++;
        else if (quiet >= QUIET_FRAMES)
            return at;
        else
            quiet = 0;
    }
    return at;
}

/* Every whole call was due when it was heard. Returns: how many there are. */
static int check_heard(void)
{
    struct planned planned;
    int whole = 0;
    int64_t at = 0;

    read_plan(&planned);
    while ((at = next_noise(at)) < rig_heard_frames(&rig)) {
        int64_t from = find_clip(at);
        double heard_s, late_s;

        at++;
        /* Its beginning or its end fell into the fault. */
        if (from < 0)
            continue;
        heard_s = (double)(rig_heard_ns(&rig, from) - flight.origin_ns) * 1e-9;
        late_s = after_plan_s(&planned, heard_s);
        if (late_s > plan_most_s + (whole == 0 ? first_late_s : 0.0))
            fail_msg("heard at %.3f s, %.0f ms late", heard_s, late_s * 1e3);
        whole++;
        at = from + bank.clip[CLIP_PITCH_LIMIT].frames;
    }
    return whole;
}

/* ---- the cases ----------------------------------------------------------- */

/* Sound has come back: listen, then judge. */
static void judge(const char *what, double back_s)
{
    struct live_told told;
    int heard;

    fly_for_calls(3);
    fly_for(1.0);
    told = tell();
    heard = check_heard();
    print_message("           %s: sound back after %.2f s, %d calls heard; "
                  "longest turn %.2f ms, of it held %.2f ms, "
                  "waited in one of %.2f ms; %d restarts\n",
                  what, back_s, heard, told.turn_ms, told.held_ms, told.wait_ms,
                  (int)told.restarts);
    assert_true(heard >= 2);
    assert_true(back_s < back_most_s);
    assert_true(told.wait_ms < wait_most_ms);
    assert_true(told.held_ms < held_most_ms);
}

static void hear_again(const char *what, int64_t since_ns)
{
    rig_listen(&rig);
    judge(what, await_sound(since_ns));
}

static int64_t now_ns(void)
{
    return (int64_t)uv_hrtime();
}

static int set_up(void **state)
{
    const char *words[] = {"--config", NULL, "--events",  events,  "listen",
                           "--port",   "0",  "--control", control, NULL};
    char config[FOLDER_PATH_SIZE];
    const char *said;
    char why[800];

    (void)state;
    if (audio_bank_load("sounds/voice", &bank, why, sizeof why) != 0)
        fail_msg("%s", why);
    folder_make(&folder);
    folder_path(&folder, "events", events);
    folder_path(&folder, "control", control);
    words[1] = folder_write(&folder, "faults.conf", endless_config,
                            strlen(endless_config), config);
    rig_open(&rig);
    /* At the start there is none. */
    rig_signal_server(&rig, SIGKILL);
    process_start(&daemon_run, words);
    process_await(&daemon_run, "listening on ");
    said = strstr(daemon_run.err, " port ");
    assert_non_null(said);
    endless_begin(&flight, &rig.loop,
                  (uint16_t)strtoul(said + strlen(" port "), NULL, 10));
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    endless_end(&flight);
    rig_close(&rig);
    folder_remove(&folder);
    audio_bank_free(&bank);
    return 0;
}

static void is_heard_when_a_server_comes_after_the_start(void **state)
{
    int64_t since_ns;

    (void)state;
    fly_for_calls(3);
    assert_string_not_equal(tell().state, "playing");
    rig_start_server(&rig);
    since_ns = now_ns();
    hear_again("server after the start", since_ns);
}

static void is_heard_again_after_the_worker_was_killed(void **state)
{
    int64_t restarts = tell().restarts;
    int64_t since_ns = now_ns();
    int worker = children_one(daemon_run.pid);

    (void)state;
    rig_listen(&rig);
    assert_int_equal(kill(worker, SIGKILL), 0);
    while (tell().restarts == restarts)
        fly_for(0.02);
    judge("worker killed", await_sound(since_ns));
    assert_true(children_one(daemon_run.pid) != worker);
}

static void is_heard_again_after_the_worker_stood_still(void **state)
{
    int64_t restarts = tell().restarts;
    int64_t since_ns = now_ns();

    (void)state;
    rig_listen(&rig);
    assert_int_equal(kill(children_one(daemon_run.pid), SIGSTOP), 0);
    while (tell().restarts == restarts)
        fly_for(0.02);
    judge("worker frozen", await_sound(since_ns));
}

static void is_heard_again_after_the_server_was_killed(void **state)
{
    int64_t since_ns;

    (void)state;
    rig_stop_listening(&rig);
    rig_signal_server(&rig, SIGKILL);
    fly_for_calls(3);
    rig_start_server(&rig);
    since_ns = now_ns();
    hear_again("server killed", since_ns);
}

static void is_heard_again_after_the_server_stood_still_for_long(void **state)
{
    int64_t since_ns;

    (void)state;
    rig_listen(&rig);
    rig_signal_server(&rig, SIGSTOP);
    fly_for_calls(4);
    rig_signal_server(&rig, SIGCONT);
    since_ns = now_ns();
    judge("server frozen for long", await_sound(since_ns));
}

static void is_heard_again_after_the_server_stood_still_a_moment(void **state)
{
    int64_t since_ns;

    (void)state;
    rig_listen(&rig);
    for (int i = 0; i < 3; i++) {
        rig_signal_server(&rig, SIGSTOP);
        fly_for(0.7);
        rig_signal_server(&rig, SIGCONT);
        fly_for(1.1);
    }
    since_ns = now_ns();
    judge("server frozen for 0.7 s, three times", await_sound(since_ns));
}

static void is_heard_again_after_the_device_was_away(void **state)
{
    static const char *const take[] = {"unload-module", "module-null-sink",
                                       NULL};
    static const char *const give[] = {
        "load-module",      "module-null-sink", "sink_name=cap", "rate=48000",
        "format=float32le", "channels=2",       "norewinds=1",   NULL};
    struct process pactl;
    int64_t since_ns;

    (void)state;
    rig_stop_listening(&rig);
    process_run_other(&pactl, "pactl", take);
    assert_int_equal(pactl.status, 0);
    fly_for_calls(3);
    assert_string_not_equal(tell().state, "playing");
    process_run_other(&pactl, "pactl", give);
    assert_int_equal(pactl.status, 0);
    since_ns = now_ns();
    hear_again("device away", since_ns);
}

static void leaves_no_process_behind(void **state)
{
    (void)state;
    (void)tell();
    assert_true(workers.count >= 3);
    assert_true(children_one(daemon_run.pid) > 0);
    process_signal(&daemon_run, SIGTERM);
    process_finish(&daemon_run);
    if (daemon_run.status != 0)
        fail_msg("%s", daemon_run.err);
    for (int i = 0; i < workers.count; i++)
        assert_false(children_lives(workers.pid[i]));
    assert_non_null(strstr(daemon_run.out, "> pitch limit"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_heard_when_a_server_comes_after_the_start),
        cmocka_unit_test(is_heard_again_after_the_worker_was_killed),
        cmocka_unit_test(is_heard_again_after_the_worker_stood_still),
        cmocka_unit_test(is_heard_again_after_the_server_was_killed),
        cmocka_unit_test(is_heard_again_after_the_server_stood_still_for_long),
        cmocka_unit_test(is_heard_again_after_the_server_stood_still_a_moment),
        cmocka_unit_test(is_heard_again_after_the_device_was_away),
        cmocka_unit_test(leaves_no_process_behind),
    };

    return cmocka_run_group_tests_name("sound, when it fails", tests, set_up,
                                       tear_down) != 0;
}
