/* test_stalled.c - a "listen" whose output nobody reads.
 *
 * Its standard output, its standard error and the pipe that its event lines may
 * go to hold a page each. While a flight is flown to it, more notes are told to
 * it than they and its own store hold. */
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <uv.h>

#include "endless.h"
#include "folder.h"
#include "live.h"
#include "process.h"
#include "sample.h"

enum { HEARD_SIZE = 1 << 18, NOTES_MOST = 8000 };

static char heard[HEARD_SIZE];

struct rig {
    struct folder folder;
    char config[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
    char recording[FOLDER_PATH_SIZE];
    char pipe[FOLDER_PATH_SIZE];
    int pipe_fd; /* its reader's end, or -1 */
    struct process process;
    uv_loop_t loop;
    struct endless flight;
    int notes;
};

/* Its reader comes when the session flies. */
static void open_pipe(struct rig *rig)
{
    rig->pipe_fd = open(rig->pipe, O_RDONLY);
    assert_true(rig->pipe_fd >= 0);
    process_narrow_pipe(rig->pipe_fd);
}

/* events: where they go; "" to a pipe; NULL nowhere. */
static void begin(struct rig *rig, const char *events)
{
    bool piped = events != NULL && events[0] == '\0';
    const char *words[] = {"--config",
                           rig->config,
                           "listen",
                           "--port",
                           "0",
                           "--control",
                           rig->control,
                           "--no-sound",
                           "--record",
                           rig->recording,
                           events != NULL ? "--events" : NULL,
                           piped ? rig->pipe : events,
                           NULL};

    memset(rig, 0, sizeof *rig);
    rig->pipe_fd = -1;
    folder_make(&rig->folder);
    folder_path(&rig->folder, "events", rig->pipe);
    if (piped)
        assert_int_equal(mkfifo(rig->pipe, 0600), 0);
    folder_write(&rig->folder, "my.conf", endless_config,
                 strlen(endless_config), rig->config);
    folder_path(&rig->folder, "control", rig->control);
    folder_path(&rig->folder, "flight.pcap", rig->recording);
    process_start(&rig->process, words);
    process_await(&rig->process, "listening on ");
    process_narrow(&rig->process);
    if (piped)
        open_pipe(rig);
    assert_int_equal(uv_loop_init(&rig->loop), 0);
    endless_begin(&rig->flight, &rig->loop, live_port(&rig->process));
    endless_wait(&rig->loop, 0.1);
}

static void end(struct rig *rig)
{
    endless_end(&rig->flight);
    (void)uv_run(&rig->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&rig->loop), 0);
    if (rig->pipe_fd >= 0)
        (void)close(rig->pipe_fd);
    folder_remove(&rig->folder);
}

/* ---- speaking to it ------------------------------------------------------ */

struct told {
    int64_t calls;
    int64_t lost;
    double held_ms;
};

/* The flight goes on meanwhile. */
static struct told tell(struct rig *rig)
{
    struct told told;
    json_t *root;

    endless_wait(&rig->loop, 0.001);
    root = live_ask(rig->control, "{\"ask\":\"status\"}");
    assert_int_equal(json_unpack(root, "{s:{s:I, s:I, s:{s:F}}}", "status",
                                 "calls", &told.calls, "lines_lost", &told.lost,
                                 "loop", "longest_held_ms", &told.held_ms),
                     0);
    json_decref(root);
    return told;
}

static void note(struct rig *rig)
{
    char request[160];
    json_t *root;

    (void)snprintf(request, sizeof request,
                   "{\"ask\":\"mark\",\"value\":\"note %d, and words that "
                   "make it as long as what one notes in flight\"}",
                   rig->notes++);
    root = live_ask(rig->control, request);
    assert_true(json_is_true(json_object_get(root, "ok")));
    json_decref(root);
}

/* Until lines are lost, of either stream or of both. */
static void note_until_lost(struct rig *rig, int64_t least)
{
    while (tell(rig).lost < least) {
        assert_true(rig->notes < NOTES_MOST);
        for (int i = 0; i < 50; i++)
            note(rig);
    }
}

static void fly_for_calls(struct rig *rig, int64_t count)
{
    int64_t wanted = tell(rig).calls + count;

    while (tell(rig).calls < wanted)
        endless_wait(&rig->loop, 0.1);
}

/* How the last note begins. */
static const char *newest(const struct rig *rig)
{
    static char text[32];

    (void)snprintf(text, sizeof text, "note %d,", rig->notes - 1);
    return text;
}

/* ---- hearing ------------------------------------------------------------- */

/* Read until a whole line holds the text, and leave what stands behind it. */
static void hear_until(int fd, const char *text)
{
    size_t length = 0;
    const char *found;
    char *line_end = NULL;

    heard[0] = '\0';
    while ((found = strstr(heard, text)) == NULL ||
           (line_end = strchr(found, '\n')) == NULL) {
        ssize_t n = read(fd, heard + length, sizeof heard - 1 - length);

        assert_true(n > 0);
        length += (size_t)n;
        heard[length] = '\0';
    }
    line_end[1] = '\0';
}

/* Notes stand one behind the other. Returns: how many. */
static int count_notes(const char *before)
{
    int count = 0;

    for (const char *at = heard; (at = strstr(at, before)) != NULL; count++) {
        at += strlen(before);
        assert_int_equal(strtol(at, NULL, 10), count);
    }
    return count;
}

