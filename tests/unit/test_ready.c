/* test_ready.c - what the service manager is told (sd_notify(3)). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

#include "../../daemon/commands/ready.h"
#include "folder.h"
#include "quarterturn/error.h"

/* A service manager's end. name: a path, or "@" and a name in no folder. */
static int listen_at(const char *name)
{
    struct sockaddr_un at = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_DGRAM, 0);

    assert_true(fd >= 0);
    assert_true(strlen(name) < sizeof at.sun_path);
    memcpy(at.sun_path, name, strlen(name));
    if (name[0] == '@')
        at.sun_path[0] = '\0';
    assert_int_equal(bind(fd, (const struct sockaddr *)&at,
                          (socklen_t)(offsetof(struct sockaddr_un, sun_path) +
                                      strlen(name))),
                     0);
    assert_int_equal(setenv("NOTIFY_SOCKET", name, 1), 0);
    return fd;
}

static void expect_message(int fd, const char *text)
{
    char got[64] = "";

    assert_int_equal(recv(fd, got, sizeof got - 1, MSG_DONTWAIT), strlen(text));
    assert_string_equal(got, text);
    (void)close(fd);
}

static void a_message_reaches_the_socket_that_is_named(void **state)
{
    char path[FOLDER_PATH_SIZE];
    int fd = listen_at(folder_path(*state, "notify", path));

    assert_int_equal(ready_tell("READY=1"), 0);
    expect_message(fd, "READY=1");
}

static void a_socket_may_stand_in_no_folder(void **state)
{
    int fd = listen_at("@quarterturn-test-ready");

    (void)state;
    assert_int_equal(ready_tell("STOPPING=1"), 0);
    expect_message(fd, "STOPPING=1");
}

static void nobody_who_asks_is_no_fault(void **state)
{
    (void)state;
    assert_int_equal(unsetenv("NOTIFY_SOCKET"), 0);
    assert_int_equal(ready_tell("READY=1"), 0);
    assert_int_equal(setenv("NOTIFY_SOCKET", "", 1), 0);
    assert_int_equal(ready_tell("READY=1"), 0);
}

static void a_socket_that_is_not_there_is_told(void **state)
{
    char longer[200];

    (void)state;
    assert_int_equal(setenv("NOTIFY_SOCKET", "/nonexistent/socket", 1), 0);
    assert_int_equal(ready_tell("READY=1"), ERR_IO);
    assert_int_equal(setenv("NOTIFY_SOCKET", "relative", 1), 0);
    assert_int_equal(ready_tell("READY=1"), ERR_IO);
    memset(longer, 'a', sizeof longer);
    longer[0] = '/';
    longer[sizeof longer - 1] = '\0';
    assert_int_equal(setenv("NOTIFY_SOCKET", longer, 1), 0);
    assert_int_equal(ready_tell("READY=1"), ERR_IO);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(a_message_reaches_the_socket_that_is_named),
        cmocka_unit_test(a_socket_may_stand_in_no_folder),
        cmocka_unit_test(nobody_who_asks_is_no_fault),
        cmocka_unit_test(a_socket_that_is_not_there_is_told),
    };

    return cmocka_run_group_tests_name("service manager", tests, NULL, NULL) !=
           0;
}
