/* test_settings_refusals.c - every mistake in a configuration is named with
 * its file, line and column, and with what is accepted. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "mistakes.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static void words_that_mean_nothing(void **state)
{
    static const struct mistake mistake[] = {
        {"network {\n  prot = 3\n}\n", "my.conf:2:3: ",
         "no such option 'prot'; accepted: address, port, signal_timeout"},
        {"\n\nnetwrok { }\n", "my.conf:3:1: ", "no such option 'netwrok'"},
        {"network {\n port =\n", "my.conf:3:1: ", "premature end of file"},
        {"use {\n layout = \"a\"\n\nnetwork { }\n", "my.conf:4:1: ",
         "no such option 'network'; accepted: aircraft, layout, standard, "
         "maneuver"},
        {"network port", "my.conf:1:1: ", "brace"},
        {"network { port = 3\n port = 4 }",
         "my.conf:2:2: ", "port is given twice"},
        {"network { port = 4000 }\n\nnetwork { }",
         "my.conf:3:1: ", "network is given twice"},
        {"use { }\nuse { }", "my.conf:2:1: ", "use is given twice"},
        {"layout { form = text }", "my.conf:1:1: ", "missing title"},
        {"include(\"other.conf\")",
         "my.conf:1:1: ", "no such option 'include'"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

/* The library that reads the file counts lines that hold comments wrongly. */
static void lines_are_those_of_the_file_whatever_comments_it_holds(void **state)
{
    static const struct mistake mistakes[] = {
        {"# one\n# two\n\nnetwork { # three\n port = 0\n}\n",
         "my.conf:5:2: ", "from 1 to 65535"},
        {"// one\n/* two\n * three\n */\nnetwork {\n port = 0 }",
         "my.conf:6:2: ", "from 1 to 65535"},
        {"network { /**/ signal_timeout = '1 s' /* # */\n/* } */ port = 0 }",
         "my.conf:2:9: ", "from 1 to 65535"},
        {"####\n//////\nnetwork { port = 0 } # port",
         "my.conf:3:11: ", "from 1 to 65535"},
        {"network {\n allow = {\"192.0.2.7\", # one\n  # two\n"
         "  \"nobody\" } }",
         "my.conf:4:3: ", "allow = \"nobody\""},
        /* No comments: in quotes, and within a word. */
        {"sound {\n device = \"a # \\\" // b\"\n voice = x//y\n gain = 2 }",
         "my.conf:4:2: ", "accepted: 0 to 1"},
        {"network {\n port = '#/*' }", "my.conf:2:2: ", "port = \"#/*\""},
        {"network { /* no end\n port = 4000 }\n",
         "my.conf:1:11: ", "a comment without an end"},
    };

    mistakes_expect(*state, mistakes, sizeof mistakes / sizeof mistakes[0]);
}

