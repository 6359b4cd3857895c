/* test_settings.c - configuration: what is read, what is chosen, what stands
 * when nothing is said. What is refused: test_settings_refusals.c. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "near.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

static void load(const struct settings_choice *choice, struct settings *out)
{
    char why[512] = "";

    if (settings_load(choice, ".", out, why, sizeof why) != 0)
        fail_msg("%s", why);
    assert_string_equal(why, "");
}

static void load_text(const struct folder *folder, const char *text,
                      struct settings *out)
{
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path};

    folder_write(folder, "my.conf", text, strlen(text), path);
    load(&choice, out);
}

/* The figures are those that the shipped files say of themselves. */
static void stands_on_its_own(void **state)
{
    struct settings_choice choice = {0};
    struct settings settings;

    (void)state;
    load(&choice, &settings);
    assert_string_equal(settings.aircraft.name, "club-trainer");
    assert_near(units_kt(settings.aircraft.stall_speed_mps), 55.3, 1e-9);
    assert_near(settings.aircraft.stall_weight_kg, 2459 * 0.45359237, 1e-9);
    assert_near(settings.aircraft.weight_kg, 2459 * 0.45359237, 1e-9);
    assert_near(units_kt(settings.aircraft.maneuvering_speed_mps), 107.9, 1e-9);
    assert_near(settings.aircraft.max_weight_kg, 2550 * 0.45359237, 1e-9);
    assert_near(units_kt(settings.aircraft.entry_speed_mps), 105.0, 1e-9);
    assert_near(units_deg(settings.aircraft.pitch_limit_rad), 20.0, 1e-9);
    assert_true(isnan(settings.aircraft.stall_angle_of_attack_rad));
    assert_string_equal(settings.layout.name, "plain-text");
    assert_int_equal(settings.layout.form, INTAKE_FORM_TEXT);
    assert_int_equal(settings.layout.packet[0].field_count, 13);
    assert_string_equal(settings.standard.name, "training");
    assert_int_equal(settings.maneuver, MANEUVER_CHANDELLE);
    assert_string_equal(settings.address, "127.0.0.1");
    assert_int_equal(settings.port, 52180);
    assert_int_equal(settings.signal_timeout_ns, UNITS_NS_PER_S);
    assert_string_equal(settings.audio.voice_folder, "./sounds/voice");
    assert_string_equal(settings.audio.device, "");
    assert_int_equal(settings.audio.buffer_frames, 448);
    assert_near(settings.audio.latency_s, 0.02, 1e-12);
    assert_near(settings.audio.gain, 1.0, 1e-12);
    assert_int_equal(settings.callout.commit_lead_ns, 120000000);
    assert_int_equal(settings.callout.spacing_ns, 500000000);
    assert_int_equal(settings.callout.repeat_ns, 3000000000);
    assert_int_equal(settings.callout.clip_gap_ns, 40000000);
    assert_false(settings.callout.say_ready);
    assert_int_equal(settings.callout.help, HELP_FULL);
    assert_int_equal(settings.callout.numbers, NUMBERS_DIGITS);
}

static void the_command_line_chooses_the_help_over_the_file(void **state)
{
    char path[FOLDER_PATH_SIZE];
    static const char text[] = "callout { help = \"fading\" }";
    struct settings_choice choice = {.config = path};
    struct settings settings;
    char why[512] = "";

    folder_write(*state, "my.conf", text, strlen(text), path);
    load(&choice, &settings);
    assert_int_equal(settings.callout.help, HELP_FADING);
    choice.help = "summary";
    load(&choice, &settings);
    assert_int_equal(settings.callout.help, HELP_SUMMARY);
    choice.help = "much";
    assert_int_equal(settings_load(&choice, ".", &settings, why, sizeof why),
                     ERR_USAGE);
    assert_string_equal(why, "--help-level much: no amount of help \"much\"; "
                             "there is: full, sparse, warnings, fading, "
                             "summary");
}

/* Source: FAA-S-ACS-7B, Area V, Task C (chandelle): about 30 degrees of bank;
 * 180-degree point within 10 degrees. The others are this project's. */
