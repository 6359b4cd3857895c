/* test_seeds.c - every seed of the fuzzer through what it fuzzes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "folder.h"
#include "targets.h"

/* The names of the seeds, in tests/fuzz/seeds/NAME: the number counts up. */
static void run_seeds(const char *name, size_t least,
                      void (*target)(const uint8_t *data, size_t size))
{
    size_t count = 0;

    for (;;) {
        char path[FOLDER_PATH_SIZE];
        size_t size;
        char *bytes;
        FILE *file;

        (void)snprintf(path, sizeof path, "tests/fuzz/seeds/%s/%03zu", name,
                       count);
        file = fopen(path, "rb");
        if (file == NULL)
            break;
        fclose(file);
        bytes = folder_read_file(path, &size);
        target((const uint8_t *)bytes, size);
        free(bytes);
        count++;
    }
    assert_true(count >= least);
}

static void decoders_stand_their_seeds(void **state)
{
    (void)state;
    run_seeds("decode", 40, target_decode);
}

static void the_capture_reader_stands_its_seeds(void **state)
{
    (void)state;
    run_seeds("capture", 5, target_capture);
}

static void the_configuration_reader_stands_its_seeds(void **state)
{
    (void)state;
    run_seeds("settings", 8, target_settings);
}

static void the_control_socket_stands_its_seeds(void **state)
{
    (void)state;
    run_seeds("control", 16, target_control);
}

static void the_table_of_a_voice_stands_its_seeds(void **state)
{
    (void)state;
    run_seeds("table", 8, target_table);
}

static void the_notes_of_a_recording_stand_their_seeds(void **state)
{
    (void)state;
    run_seeds("notes", 8, target_notes);
}

static void a_whole_session_stands_its_seeds(void **state)
{
    (void)state;
    run_seeds("session", 17, target_session);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decoders_stand_their_seeds),
        cmocka_unit_test(the_capture_reader_stands_its_seeds),
        cmocka_unit_test(the_configuration_reader_stands_its_seeds),
        cmocka_unit_test(the_control_socket_stands_its_seeds),
        cmocka_unit_test(the_table_of_a_voice_stands_its_seeds),
        cmocka_unit_test(the_notes_of_a_recording_stand_their_seeds),
        cmocka_unit_test(a_whole_session_stands_its_seeds),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
