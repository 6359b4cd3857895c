/* test_audio_ring.c - commands arrive once, whole and in order. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <pthread.h>
#include <sched.h>

#include "../../daemon/audio/ring.h"

enum { MANY = 200000 };

static struct audio_ring ring;

static int set_up(void **state)
{
    (void)state;
    audio_ring_init(&ring);
    return 0;
}

/* Every field follows from the number: a torn record cannot pass. */
static struct audio_command numbered(uint32_t number)
{
    return (struct audio_command){
        .start_ns = (int64_t)number * 1000,
        .expiry_ns = (int64_t)number * 1000 + 7,
        .sequence = number,
        .action = (uint16_t)(number % 3 + 1),
        .argument = (uint16_t)(number & 0xffff),
        .gain = (float)(number & 0xff),
        .unused = ~number,
    };
}

static bool is_numbered(const struct audio_command *command, uint32_t number)
{
    struct audio_command wanted = numbered(number);

    return command->start_ns == wanted.start_ns &&
           command->expiry_ns == wanted.expiry_ns &&
           command->sequence == wanted.sequence &&
           command->action == wanted.action &&
           command->argument == wanted.argument &&
           command->gain == wanted.gain && command->unused == wanted.unused;
}

static void is_empty_at_first(void **state)
{
    struct audio_command command;

    (void)state;
    assert_false(audio_ring_peek(&ring, &command));
    assert_int_equal(audio_ring_count(&ring), 0);
}

static void gives_back_what_it_took_in_order_over_many_rounds(void **state)
{
    struct audio_command command;
    uint32_t in = 0;
    uint32_t seen = 0;

    (void)state;
    /* Steps that do not divide the size walk over every place of the end. */
    while (in < 10 * AUDIO_RING_SLOTS) {
        for (int i = 0; i < 77; i++) {
            command = numbered(in++);
            assert_true(audio_ring_push(&ring, &command));
        }
        assert_int_equal(audio_ring_count(&ring), 77);
        while (audio_ring_peek(&ring, &command)) {
            assert_true(is_numbered(&command, seen++));
            audio_ring_drop(&ring);
        }
    }
    assert_int_equal(seen, in);
}

static void refuses_the_newest_when_full(void **state)
{
    struct audio_command command;

    (void)state;
    for (uint32_t i = 0; i < AUDIO_RING_SLOTS; i++) {
        command = numbered(i);
        assert_true(audio_ring_push(&ring, &command));
    }
    command = numbered(9999);
    assert_false(audio_ring_push(&ring, &command));
    assert_true(audio_ring_peek(&ring, &command));
    assert_true(is_numbered(&command, 0));
    audio_ring_drop(&ring);
    command = numbered(AUDIO_RING_SLOTS);
    assert_true(audio_ring_push(&ring, &command));
}

static struct audio_command acting(uint16_t action, uint32_t sequence,
                                   int64_t expiry_ns)
{
    return (struct audio_command){
        .action = action, .sequence = sequence, .expiry_ns = expiry_ns};
}

static void keeps_room_for_what_ends_a_sound(void **state)
{
    struct audio_command clip = acting(AUDIO_PLAY, 1, 0);
    struct audio_command tone = acting(AUDIO_TONE, 0, 0);
    struct audio_command cut = acting(AUDIO_CUT, 0, 0);

    (void)state;
    while (audio_ring_submit(&ring, &clip))
        continue;
    assert_int_equal(audio_ring_count(&ring),
                     AUDIO_RING_SLOTS - AUDIO_RING_RESERVE);
    for (int i = 0; i < AUDIO_RING_RESERVE; i++)
        assert_true(audio_ring_submit(&ring, i % 2 == 0 ? &tone : &cut));
    assert_false(audio_ring_submit(&ring, &tone));
    assert_false(audio_ring_submit(&ring, &cut));
}

