/* test_writers.c - lines that are written beside the loop, and readers who
 * stall, go, or share one place. */
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "../../daemon/commands/writers.h"

/* More than a pipe and a store hold: 64 KiB each. */
enum { MANY = 4000, HEARD_SIZE = 1 << 18, COULD_NOT = 1 };

static char heard[HEARD_SIZE];

struct rig {
    int out[2]; /* the reader's end first */
    int err[2];
    struct writers *writers;
};

static void begin(struct rig *rig)
{
    assert_int_equal(pipe(rig->out), 0);
    assert_int_equal(pipe(rig->err), 0);
    assert_int_equal(
        writers_begin((const int[]){rig->out[1], rig->err[1]}, &rig->writers),
        0);
}

static void close_all(const struct rig *rig)
{
    for (int i = 0; i < 2; i++) {
        (void)close(rig->out[i]);
        (void)close(rig->err[i]);
    }
}

static FILE *out_of(const struct rig *rig)
{
    return writers_file(rig->writers, WRITERS_OUT);
}

static FILE *err_of(const struct rig *rig)
{
    return writers_file(rig->writers, WRITERS_ERR);
}

/* Read until a whole line holds the text. Returns: what was read. */
static char *hear_until(int fd, const char *text)
{
    size_t length = 0;
    const char *found;

    heard[0] = '\0';
    while ((found = strstr(heard, text)) == NULL ||
           strchr(found, '\n') == NULL) {
        ssize_t n = read(fd, heard + length, sizeof heard - 1 - length);

        assert_true(n > 0);
        length += (size_t)n;
        heard[length] = '\0';
    }
    return heard;
}

/* ---- readers who read ---------------------------------------------------- */

static void lines_come_at_once_and_whole(void **state)
{
    struct rig rig;
    char text[64];

    (void)state;
    begin(&rig);
    (void)fprintf(out_of(&rig), "one ");
    (void)fflush(out_of(&rig));
    (void)fprintf(err_of(&rig), "a word\n");
    assert_int_equal(read(rig.err[0], text, sizeof text), 7);
    (void)fprintf(out_of(&rig), "line\nand");
    (void)fflush(out_of(&rig));
    assert_int_equal(read(rig.out[0], text, sizeof text), 9);
    assert_memory_equal(text, "one line\n", 9);
    (void)fprintf(out_of(&rig), " another\n");
    assert_int_equal(read(rig.out[0], text, sizeof text), 12);
    assert_memory_equal(text, "and another\n", 12);
    assert_int_equal(writers_end(rig.writers), 0);
    close_all(&rig);
}

/* A terminal shows both streams: a line of the one that came first stands
 * first. */
static void streams_that_share_a_place_keep_their_order(void **state)
{
    char wanted[64];
    const char *at;
    int pipe_fd[2];
    int again;
    struct writers *writers;

    (void)state;
    assert_int_equal(pipe(pipe_fd), 0);
    again = dup(pipe_fd[1]);
    assert_int_equal(writers_begin((const int[]){pipe_fd[1], again}, &writers),
                     0);
    for (int i = 0; i < 1000; i++)
        (void)fprintf(
            writers_file(writers, i % 3 == 0 ? WRITERS_ERR : WRITERS_OUT),
            "line %d\n", i);
    at = hear_until(pipe_fd[0], "line 999");
    for (int i = 0; i < 1000; i++) {
        int length = snprintf(wanted, sizeof wanted, "line %d\n", i);

        assert_memory_equal(at, wanted, (size_t)length);
        at += length;
    }
    assert_int_equal(writers_end(writers), 0);
    (void)close(again);
    (void)close(pipe_fd[0]);
    (void)close(pipe_fd[1]);
}

static void what_waits_at_the_end_is_written(void **state)
{
    struct rig rig;

    (void)state;
    begin(&rig);
    for (int i = 0; i < 1000; i++)
        (void)fprintf(out_of(&rig), "line %d\n", i);
    assert_int_equal(writers_end(rig.writers), 0);
    assert_non_null(hear_until(rig.out[0], "line 999"));
    close_all(&rig);
}

/* ---- readers who stall --------------------------------------------------- */

/* With blanks: whoever writes then waits at once, however fast he is. */
static void fill(int fd)
{
    char blanks[4096];
    int flags = fcntl(fd, F_GETFL);

    memset(blanks, ' ', sizeof blanks);
    assert_int_equal(fcntl(fd, F_SETFL, flags | O_NONBLOCK), 0);
    while (write(fd, blanks, sizeof blanks) > 0)
        continue;
    assert_int_equal(fcntl(fd, F_SETFL, flags), 0);
}

/* Returns: the number of lines in front that are as they were written. */
static int count_whole(const char **at, const char *format)
{
    char wanted[128];

    for (int i = 0;; i++) {
        int length = snprintf(wanted, sizeof wanted, format, i);

        if (strncmp(*at, wanted, (size_t)length) != 0)
            return i;
        *at += length;
    }
}

static void write_many(FILE *file, const char *format)
{
    char text[128];

    for (int i = 0; i < MANY; i++) {
        (void)snprintf(text, sizeof text, format, i);
        (void)fputs(text, file);
    }
}

