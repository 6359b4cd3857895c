/* test_settings_layout.c - the words of layouts in every form of packet: what
 * is read, and what is refused with its line. */
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

static void load(const struct folder *folder, const char *text,
                 struct settings *out)
{
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path, .layout = "l"};
    char why[512] = "";

    folder_write(folder, "my.conf", text, strlen(text), path);
    if (settings_load(&choice, ".", out, why, sizeof why) != 0)
        fail_msg("%s", why);
}

static void reads_records(void **state)
{
    static struct settings settings;
    const struct intake_packet *packet = &settings.layout.packet[0];

    load(*state,
         "layout \"l\" { version = 1 form = \"records\" byte_order = \"big\"\n"
         " port = 4242\n"
         " packet \"p\" { starts_with = \"VALS\" records_at = 5\n"
         "  record_size = 36 key_type = \"i16\" checksum = \"crc16\"\n"
         "  field \"airspeed\" { key = 0x1f at = 4 type = \"f32\"\n"
         "    unit = \"kt\" missing = -999 least = 0 most = \"500 km/h\"\n"
         "    max_age = \"500 ms\" }\n"
         "  field \"heading\" { key = -2 at = 2 type = \"f64\" unit = \"deg\"\n"
         "    byte_order = \"little\" magnetic = true }\n"
         "  field \"on_ground\" { key = 3 at = 2 type = \"u32\" bit = 31 }\n"
         "} }\n",
         &settings);
    assert_int_equal(settings.layout.form, INTAKE_FORM_RECORDS);
    assert_int_equal(settings.layout.port, 4242);
    assert_int_equal(settings.port, 4242);
    assert_int_equal(packet->records_at, 5);
    assert_int_equal(packet->record_size, 36);
    assert_int_equal(packet->key_type, INTAKE_I16);
    assert_true(packet->key_big_endian);
    assert_int_equal(packet->checksum, INTAKE_CHECKSUM_CRC16);
    assert_true(packet->checksum_big_endian);
    assert_int_equal(packet->field[0].key, 31);
    assert_int_equal(packet->field[0].at, 4);
    assert_true(packet->field[0].big_endian);
    assert_true(packet->field[0].has_range);
    assert_near(packet->field[0].least, 0.0, 0.0);
    assert_near(packet->field[0].most, 500.0 / 3.6, 1e-9);
    assert_false(packet->field[0].magnetic);
    assert_int_equal(settings.layout.max_age_ns[CHANNEL_AIRSPEED], 500000000);
    assert_int_equal(settings.layout.max_age_ns[CHANNEL_HEADING], 0);
    assert_int_equal(packet->field[1].key, -2);
    assert_false(packet->field[1].big_endian);
    assert_true(packet->field[1].magnetic);
    assert_false(packet->field[1].has_range);
    assert_true(packet->field[2].has_bit);
    assert_int_equal(packet->field[2].bit, 31);
    /* Without a place, records begin behind what the packet starts with. */
    load(
        *state,
        "layout \"l\" { form = \"records\" packet \"p\" {\n"
        " starts_with = \"AB\" starts_at = 1 record_size = 5\n"
        " key_type = \"u8\" field \"pitch\" { key = 255 at = 1 type = \"f32\"\n"
        " unit = \"deg\" most = 20 } } }\n",
        &settings);
    assert_int_equal(packet->records_at, 3);
    assert_int_equal(packet->checksum, INTAKE_CHECKSUM_NONE);
    assert_false(packet->key_big_endian);
    assert_true(isinf(packet->field[0].least));
    assert_near(packet->field[0].most, units_rad(20.0), 1e-12);
    assert_int_equal(settings.port, 52180);
}

static void reads_pairs(void **state)
{
    static struct settings settings;
    const struct intake_packet *packet = &settings.layout.packet[0];

    load(*state,
         "layout \"l\" { form = \"pairs\" packet \"p\" {\n"
         " separator = \"space\" assign = \":\" decimal = \"comma\"\n"
         " checksum = \"xor\" starts_with = \"ATT\"\n"
         " field \"heading\" { name = \"h d:g\" unit = \"deg\" }\n"
         " field \"pitch\" { unit = \"deg\" optional = true } } }\n",
         &settings);
    assert_int_equal(settings.layout.form, INTAKE_FORM_PAIRS);
    assert_int_equal(packet->separator, ' ');
    assert_int_equal(packet->assign, ':');
    assert_true(packet->decimal_comma);
    assert_int_equal(packet->checksum, INTAKE_CHECKSUM_XOR);
    assert_string_equal(packet->field[0].name, "h d:g");
    /* Called like the channel when nothing else is said. */
    assert_string_equal(packet->field[1].name, "pitch");
    assert_true(packet->field[1].optional);
    load(*state,
         "layout \"l\" { form = \"pairs\" packet \"p\" {\n"
         " checksum = \"none\" field \"pitch\" { unit = \"deg\" } } }\n",
         &settings);
    assert_int_equal(packet->separator, ',');
    assert_int_equal(packet->assign, '=');
    assert_int_equal(packet->checksum, INTAKE_CHECKSUM_NONE);
}

