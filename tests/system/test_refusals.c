/* test_refusals.c - what cannot be used is refused in one line.
 *
 * Each case runs the program as a user would, and looks at its exit status,
 * at the one line on standard error, and at what it left behind. */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "folder.h"
#include "process.h"

enum { COULD_NOT = 1, WRONG_USAGE = 2 };

static const char demo[] = "tests/replay/demo.pcap";

/* Expect the status, and exactly one line that holds the words. */
static void expect_one_line(const struct process *process, int status,
                            const char *said)
{
    const char *end = strchr(process->err, '\n');
    if (process->status != status || strstr(process->err, said) == NULL ||
        end == NULL || end[1] != '\0') {
        fail_msg("exit status %d (expected %d), said: %s (expected one line "
                 "with \"%s\")",
                 process->status, status, process->err, said);
    }
}

/* The same of a run that must not have begun to work. */
static void expect_refusal(const char *const *words, int status,
                           const char *said)
{
    struct process process;
    process_run(&process, words);
    expect_one_line(&process, status, said);
    assert_string_equal(process.out, "");
}

/* Replay a file with every output asked for; none may be left. What was good
 * in a damaged recording may have been shown. */
static void expect_no_replay(const struct folder *folder, const char *path,
                             const char *said)
{
    char events[FOLDER_PATH_SIZE];
    char wav[FOLDER_PATH_SIZE];
    struct process process;
    size_t before = folder_count(folder);
    const char *words[] = {
        "replay",   path,
        "--layout", "plain-text",
        "--speed",  "max",
        "--events", folder_path(folder, "out.events", events),
        "--wav",    folder_path(folder, "out.wav", wav),
        NULL};
    process_run(&process, words);
    expect_one_line(&process, COULD_NOT, said);
    assert_int_equal(folder_count(folder), before);
}

static void missing_file_is_refused(void **state)
{
    char path[FOLDER_PATH_SIZE];
    expect_no_replay(*state, folder_path(*state, "none.pcap", path),
                     "none.pcap: ");
}

static void folder_is_refused(void **state)
{
    const struct folder *folder = *state;
    expect_no_replay(folder, folder->path, folder->path);
}

static void file_of_another_kind_is_refused(void **state)
{
    expect_no_replay(*state, "README.md", "README.md: ");
}

static void empty_file_is_refused(void **state)
{
    char path[FOLDER_PATH_SIZE];
    expect_no_replay(*state, folder_write(*state, "empty.pcap", "", 0, path),
                     "empty.pcap: ");
}

static void capture_without_a_packet_is_refused(void **state)
{
    size_t length = 0;
    char path[FOLDER_PATH_SIZE];
    char *bytes = folder_read_file(demo, &length);
    /* The file header of a classic capture is 24 bytes long. */
    assert_true(length > 24);
    folder_write(*state, "bare.pcap", bytes, 24, path);
    free(bytes);
    expect_no_replay(*state, path, "no UDP datagram");
}

/* Cut in the middle of the last record, and of the header of the file. */
static void capture_that_is_cut_is_refused(void **state)
{
    size_t length = 0;
    char path[FOLDER_PATH_SIZE];
    char *bytes = folder_read_file(demo, &length);
    assert_true(length > 30000);
    folder_write(*state, "cut.pcap", bytes, length - 11, path);
    expect_no_replay(*state, path, "cut.pcap: ");
    folder_write(*state, "stump.pcap", bytes, 13, path);
    expect_no_replay(*state, path, "stump.pcap: ");
    free(bytes);
}

static void unknown_layout_is_refused(void **state)
{
    (void)state;
    const char *words[] = {"replay", demo, "--layout", "no-such", NULL};
    expect_refusal(words, WRONG_USAGE, "no-such");
}

/* Write a layout file with one line of its own; expect its line number. */
static void expect_layout_refusal(const struct folder *folder, const char *line,
                                  const char *said)
{
    char text[1024];
    char path[FOLDER_PATH_SIZE];
    int n = snprintf(text, sizeof text,
                     "layout \"mine\" {\n"
                     "    form = \"text\"\n"
                     "    packet \"flight\" {\n"
                     "        %s\n"
                     "        field \"pitch\" { column = 3 unit = \"deg\" }\n"
                     "        field \"bank\" { column = 4 unit = \"deg\" }\n"
                     "        field \"airspeed\" { column = 5 unit = \"kt\" }\n"
                     "    }\n"
                     "}\n",
                     line);
    assert_in_range(n, 1, sizeof text - 1);
    folder_write(folder, "mine.conf", text, (size_t)n, path);
    const char *words[] = {"replay", demo, "--layout", path, NULL};
    expect_refusal(words, WRONG_USAGE, said);
}

