/* schema.c - every section and option that a configuration file may hold. */
#include "schema.h"

#include <stdlib.h>
#include <string.h>

#include "reader.h"

enum {
    MOST_OPTIONS = 40,
    FLAG_GIVEN = 1 << 24 /* of an option; a bit that libConfuse leaves alone */
};

#define TITLED (CFGF_MULTI | CFGF_TITLE | CFGF_NO_TITLE_DUPES)

static const char *const use_names[] = {"aircraft", "layout", "standard",
                                        "maneuver", NULL};

static const char *const network_names[] = {"address", "port", "signal_timeout",
                                            "interface", NULL};

/* Options that hold one value or several in braces. */
static const char *const network_lists[] = {"allow", "group", NULL};

static const char *const sound_names[] = {"voice",   "device",      "buffer",
                                          "latency", "calibration", "gain",
                                          "rest",    NULL};

static const char *const callout_names[] = {
    "lead",      "spacing", "repeat",       "gap",
    "say_ready", "help",    "number_style", NULL};

static const char *const debrief_names[] = {"pages", "logbook", NULL};

static const char *const aircraft_names[] = {"stall_speed",
                                             "stall_weight",
                                             "weight",
                                             "maneuvering_speed",
                                             "max_weight",
                                             "entry_speed",
                                             "pitch_limit",
                                             "stall_angle_of_attack",
                                             "wing_area",
                                             "wing_span",
                                             "engine_power",
                                             "propeller",
                                             "cruise_speed",
                                             "propeller_diameter",
                                             "cruise_power",
                                             "cruise_altitude",
                                             "climb_rate",
                                             "climb_speed",
                                             NULL};

static const char *const standard_names[] = {"ready_time",
                                             "ready_bank",
                                             "ready_climb",
                                             "ready_turn",
                                             "entry_speed_band",
                                             "entry_bank",
                                             "bank_tolerance",
                                             "ball_tolerance",
                                             "slip_tolerance",
                                             "pitch_tolerance",
                                             "advice_error",
                                             "level_bank",
                                             "level_time",
                                             "heading_tolerance",
                                             "finish_margin",
                                             "hold_band",
                                             "hold_time",
                                             "stall_band_1",
                                             "stall_band_2",
                                             "stall_band_3",
                                             "stall_hysteresis",
                                             "entry_excess",
                                             "least_height",
                                             "bank_time",
                                             "ball_time",
                                             "pitch_rise_tolerance",
                                             "pitch_peak_tolerance",
                                             "roll_out_begin_tolerance",
                                             "roll_out_tolerance",
                                             "least_gain",
                                             NULL};

static const char *const field_names[] = {
    "column", "at",   "type",     "bit",      "byte_order", "key",
    "name",   "path", "unit",     "scale",    "offset",     "missing",
    "least",  "most", "optional", "magnetic", "max_age",    NULL};

static const char *const packet_names[] = {
    "size",   "min_size",   "starts_with", "starts_at", "separator", "decimal",
    "assign", "records_at", "record_size", "key_type",  "checksum",  NULL};

static const char *const layout_names[] = {
    "form",      "version", "byte_order", "port",
    "still_air", "system",  "time_wrap",  NULL};

static cfg_opt_t use_options[MOST_OPTIONS];
static cfg_opt_t network_options[MOST_OPTIONS];
static cfg_opt_t sound_options[MOST_OPTIONS];
static cfg_opt_t callout_options[MOST_OPTIONS];
static cfg_opt_t debrief_options[MOST_OPTIONS];
static cfg_opt_t aircraft_options[MOST_OPTIONS];
static cfg_opt_t standard_options[MOST_OPTIONS];
static cfg_opt_t field_options[MOST_OPTIONS];
static cfg_opt_t packet_options[MOST_OPTIONS];
static cfg_opt_t layout_options[MOST_OPTIONS];

/* Sections without a title may stand once; they are declared as if many
 * might, so that a second one is an error and not a silent replacement. */
static cfg_opt_t file_options[] = {
    CFG_SEC("use", use_options, CFGF_MULTI),
    CFG_SEC("network", network_options, CFGF_MULTI),
    CFG_SEC("sound", sound_options, CFGF_MULTI),
    CFG_SEC("callout", callout_options, CFGF_MULTI),
    CFG_SEC("debrief", debrief_options, CFGF_MULTI),
    CFG_SEC("aircraft", aircraft_options, TITLED),
    CFG_SEC("layout", layout_options, TITLED),
    CFG_SEC("standard", standard_options, TITLED),
    CFG_END()};

/* The place of what libConfuse reports just now. */
static struct place find_place(const cfg_t *section, const cfg_opt_t *option)
{
    bool opened = strcmp(option->name, SCHEMA_OPENED) == 0;

    return places_next(opened ? section->name : option->name, section->line);
}

static int keep_item_at(struct place at, const char *text, void *result)
{
    size_t length = strlen(text);
    struct reader_value *value = malloc(sizeof *value + length + 1);

    if (value == NULL)
        return -1;
    value->at = at;
    memcpy(value->text, text, length + 1);
    *(void **)result = value;
    return 0;
}

static int keep_item(cfg_t *section, cfg_opt_t *option, const char *text,
                     void *result)
{
    return keep_item_at(find_place(section, option), text, result);
}

/* Every option is kept as its text together with its place: libConfuse itself
 * forgets it, and messages about a value need it. */
static int keep_value(cfg_t *section, cfg_opt_t *option, const char *text,
                      void *result)
{
    /* libConfuse lets the last one win; two values are a mistake. */
    if ((option->flags & FLAG_GIVEN) != 0) {
        cfg_error(section, "%s is given twice", option->name);
        return -1;
    }
    option->flags |= FLAG_GIVEN;
    return keep_item_at(find_place(section, option), text, result);
}

/* Returns: the place behind the last option, where a section may follow. */
static cfg_opt_t *declare(cfg_opt_t *options, const char *const *names)
{
    static const cfg_opt_t value =
        CFG_PTR_CB(NULL, NULL, CFGF_NODEFAULT, keep_value, free);
    static const cfg_opt_t end = CFG_END();

    /* A default is parsed when its section is opened, so this option, whose
     * name nobody can write, gets the place of the section's name. */
    *options = value;
    options->name = SCHEMA_OPENED;
    options->flags = CFGF_NONE;
    options->def.parsed = "here";
    options++;
    for (; *names != NULL; names++, options++) {
        *options = value;
        options->name = *names;
    }
    options[0] = end;
    options[1] = end;
    return options;
}

static void declare_lists(cfg_opt_t *options, const char *const *names)
{
    static const cfg_opt_t list =
        CFG_PTR_CB(NULL, NULL, CFGF_LIST | CFGF_NODEFAULT, keep_item, free);
    static const cfg_opt_t end = CFG_END();

    for (; *names != NULL; names++, options++) {
        *options = list;
        options->name = *names;
    }
    *options = end;
}

cfg_opt_t *schema_of_file(void)
{
    static const cfg_opt_t fields = CFG_SEC("field", field_options, TITLED);
    static const cfg_opt_t packets = CFG_SEC("packet", packet_options, TITLED);

    (void)declare(use_options, use_names);
    declare_lists(declare(network_options, network_names), network_lists);
    (void)declare(sound_options, sound_names);
    (void)declare(callout_options, callout_names);
    (void)declare(debrief_options, debrief_names);
    (void)declare(aircraft_options, aircraft_names);
    (void)declare(standard_options, standard_names);
    (void)declare(field_options, field_names);
    *declare(packet_options, packet_names) = fields;
    *declare(layout_options, layout_names) = packets;
    return file_options;
}