static void reads_json(void **state)
{
    static struct settings settings;
    const struct intake_packet *packet = &settings.layout.packet[0];

    load(*state,
         "layout \"l\" { form = \"json\" packet \"p\" {\n"
         " field \"heading\" { path = \"attitude.heading\" unit = \"rad\" }\n"
         " field \"pitch\" { path = \"values.3\" unit = \"deg\" scale = -1 }\n"
         " field \"bank\" { unit = \"deg\" }\n"
         " field \"paused\" { path = \"sim.paused\" } } }\n",
         &settings);
    assert_int_equal(settings.layout.form, INTAKE_FORM_JSON);
    assert_string_equal(packet->field[0].name, "attitude.heading");
    assert_string_equal(packet->field[1].name, "values.3");
    assert_near(packet->field[1].scale, -1.0, 0.0);
    assert_string_equal(packet->field[2].name, "bank");
    assert_int_equal(packet->field[3].unit, UNIT_BOOL);
}

static void reads_standards_without_any_packet(void **state)
{
    static struct settings settings;
    struct intake_layout *layout = &settings.layout;

    load(*state, "layout \"l\" { form = \"dis\" still_air = true port = 3000 }",
         &settings);
    assert_int_equal(layout->form, INTAKE_FORM_DIS);
    assert_int_equal(layout->packet_count, 0);
    assert_true(layout->still_air);
    assert_int_equal(settings.port, 3000);
    assert_near(layout->sim_time_wrap_s, 3600.0, 0.0);
    load(*state,
         "layout \"l\" { form = \"json\" time_wrap = \"1440000 ms\"\n"
         " packet \"p\" { field \"sim_time\" { unit = \"s\" } } }",
         &settings);
    assert_near(layout->sim_time_wrap_s, 1440.0, 1e-9);
    load(*state, "layout \"l\" { form = \"mavlink\" }", &settings);
    assert_int_equal(layout->system, -1);
    load(*state,
         "layout \"l\" { form = \"mavlink\" system = 7 packet \"any\" {\n"
         " field \"bank\" { scale = -1 max_age = 2 } } }",
         &settings);
    assert_int_equal(layout->system, 7);
    assert_int_equal(layout->packet[0].field[0].channel, CHANNEL_BANK);
    assert_near(layout->packet[0].field[0].scale, -1.0, 0.0);
    assert_int_equal(layout->max_age_ns[CHANNEL_BANK], 2000000000);
    load(*state,
         "layout \"l\" { form = \"nmea\" packet \"s\" {\n"
         " field \"pitch\" { name = \"PTCH\" scale = -1 }\n"
         " field \"heading\" { magnetic = true } } }",
         &settings);
    assert_string_equal(layout->packet[0].field[0].name, "PTCH");
    assert_string_equal(layout->packet[0].field[1].name, "");
    assert_true(layout->packet[0].field[1].magnetic);
}

static void a_port_that_is_said_comes_before_the_layouts(void **state)
{
    static struct settings settings;

    load(*state,
         "network { port = 5000 }\n"
         "layout \"l\" { form = \"mavlink\" port = 4242 }",
         &settings);
    assert_int_equal(settings.port, 5000);
    load(*state,
         "network { address = \"::1\" }\n"
         "layout \"l\" { form = \"mavlink\" port = 4242 }",
         &settings);
    assert_int_equal(settings.port, 4242);
}

/* ---- refusals ----------------------------------------------------------- */

struct mistake {
    const char *form;
    const char *packet; /* NULL: the layout has none */
    const char *field;  /* of a field "heading" on line 3 */
    const char *place;  /* line and column */
    const char *words;
};

/* The layout on line 1, its packet on line 2, the field on line 3. */
static void expect_all(const struct folder *folder,
                       const struct mistake *mistake, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        char path[FOLDER_PATH_SIZE];
        char place[FOLDER_PATH_SIZE + 16];
        char text[512];
        char why[512] = "";
        struct settings_choice choice = {.config = path};
        struct settings settings;

        if (mistake[i].packet == NULL)
            (void)snprintf(text, sizeof text, "layout l { form = %s }\n",
                           mistake[i].form);
        else
            (void)snprintf(text, sizeof text,
                           "layout l { form = %s\npacket p { %s\n"
                           "field heading { %s } } }\n",
                           mistake[i].form, mistake[i].packet,
                           mistake[i].field);
        folder_write(folder, "my.conf", text, strlen(text), path);
        assert_int_equal(
            settings_load(&choice, ".", &settings, why, sizeof why), ERR_USAGE);
        (void)snprintf(place, sizeof place, "%s:%s: ", path, mistake[i].place);
        if (strncmp(why, place, strlen(place)) != 0 ||
            strstr(why, mistake[i].words) == NULL || strchr(why, '\n') != NULL)
            fail_msg("said \"%s\", not \"%s...%s\"", why, place,
                     mistake[i].words);
    }
}

