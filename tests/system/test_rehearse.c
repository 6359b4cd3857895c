/* test_rehearse.c - rehearsals as their user asks for them. */
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "live.h"
#include "process.h"
#include "quarterturn/rehearse.h"

/* The number behind a name of the event lines or the truth, from a place in
 * the text on. */
static double number_of(const char *text, const char *after, const char *name)
{
    const char *at = strstr(text, after);

    at = at == NULL ? NULL : strstr(at, name);
    if (at == NULL)
        fail_msg("no %s behind %s in: %s", name, after, text);
    else
        return strtod(at + strcspn(at, ":") + 1, NULL);
    return 0.0;
}

static void the_list_explains_every_error(void **state)
{
    const char *const words[] = {"rehearse", "--list", NULL};
    struct process run;

    (void)state;
    process_run(&run, words);
    assert_int_equal(run.status, 0);
    for (int i = 0; i < REHEARSE_ERRORS; i++)
        assert_non_null(strstr(
            run.out, rehearse_error_about((enum rehearse_error)i)->text));
    /* On a terminal of 80 columns. */
    for (const char *line = run.out; *line != '\0';) {
        size_t length = strcspn(line, "\n");

        assert_in_range(length, 1, 80);
        line += length + 1;
    }
}

/* Every form, each with its truth beside it, and found again by its packets
 * alone. */
static void a_recording_agrees_with_its_truth(void **state)
{
    static const char *const layout[] = {
        "plain-text",  "plain-binary", "keyed-records", "name-value",
        "json-object", "nmea",         "dis",           "mavlink"};

    for (size_t i = 0; i < sizeof layout / sizeof layout[0]; i++) {
        char room[3][FOLDER_PATH_SIZE];
        char *capture = folder_path(*state, "r.pcap", room[0]);
        char *truth = folder_path(*state, "r.json", room[1]);
        char *events = folder_path(*state, "r.events", room[2]);
        /* DIS carries no airspeed: wind would be one. */
        const char *const fly[] = {
            "rehearse", "--layout",
            layout[i],  "--direction",
            "right",    "--force",
            "--record", capture,
            "--truth",  truth,
            "--wind",   strcmp(layout[i], "dis") == 0 ? "230/0" : "230/20",
            "--error",  "level-past=15",
            NULL};
        const char *const replay[] = {"replay",   capture, "--speed", "max",
                                      "--events", events,  NULL};
        struct process run;
        char *flown;
        char *told;

        process_run(&run, fly);
        assert_int_equal(run.status, 0);
        process_run(&run, replay);
        assert_int_equal(run.status, 0);
        flown = folder_read_file(truth, NULL);
        told = folder_read_file(events, NULL);
        assert_true(fabs(number_of(told, "\"event\":\"wings-level\"",
                                   "\"heading_error_deg\"") -
                         number_of(flown, "wings_level",
                                   "\"heading_error_deg\"")) < 1.0);
        assert_true(number_of(told, "\"event\":\"wings-level\"",
                              "\"heading_error_deg\"") > 13.0);
        free(flown);
        free(told);
    }
}

/* A listen, and a rehearsal that flies to it. */
struct pair {
    struct process listen;
    struct process fly;
    char events[FOLDER_PATH_SIZE];
    char control[FOLDER_PATH_SIZE];
};

static void begin_pair(struct pair *pair, const struct folder *folder,
                       const char *layout, const char *speed)
{
    char port[8], name[32];
    const char *const listen[] = {
        "listen",    "--layout",    layout,       "--port",   "0",
        "--seconds", "120",         "--no-sound", "--events", pair->events,
        "--control", pair->control, NULL};
    const char *const fly[] = {"rehearse", "--layout", layout, "--port",
                               port,       "--speed",  speed,  NULL};

    folder_path(folder, layout, pair->events);
    (void)snprintf(name, sizeof name, "%s.ctl", layout);
    folder_path(folder, name, pair->control);
    process_start(&pair->listen, listen);
    process_await(&pair->listen, "listening on ");
    (void)snprintf(port, sizeof port, "%u", live_port(&pair->listen));
    process_start(&pair->fly, fly);
}