static void drops_what_is_of_no_use_to_a_new_reader(void **state)
{
    const struct audio_command all[] = {
        acting(AUDIO_CUT, 1, 0),     acting(AUDIO_PLAY, 1, 999),
        acting(AUDIO_TONE, 0, 2000), acting(AUDIO_PLAY, 2, 1000),
        acting(AUDIO_CUT, 3, 0),     acting(AUDIO_PLAY, 3, 5000),
        acting(AUDIO_TONE, 0, 0),    acting(AUDIO_PLAY, 4, 0)};
    static const uint32_t kept[] = {2, 3, 3};
    struct audio_command command;

    (void)state;
    /* Across the end of the slots. */
    atomic_store(&ring.head, AUDIO_RING_SLOTS - 3);
    atomic_store(&ring.tail, AUDIO_RING_SLOTS - 3);
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        assert_true(audio_ring_push(&ring, &all[i]));
    assert_int_equal(audio_ring_drop_stale(&ring, 1000), 2);
    assert_int_equal(audio_ring_count(&ring), 3);
    for (size_t i = 0; audio_ring_peek(&ring, &command); i++) {
        assert_int_equal(command.sequence, kept[i]);
        assert_int_not_equal(command.action, AUDIO_TONE);
        audio_ring_drop(&ring);
    }
}

static void goes_on_when_its_counts_wrap(void **state)
{
    struct audio_command command;

    (void)state;
    atomic_store(&ring.head, UINT32_MAX - 2);
    atomic_store(&ring.tail, UINT32_MAX - 2);
    for (uint32_t i = 0; i < AUDIO_RING_SLOTS; i++) {
        command = numbered(i);
        assert_true(audio_ring_push(&ring, &command));
    }
    assert_false(audio_ring_push(&ring, &command));
    for (uint32_t i = 0; i < AUDIO_RING_SLOTS; i++) {
        assert_true(audio_ring_peek(&ring, &command));
        assert_true(is_numbered(&command, i));
        audio_ring_drop(&ring);
    }
    assert_false(audio_ring_peek(&ring, &command));
}

static void *write_many(void *context)
{
    struct audio_ring *shared = context;

    for (uint32_t i = 0; i < MANY;) {
        struct audio_command command = numbered(i);

        if (audio_ring_push(shared, &command))
            i++;
        else
            (void)sched_yield();
    }
    return NULL;
}

/* What the reading thread found, for the test's own thread to judge. */
struct found {
    uint32_t read;
    uint32_t wrong;
};

static void *read_many(void *context)
{
    struct found *found = context;
    struct audio_command command;

    while (found->read < MANY) {
        if (!audio_ring_peek(&ring, &command)) {
            (void)sched_yield();
            continue;
        }
        found->wrong += is_numbered(&command, found->read) ? 0U : 1U;
        found->read++;
        audio_ring_drop(&ring);
    }
    return NULL;
}

static void carries_every_command_between_two_threads(void **state)
{
    struct found found = {0};
    pthread_t writer;
    pthread_t reader;

    (void)state;
    assert_int_equal(pthread_create(&reader, NULL, read_many, &found), 0);
    assert_int_equal(pthread_create(&writer, NULL, write_many, &ring), 0);
    assert_int_equal(pthread_join(writer, NULL), 0);
    assert_int_equal(pthread_join(reader, NULL), 0);
    assert_int_equal(found.read, MANY);
    assert_int_equal(found.wrong, 0);
    assert_int_equal(audio_ring_count(&ring), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(is_empty_at_first, set_up),
        cmocka_unit_test_setup(
            gives_back_what_it_took_in_order_over_many_rounds, set_up),
        cmocka_unit_test_setup(refuses_the_newest_when_full, set_up),
        cmocka_unit_test_setup(keeps_room_for_what_ends_a_sound, set_up),
        cmocka_unit_test_setup(drops_what_is_of_no_use_to_a_new_reader, set_up),
        cmocka_unit_test_setup(goes_on_when_its_counts_wrap, set_up),
        cmocka_unit_test_setup(carries_every_command_between_two_threads,
                               set_up),
    };

    return cmocka_run_group_tests_name("audio ring", tests, NULL, NULL) != 0;
}