static void both_standards_carry_the_published_numbers(void **state)
{
    static const char *const name[] = {"training", "commercial"};

    (void)state;
    for (int i = 0; i < 2; i++) {
        struct settings_choice choice = {.standard = name[i]};
        struct settings settings;

        load(&choice, &settings);
        assert_string_equal(settings.standard.name, name[i]);
        assert_near(units_deg(settings.standard.entry_bank_rad), 30.0, 1e-9);
        assert_near(units_deg(settings.standard.heading_tolerance_rad), 10.0,
                    1e-9);
        assert_near(units_ft(settings.standard.hold_band_m), 50.0, 1e-9);
        assert_near(units_kt(settings.standard.finish_margin_mps),
                    i == 0 ? 7.0 : 5.0, 1e-9);
        assert_near(units_kt(settings.standard.stall_band_mps[0]), 10.0, 1e-9);
        assert_near(units_kt(settings.standard.stall_band_mps[2]), 4.0, 1e-9);
    }
}

/* What the shipped file says of the defaults is true. */
static void the_shipped_file_changes_no_default(void **state)
{
    struct settings_choice choice = {0};
    struct settings shipped;
    struct settings bare;

    load(&choice, &shipped);
    load_text(*state, "# nothing said\n", &bare);
    assert_memory_equal(&shipped.standard, &bare.standard,
                        sizeof bare.standard);
    assert_memory_equal(&shipped.layout, &bare.layout, sizeof bare.layout);
    assert_memory_equal(&shipped.callout, &bare.callout, sizeof bare.callout);
    assert_string_equal(shipped.aircraft.name, bare.aircraft.name);
    assert_string_equal(shipped.audio.voice_folder, bare.audio.voice_folder);
    assert_int_equal(shipped.audio.buffer_frames, bare.audio.buffer_frames);
    assert_near(shipped.audio.latency_s, bare.audio.latency_s, 1e-12);
    assert_near(shipped.audio.gain, bare.audio.gain, 1e-12);
    assert_near(shipped.audio.calibration_s, bare.audio.calibration_s, 1e-12);
    assert_string_equal(shipped.address, bare.address);
    assert_int_equal(shipped.port, bare.port);
    assert_int_equal(shipped.signal_timeout_ns, bare.signal_timeout_ns);
}

static void every_shipped_file_loads(void **state)
{
    static const struct settings_choice choice[] = {
        {.aircraft = "club-trainer"},
        {.aircraft = "two-seater"},
        {.layout = "plain-text"},
        {.layout = "plain-binary"},
        {.layout = "keyed-records"},
        {.layout = "name-value"},
        {.layout = "json-object"},
        {.standard = "training"},
        {.standard = "commercial"},
        {.aircraft = "config/aircraft/two-seater.conf",
         .layout = "config/layouts/plain-binary.conf",
         .standard = "config/standards/commercial.conf",
         .maneuver = "chandelle"},
    };
    struct settings settings;

    (void)state;
    for (size_t i = 0; i < sizeof choice / sizeof choice[0]; i++)
        load(&choice[i], &settings);
    assert_string_equal(settings.aircraft.name, "two-seater");
    assert_int_equal(settings.layout.form, INTAKE_FORM_BINARY);
    assert_string_equal(settings.standard.name, "commercial");
}