/* However long a busy machine takes; no answer comes when it has ended. */
static void await_event(const struct pair *pair, const char *event)
{
    bool told = false;

    while (!told) {
        char *lines;

        json_decref(live_ask(pair->control, "{\"ask\":\"status\"}"));
        lines = folder_read_file(pair->events, NULL);
        told = strstr(lines, event) != NULL;
        free(lines);
    }
}

/* All at once. NMEA 0183 carries no time, so that it is flown in its own; the
 * beginning of the attempt is enough there. */
static void every_standard_is_flown_live(void **state)
{
    static const struct {
        const char *layout;
        const char *speed;
        const char *event;
    } row[] = {{"dis", "16", "\"event\":\"wings-level\""},
               {"mavlink", "16", "\"event\":\"wings-level\""},
               {"nmea", "1", "\"event\":\"bank-set\""}};
    static struct pair pair[3];

    for (int i = 0; i < 3; i++)
        begin_pair(&pair[i], *state, row[i].layout, row[i].speed);
    for (int i = 0; i < 3; i++) {
        await_event(&pair[i], row[i].event);
        process_signal(&pair[i].listen, SIGTERM);
        process_finish(&pair[i].listen);
        assert_int_equal(pair[i].listen.status, 0);
        process_signal(&pair[i].fly, SIGINT);
        process_finish(&pair[i].fly);
    }
}

/* It is said once, and who comes then hears the rest. */
static void nobody_who_listens_is_said_and_flown_to(void **state)
{
    char port[8], words[80];
    const char *const shortly[] = {"listen", "--port",     "0", "--seconds",
                                   "0.1",    "--no-sound", NULL};
    const char *const later[] = {"listen", "--port", port, "--no-sound", NULL};
    const char *const fly[] = {"rehearse", "--port", port, NULL};
    struct process listen, pilot;

    (void)state;
    process_run(&listen, shortly);
    (void)snprintf(port, sizeof port, "%u", live_port(&listen));
    (void)snprintf(words, sizeof words, "nobody listens on 127.0.0.1 port %s;",
                   port);
    process_start(&pilot, fly);
    process_await(&pilot, words);
    process_start(&listen, later);
    process_await(&listen, "packets arrive from 127.0.0.1");
    process_signal(&listen, SIGTERM);
    process_finish(&listen);
    process_signal(&pilot, SIGINT);
    process_finish(&pilot);
    assert_int_equal(process_times_said(pilot.err, "nobody listens"), 1);
}

/* What a standard cannot carry is said, and nothing where nothing is lost. */
static void what_is_not_carried_is_said(void **state)
{
    static const struct {
        const char *words[7];
        const char *says; /* NULL: nothing */
    } row[] = {
        {{"--layout", "plain-text", NULL}, NULL},
        {{"--layout", "mavlink", NULL}, NULL},
        {{"--layout", "dis", NULL}, NULL},
        {{"--layout", "dis", "--wind", "230/20", NULL}, "carries no airspeed"},
        {{"--layout", "dis", "--temperature", "30", NULL},
         "carries no airspeed"},
        {{"--layout", "nmea", NULL},
         "does not carry: lateral g or sideslip; load factor; sim_time\n"},
    };
    char room[FOLDER_PATH_SIZE];
    char *capture = folder_path(*state, "c.pcap", room);

    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        const char *words[12] = {"rehearse", "--force", "--record", capture};
        struct process run;

        for (size_t w = 0; row[i].words[w] != NULL; w++)
            words[4 + w] = row[i].words[w];
        process_run(&run, words);
        assert_int_equal(run.status, 0);
        if (row[i].says == NULL)
            assert_null(strstr(run.err, "layout"));
        else if (strstr(run.err, row[i].says) == NULL)
            fail_msg("%s: %s", words[5], run.err);
    }
}

static void the_truth_alone_goes_to_standard_output(void **state)
{
    char room[FOLDER_PATH_SIZE];
    const char *const words[] = {
        "rehearse", "--record", folder_path(*state, "o.pcap", room),
        "--truth",  "-",        NULL};
    struct process run;

    process_run(&run, words);
    assert_int_equal(run.status, 0);
    assert_int_equal(run.out[0], '{');
    assert_string_equal(run.out + strlen(run.out) - 2, "}\n");
    assert_true(number_of(run.out, "\"wings_level\"", "\"t\"") > 40.0);
}

