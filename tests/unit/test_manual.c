/* test_manual.c - the manual pages tell every option of the configuration,
 * with the range that the program accepts, and every event line. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "../../daemon/settings/schema.h"
#include "folder.h"
#include "manual.h"
#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "quarterturn/settings.h"

/* ---- configuration ------------------------------------------------------- */

/* A whole configuration in which an option of the section may be put in the
 * place of a line "@"; a line that sets the same option is then left out. */
struct frame {
    const char *section;
    const char *text;
    const char *file; /* else: after the first line with the section's name */
};

#define FIELD_END "\n}\n}\n}\n"
static const struct frame frames[] = {
    {"network", "network {\n@\n}\n", NULL},
    {"sound", "sound {\n@\n}\n", NULL},
    {"callout", "callout {\n@\n}\n", NULL},
    {"aircraft", NULL, "config/aircraft/club-trainer.conf"},
    {"standard", NULL, "config/standards/training.conf"},
    {"layout",
     "layout \"x\" {\nform = \"text\"\n@\npacket \"p\" {\n"
     "field \"heading\" { column = 1 unit = \"deg\" }\n}\n}\n",
     NULL},
    {"layout", "layout \"x\" {\nform = \"mavlink\"\n@\n}\n", NULL},
    {"packet",
     "layout \"x\" {\nform = \"binary\"\npacket \"p\" {\n"
     "starts_with = \"AB\"\n@\n"
     "field \"heading\" { at = 8 type = \"f32\" unit = \"deg\" }\n}\n}\n",
     NULL},
    {"field",
     "layout \"x\" {\nform = \"text\"\npacket \"p\" {\nfield \"heading\" {\n"
     "column = 1\nunit = \"deg\"\n@" FIELD_END,
     NULL},
    {"field",
     "layout \"x\" {\nform = \"binary\"\npacket \"p\" {\nfield \"heading\" {\n"
     "at = 8\ntype = \"f32\"\nunit = \"deg\"\n@" FIELD_END,
     NULL},
};

/* No option of any section accepts so much. */
#define TOO_MUCH "99999999999"

static bool sets(const char *line, const char *option)
{
    size_t length = strlen(option);

    line += strspn(line, " ");
    return strncmp(line, option, length) == 0 &&
           (line[length] == ' ' || line[length] == '=');
}

