/* test_control_status.c - whether an attempt may begin, as status tells it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <jansson.h>

#include "quarterturn/control.h"

struct flight {
    struct maneuver_lack lack;
    bool in_attempt;
};

static void give_status(void *context, struct control_status *out)
{
    const struct flight *flight = context;

    out->version = out->layout = out->aircraft = out->standard = "x";
    out->maneuver = "chandelle";
    out->lack = flight->lack;
    out->in_attempt = flight->in_attempt;
}

static int obey(void *context, const struct control_command *command,
                char said[CONTROL_SAID_SIZE])
{
    (void)context;
    (void)command;
    (void)said;
    fail_msg("nothing was commanded");
    return 0;
}

/* lacks: as JSON. */
static void expect_ready(struct flight flight, bool ready, const char *lacks)
{
    const struct control_handlers handlers = {&flight, give_status, obey};
    static const char line[] = "{\"ask\":\"status\"}";
    char out[CONTROL_MAX_REPLY];
    json_t *reply;
    json_t *status;
    char *told;

    (void)control_answer(&handlers, line, sizeof line - 1, out);
    reply = json_loads(out, 0, NULL);
    status = json_object_get(reply, "status");
    told = json_dumps(json_object_get(status, "lacks"),
                      JSON_COMPACT | JSON_ENCODE_ANY);
    assert_int_equal(json_is_true(json_object_get(status, "ready")), ready);
    assert_string_equal(told, lacks);
    free(told);
    json_decref(reply);
}

static void is_ready_when_nothing_is_lacking(void **state)
{
    const struct maneuver_lack none = {LACK_NONE, NAN, NAN, NAN};

    (void)state;
    expect_ready((struct flight){none, false}, true, "null");
    expect_ready((struct flight){none, true}, false, "null");
}

static void tells_the_figure_and_what_is_wanted(void **state)
{
    const struct maneuver_lack time = {LACK_TIME, 1.5, 3.0, NAN};
    const struct maneuver_lack ground = {LACK_AIR, NAN, NAN, NAN};

    (void)state;
    expect_ready((struct flight){time, false}, false,
                 "{\"reason\":\"steady time\",\"flown\":1.5,\"least\":3.0,"
                 "\"most\":null,\"unit\":\"s\",\"text\":\"steady for 1.5 s, at "
                 "least 3 s wanted\"}");
    expect_ready((struct flight){ground, false}, false,
                 "{\"reason\":\"on the ground\",\"flown\":null,\"least\":null,"
                 "\"most\":null,\"unit\":\"\",\"text\":\"on the ground\"}");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(is_ready_when_nothing_is_lacking),
        cmocka_unit_test(tells_the_figure_and_what_is_wanted),
    };

    return cmocka_run_group_tests_name("control: status", tests, NULL, NULL) !=
           0;
}