static void reads_what_surrounds_a_flight(void **state)
{
    struct settings settings;

    load_text(*state,
              "network { address = \"::1\" port = 4000\n"
              "          signal_timeout = \"2500 ms\" }\n"
              "sound { voice = \"other\" device = \"usb\" buffer = 512\n"
              "        latency = 0.05 calibration = \"-12 ms\"\n"
              "        gain = \"80 percent\" }\n"
              "callout { lead = \"200 ms\" spacing = 1 repeat = 5\n"
              "          gap = \"0 s\" say_ready = yes\n"
              "          number_style = \"grouped\" }\n",
              &settings);
    assert_string_equal(settings.address, "::1");
    assert_int_equal(settings.port, 4000);
    assert_int_equal(settings.signal_timeout_ns, 2500000000);
    assert_string_equal(settings.audio.voice_folder, "./sounds/other");
    assert_string_equal(settings.audio.device, "usb");
    assert_int_equal(settings.audio.buffer_frames, 512);
    assert_near(settings.audio.latency_s, 0.05, 1e-12);
    assert_near(settings.audio.calibration_s, -0.012, 1e-12);
    assert_near(settings.audio.gain, 0.8, 1e-12);
    assert_int_equal(settings.callout.commit_lead_ns, 200000000);
    assert_int_equal(settings.callout.spacing_ns, 1000000000);
    assert_int_equal(settings.callout.repeat_ns, 5000000000);
    assert_int_equal(settings.callout.clip_gap_ns, 0);
    assert_true(settings.callout.say_ready);
    assert_int_equal(settings.callout.numbers, NUMBERS_GROUPED);
}

static const char two_layouts[] =
    "layout \"one\" { form = \"text\" packet \"p\" {\n"
    "    separator = \"tab\" decimal = \"comma\" min_size = 8\n"
    "    field \"heading\" { column = 1 unit = \"rad\" }\n"
    "    field \"on_ground\" { column = 256 optional = true }\n"
    "    field \"throttle\" { column = 3 unit = \"percent\" }\n"
    "} }\n"
    "layout \"two\" { form = \"binary\" byte_order = \"big\"\n"
    "  packet \"a\" { size = 20 starts_with = \"hex:41 54 0A\"\n"
    "    field \"heading\" { at = 3 type = \"f32\" unit = \"turn\" }\n"
    "    field \"bank\" { at = 12 type = \"i16\" unit = \"deg\"\n"
    "                   scale = -0.01 offset = 1.5 missing = -32768\n"
    "                   byte_order = \"little\" }\n"
    "  }\n"
    "  packet \"b\" { starts_with = \"SPD\"\n"
    "    field \"airspeed\" { at = 4 type = \"u8\" unit = \"km/h\" }\n"
    "  }\n"
    "}\n";

static void reads_layouts(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path, .layout = "one"};
    const struct intake_packet *packet;
    struct settings settings;

    folder_write(*state, "my.conf", two_layouts, strlen(two_layouts), path);
    load(&choice, &settings);
    packet = &settings.layout.packet[0];
    assert_int_equal(settings.layout.packet_count, 1);
    assert_int_equal(packet->separator, '\t');
    assert_true(packet->decimal_comma);
    assert_int_equal(packet->min_size, 8);
    assert_int_equal(packet->field[1].channel, CHANNEL_ON_GROUND);
    assert_int_equal(packet->field[1].column, 256);
    assert_int_equal(packet->field[1].unit, UNIT_BOOL);
    assert_true(packet->field[1].optional);
    assert_false(packet->field[0].optional);
    assert_int_equal(packet->field[2].unit, UNIT_PERCENT);
    choice.layout = "two";
    load(&choice, &settings);
    packet = &settings.layout.packet[0];
    assert_int_equal(settings.layout.packet_count, 2);
    assert_int_equal(packet->size, 20);
    assert_int_equal(packet->starts_with_length, 3);
    assert_memory_equal(packet->starts_with, "AT\n", 3);
    assert_int_equal(packet->field[0].type, INTAKE_F32);
    assert_true(packet->field[0].big_endian);
    assert_false(packet->field[0].has_missing);
    assert_near(packet->field[0].scale, 1.0, 0.0);
    assert_int_equal(packet->field[1].at, 12);
    assert_false(packet->field[1].big_endian);
    assert_near(packet->field[1].scale, -0.01, 0.0);
    assert_near(packet->field[1].offset, 1.5, 0.0);
    assert_true(packet->field[1].has_missing);
    assert_near(packet->field[1].missing, -32768.0, 0.0);
    assert_memory_equal(settings.layout.packet[1].starts_with, "SPD", 3);
}

