/* test_turns.c - how long a loop's turns take, and by whose doing. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <time.h>

#include "../../daemon/commands/turns.h"

static const int64_t ms = 1000000;

static void leaves_out_what_others_took(void **state)
{
    const struct turns_use used = {.cpu_ns = 2 * ms, .waits = 1};

    (void)state;
    /* Off the core without having asked for it. */
    assert_int_equal(turns_held_ns(50 * ms, true, &used), 2 * ms);
    assert_false(turns_has_waited(true, &used));
}

static void counts_a_wait_in_between_in_full(void **state)
{
    const struct turns_use twice = {.cpu_ns = 2 * ms, .waits = 2};
    const struct turns_use once = {.cpu_ns = 2 * ms, .waits = 1};

    (void)state;
    assert_int_equal(turns_held_ns(50 * ms, true, &twice), 50 * ms);
    assert_int_equal(turns_held_ns(50 * ms, false, &once), 50 * ms);
    assert_true(turns_has_waited(true, &twice));
    assert_true(turns_has_waited(false, &once));
}

static void never_tells_more_than_the_turn(void **state)
{
    const struct turns_use used = {.cpu_ns = 3 * ms, .waits = 0};

    (void)state;
    assert_int_equal(turns_held_ns(2 * ms, true, &used), 2 * ms);
}

/* A callback that stands still for so long is found, be the machine busy or
 * not. */
static void stand_still(uv_timer_t *timer)
{
    (void)nanosleep(&(struct timespec){.tv_nsec = 20 * ms}, NULL);
    uv_close((uv_handle_t *)timer, NULL);
}

static void come_and_go(uv_timer_t *timer)
{
    uv_close((uv_handle_t *)timer, NULL);
}

/* Only now has the loop surely waited once: on a busy machine a timer may be
 * due before it runs, in what is no turn yet. */
static void go_on(uv_timer_t *timer)
{
    uv_timer_cb callback = *(uv_timer_cb *)timer->data;

    (void)uv_timer_start(timer, callback, 5, 0);
}

static struct turns run_with(uv_timer_cb callback)
{
    struct turns turns;
    uv_loop_t loop;
    uv_timer_t timer, last;

    assert_int_equal(uv_loop_init(&loop), 0);
    turns_begin(&turns, &loop);
    (void)uv_timer_init(&loop, &timer);
    (void)uv_timer_init(&loop, &last);
    timer.data = &callback;
    (void)uv_timer_start(&timer, go_on, 0, 0);
    (void)uv_timer_start(&last, come_and_go, 10, 0);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    turns_end(&turns);
    (void)uv_run(&loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&loop), 0);
    return turns;
}

static void finds_a_callback_that_stands_still(void **state)
{
    const struct turns turns = run_with(stand_still);

    (void)state;
    assert_true(turns.longest_held_ns >= 20 * ms);
    assert_true(turns.longest_wait_ns >= 20 * ms);
}

static void finds_none_in_a_loop_that_only_waits(void **state)
{
    const struct turns turns = run_with(come_and_go);

    (void)state;
    assert_true(turns.longest_held_ns < 20 * ms);
    assert_true(turns.longest_wait_ns < 20 * ms);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(leaves_out_what_others_took),
        cmocka_unit_test(counts_a_wait_in_between_in_full),
        cmocka_unit_test(never_tells_more_than_the_turn),
        cmocka_unit_test(finds_a_callback_that_stands_still),
        cmocka_unit_test(finds_none_in_a_loop_that_only_waits),
    };

    return cmocka_run_group_tests_name("turns of a loop", tests, NULL, NULL) !=
           0;
}
