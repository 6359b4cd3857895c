/* settings.c - from the command line's choice to what a command needs. */
#include "quarterturn/settings.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/error.h"
#include "sections.h"

#define DEFAULT_ADDRESS "127.0.0.1"
#define DEFAULT_VOICE "voice"
/* In the range the IANA leaves to private use (RFC 6335). */
enum { DEFAULT_PORT = 52180 };

static int join_path(char *out, size_t size, const char *folder,
                     const char *name)
{
    int length = snprintf(out, size, "%s/%s", folder, name);

    return length < 0 || (size_t)length >= size ? ERR_FULL : 0;
}

static bool holds_configuration(const char *folder)
{
    char path[SETTINGS_PATH_SIZE + 32];

    return join_path(path, sizeof path, folder, "config/quarterturn.conf") ==
               0 &&
           file_exists(path);
}

/* The folder above the one that holds the executable; by cutting the path
 * where that can be done, so that messages name clean paths. */
static int folder_above(const char *executable, char *out, size_t size)
{
    const char *last = strrchr(executable, '/');
    const char *above;
    int length;

    if (last == NULL)
        return snprintf(out, size, "..") < 0 ? ERR_FULL : 0;
    above = last;
    while (above > executable && above[-1] != '/')
        above--;
    if (strncmp(above, "../", 3) == 0 || strncmp(above, "./", 2) == 0)
        length = snprintf(out, size, "%.*s/..", (int)(last - executable),
                          executable);
    else if (above == executable)
        length = snprintf(out, size, "%s", last == executable ? "/" : ".");
    else
        length = snprintf(out, size, "%.*s", (int)(above - 1 - executable),
                          executable);
    return length < 0 || (size_t)length >= size ? ERR_FULL : 0;
}

int settings_find_data(const char *executable, char *out, size_t size)
{
    char above[SETTINGS_PATH_SIZE];
    int length;

    if (folder_above(executable, above, sizeof above) == 0) {
        length = snprintf(out, size, "%s", above);
        if (length >= 0 && (size_t)length < size && holds_configuration(out))
            return 0;
        if (join_path(out, size, above, "share/quarterturn") == 0 &&
            holds_configuration(out))
            return 0;
    }
    length = snprintf(out, size, "%s", QUARTERTURN_DATA);
    if (length >= 0 && (size_t)length < size && holds_configuration(out))
        return 0;
    return ERR_ABSENT;
}

int settings_find_own(char *out, size_t size)
{
    const char *home = getenv("XDG_CONFIG_HOME");

    /* The specification: a relative path is to be ignored. */
    if (home != NULL && home[0] == '/')
        return join_path(out, size, home, "quarterturn") == 0 ? 0 : ERR_ABSENT;
    home = getenv("HOME");
    if (home == NULL || home[0] == '\0')
        return ERR_ABSENT;
    return join_path(out, size, home, ".config/quarterturn") == 0 ? 0
                                                                  : ERR_ABSENT;
}

static int set_defaults(const char *data_folder, struct settings *out,
                        const struct reader_why *why)
{
    memset(out, 0, sizeof *out);
    audio_settings_defaults(&out->audio);
    callout_defaults(&out->callout);
    out->maneuver = MANEUVER_CHANDELLE;
    out->port = DEFAULT_PORT;
    out->signal_timeout_ns = UNITS_NS_PER_S;
    out->rest_ns = 60 * UNITS_NS_PER_S;
    memcpy(out->address, DEFAULT_ADDRESS, sizeof DEFAULT_ADDRESS);
    if (strlen(data_folder) >= sizeof out->data_folder ||
        join_path(out->audio.voice_folder, sizeof out->audio.voice_folder,
                  data_folder, "sounds/" DEFAULT_VOICE) != 0) {
        (void)snprintf(why->text, why->size,
                       "%.100s...: the path of the data folder is too long",
                       data_folder);
        return ERR_USAGE;
    }
    memcpy(out->data_folder, data_folder, strlen(data_folder) + 1);
    return 0;
}

static int read_maneuver(cfg_t *config, const char *word,
                         enum maneuver_kind *out, const struct reader_why *why)
{
    const struct reader_value *value = NULL;
    char names[128] = "";
    cfg_t *use = NULL;
    int status = section_find_single(config, "use", &use, why);