static void sound_layout_is_taken(void **state)
{
    static const char text[] =
        "layout \"mine\" {\n"
        "    form = \"text\"\n"
        "    packet \"flight\" {\n"
        "        field \"heading\" { column = 2 unit = \"deg\" }\n"
        "        field \"pitch\" { column = 3 unit = \"deg\" }\n"
        "        field \"bank\" { column = 4 unit = \"deg\" }\n"
        "        field \"airspeed\" { column = 5 unit = \"kt\" }\n"
        "    }\n"
        "}\n";
    char path[FOLDER_PATH_SIZE];
    struct process process;
    folder_write(*state, "mine.conf", text, sizeof text - 1, path);
    const char *words[] = {"replay",  demo,  "--layout", path,
                           "--speed", "max", NULL};
    process_run(&process, words);
    assert_int_equal(process.status, 0);
}

static void unknown_field_is_refused_with_its_place(void **state)
{
    expect_layout_refusal(*state,
                          "field \"haeding\" { column = 2 unit = \"deg\" }",
                          "mine.conf:4:9: ");
}

static void wrong_unit_is_refused_with_its_place(void **state)
{
    expect_layout_refusal(*state,
                          "field \"heading\" { column = 2 unit = \"kt\" }",
                          "mine.conf:4:38: ");
    expect_layout_refusal(*state,
                          "field \"heading\" { column = 2 unit = \"furlong\" }",
                          "mine.conf:4:38: ");
}

static void port_in_use_is_refused(void **state)
{
    (void)state;
    struct sockaddr_in here = {.sin_family = AF_INET};
    socklen_t length = sizeof here;
    char port[16];
    here.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    int holder = socket(AF_INET, SOCK_DGRAM, 0);
    assert_true(holder >= 0);
    assert_int_equal(bind(holder, (struct sockaddr *)&here, sizeof here), 0);
    assert_int_equal(getsockname(holder, (struct sockaddr *)&here, &length), 0);
    (void)snprintf(port, sizeof port, "%u", (unsigned)ntohs(here.sin_port));
    const char *words[] = {"listen", "--address", "127.0.0.1",
                           "--port", port,        NULL};
    expect_refusal(words, COULD_NOT, port);
    close(holder);
}

static void output_that_cannot_be_written_is_refused(void **state)
{
    char path[FOLDER_PATH_SIZE];
    folder_path(*state, "no-folder/out.wav", path);
    const char *wav[] = {"replay", demo, "--speed", "max", "--wav", path, NULL};
    expect_refusal(wav, COULD_NOT, "no-folder/out.wav");
    const char *events[] = {"replay",   demo, "--speed", "max",
                            "--events", path, NULL};
    expect_refusal(events, COULD_NOT, "no-folder/out.wav");
    const char *record[] = {"listen", "--port", "0", "--record", path, NULL};
    expect_refusal(record, COULD_NOT, "no-folder/out.wav");
}

static void why_an_output_cannot_be_written_is_told(void **state)
{
    static const char said[] = "cannot be written: No such file or directory";
    char path[FOLDER_PATH_SIZE];
    char good[FOLDER_PATH_SIZE];
    struct process process;
    folder_path(*state, "no-folder/out", path);
    const char *const run[][6] = {
        {"brief", "--page", path},
        {"discover", "tests/replay/good_left.pcap", "--output", path},
        {"rehearse", "--record", folder_path(*state, "r.pcap", good), "--truth",
         path},
    };
    for (size_t i = 0; i < sizeof run / sizeof run[0]; i++) {
        process_run(&process, run[i]);
        assert_int_equal(process.status, COULD_NOT);
        if (strstr(process.err, said) == NULL)
            fail_msg("%s: %s", run[i][0], process.err);
    }
}

static void the_short_word_for_help_is_taken(void **state)
{
    (void)state;
    const char *words[2][2] = {{"--help", NULL}, {"-h", NULL}};
    struct process process[2];
    for (int i = 0; i < 2; i++)
        process_run(&process[i], words[i]);
    assert_int_equal(process[1].status, 0);
    assert_string_equal(process[1].out, process[0].out);
}