static void wrong_words_are_refused(void **state)
{
    static const struct {
        const char *words[6];
        const char *says;
    } row[] = {
        {{"rehearse", "--error", "pitch-sagg", NULL},
         "there is:\n  bank-shallow, "},
        {{"rehearse", "--error=stall=99", NULL}, "takes 10 to 20 deg"},
        {{"rehearse", "--error", NULL}, "--error needs a name"},
        {{"rehearse", "--speed", "max", NULL}, "is for --record"},
        {{"rehearse", "--wind", "west", NULL}, "270/15"},
        {{"rehearse", "--wind", "270/900", NULL}, "knots, 0 to 80,"},
        {{"rehearse", "--wind", "361/9", NULL}, "blows from, 0 to 360,"},
        {{"rehearse", "--direction", "up", NULL}, "left or right"},
        {{"rehearse", "--weight", "9 ft", NULL}, "--weight takes"},
        {{"rehearse", "--weight", "9000 lb", NULL}, "765 to 2550 lb"},
        {{"rehearse", "--altitude", "15000 ft", "--error=pitch-high=6", NULL},
         "cannot fly"},
        {{"rehearse", "--error=stall", "--error=sink", NULL},
         "stall and sink do not go together"},
        {{"rehearse", "--error=bank-steep", "--error=bank-shallow", NULL},
         "bank-shallow and bank-steep do not go together"},
        {{"rehearse", "--address", "nowhere", NULL}, "numeric address"},
        {{"rehearse", "--ground", "4000 ft", NULL}, "4000 ft is not below"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct process run;

        process_run(&run, row[i].words);
        if (run.status != 2 || strstr(run.err, row[i].says) == NULL)
            fail_msg("%s %s: status %d, %s", row[i].words[0], row[i].words[1],
                     run.status, run.err);
    }
}

static void a_packet_that_fits_no_datagram_is_refused(void **state)
{
    static const char text[] =
        "layout \"long\" { form = \"binary\" packet \"p\" { size = 65520\n"
        "field \"bank\" { at = 65512 type = \"f64\" unit = \"deg\" } } }\n";
    char room[FOLDER_PATH_SIZE];
    const char *words[] = {"rehearse", "--layout", room, NULL};
    struct process run;

    folder_write(*state, "long.conf", text, sizeof text - 1, room);
    process_run(&run, words);
    assert_int_equal(run.status, 2);
    assert_non_null(strstr(run.err, "does not fit a datagram"));
}

static void the_same_seed_is_the_same_flight(void **state)
{
    char room[3][FOLDER_PATH_SIZE];
    char *file[] = {folder_path(*state, "a.json", room[0]),
                    folder_path(*state, "b.json", room[1])};
    char *capture = folder_path(*state, "s.pcap", room[2]);
    char *text[2];

    for (int i = 0; i < 2; i++) {
        const char *const fly[] = {
            "rehearse",     "--force",  "--record", capture,      "--truth",
            file[i],        "--seed",   "7",        "--unsteady", "1",
            "--turbulence", "moderate", NULL};
        struct process run;

        process_run(&run, fly);
        assert_int_equal(run.status, 0);
        text[i] = folder_read_file(file[i], NULL);
    }
    assert_string_equal(text[0], text[1]);
    free(text[0]);
    free(text[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_list_explains_every_error),
        in_folder(a_recording_agrees_with_its_truth),
        in_folder(every_standard_is_flown_live),
        cmocka_unit_test(nobody_who_listens_is_said_and_flown_to),
        in_folder(what_is_not_carried_is_said),
        in_folder(the_truth_alone_goes_to_standard_output),
        cmocka_unit_test(wrong_words_are_refused),
        in_folder(a_packet_that_fits_no_datagram_is_refused),
        in_folder(the_same_seed_is_the_same_flight),
    };

    return cmocka_run_group_tests_name("system: rehearse", tests, NULL, NULL) !=
           0;
}