static void a_section_here_comes_before_a_file_there(void **state)
{
    struct settings settings;

    load_text(*state,
              "use { aircraft = \"club-trainer\" }\n"
              "aircraft \"club-trainer\" { stall_speed = \"64 mph\"\n"
              "  stall_weight = \"1000 kg\" maneuvering_speed = 110\n"
              "  max_weight = 2600 entry_speed = \"180 km/h\"\n"
              "  pitch_limit = \"0.3 rad\" stall_angle_of_attack = 16 }\n",
              &settings);
    /* Source: NIST Special Publication 811 (2008), Appendix B.8: statute mile
     * 1609.344 m. */
    assert_near(settings.aircraft.stall_speed_mps, 64 * 1609.344 / 3600.0,
                1e-9);
    assert_near(settings.aircraft.weight_kg, 1000.0, 1e-9);
    assert_near(settings.aircraft.entry_speed_mps, 50.0, 1e-9);
    assert_near(settings.aircraft.pitch_limit_rad, 0.3, 1e-9);
    assert_near(units_deg(settings.aircraft.stall_angle_of_attack_rad), 16.0,
                1e-9);
}

static void the_command_line_comes_before_the_file(void **state)
{
    char path[FOLDER_PATH_SIZE];
    static const char text[] = "use { layout = \"plain-binary\"\n"
                               "standard = \"commercial\" }\n";
    struct settings_choice choice = {.config = path, .layout = "plain-text"};
    struct settings settings;

    folder_write(*state, "my.conf", text, strlen(text), path);
    load(&choice, &settings);
    assert_string_equal(settings.layout.name, "plain-text");
    assert_string_equal(settings.standard.name, "commercial");
}

static void a_file_named_in_a_file_lies_beside_it(void **state)
{
    char path[FOLDER_PATH_SIZE];
    struct settings settings;

    folder_write(*state, "two.conf", two_layouts, strlen(two_layouts), path);
    /* It holds two: the one that is called like the file. */
    load_text(*state, "use { layout = \"two.conf\" }\n", &settings);
    assert_string_equal(settings.layout.name, "two");
}

static void a_voice_may_lie_anywhere(void **state)
{
    const struct folder *folder = *state;
    char expected[FOLDER_PATH_SIZE];
    char text[FOLDER_PATH_SIZE + 32];
    struct settings settings;

    load_text(folder, "sound { voice = \"mine/deep\" }\n", &settings);
    assert_string_equal(settings.audio.voice_folder,
                        folder_path(folder, "mine/deep", expected));
    (void)snprintf(text, sizeof text, "sound { voice = \"%s\" }\n", expected);
    load_text(folder, text, &settings);
    assert_string_equal(settings.audio.voice_folder, expected);
}

static void what_a_debrief_writes_lies_beside_the_configuration(void **state)
{
    const struct folder *folder = *state;
    char expected[FOLDER_PATH_SIZE];
    char text[FOLDER_PATH_SIZE + 32];
    struct settings settings;

    load_text(folder, "debrief { pages = \"p\" logbook = \"l.csv\" }\n",
              &settings);
    assert_string_equal(settings.pages_folder,
                        folder_path(folder, "p", expected));
    assert_string_equal(settings.logbook,
                        folder_path(folder, "l.csv", expected));
    (void)snprintf(text, sizeof text, "debrief { logbook = \"%s\" }\n",
                   expected);
    load_text(folder, text, &settings);
    assert_string_equal(settings.logbook, expected);
    assert_string_equal(settings.pages_folder, "");
    load_text(folder, "debrief { pages = \"\" logbook = \"\" }\n", &settings);
    assert_string_equal(settings.logbook, "");
    assert_string_equal(settings.pages_folder, "");
}