static void wrong_words_are_refused(void **state)
{
    (void)state;
    const char *command[] = {"lissen", NULL};
    expect_refusal(command, WRONG_USAGE, "lissen");
    const char *option[] = {"replay", demo, "--sped", "8", NULL};
    expect_refusal(option, WRONG_USAGE, "--sped");
    const char *speed[] = {"replay", demo, "--speed", "fast", NULL};
    expect_refusal(speed, WRONG_USAGE, "fast");
    const char *port[] = {"listen", "--port", "65536", NULL};
    expect_refusal(port, WRONG_USAGE, "65536");
    const char *aircraft[] = {"replay", demo, "--aircraft", "no-such", NULL};
    expect_refusal(aircraft, WRONG_USAGE, "no-such");
    const char *check[] = {"inspect", "--check", "extra", NULL};
    expect_refusal(check, WRONG_USAGE, "\"extra\" is one word too many");
    /* Cut within a character (RFC 3629). */
    const char *who[] = {"debrief", demo, "--person", "Zo\xc3", NULL};
    expect_refusal(who, WRONG_USAGE, "--person: this is not UTF-8");
    who[0] = "replay";
    expect_refusal(who, WRONG_USAGE, "--person: this is not UTF-8");
    const char *maneuver[] = {"replay", demo, "--maneuver", "no-such", NULL};
    expect_refusal(maneuver, WRONG_USAGE, "no-such");
}

/* Expect that a file named mine holds what it held. */
static void expect_kept(const char *path)
{
    char *text = folder_read_file(path, NULL);
    assert_string_equal(text, "mine");
    free(text);
}

/* An earlier recording and its notes outlive a second session that is given
 * the same name, unless they are meant to be replaced. */
static void earlier_recording_is_not_replaced(void **state)
{
    static const char said[] = ".pcap: is there already; name another, or add "
                               "--force to replace it";
    const struct folder *folder = *state;
    char path[4][FOLDER_PATH_SIZE];
    struct process process;
    folder_write(folder, "today.pcap", "mine", 4, path[0]);
    folder_write(folder, "today.pcap.notes.jsonl", "mine", 4, path[1]);
    folder_path(folder, "control", path[2]);
    const char *listen[] = {"listen",    "--port", "0",         "--no-sound",
                            "--seconds", "0.2",    "--control", path[2],
                            "--record",  path[0],  NULL,        NULL,
                            NULL,        NULL};
    const char *fly[] = {"rehearse", "--record", path[0], NULL};
    expect_refusal(listen, COULD_NOT, said);
    expect_refusal(fly, COULD_NOT, said);
    expect_kept(path[0]);
    expect_kept(path[1]);
    assert_int_equal(folder_count(folder), 2);
    /* Nor by one that cannot start. */
    listen[10] = "--force";
    listen[11] = "--wav";
    listen[12] = folder_path(folder, "no-such/a.wav", path[3]);
    expect_refusal(listen, COULD_NOT, path[3]);
    expect_kept(path[0]);
    expect_kept(path[1]);
    assert_int_equal(folder_count(folder), 2);
    listen[11] = NULL;
    process_run(&process, listen);
    assert_int_equal(process.status, 0);
    assert_int_equal(folder_count(folder), 1);
}

static void earlier_truth_and_layout_are_not_replaced(void **state)
{
    static const char said[] = "mine.txt: is there already; name another";
    char path[2][FOLDER_PATH_SIZE];
    folder_write(*state, "mine.txt", "mine", 4, path[0]);
    folder_path(*state, "new.pcap", path[1]);
    const char *truth[] = {"rehearse", "--record", path[1],
                           "--truth",  path[0],    NULL};
    const char *layout[] = {"discover", "tests/replay/good_left.pcap",
                            "--output", path[0], NULL};
    expect_refusal(truth, COULD_NOT, said);
    expect_refusal(layout, COULD_NOT, said);
    expect_kept(path[0]);
    assert_int_equal(folder_count(*state), 1);
}

/* Nothing may be written over what is read, by whatever name it is called. */
static void output_that_is_the_recording_is_refused(void **state)
{
    static const char said[] = "is the recording that is read";
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    char link_path[FOLDER_PATH_SIZE];
    char page[FOLDER_PATH_SIZE + 16];
    char *bytes;
    size_t length = 0;
    size_t left = 0;
    bytes = folder_read_file(demo, &length);
    folder_write(folder, "c.pcap", bytes, length, path);
    free(bytes);
    assert_int_equal(link(path, folder_path(folder, "l.pcap", link_path)), 0);
    (void)snprintf(page, sizeof page, "%s/./c.pcap", folder->path);
    const char *const run[][8] = {
        {"debrief", path, "--page", page},
        {"debrief", path, "--csv", link_path},
        {"debrief", path, "--json", path},
        {"replay", path, "--speed", "max", "--events", path},
        {"replay", path, "--speed", "max", "--wav", link_path},
        {"discover", path, "--force", "--output", path},
    };
    for (size_t i = 0; i < sizeof run / sizeof run[0]; i++)
        expect_refusal(run[i], WRONG_USAGE, said);
    free(folder_read_file(path, &left));
    assert_int_equal(left, length);
    assert_int_equal(folder_count(folder), 2);
}