/* Whole event lines in order of time, behind them the one that tells the loss.
 * Returns: how many are lost. */
static int64_t read_events(void)
{
    char *rest = NULL;
    double before = -1.0;
    int64_t lost = 0;

    for (char *line = strtok_r(heard, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        json_t *root = json_loads(line, 0, NULL);
        double t;

        assert_int_equal(
            json_unpack(root, "{s:F, s?:I}", "t", &t, "lines", &lost), 0);
        assert_true(t >= before);
        before = t;
        json_decref(root);
    }
    return lost;
}

/* Returns: how many lines are lost, as the last one says. */
static int64_t read_captions(void)
{
    const char *at = strstr(heard, "\n... ");
    char *rest;
    int64_t lost;

    assert_non_null(at);
    lost = strtoll(at + strlen("\n... "), &rest, 10);
    assert_string_equal(rest, " lines were not written: nobody read them\n");
    return lost;
}

/* ---- the tests ----------------------------------------------------------- */

/* A reader of event lines reads again: what was stored comes in its order, and
 * then how much was not. Returns: how much. */
static int64_t expect_events_told(const struct rig *rig, int fd)
{
    int64_t lost;
    int notes;

    hear_until(fd, "lines-lost");
    notes = count_notes("\"text\":\"note ");
    lost = read_events();
    assert_in_range(notes, 1, rig->notes - 1);
    assert_true(lost >= rig->notes - notes);
    return lost;
}

/* Both readers read again. */
static void expect_told(struct rig *rig)
{
    int64_t lost = expect_events_told(rig, rig->process.out_fd);
    int notes;

    hear_until(rig->process.err_fd, "not written");
    notes = count_notes("note: note ");
    assert_in_range(notes, 1, rig->notes - 1);
    lost += read_captions();
    assert_int_equal(tell(rig).lost, lost);
}

/* Wait for its end and read nothing. */
static void await_end(struct rig *rig)
{
    const int out_fd = rig->process.out_fd;
    const int err_fd = rig->process.err_fd;

    rig->process.out_fd = rig->process.err_fd = -1;
    process_finish(&rig->process);
    (void)close(out_fd);
    (void)close(err_fd);
}

/* The recording has its name, and its notes are beside it. */
static void expect_closed(const struct rig *rig)
{
    struct sample_recording kept;

    assert_int_equal(folder_count(&rig->folder), rig->pipe_fd < 0 ? 3 : 4);
    sample_recording_load(rig->recording, &kept);
    assert_true(kept.count > 0);
    sample_recording_free(&kept);
}

static void flies_on_when_nobody_reads(void **state)
{
    struct rig rig;
    struct told told;

    (void)state;
    begin(&rig, "-");
    note_until_lost(&rig, 1500);
    fly_for_calls(&rig, 2);
    told = tell(&rig);
    assert_true(told.held_ms >= 0.0);
    print_message("           %lld lines lost, %lld calls; the longest turn "
                  "held the core for %.2f ms\n",
                  (long long)told.lost, (long long)told.calls, told.held_ms);
    expect_told(&rig);
    note(&rig);
    hear_until(rig.process.err_fd, newest(&rig));
    note_until_lost(&rig, told.lost + 1500);
    process_signal(&rig.process, SIGTERM);
    await_end(&rig);
    /* Event lines are lost. */
    assert_int_equal(rig.process.status, 1);
    expect_closed(&rig);
    end(&rig);
}

/* Wait for its end and read its standard error alone. */
static void await_last_words(struct rig *rig)
{
    const int out_fd = rig->process.out_fd;

    rig->process.out_fd = -1;
    process_finish(&rig->process);
    (void)close(out_fd);
}

static void event_lines_in_a_pipe_do_not_hold_up_the_flight(void **state)
{
    struct rig rig;
    int64_t lost;

    (void)state;
    begin(&rig, "");
    note_until_lost(&rig, 1500);
    fly_for_calls(&rig, 2);
    lost = tell(&rig).lost;
    assert_in_range(expect_events_told(&rig, rig.pipe_fd), 1, lost);
    note(&rig);
    /* An event line waits for what may still come before it. */
    fly_for_calls(&rig, 1);
    hear_until(rig.pipe_fd, newest(&rig));
    note_until_lost(&rig, 2 * lost);
    process_signal(&rig.process, SIGTERM);
    await_last_words(&rig);
    assert_int_equal(rig.process.status, 1);
    assert_non_null(
        strstr(rig.process.err, "/events: the event lines are not whole\n"));
    expect_closed(&rig);
    end(&rig);
}

static void captions_that_nobody_reads_do_not_hold_up_the_end(void **state)
{
    struct rig rig;

    (void)state;
    begin(&rig, NULL);
    note_until_lost(&rig, 100);
    process_signal(&rig.process, SIGTERM);
    await_last_words(&rig);
    assert_int_equal(rig.process.status, 0);
    assert_non_null(strstr(rig.process.err, "standard output: "));
    assert_non_null(
        strstr(rig.process.err, "lines were not written: nobody read them\n"));
    expect_closed(&rig);
    end(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(flies_on_when_nobody_reads),
        cmocka_unit_test(event_lines_in_a_pipe_do_not_hold_up_the_flight),
        cmocka_unit_test(captions_that_nobody_reads_do_not_hold_up_the_end),
    };

    return cmocka_run_group_tests_name("system: output that nobody reads",
                                       tests, NULL, NULL) != 0;
}
