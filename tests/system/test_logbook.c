/* test_logbook.c - the logbook as its user keeps it: recordings debriefed into
 * it, and the progress out of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "process.h"

/* "--logbook=..." for a file in the folder of the test. */
static const char *logbook_option(void **state)
{
    static char option[FOLDER_PATH_SIZE + 16];
    char path[FOLDER_PATH_SIZE];

    (void)snprintf(option, sizeof option, "--logbook=%s",
                   folder_path(*state, "mine.csv", path));
    return option;
}

static void debrief(void **state, const char *flight, struct process *run)
{
    char recording[96];
    const char *words[] = {"debrief",
                           "--layout",
                           "plain-binary",
                           recording,
                           "--person",
                           "<i>Ada</i>",

                           logbook_option(state),
                           "--standard",
                           "training",
                           NULL};

    (void)snprintf(recording, sizeof recording, "tests/replay/%s.pcap", flight);
    process_run(run, words);
    if (run->status != 0)
        fail_msg("%s", run->err);
}

static void shows_what_became_of_the_attempts(void **state)
{
    char page[FOLDER_PATH_SIZE];
    const char *words[] = {"debrief", logbook_option(state), "--page",
                           folder_path(*state, "p.html", page), NULL};
    struct process run;
    size_t length;
    char *text;

    debrief(state, "good_left", &run);
    debrief(state, "overshoot", &run);
    process_run(&run, words);
    assert_int_equal(run.status, 0);
    assert_non_null(strstr(run.out, "2 attempts, 1 in standard\n"));
    assert_non_null(strstr(run.out, "  left   in standard  -\n"));
    assert_non_null(
        strstr(run.out, "  left   missed       heading error at level\n"));
    assert_non_null(strstr(run.out, "Practise next: to be level at 180 "
                                    "(\"heading error at level\" missed in 1 "
                                    "of the\nlast 2).\n"));
    for (const char *line = run.out; *line != '\0';
         line += strcspn(line, "\n") + 1)
        assert_true(strcspn(line, "\n") <= 80);
    text = folder_read_file(page, &length);
    assert_non_null(strstr(text, "<svg"));
    assert_non_null(strstr(text, "&lt;i&gt;Ada&lt;/i&gt;"));
    assert_null(strstr(text, "<i>Ada"));
    assert_null(strstr(text, "nan"));
    free(text);
}

/* The same flight, again and in another form, is one attempt. */
static void debriefing_twice_doubles_nothing(void **state)
{
    const char *text_form[] = {"debrief",
                               "--layout",
                               "plain-text",
                               "tests/replay/good_left_text.pcap",
                               logbook_option(state),
                               NULL};
    struct process run;

    debrief(state, "good_left", &run);
    assert_non_null(strstr(run.err, "mine.csv: 1 attempt added, 0 there"));
    debrief(state, "good_left", &run);
    assert_non_null(strstr(run.err, "mine.csv: 0 attempts added, 1 there"));
    process_run(&run, text_form);
    assert_int_equal(run.status, 0);
    assert_non_null(strstr(run.err, "mine.csv: 0 attempts added, 1 there"));
}

static void says_what_is_wrong(void **state)
{
    const char *show[] = {"debrief", logbook_option(state), NULL};
    char path[FOLDER_PATH_SIZE];
    struct process run;

    process_run(&run, show);
    assert_int_equal(run.status, 1);
    assert_non_null(strstr(run.err, "mine.csv: there is no logbook yet"));
    (void)folder_write(*state, "mine.csv", "milk,2\n", 7, path);
    process_run(&run, show);
    assert_int_equal(run.status, 1);
    assert_non_null(strstr(run.err, "mine.csv:1: this is no logbook"));
}

static void the_configuration_tells_which_logbook_is_meant(void **state)
{
    static const char text[] = "debrief { logbook = \"log.csv\" }\n";
    char config[FOLDER_PATH_SIZE];
    const char *add[] = {"debrief",
                         "--config",
                         config,
                         "--layout",
                         "plain-binary",
                         "--logbook",
                         "tests/replay/good_left.pcap",
                         NULL};
    const char *show[] = {"debrief", "--config", config, "--logbook", NULL};
    const char *other[] = {"debrief", "--config", config, logbook_option(state),
                           NULL};
    struct process run;

    folder_write(*state, "my.conf", text, sizeof text - 1, config);
    process_run(&run, add);
    assert_int_equal(run.status, 0);
    assert_non_null(strstr(run.err, "log.csv: 1 attempt added, 0 there"));
    process_run(&run, show);
    assert_int_equal(run.status, 0);
    assert_non_null(strstr(run.out, "1 attempt, 1 in standard\n"));
    /* The command line is before the configuration. */
    process_run(&run, other);
    assert_int_equal(run.status, 1);
    assert_non_null(strstr(run.err, "mine.csv: there is no logbook yet"));
    folder_write(*state, "my.conf", "debrief { log }", 15, config);
    process_run(&run, show);
    assert_int_equal(run.status, 2);
    assert_non_null(strstr(run.err, "my.conf:1:11: no such option 'log'"));
}

/* Before anybody flies, not after the first attempt. */
static void a_logbook_that_cannot_be_kept_is_refused_at_the_start(void **state)
{
    static const char *const says[] = {
        "none/log.csv: cannot be written: No such file or directory",
        "mine.csv:1: this is no logbook"};
    char control[FOLDER_PATH_SIZE];
    char option[2][FOLDER_PATH_SIZE + 32];
    char file[FOLDER_PATH_SIZE];
    const struct folder *folder = *state;
    struct process run;

    folder_path(folder, "control", control);
    folder_write(folder, "mine.csv", "mine,yours\r\n1,2\r\n", 17, file);
    (void)snprintf(option[0], sizeof option[0], "--logbook=%s/none/log.csv",
                   folder->path);
    (void)snprintf(option[1], sizeof option[1], "--logbook=%s", file);
    for (int i = 0; i < 2; i++) {
        const char *listen[] = {
            "listen", "--port",    "0",     "--no-sound", "--seconds",
            "0.2",    "--control", control, option[i],    NULL};

        process_run(&run, listen);
        assert_int_equal(run.status, 1);
        assert_non_null(strstr(run.err, says[i]));
        assert_null(strstr(run.err, "listening on"));
    }
    assert_int_equal(folder_count(folder), 1);
}

/* What is not there yet is made with the first attempt. */
static void a_logbook_that_can_be_made_is_awaited(void **state)
{
    char control[FOLDER_PATH_SIZE];
    const char *listen[] = {"listen",
                            "--port",
                            "0",
                            "--no-sound",
                            "--seconds",
                            "0.2",
                            "--control",
                            folder_path(*state, "control", control),
                            logbook_option(state),
                            NULL};
    struct process run;

    process_run(&run, listen);
    assert_int_equal(run.status, 0);
    assert_int_equal(folder_count(*state), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(shows_what_became_of_the_attempts),
        in_folder(debriefing_twice_doubles_nothing),
        in_folder(says_what_is_wrong),
        in_folder(the_configuration_tells_which_logbook_is_meant),
        in_folder(a_logbook_that_cannot_be_kept_is_refused_at_the_start),
        in_folder(a_logbook_that_can_be_made_is_awaited),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