static void two_outputs_into_one_file_are_refused(void **state)
{
    char path[FOLDER_PATH_SIZE];
    char again[FOLDER_PATH_SIZE + 16];
    char logbook[FOLDER_PATH_SIZE + 16];
    const struct folder *folder = *state;
    folder_path(folder, "x", path);
    (void)snprintf(again, sizeof again, "%s//x", folder->path);
    (void)snprintf(logbook, sizeof logbook, "--logbook=%s", path);
    const char *const run[][10] = {
        {"rehearse", "--record", path, "--truth", again},
        {"debrief", demo, "--page", path, "--csv", again},
        {"debrief", demo, "--page", path, logbook},
        {"replay", demo, "--speed", "max", "--events", path, "--wav", path},
        {"listen", "--port", "0", "--record", path, "--events", again},
    };
    for (size_t i = 0; i < sizeof run / sizeof run[0]; i++)
        expect_refusal(run[i], WRONG_USAGE, "name one file");
    assert_int_equal(folder_count(folder), 0);
    /* Whoever wants neither may throw both away. */
    const char *nowhere[] = {"debrief", demo,        "--json", "/dev/null",
                             "--csv",   "/dev/null", NULL};
    struct process process;
    process_run(&process, nowhere);
    assert_int_equal(process.status, 0);
}

/* Copy the voice into a folder; one clip is cut to half its length. */
static void copy_voice(const struct folder *folder, const char *cut)
{
    char *table = folder_read_file("sounds/voice/cues.tsv", NULL);
    char path[FOLDER_PATH_SIZE];
    char *rest = NULL;
    folder_write(folder, "cues.tsv", table, strlen(table), path);
    for (char *line = strtok_r(table, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        char name[128];
        char from[FOLDER_PATH_SIZE];
        size_t length = 0;
        if (sscanf(line, "%*[^\t]\t%127[^\t]", name) != 1 ||
            strstr(name, ".flac") == NULL) {
            continue;
        }
        (void)snprintf(from, sizeof from, "sounds/voice/%s", name);
        char *clip = folder_read_file(from, &length);
        if (strcmp(name, cut) == 0) {
            length /= 2;
        }
        folder_write(folder, name, clip, length, path);
        free(clip);
    }
    free(table);
}

static void expect_voice(const struct folder *folder, const char *cut,
                         int status, const char *said)
{
    char text[FOLDER_PATH_SIZE + 64];
    char path[FOLDER_PATH_SIZE];
    struct process process;
    copy_voice(folder, cut);
    int n = snprintf(text, sizeof text, "sound {\n    voice = \"%s\"\n}\n",
                     folder->path);
    assert_in_range(n, 1, sizeof text - 1);
    folder_write(folder, "mine.conf", text, (size_t)n, path);
    const char *words[] = {"replay",  demo,  "--config", path,
                           "--speed", "max", "--quiet",  NULL};
    const char *check[] = {"--config", path, "inspect", "--check", NULL};
    process_run(&process, words);
    if (status == 0) {
        assert_int_equal(process.status, 0);
        process_run(&process, check);
        assert_int_equal(process.status, 0);
        return;
    }
    expect_one_line(&process, status, said);
    process_run(&process, check);
    expect_one_line(&process, status, said);
}

static void unreadable_clip_is_refused(void **state)
{
    expect_voice(*state, "ninety.flac", COULD_NOT, "ninety.flac: ");
}

static void sound_voice_is_taken(void **state)
{
    expect_voice(*state, "", 0, "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(missing_file_is_refused),
        in_folder(folder_is_refused),
        in_folder(file_of_another_kind_is_refused),
        in_folder(empty_file_is_refused),
        in_folder(capture_without_a_packet_is_refused),
        in_folder(capture_that_is_cut_is_refused),
        in_folder(unknown_layout_is_refused),
        in_folder(sound_layout_is_taken),
        in_folder(unknown_field_is_refused_with_its_place),
        in_folder(wrong_unit_is_refused_with_its_place),
        in_folder(port_in_use_is_refused),
        in_folder(output_that_cannot_be_written_is_refused),
        in_folder(earlier_recording_is_not_replaced),
        in_folder(earlier_truth_and_layout_are_not_replaced),
        in_folder(output_that_is_the_recording_is_refused),
        in_folder(two_outputs_into_one_file_are_refused),
        in_folder(unreadable_clip_is_refused),
        in_folder(sound_voice_is_taken),
        in_folder(why_an_output_cannot_be_written_is_told),
        in_folder(the_short_word_for_help_is_taken),
        in_folder(wrong_words_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