/* The frame with an option in its place. */
static void fill(const struct frame *frame, const char *option, char *out,
                 size_t size)
{
    char *owned = frame->file != NULL ? folder_read_file(frame->file, NULL)
                                      : strdup(frame->text);
    size_t used = 0;
    char *rest = NULL;

    for (char *line = strtok_r(owned, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        bool head = frame->file != NULL &&
                    strncmp(line, frame->section, strlen(frame->section)) == 0;

        assert_true(used + strlen(line) + 64 < size);
        if (strcmp(line, "@") == 0)
            line = "";
        else if (!head) {
            if (!sets(line, option))
                used += (size_t)snprintf(out + used, size - used, "%s\n", line);
            continue;
        }
        used += (size_t)snprintf(out + used, size - used,
                                 "%s\n%s = " TOO_MUCH "\n", line, option);
    }
    free(owned);
}

/* "15 to 200 kt", as the program says that it accepts.
 * Returns: false when it says no range. */
static bool ask_range(const struct folder *folder, const struct frame *frame,
                      const char *option, char out[MANUAL_WORD_SIZE])
{
    char path[FOLDER_PATH_SIZE];
    struct settings_choice choice = {.config = path};
    struct settings settings;
    char why[512] = "";
    char text[8192];
    char name[64];
    const char *range;
    size_t length;

    fill(frame, option, text, sizeof text);
    folder_write(folder, "my.conf", text, strlen(text), path);
    (void)settings_load(&choice, ".", &settings, why, sizeof why);
    (void)snprintf(name, sizeof name, ": %.40s = ", option);
    range = strstr(why, "accepted: ");
    if (strstr(why, name) == NULL || range == NULL)
        return false;
    range += strlen("accepted: ");
    if (strncmp(range, "a whole number from ", 20) == 0)
        range += 20;
    length = strlen(range);
    while (length > 0 && range[length - 1] == ' ')
        length--;
    (void)snprintf(out, MANUAL_WORD_SIZE, "%.*s", (int)length, range);
    return strchr("-0123456789", out[0]) != NULL && strstr(out, " to ") != NULL;
}

/* Returns: how many ranges the program said. */
static int check_range(const struct folder *folder, const char *section,
                       const char *option, struct manual_part item)
{
    int said = 0;

    for (size_t i = 0; i < sizeof frames / sizeof frames[0]; i++) {
        char range[MANUAL_WORD_SIZE];

        if (strcmp(frames[i].section, section) != 0 ||
            !ask_range(folder, &frames[i], option, range))
            continue;
        said++;
        if (!manual_has(item, range))
            fail_msg("quarterturn.conf.5: %s, %s: the program accepts %s",
                     section, option, range);
    }
    return said;
}

static bool knows(const cfg_opt_t *options, const char *name)
{
    for (; options->name != NULL; options++)
        if (strcmp(options->name, name) == 0)
            return true;
    return false;
}

/* Every option of a section and of those in it; and no other.
 * Returns: how many ranges were held against the program's. */
static int check_section(const struct folder *folder, const char *page,
                         const cfg_opt_t *section)
{
    char heading[32];
    char word[MANUAL_WORD_SIZE];
    struct manual_part part;
    const char *at;
    int ranges = 0;

    (void)snprintf(heading, sizeof heading, ".Ss %.20s", section->name);
    part = manual_under(page, heading);
    for (const cfg_opt_t *option = section->subopts; option->name != NULL;
         option++) {
        struct manual_part item;

        if (strcmp(option->name, SCHEMA_OPENED) == 0)
            continue;
        if (option->type == CFGT_SEC) {
            ranges += check_section(folder, page, option);
            continue;
        }
        if (!manual_item(part, "Cm", option->name, &item))
            fail_msg("quarterturn.conf.5 does not tell %s of %s", option->name,
                     section->name);
        ranges += check_range(folder, section->name, option->name, item);
    }
    at = part.begin;
    while (manual_next(part, "Cm", &at, word))
        if (!knows(section->subopts, word))
            fail_msg("quarterturn.conf.5: %s has no option %s", section->name,
                     word);
    return ranges;
}

static void every_option_is_told_with_the_range_it_accepts(void **state)
{
    char *page = manual_read("quarterturn.conf.5");
    int ranges = 0;

    for (const cfg_opt_t *section = schema_of_file(); section->name != NULL;
         section++)
        ranges += check_section(*state, page, section);
    /* The ranges of network, sound, callout, aircraft, standard and layouts;
     * fewer: the program was not understood. */
    assert_true(ranges >= 65);
    free(page);
}

static void every_unit_and_channel_is_told(void **state)
{
    char *page = manual_read("quarterturn.conf.5");
    struct manual_part whole = manual_under(page, ".Sh DESCRIPTION");

    (void)state;
    for (int i = UNIT_NONE + 1; i < UNIT_COUNT; i++)
        if (!manual_marks(whole, units_name((enum unit)i)))
            fail_msg("quarterturn.conf.5 does not tell the unit %s",
                     units_name((enum unit)i));
    whole = manual_under(page, ".Ss field");
    for (int i = 0; i < CHANNEL_COUNT; i++)
        if (!manual_marks(whole, intake_channel_name((enum intake_channel)i)))
            fail_msg("quarterturn.conf.5 does not tell the channel %s",
                     intake_channel_name((enum intake_channel)i));
    free(page);
}

/* ---- events -------------------------------------------------------------- */

static void write_every_line(FILE *file)
{
    static const struct debrief_lesson lesson = {"e", "c", "n"};
    const struct callout_call call = {
        .cue = CUE_NINETY, .text = "ninety", .again = true};
    struct debrief_grade grade = {.standard = "s", .item_count = 1};
    struct debrief_log *log;

    grade.item[0] =
        (struct debrief_item){.item = "i", .unit = "kt", .lesson = &lesson};
    assert_int_equal(debrief_log_open(file, 0, &log), 0);
    for (int i = 0; i < EVENT_KIND_COUNT; i++) {
        const struct maneuver_event event = {
            .kind = (enum maneuver_event_kind)i, .direction = 1};

        assert_int_equal(debrief_log_event(log, &event, &grade), 0);
    }
    assert_int_equal(debrief_log_call(log, &call), 0);
    assert_int_equal(debrief_log_help(log, 0, HELP_FADING, 1), 0);
    assert_int_equal(debrief_log_note(log, 0, "text"), 0);
    assert_int_equal(debrief_log_command(log, 0, "aircraft", "x"), 0);
    assert_int_equal(debrief_log_close(log), 0);
}

static void check_members(const struct manual_part page, json_t *value)
{
    const char *name;
    json_t *member;

    if (json_is_array(value))
        check_members(page, json_array_get(value, 0));
    json_object_foreach(value, name, member)
    {
        if (!manual_marks(page, name))
            fail_msg("quarterturn-events.7 does not tell the member %s", name);
        check_members(page, member);
    }
}

static void every_event_line_is_told_with_its_members(void **state)
{
    char *text = manual_read("quarterturn-events.7");
    const struct manual_part page = {text + 1, text + strlen(text)};
    FILE *file = tmpfile();
    char line[4096];
    int lines = 0;

    (void)state;
    assert_non_null(file);
    write_every_line(file);
    rewind(file);
    for (; fgets(line, sizeof line, file) != NULL; lines++) {
        json_t *object = json_loads(line, 0, NULL);
        const char *event = json_string_value(json_object_get(object, "event"));

        assert_non_null(event);
        if (!manual_marks(page, event))
            fail_msg("quarterturn-events.7 does not tell the event %s", event);
        check_members(page, object);
        json_decref(object);
    }
    assert_int_equal(lines, EVENT_KIND_COUNT + 4);
    (void)fclose(file);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        in_folder(every_option_is_told_with_the_range_it_accepts),
        cmocka_unit_test(every_unit_and_channel_is_told),
        cmocka_unit_test(every_event_line_is_told_with_its_members),
    };

    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