    if (status != 0)
        return status;
    if (word == NULL && use != NULL)
        value = reader_get(use, "maneuver");
    if (value != NULL)
        word = value->text;
    if (word == NULL || maneuver_kind_find(word, out) == 0)
        return 0;
    for (int i = 0; i < MANEUVER_KIND_COUNT; i++)
        reader_list_add(names, sizeof names,
                        maneuver_kind_name((enum maneuver_kind)i));
    if (value != NULL)
        return reader_fail(why, use, value->at,
                           "no maneuver \"%s\"; there is: %s", word, names);
    (void)snprintf(why->text, why->size,
                   "--maneuver %s: no maneuver \"%s\"; there is: %s", word,
                   word, names);
    return ERR_USAGE;
}

static int read_chosen(const struct section_place *place,
                       enum section_kind kind, const char *word,
                       struct settings *out, const struct reader_why *why)
{
    struct section_chosen chosen;
    int status = section_choose(place, kind, word, &chosen, why);

    if (status != 0)
        return status;
    switch (kind) {
    case SECTION_AIRCRAFT:
        status = section_read_aircraft(chosen.section, &out->aircraft, why);
        break;
    case SECTION_LAYOUT:
        status = section_read_layout(chosen.section, &out->layout, why);
        (void)snprintf(out->layout_file, sizeof out->layout_file, "%s",
                       chosen.section->filename);
        break;
    case SECTION_STANDARD:
        status = section_read_standard(chosen.section, &out->standard, why);
        break;
    }
    if (chosen.file != NULL)
        (void)cfg_free(chosen.file);
    return status;
}

/* Every section that stands in the configuration is read, chosen or not: a
 * mistake in it would otherwise wait for the day it is chosen. */
static int check_unused(cfg_t *config, const struct reader_why *why)
{
    struct flight_aircraft aircraft;
    struct maneuver_standard standard;
    struct intake_layout layout;
    int status = 0;

    for (unsigned i = 0; status == 0 && i < cfg_size(config, "aircraft"); i++)
        status = section_read_aircraft(cfg_getnsec(config, "aircraft", i),
                                       &aircraft, why);
    for (unsigned i = 0; status == 0 && i < cfg_size(config, "layout"); i++)
        status =
            section_read_layout(cfg_getnsec(config, "layout", i), &layout, why);
    for (unsigned i = 0; status == 0 && i < cfg_size(config, "standard"); i++)
        status = section_read_standard(cfg_getnsec(config, "standard", i),
                                       &standard, why);
    return status;
}

/* Where the layout's sender sends, unless the network section says a port. */
static void take_port_of_layout(cfg_t *config, struct settings *out)
{
    cfg_t *network = cfg_getsec(config, "network");

    if (out->layout.port != 0 &&
        (network == NULL || reader_get(network, "port") == NULL))
        out->port = out->layout.port;
}

static int read_config(cfg_t *config, const struct settings_choice *choice,
                       struct settings *out, const struct reader_why *why)
{
    const struct section_place place = {config, choice->own_folder,
                                        out->data_folder};
    int status = check_unused(config, why);

    if (status == 0)
        status = section_read_surroundings(config, out, why);
    if (status == 0)
        status = section_choose_help(choice->help, &out->callout.help, why);
    if (status == 0)
        status = read_maneuver(config, choice->maneuver, &out->maneuver, why);
    if (status == 0)
        status =
            read_chosen(&place, SECTION_AIRCRAFT, choice->aircraft, out, why);
    if (status == 0)
        status = read_chosen(&place, SECTION_LAYOUT, choice->layout, out, why);
    if (status == 0)
        take_port_of_layout(config, out);
    if (status == 0)
        status =
            read_chosen(&place, SECTION_STANDARD, choice->standard, out, why);
    return status;
}

int settings_load(const struct settings_choice *choice, const char *data_folder,
                  struct settings *out, char *why, size_t why_size)
{
    struct reader_why reason = {why, why_size};
    char path[SETTINGS_PATH_SIZE + 32];
    const char *file = choice->config;
    cfg_t *config;
    int status;

    why[0] = '\0';
    status = set_defaults(data_folder, out, &reason);
    if (status != 0)
        return status;
    debrief_copy_text(choice->person, out->person, sizeof out->person);
    if (file == NULL) {
        if (choice->own_folder == NULL ||
            join_path(path, sizeof path, choice->own_folder,
                      "quarterturn.conf") != 0 ||
            !file_exists(path))
            (void)join_path(path, sizeof path, data_folder,
                            "config/quarterturn.conf");
        file = path;
    }
    status = reader_open(file, &config, &reason);
    if (status != 0)
        return status;
    status = read_config(config, choice, out, &reason);
    (void)cfg_free(config);
    return status;
}