static void values_that_do_not_fit(void **state)
{
    static const struct mistake mistake[] = {
        {"network {\n port = 65536 }",
         "my.conf:2:2: ", "a whole number from 1 to 65535"},
        {"network { port = 0 }", "my.conf:1:11: ", "from 1 to 65535"},
        {"network { port = -1 }", "my.conf:1:11: ", "from 1 to 65535"},
        {"network { port = 4e3 }", "my.conf:1:11: ", "from 1 to 65535"},
        {"network { port = \"\" }", "my.conf:1:11: ", "from 1 to 65535"},
        {"network { port = 99999999999999999999999 }",
         "my.conf:1:11: ", "from 1 to 65535"},
        {"network {\n\n address = \"localhost\" }",
         "my.conf:3:2: ", "a numeric IPv4 or IPv6 address"},
        {"network { signal_timeout = \"2 min\" }",
         "my.conf:1:11: ", "not a unit of a time; accepted: s, ms, us"},
        {"network { signal_timeout = \"2 kt\" }",
         "my.conf:1:11: ", "not a unit of a time; accepted: s, ms, us"},
        {"network { signal_timeout = soon }",
         "my.conf:1:11: ", "no number with a unit; accepted units: s, ms, us"},
        {"network { signal_timeout = 61 }",
         "my.conf:1:11: ", "out of range; accepted: 0.1 to 60 s"},
        {"network { signal_timeout = 1e999 }",
         "my.conf:1:11: ", "out of range"},
        {"callout {\n say_ready = perhaps }", "my.conf:2:2: ", "true, false"},
        {"callout {\n\n help = much }",
         "my.conf:3:2: ", "there is: full, sparse, warnings, fading, summary"},
        {"callout {\n\n number_style = \"words\" }",
         "my.conf:3:2: ", "\"words\": accepted: digits, grouped"},
        {"sound { gain = 1.1 }", "my.conf:1:9: ", "accepted: 0 to 1"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void aircraft_that_cannot_fly(void **state)
{
    static const struct mistake mistake[] = {
        {"aircraft \"a\" {\n\n stall_speed = \"64 ft\"\n}", "my.conf:3:2: ",
         "stall_speed = \"64 ft\": not a unit of a speed; accepted: kt, mph, "
         "km/h, m/s, ft/s, ft/min"},
        {"\naircraft \"a\" {\n stall_speed = 50\n}\n", "my.conf:2:1: ",
         "aircraft \"a\" has no stall_weight, which is required"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 100 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 50 }",
         "my.conf:3:1: ", "entry_speed must be above stall_speed"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 40 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 }",
         "my.conf:2:1: ", "maneuvering_speed must be above stall_speed"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 99 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 weight = 2200 }",
         "my.conf:3:18: ", "weight must not exceed max_weight"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2200\n"
         "maneuvering_speed = 99 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 weight = 2000 }",
         "my.conf:1:33: ", "stall_weight must not exceed max_weight"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 99 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 wing_area = 170 engine_power = \"230 hp\"\n"
         "propeller = fixed cruise_speed = 140 cruise_power = 75\n"
         "cruise_altitude = 7000 climb_speed = 80\n"
         "climb_rate = 4000 }",
         "my.conf:6:1: ", "climb_rate does not go with the cruise"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 99 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 propeller = windmill }",
         "my.conf:3:18: ",
         "propeller = \"windmill\"; accepted: fixed, constant-speed"},
        {"aircraft \"a\" { stall_speed = 50 stall_weight = 2000\n"
         "maneuvering_speed = 99 max_weight = 2100 pitch_limit = 20\n"
         "entry_speed = 90 engine_power = \"230 ft\" }",
         "my.conf:3:18: ", "not a unit of a power; accepted: hp, kW"},
        {"aircraft \"a name of more than thirty-one letters\" { }",
         "my.conf:1:1: ", "a name has 1 to 31 characters"},
        {"aircraft \"a\" { }\n\n aircraft \"a\" { }",
         "my.conf:3:2: ", "duplicate title"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void standards_that_contradict_themselves(void **state)
{
    static const struct mistake mistake[] = {
        {"standard \"s\" {\n ready_time = \"3 s\"\n}", "my.conf:1:1: ",
         "standard \"s\" has no ready_bank, which is required"},
        {"\n\nstandard \"s\" { ready_time = 3 ready_bank = 5 ready_climb = "
         "300\n"
         "ready_turn = 1.5 entry_speed_band = 10 entry_excess = 2\n"
         "least_height = 1500 entry_bank = 95 }",
         "my.conf:5:21: ",
         "entry_bank = \"95\" is out of range; accepted: 10 to "
         "60 deg"},
        {"standard \"s\" { ready_time = 3 ready_bank = 5 ready_climb = 300\n"
         "ready_turn = 1.5 entry_speed_band = 10 entry_bank = 30\n"
         "bank_tolerance = 5 ball_tolerance = 0.05 slip_tolerance = 4\n"
         "pitch_tolerance = 3 advice_error = 15 level_bank = 3\n"
         "level_time = 1 heading_tolerance = 10 finish_margin = 7\n"
         "hold_band = 50 hold_time = 10 stall_hysteresis = 1\n"
         "entry_excess = 2 least_height = 1500 bank_time = 5 ball_time = 2\n"
         "pitch_rise_tolerance = 4 pitch_peak_tolerance = 15\n"
         "roll_out_begin_tolerance = 15 roll_out_tolerance = 4 least_gain = 0\n"
         "stall_band_1 = 10 stall_band_2 = 4 stall_band_3 = 7 }",
         "my.conf:1:1: ", "stall_band_3 must be below stall_band_2"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

/* Fields of a text packet between these two. */
#define TEXT "layout \"l\" { form = \"text\" packet \"p\" {\n"
#define BINARY "layout \"l\" { form = \"binary\" packet \"p\" {\n"
#define END "\n} }\n"

static void text_layouts_that_fit_no_packet(void **state)
{
    static const struct mistake mistake[] = {
        {"layout \"l\" {\n form = \"xml\" }", "my.conf:2:2: ",
         "form = \"xml\" is not known; accepted: text, binary, records, pairs, "
         "json, nmea, dis, mavlink"},
        {"\nlayout \"l\" { }",
         "my.conf:2:1: ", "layout \"l\" has no form, which is required"},
        {"layout \"l\" { form = \"text\" }",
         "my.conf:1:1: ", "has 0 packets; accepted: 1 to 8"},
        {TEXT END, "my.conf:1:28: ", "has 0 fields; accepted: 1 to 32"},
        {TEXT "field \"haeding\" { column = 1 }" END, "my.conf:2:1: ",
         "field \"haeding\" is not known; accepted: sim_time, heading, pitch"},
        {TEXT "field \"heading\" { column = 1\n unit = \"kt\" }" END,
         "my.conf:3:2: ",
         "unit = \"kt\" does not fit field \"heading\"; accepted: deg, rad, "
         "turn"},
        {TEXT "field \"heading\" { column = 1 unit = \"degrees\" }" END,
         "my.conf:2:30: ", "accepted: deg, rad, turn"},
        {TEXT "field \"heading\" { column = 1 }" END,
         "my.conf:2:1: ", "field \"heading\" has no unit, which is required"},
        {TEXT "field \"heading\" {\n unit = \"deg\" }" END,
         "my.conf:2:1: ", "field \"heading\" has no column, which is required"},
        {TEXT "field \"heading\" { column = 257 unit = \"deg\" }" END,
         "my.conf:2:19: ", "from 1 to 256"},
        {TEXT "field \"heading\" { column = 0 unit = \"deg\" }" END,
         "my.conf:2:19: ", "from 1 to 256"},
        {TEXT "field \"heading\" { column = 1 unit = \"deg\" at = 3 }" END,
         "my.conf:2:43: ", "at has no meaning in form \"text\""},
        {TEXT "field \"heading\" { column = 1 unit = \"deg\" scale = 0 }" END,
         "my.conf:2:43: ", "scale must not be 0"},
        {TEXT "field \"heading\" { column = 1 unit = \"deg\" scale = \"2 "
              "kt\" }" END,
         "my.conf:2:43: ", "accepted: a number"},
        {TEXT "field \"heading\" { column = 1 unit = \"deg\" }\n"
              "field \"heading\" { column = 2 unit = \"deg\" }" END,
         "my.conf:3:1: ", "duplicate title 'heading'"},
        {TEXT "separator = \",,\"\n" END, "my.conf:2:1: ", "accepted: one of"},
        {TEXT "separator = \"5\"\n" END, "my.conf:2:1: ", "accepted: one of"},
        {TEXT "decimal = \"dot\"" END, "my.conf:2:1: ", "point, comma"},
        {TEXT "\ndecimal = \"comma\"" END,
         "my.conf:3:1: ", "needs another separator"},
        {TEXT "starts_with = \"ATT,\"\n"
              "field \"heading\" { column = 1 unit = \"deg\" }" END,
         "my.conf:3:19: ",
         "column 1 is taken by starts_with; accepted: 2 to 256"},
        {TEXT "starts_with = \"\"" END, "my.conf:2:1: ", "1 to 32 characters"},
        {TEXT "starts_with = \"hex:4G\"" END,
         "my.conf:2:1: ", "1 to 32 characters"},
        {TEXT "starts_with = \"hex:414\"" END,
         "my.conf:2:1: ", "1 to 32 characters"},
        {TEXT "starts_with = \"123456789012345678901234567890123\"" END,
         "my.conf:2:1: ", "1 to 32 characters"},
        {TEXT
         "field \"heading\" { column = 1 unit = \"deg\" }\n }\n"
         "packet \"q\" { field \"heading\" { column = 1 unit = \"deg\" }" END,
         "my.conf:4:1: ", "packet \"q\" is never reached"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void binary_layouts_that_fit_no_packet(void **state)
{
    static const struct mistake mistake[] = {
        {BINARY "field \"pitch\" { type = f32 unit = deg }" END,
         "my.conf:2:1: ", "field \"pitch\" has no at, which is required"},
        {BINARY "field \"pitch\" { at = 0 unit = deg }" END,
         "my.conf:2:1: ", "field \"pitch\" has no type, which is required"},
        {BINARY "field \"pitch\" { at = 0 type = f16 unit = deg }" END,
         "my.conf:2:24: ",
         "accepted: i8, u8, i16, u16, i32, u32, i64, u64, f32, f64"},
        {BINARY "field \"pitch\" { column = 1 at = 0 }" END,
         "my.conf:2:17: ", "column has no meaning in form \"binary\""},
        {BINARY "field \"pitch\" { at = 65535 type = f32 unit = deg }" END,
         "my.conf:2:17: ", "from 0 to 65534"},
        {BINARY "field \"pitch\" { at = 65533 type = f32 unit = deg }" END,
         "my.conf:2:17: ", "beyond the packet's 65535"},
        {BINARY
         "size = 6\nfield \"pitch\" { at = 3 type = f32 unit = deg }" END,
         "my.conf:3:17: ", "ends at byte 7, beyond the packet's 6"},
        {BINARY "starts_with = \"AB\"\n"
                "field \"pitch\" { at = 1 type = f32 unit = deg }" END,
         "my.conf:3:17: ", "lies in starts_with"},
        {BINARY "field \"pitch\" { at = 0 type = f32 unit = deg }\n"
                "field \"bank\" { at = 3 type = u8 unit = deg }" END,
         "my.conf:3:16: ", "field \"bank\" overlaps field \"pitch\""},
        {BINARY "size = 4 min_size = 5\n"
                "field \"pitch\" { at = 0 type = u8 unit = deg }" END,
         "my.conf:1:30: ", "must fit size"},
        {BINARY "separator = \",\"" END,
         "my.conf:2:1: ", "separator has no meaning in form \"binary\""},
        {"layout \"l\" { form = binary\nbyte_order = middle }",
         "my.conf:2:1: ", "accepted: little, big"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void choices_that_do_not_exist(void **state)
{
    static const struct mistake mistake[] = {
        {"use {\n aircraft = \"zeppelin\" }", "my.conf:2:2: ",
         "no aircraft \"zeppelin\"; there is: club-trainer, two-seater"},
        {"use {\n\n layout = \"plain\" }",
         "my.conf:3:2: ", "no layout \"plain\"; there is: "},
        {"use { standard = \"easy\" }",
         "my.conf:1:7: ", "there is: commercial, training"},
        {"use { maneuver = \"loop\" }",
         "my.conf:1:7: ", "no maneuver \"loop\"; there is: chandelle"},
        {"use {\n layout = \"no/such.conf\" }",
         "my.conf:2:2: ", "there is no such file"},
    };

    mistakes_expect(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void expect_choice(const struct settings_choice *choice,
                          const char *words)
{
    struct settings settings;
    char why[512] = "";

    assert_int_equal(settings_load(choice, ".", &settings, why, sizeof why),
                     ERR_USAGE);
    if (strstr(why, words) == NULL || strchr(why, '\n') != NULL)
        fail_msg("said \"%s\", not \"%s\"", why, words);
}

static void words_of_the_command_line_that_do_not_exist(void **state)
{
    static const char hangar[] = "aircraft \"a\" { }\naircraft \"b\" { }\n";
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.aircraft = "zeppelin"};

    expect_choice(&choice, "--aircraft zeppelin: no aircraft \"zeppelin\"; "
                           "there is: club-trainer, two-seater");
    choice = (struct settings_choice){.maneuver = "loop"};
    expect_choice(&choice, "--maneuver loop: no maneuver \"loop\"; there is: "
                           "chandelle");
    choice = (struct settings_choice){.layout = "no/such"};
    expect_choice(&choice, "--layout no/such: there is no such file");
    choice = (struct settings_choice){.config = "no/such.conf"};
    expect_choice(&choice, "no/such.conf: No such file or directory");
    choice = (struct settings_choice){.config = folder->path};
    expect_choice(&choice, ": Is a directory");
    choice = (struct settings_choice){.layout = "./tests"};
    expect_choice(&choice, "./tests: Is a directory");
    /* A file of another kind, and one of several without its own name. */
    choice =
        (struct settings_choice){.aircraft = "config/layouts/plain-text.conf"};
    expect_choice(&choice, "config/layouts/plain-text.conf:1:1: no aircraft "
                           "\"plain-text\" in this file; it has: none");
    folder_write(folder, "hangar.conf", hangar, strlen(hangar), path);
    choice = (struct settings_choice){.aircraft = path};
    expect_choice(
        &choice,
        "hangar.conf:1:1: no aircraft \"hangar\" in this file; it has: "
        "a, b");
}

static void bytes_that_are_no_text(void **state)
{
    const struct folder *folder = *state;
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path};
    struct settings settings;
    uint8_t bytes[256];

    for (int i = 0; i < 256; i++)
        bytes[i] = (uint8_t)(i * 167 + 13);
    folder_write(folder, "my.conf", bytes, sizeof bytes, path);
    for (int round = 0; round < 256; round++) {
        char why[512] = "";

        bytes[round] ^= 0x5a;
        folder_write(folder, "my.conf", bytes, sizeof bytes, path);
        assert_int_equal(
            settings_load(&choice, ".", &settings, why, sizeof why), ERR_USAGE);
        assert_memory_equal(why, path, strlen(path));
    }
}

static void a_short_room_for_the_reason_is_kept(void **state)
{
    struct settings_choice choice = {.aircraft = "zeppelin"};
    struct settings settings;
    char why[512];

    (void)state;
    for (size_t size = 1; size < sizeof why; size++) {
        memset(why, 'x', sizeof why);
        assert_int_equal(settings_load(&choice, ".", &settings, why, size),
                         ERR_USAGE);
        assert_true(memchr(why, '\0', size) != NULL);
        assert_int_equal(why[size], 'x');
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(words_that_mean_nothing),
        in_folder(lines_are_those_of_the_file_whatever_comments_it_holds),
        in_folder(values_that_do_not_fit),
        in_folder(aircraft_that_cannot_fly),
        in_folder(standards_that_contradict_themselves),
        in_folder(text_layouts_that_fit_no_packet),
        in_folder(binary_layouts_that_fit_no_packet),
        in_folder(choices_that_do_not_exist),
        in_folder(words_of_the_command_line_that_do_not_exist),
        in_folder(bytes_that_are_no_text),
        cmocka_unit_test(a_short_room_for_the_reason_is_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