static void reads_quantities(void **state)
{
    /* Source of the factors: NIST Special Publication 811 (2008), Appendix
     * B.8. */
    static const struct {
        const char *text;
        enum unit bare;
        double value;
    } row[] = {
        {"64 mph", UNIT_KT, 64 * 0.44704},
        {"55.3 kt", UNIT_M_PER_S, 55.3 * 1852.0 / 3600.0},
        {"100", UNIT_KM_PER_H, 100.0 / 3.6},
        {"64mph", UNIT_KT, 64 * 0.44704},
        {"  1.5e2  ft ", UNIT_M, 45.72},
        {"-300 ft/min", UNIT_M_PER_S, -1.524},
        {"180 deg", UNIT_RAD, 3.14159265358979323846},
        {"0.3 s", UNIT_S, 0.3},
        {"20 ms", UNIT_S, 0.02},
        {".5", UNIT_S, 0.5},
        {"+3.", UNIT_S, 3.0},
        {"2459 lb", UNIT_KG, 2459 * 0.45359237},
        {"80 percent", UNIT_NONE, 0.8},
        {"59 degF", UNIT_DEG_C, 288.15},
        {"29.92 inHg", UNIT_HPA, 29.92 * 3386.389},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        double value = NAN;

        assert_int_equal(
            settings_parse_quantity(row[i].text, row[i].bare, &value), 0);
        assert_near(value, row[i].value, 1e-9 * (1.0 + fabs(row[i].value)));
    }
}

static void refuses_what_is_no_quantity(void **state)
{
    static const struct {
        const char *text;
        int status;
    } row[] = {
        {"", ERR_FORMAT},          {"kt", ERR_FORMAT},
        {"fast", ERR_FORMAT},      {"nan kt", ERR_FORMAT},
        {"inf", ERR_FORMAT},       {"- 5 kt", ERR_FORMAT},
        {"1,5 kt", ERR_FORMAT},    {"1.5.2 kt", ERR_FORMAT},
        {"5 5 kt", ERR_FORMAT},    {"0x10 kt", ERR_ABSENT},
        {"5 knots", ERR_ABSENT},   {"5 KT", ERR_ABSENT},
        {"5 kt fast", ERR_ABSENT}, {"5 ft", ERR_USAGE},
        {"5 deg", ERR_USAGE},      {"5 percent", ERR_USAGE},
    };
    double value = 42.0;

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++)
        assert_int_equal(settings_parse_quantity(row[i].text, UNIT_KT, &value),
                         row[i].status);
    assert_near(value, 42.0, 0.0);
}

static void finds_its_data_beside_the_build_folder(void **state)
{
    const struct folder *folder = *state;
    char executable[FOLDER_PATH_SIZE];
    char out[SETTINGS_PATH_SIZE];
    char tiny[2];

    assert_int_equal(settings_find_data("build/quarterturn", out, sizeof out),
                     0);
    assert_string_equal(out, ".");
    assert_int_equal(settings_find_data("./quarterturn", out, sizeof out) == 0,
                     0 != 0);
    assert_int_equal(
        settings_find_data("./tests/../build/quarterturn", out, sizeof out), 0);
    assert_string_equal(out, "./tests/..");
    assert_int_equal(
        settings_find_data("build/../quarterturn", out, sizeof out) == 0,
        0 != 0);
    folder_path(folder, "bin/quarterturn", executable);
    assert_int_equal(settings_find_data(executable, out, sizeof out),
                     ERR_ABSENT);
    assert_int_equal(settings_find_data("build/quarterturn", tiny, 1),
                     ERR_ABSENT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(stands_on_its_own),
        in_folder(the_command_line_chooses_the_help_over_the_file),
        cmocka_unit_test(both_standards_carry_the_published_numbers),
        in_folder(the_shipped_file_changes_no_default),
        cmocka_unit_test(every_shipped_file_loads),
        in_folder(reads_what_surrounds_a_flight),
        in_folder(reads_layouts),
        in_folder(a_section_here_comes_before_a_file_there),
        in_folder(the_command_line_comes_before_the_file),
        in_folder(a_file_named_in_a_file_lies_beside_it),
        in_folder(a_voice_may_lie_anywhere),
        in_folder(what_a_debrief_writes_lies_beside_the_configuration),
        cmocka_unit_test(reads_quantities),
        cmocka_unit_test(refuses_what_is_no_quantity),
        in_folder(finds_its_data_beside_the_build_folder),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
