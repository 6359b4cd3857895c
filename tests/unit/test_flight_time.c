/* test_flight_time.c - the flight's own time against the stream's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "../../daemon/commands/flight_time.h"

#define S INT64_C(1000000000)

static void at_a_pace_of_one_both_are_the_same(void **state)
{
    struct flight_time time;

    (void)state;
    flight_time_init(&time);
    assert_true(flight_time_pace(&time) == 1.0);
    assert_int_equal(flight_time_of_stream(&time, 1700000000 * S + 1),
                     1700000000 * S + 1);
    assert_int_equal(flight_time_to_stream(&time, -7), -7);
    assert_int_equal(flight_time_to_stream(&time, INT64_MIN), INT64_MIN);
    assert_int_equal(flight_time_to_stream(&time, INT64_MAX), INT64_MAX);
}

/* What was flown before a change is dated as it was seen, not as it would be
 * seen now. */
static void a_change_of_pace_leaves_the_past_where_it_was(void **state)
{
    struct flight_time time;

    (void)state;
    flight_time_init(&time);
    flight_time_set_pace(&time, 100 * S, 0.5);
    flight_time_set_pace(&time, 110 * S, 2.0);
    assert_int_equal(flight_time_of_stream(&time, 99 * S), 99 * S);
    assert_int_equal(flight_time_of_stream(&time, 110 * S), 105 * S);
    assert_int_equal(flight_time_of_stream(&time, 111 * S), 107 * S);
    assert_int_equal(flight_time_to_stream(&time, 99 * S), 99 * S);
    assert_int_equal(flight_time_to_stream(&time, 102 * S), 104 * S);
    assert_int_equal(flight_time_to_stream(&time, 107 * S), 111 * S);
}

static void a_pause_takes_no_time_of_the_flight(void **state)
{
    struct flight_time time;

    (void)state;
    flight_time_init(&time);
    flight_time_stand(&time, 50 * S, 80 * S);
    assert_int_equal(flight_time_of_stream(&time, 49 * S), 49 * S);
    assert_int_equal(flight_time_of_stream(&time, 60 * S), 50 * S);
    assert_int_equal(flight_time_of_stream(&time, 81 * S), 51 * S);
    assert_int_equal(flight_time_to_stream(&time, 49 * S), 49 * S);
    assert_int_equal(flight_time_to_stream(&time, 51 * S), 81 * S);
}

/* However many changes there are, times run on, there and back. */
static void many_changes_keep_the_order(void **state)
{
    static const double pace[] = {1.0, 0.25, 4.0, 0.9};
    struct flight_time time;
    int64_t last_ns = -1;

    (void)state;
    flight_time_init(&time);
    for (int i = 1; i <= 100; i++) {
        flight_time_set_pace(&time, i * S, pace[i % 4]);
        if (i % 3 == 0)
            flight_time_stand(&time, i * S + S / 4, i * S + S / 2);
    }
    assert_in_range(time.count, 1, FLIGHT_TIME_STRETCHES);
    for (int64_t t_ns = 95 * S; t_ns < 110 * S; t_ns += S / 20) {
        int64_t flight_ns = flight_time_of_stream(&time, t_ns);
        int64_t back_ns = flight_time_to_stream(&time, flight_ns);

        assert_true(flight_ns >= last_ns);
        last_ns = flight_ns;
        /* Later only at the end of a pause; else to the rounding. */
        assert_true(back_ns >= t_ns - 4 && back_ns <= t_ns + S / 4 + 4);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(at_a_pace_of_one_both_are_the_same),
        cmocka_unit_test(a_change_of_pace_leaves_the_past_where_it_was),
        cmocka_unit_test(a_pause_takes_no_time_of_the_flight),
        cmocka_unit_test(many_changes_keep_the_order),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
