/* test_settings_places.c - where configuration is looked for. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "folder.h"
#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static void write_file(const struct folder *folder, const char *name,
                       const char *text)
{
    char path[FOLDER_PATH_SIZE];

    folder_write(folder, name, text, strlen(text), path);
}

static void make_below(const struct folder *folder, const char *name)
{
    char path[FOLDER_PATH_SIZE];

    assert_int_equal(mkdir(folder_path(folder, name, path), 0700), 0);
}

static int load(const struct folder *folder, const char *aircraft,
                struct settings *out, char why[512])
{
    const struct settings_choice choice = {.own_folder = folder->path,
                                           .aircraft = aircraft};

    return settings_load(&choice, ".", out, why, 512);
}

static void an_own_configuration_goes_before_the_shipped_one(void **state)
{
    const struct folder *folder = *state;
    struct settings settings;
    char why[512];

    assert_int_equal(load(folder, NULL, &settings, why), 0);
    assert_int_equal(settings.port, 52180);
    write_file(folder, "quarterturn.conf", "network { port = 4001 }\n");
    assert_int_equal(load(folder, NULL, &settings, why), 0);
    assert_int_equal(settings.port, 4001);
    assert_string_equal(settings.aircraft.name, "club-trainer");
}

static void an_own_file_goes_before_a_shipped_one_of_the_name(void **state)
{
    static const char text[] =
        "aircraft \"two-seater\" { stall_speed = 41 stall_weight = 1500\n"
        "maneuvering_speed = 90 max_weight = 1600 entry_speed = 85\n"
        "pitch_limit = 15 }\n";
    const struct folder *folder = *state;
    struct settings settings;
    char why[512];

    assert_int_equal(load(folder, "two-seater", &settings, why), 0);
    assert_near(units_kt(settings.aircraft.stall_speed_mps), 47.0, 1e-9);
    make_below(folder, "aircraft");
    write_file(folder, "aircraft/two-seater.conf", text);
    assert_int_equal(load(folder, "two-seater", &settings, why), 0);
    assert_near(units_kt(settings.aircraft.stall_speed_mps), 41.0, 1e-9);
    assert_int_equal(load(folder, "club-trainer", &settings, why), 0);
}

static void a_name_that_is_nowhere_lists_both_folders(void **state)
{
    const struct folder *folder = *state;
    struct settings settings;
    char why[512];

    make_below(folder, "aircraft");
    write_file(folder, "aircraft/kite.conf", "\n");
    assert_int_equal(load(folder, "zeppelin", &settings, why), ERR_USAGE);
    assert_non_null(strstr(why, "kite"));
    assert_non_null(strstr(why, "club-trainer"));
}

static void a_mistake_in_an_own_file_is_told_with_its_place(void **state)
{
    const struct folder *folder = *state;
    struct settings settings;
    char why[512];

    write_file(folder, "quarterturn.conf", "\nnetwork { port = 99999 }\n");
    assert_int_equal(load(folder, NULL, &settings, why), ERR_USAGE);
    assert_non_null(strstr(why, "quarterturn.conf:2:11: "));
}

/* XDG Base Directory Specification 0.8: $XDG_CONFIG_HOME, else
 * $HOME/.config; a relative path is to be ignored. */
static void finds_the_own_folder_as_the_specification_says(void **state)
{
    char path[SETTINGS_PATH_SIZE];

    (void)state;
    assert_int_equal(setenv("HOME", "/home", 1), 0);
    assert_int_equal(setenv("XDG_CONFIG_HOME", "/etc/own", 1), 0);
    assert_int_equal(settings_find_own(path, sizeof path), 0);
    assert_string_equal(path, "/etc/own/quarterturn");
    assert_int_equal(setenv("XDG_CONFIG_HOME", "own", 1), 0);
    assert_int_equal(settings_find_own(path, sizeof path), 0);
    assert_string_equal(path, "/home/.config/quarterturn");
    assert_int_equal(unsetenv("XDG_CONFIG_HOME"), 0);
    assert_int_equal(settings_find_own(path, sizeof path), 0);
    assert_string_equal(path, "/home/.config/quarterturn");
    assert_int_equal(settings_find_own(path, 8), ERR_ABSENT);
    assert_int_equal(unsetenv("HOME"), 0);
    assert_int_equal(settings_find_own(path, sizeof path), ERR_ABSENT);
}

static void finds_the_data_beside_an_installed_program(void **state)
{
    const struct folder *folder = *state;
    char program[FOLDER_PATH_SIZE + 32];
    char path[SETTINGS_PATH_SIZE];
    char expected[FOLDER_PATH_SIZE + 32];

    make_below(folder, "share");
    make_below(folder, "share/quarterturn");
    make_below(folder, "share/quarterturn/config");
    write_file(folder, "share/quarterturn/config/quarterturn.conf", "\n");
    (void)snprintf(program, sizeof program, "%s/bin/quarterturn", folder->path);
    (void)snprintf(expected, sizeof expected, "%s/share/quarterturn",
                   folder->path);
    assert_int_equal(settings_find_data(program, path, sizeof path), 0);
    assert_string_equal(path, expected);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(an_own_configuration_goes_before_the_shipped_one),
        in_folder(an_own_file_goes_before_a_shipped_one_of_the_name),
        in_folder(a_name_that_is_nowhere_lists_both_folders),
        in_folder(a_mistake_in_an_own_file_is_told_with_its_place),
        cmocka_unit_test(finds_the_own_folder_as_the_specification_says),
        in_folder(finds_the_data_beside_an_installed_program),
    };

    return cmocka_run_group_tests_name("places of configuration", tests, NULL,
                                       NULL) != 0;
}