#define RECORDS "key_type = u8 record_size = 9"
#define PLACE "key = 3 at = 1 type = f32 unit = deg "

static void records_that_fit_no_packet(void **state)
{
    static const struct mistake mistake[] = {
        {"records", "record_size = 9", PLACE, "2:1",
         "packet \"p\" has no key_type, which is required"},
        {"records", "key_type = u8", PLACE, "2:1", "has no record_size"},
        {"records", "key_type = f32", PLACE, "2:12",
         "accepted: i8, u8, i16, u16, i32, u32, i64, u64"},
        {"records", "key_type = u32 record_size = 4", PLACE, "2:27",
         "from 5 to"},
        {"records", RECORDS " starts_with = ABC records_at = 2", PLACE, "2:60",
         "from 3 to"},
        {"records", RECORDS " separator = \";\"", PLACE, "2:42",
         "separator has no meaning in form \"records\""},
        {"records", RECORDS " checksum = xor", PLACE, "2:42",
         "accepted: none, crc16"},
        {"records", RECORDS, "at = 1 type = f32 unit = deg", "3:1",
         "has no key"},
        {"records", RECORDS, "key = 256 at = 1 type = f32 unit = deg", "3:17",
         "a whole number from 0 to 255"},
        {"records", RECORDS, "key = -1 at = 1 type = f32 unit = deg", "3:17",
         "from 0 to 255"},
        {"records", RECORDS, "key = 0x at = 1 type = f32 unit = deg", "3:17",
         "from 0 to 255"},
        {"records", RECORDS, "key = 3 at = 0 type = f32 unit = deg", "3:25",
         "lies in the record's key, bytes 0 to 0"},
        {"records", RECORDS, "key = 3 at = 6 type = f32 unit = deg", "3:25",
         "ends at byte 10, beyond the record's 9"},
        {"records", RECORDS, PLACE "column = 2", "3:54",
         "column has no meaning"},
        {"records", RECORDS, PLACE "bit = 3", "3:54",
         "bit has no meaning in type \"f32\""},
        {"records", RECORDS, PLACE "optional = true", "3:54",
         "optional has no meaning"},
    };

    expect_all(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void pairs_and_json_that_fit_no_packet(void **state)
{
    static const struct mistake mistake[] = {
        {"pairs", "assign = \",\"", "unit = deg", "2:12", "assign = \",\""},
        {"pairs", "assign = \";\" separator = \":\"", "unit = deg", "2:12",
         "accepted: one of ="},
        {"pairs", "separator = \"=\"", "unit = deg", "2:1",
         "assign and separator must differ"},
        {"pairs", "separator = tab assign = space", "unit = deg", "2:28",
         "assign and separator must differ"},
        {"pairs", "decimal = comma", "unit = deg", "2:12",
         "needs another separator"},
        {"pairs", "checksum = crc16", "unit = deg", "2:12",
         "accepted: none, xor"},
        {"pairs", "starts_at = 3", "unit = deg", "2:12",
         "starts_at has no meaning"},
        {"pairs", "", "unit = deg name = \"\"", "3:28", "1 to 63 characters"},
        {"pairs", "", "unit = deg name = 'a\"b'", "3:28", "1 to 63 characters"},
        {"pairs", "", "unit = deg path = a", "3:28",
         "path has no meaning in form \"pairs\""},
        {"pairs", "", "name = a", "3:1", "has no unit, which is required"},
        {"json", "assign = \"=\"", "unit = deg", "2:12",
         "assign has no meaning"},
        {"json", "checksum = xor", "unit = deg", "2:12",
         "checksum has no meaning"},
        {"json", "", "unit = deg path = \"a..b\"", "3:28", "such as attitude"},
        {"json", "", "unit = deg path = \".a\"", "3:28", "such as attitude"},
        {"json", "", "unit = deg path = \"a.\"", "3:28", "such as attitude"},
        {"json", "", "unit = deg name = a", "3:28", "name has no meaning"},
        {"json", NULL, "", "1:1", "has 0 packets; accepted: 1 to 8"},
    };

    expect_all(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

static void values_of_fields_that_do_not_fit(void **state)
{
    static const struct mistake mistake[] = {
        {"json", "", "unit = deg least = \"3 kt\"", "3:28",
         "one of the units deg, rad, turn"},
        {"json", "", "unit = deg most = high", "3:28", "accepted: a number"},
        {"json", "", "unit = deg least = 4 most = 4", "3:38",
         "most must be above least"},
        {"json", "", "unit = deg max_age = 0", "3:28",
         "accepted: 0.01 to 60 s"},
        {"json", "", "unit = deg max_age = \"3 ft\"", "3:28",
         "not a unit of a time"},
        {"json", "", "unit = deg magnetic = maybe", "3:28", "true, false"},
        {"binary", "", "unit = deg at = 1 type = u8 bit = 8", "3:45",
         "from 0 to 7"},
        {"binary", "starts_at = 3", "unit = deg at = 1 type = u8", "2:12",
         "starts_at needs starts_with"},
        {"binary", "starts_with = AB starts_at = 3 size = 4", "", "2:1",
         "must fit size"},
        {"binary", "starts_with = AB starts_at = 3",
         "unit = deg at = 1 type = u32", "3:28",
         "lies in starts_with, bytes 3 to 4"},
        {"binary", "size = 6 checksum = crc16", "unit = deg at = 1 type = u32",
         "3:28", "beyond the packet's 4 before the checksum"},
        {"json still_air = true", "", "unit = deg", "1:24",
         "still_air has no meaning in form \"json\""},
        {"dis system = 3", NULL, "", "1:23", "system has no meaning"},
        {"dis time_wrap = 9", NULL, "", "1:23", "time_wrap has no meaning"},
        {"json time_wrap = \"3 ft\"", "", "unit = deg", "1:24",
         "not a unit of a time"},
        {"mavlink system = 256", NULL, "", "1:27", "from 1 to 255"},
        {"mavlink byte_order = big", NULL, "", "1:27",
         "byte_order has no meaning"},
        {"mavlink", "size = 3", "scale = -1", "2:12", "size has no meaning"},
        {"mavlink", "", "unit = deg", "3:17", "unit has no meaning"},
        {"nmea", "", "name = A unit = kt", "3:26", "accepted: deg, rad, turn"},
        {"json version = 2", "", "unit = deg", "1:24",
         "version = \"2\" is not known; accepted: 1"},
        {"json port = 0", "", "unit = deg", "1:24", "from 1 to 65535"},
        {"mavlink", "", "magnetic = true", "3:17",
         "magnetic has no meaning in form"},
        {"nmea", "", "unit = deg", "3:17", "unit needs a name"},
        {"nmea", "field bank { magnetic = true }", "", "2:25",
         "magnetic has no meaning for field \"bank\"; it belongs to: heading, "
         "track"},
    };

    expect_all(*state, mistake, sizeof mistake / sizeof mistake[0]);
}

#define FIELD "field heading { at = 8 type = u8 unit = deg }"

static void packets_that_are_never_reached(void **state)
{
    static const struct {
        const char *first;
        const char *second;
        bool reached;
    } row[] = {
        {"size = 10", "size = 11", true},
        {"size = 10", "size = 10", false},
        {"size = 10", "size = 10 starts_with = A", false},
        {"size = 10 starts_with = A", "size = 10", true},
        {"size = 10", "min_size = 10", true},
        {"min_size = 10", "size = 11", false},
        {"min_size = 10", "size = 9", true},
        {"starts_with = A", "starts_with = AB", false},
        {"starts_with = AB", "starts_with = A", true},
        {"starts_with = A", "starts_with = A starts_at = 1", true},
        {"", "starts_with = A", false},
    };

    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        char path[FOLDER_PATH_SIZE];
        char text[512];
        char why[512] = "";
        struct settings_choice choice = {.config = path};
        struct settings settings;
        int status;

        (void)snprintf(text, sizeof text,
                       "layout l { form = binary\npacket p { %s " FIELD
                       " }\npacket q { %s " FIELD " }\n}\n",
                       row[i].first, row[i].second);
        folder_write(*state, "my.conf", text, strlen(text), path);
        status = settings_load(&choice, ".", &settings, why, sizeof why);
        if (row[i].reached != (status == 0) ||
            (status != 0 && strstr(why, ":3:1: packet \"q\" is never") == NULL))
            fail_msg("\"%s\" before \"%s\": %s", row[i].first, row[i].second,
                     why);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(reads_records),
        in_folder(reads_pairs),
        in_folder(reads_json),
        in_folder(reads_standards_without_any_packet),
        in_folder(a_port_that_is_said_comes_before_the_layouts),
        in_folder(records_that_fit_no_packet),
        in_folder(pairs_and_json_that_fit_no_packet),
        in_folder(values_of_fields_that_do_not_fit),
        in_folder(packets_that_are_never_reached),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
