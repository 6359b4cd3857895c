/* test_control_bytes.c - answers are JSON whatever bytes a name is made of. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/control.h"
#include "quarterturn/error.h"

/* What is told, of everything that may be told in bytes. */
struct told {
    const char *text;
    int error; /* what a command gives back */
};

static void give_status(void *context, struct control_status *out)
{
    const struct told *told = context;

    out->version = "1.2.3";
    out->maneuver = "chandelle";
    out->layout = out->aircraft = out->standard = told->text;
    out->sender = out->recording = told->text;
    out->has_audio = true;
    (void)snprintf(out->audio.device, sizeof out->audio.device, "%s",
                   told->text);
}

static int obey(void *context, const struct control_command *command,
                char said[CONTROL_SAID_SIZE])
{
    const struct told *told = context;

    (void)command;
    (void)snprintf(said, CONTROL_SAID_SIZE, "%s", told->text);
    return told->error;
}

static const char *answer(struct told *told, const char *line)
{
    static char out[CONTROL_MAX_REPLY];
    const struct control_handlers handlers = {told, give_status, obey};

    (void)control_answer(&handlers, line, strlen(line), out);
    return out;
}

static void expect_text(struct told *told, const char *line, const char *object,
                        const char *name, const char *expected)
{
    json_t *reply = json_loads(answer(told, line), 0, NULL);
    json_t *within = json_object_get(reply, "status");

    assert_non_null(reply);
    if (object != NULL)
        within = json_object_get(within, object);
    if (within == NULL)
        within = reply;
    assert_string_equal(json_string_value(json_object_get(within, name)),
                        expected);
    json_decref(reply);
}

static void bytes_that_are_no_text_become_question_marks(void **state)
{
    static const struct {
        const char *told;
        const char *expected;
    } row[] = {
        {"plain", "plain"},
        {"caf\xc3\xa9", "caf\xc3\xa9"},
        {"\xe2\x82\xac \xf0\x90\x80\x80 \xf4\x8f\xbf\xbf",
         "\xe2\x82\xac \xf0\x90\x80\x80 \xf4\x8f\xbf\xbf"},
        {"caf\xe9/a.pcap", "caf?/a.pcap"},
        {"cut \xc3", "cut ?"},
        {"cut \xe2\x82", "cut ??"},
        {"cut \xf0\x90\x80", "cut ???"},
        {"\x80-\xbf-\xff", "?-?-?"},
        /* Longer than they need be, a surrogate, beyond the last. */
        {"\xc0\xaf", "??"},
        {"\xe0\x9f\xbf", "???"},
        {"\xf0\x8f\xbf\xbf", "????"},
        {"\xed\xa0\x80", "???"},
        {"\xf4\x90\x80\x80", "????"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct told told = {row[i].told, 0};

        expect_text(&told, "{\"ask\":\"again\"}", NULL, "said",
                    row[i].expected);
        expect_text(&told, "{\"ask\":\"status\"}", NULL, "recording",
                    row[i].expected);
        expect_text(&told, "{\"ask\":\"status\"}", "sound", "device",
                    row[i].expected);
        told.error = ERR_IO;
        expect_text(&told, "{\"ask\":\"again\"}", NULL, "error",
                    row[i].expected);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bytes_that_are_no_text_become_question_marks),
    };

    return cmocka_run_group_tests_name("control: bytes", tests, NULL, NULL) !=
           0;
}