static void what_nobody_reads_is_counted_and_told(void **state)
{
    static const char format[] =
        "line %d of many that are longer than what they could tell\n";
    struct rig rig;
    const char *at;
    char *rest;
    long lost;
    int whole;

    (void)state;
    begin(&rig);
    fill(rig.out[1]);
    write_many(out_of(&rig), format);
    /* The other stream has a reader. */
    (void)fprintf(err_of(&rig), "still here\n");
    assert_non_null(hear_until(rig.err[0], "still here\n"));
    at = hear_until(rig.out[0], "not written");
    at += strspn(at, " ");
    whole = count_whole(&at, format);
    assert_memory_equal(at, "... ", 4);
    lost = strtol(at + 4, &rest, 10);
    assert_string_equal(rest, " lines were not written: nobody read them\n");
    assert_in_range(whole, WRITERS_STORE / 80, MANY);
    assert_int_equal(whole + lost, MANY);
    assert_int_equal(writers_lost(rig.writers), lost);
    (void)fprintf(out_of(&rig), "read again\n");
    assert_string_equal(hear_until(rig.out[0], "again"), "read again\n");
    assert_int_equal(writers_end(rig.writers), 0);
    close_all(&rig);
}

static void a_loss_of_event_lines_is_an_event_line(void **state)
{
    static const char format[] =
        "{\"t\":%d,\"event\":\"a mark of the turn\"}\n";
    struct rig rig;
    const char *at, *name;
    json_t *root;
    int whole, lost, t;

    (void)state;
    begin(&rig);
    writers_hold_events(rig.writers);
    fill(rig.out[1]);
    write_many(out_of(&rig), format);
    at = hear_until(rig.out[0], "lines-lost");
    at += strspn(at, " ");
    whole = count_whole(&at, format);
    root = json_loads(at, JSON_DISABLE_EOF_CHECK, NULL);
    assert_int_equal(json_unpack(root, "{s:i, s:s, s:i}", "t", &t, "event",
                                 &name, "lines", &lost),
                     0);
    assert_string_equal(name, "lines-lost");
    assert_int_equal(t, whole);
    assert_int_equal(whole + lost, MANY);
    json_decref(root);
    /* What is not whole is no success. */
    assert_int_equal(writers_end(rig.writers), COULD_NOT);
    close_all(&rig);
}

static void a_line_without_an_end_is_lost_alone(void **state)
{
    struct rig rig;

    (void)state;
    begin(&rig);
    for (int i = 0; i <= WRITERS_LINE; i++)
        (void)fputc('x', out_of(&rig));
    (void)fprintf(out_of(&rig), "\n");
    assert_string_equal(hear_until(rig.out[0], "not written"),
                        "... 1 line was not written: nobody read it\n");
    (void)fprintf(out_of(&rig), "another\n");
    assert_non_null(hear_until(rig.out[0], "another\n"));
    assert_int_equal(writers_end(rig.writers), 0);
    close_all(&rig);
}

/* The thread stays in its write until the program ends; so do the pipes. */
static void a_reader_who_stalls_does_not_hold_up_the_end(void **state)
{
    struct rig rig;

    (void)state;
    begin(&rig);
    fill(rig.out[1]);
    (void)fprintf(out_of(&rig), "nobody is going to read this\n");
    assert_int_equal(writers_end(rig.writers), 0);
    begin(&rig);
    fill(rig.out[1]);
    writers_hold_events(rig.writers);
    (void)fprintf(out_of(&rig), "{\"t\":1.5,\"event\":\"nor this\"}\n");
    assert_int_equal(writers_end(rig.writers), COULD_NOT);
}

/* ---- readers who go ------------------------------------------------------ */

static void a_write_fails_when_the_reader_has_gone(void **state)
{
    struct rig rig;

    (void)state;
    begin(&rig);
    (void)close(rig.out[0]);
    while (fprintf(out_of(&rig), "who hears this?\n") > 0)
        continue;
    assert_true(ferror(out_of(&rig)));
    (void)fprintf(err_of(&rig), "I do\n");
    assert_non_null(hear_until(rig.err[0], "I do\n"));
    assert_int_equal(writers_end(rig.writers), COULD_NOT);
    rig.out[0] = -1;
    close_all(&rig);
}

/* The last line, too, has to be somewhere. */
static void the_end_tells_of_a_full_disk(void **state)
{
    struct rig rig;
    FILE *full = fopen("/dev/full", "w");

    (void)state;
    assert_non_null(full);
    assert_int_equal(pipe(rig.err), 0);
    assert_int_equal(
        writers_begin((const int[]){fileno(full), rig.err[1]}, &rig.writers),
        0);
    (void)fprintf(out_of(&rig), "a line\n");
    assert_int_equal(writers_end(rig.writers), COULD_NOT);
    (void)fclose(full);
    (void)close(rig.err[0]);
    (void)close(rig.err[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_come_at_once_and_whole),
        cmocka_unit_test(streams_that_share_a_place_keep_their_order),
        cmocka_unit_test(what_waits_at_the_end_is_written),
        cmocka_unit_test(what_nobody_reads_is_counted_and_told),
        cmocka_unit_test(a_loss_of_event_lines_is_an_event_line),
        cmocka_unit_test(a_line_without_an_end_is_lost_alone),
        cmocka_unit_test(a_reader_who_stalls_does_not_hold_up_the_end),
        cmocka_unit_test(a_write_fails_when_the_reader_has_gone),
        cmocka_unit_test(the_end_tells_of_a_full_disk),
    };

    (void)signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests_name("writers", tests, NULL, NULL) != 0;
}
