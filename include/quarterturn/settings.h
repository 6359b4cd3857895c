/* settings.h - configuration, read and checked before anything starts.
 *
 * libConfuse syntax with units in the values. Every error is one line,
 * "file:line:column: what is wrong, and what is accepted". */
#ifndef QUARTERTURN_SETTINGS_H
#define QUARTERTURN_SETTINGS_H

#include <stddef.h>
#include <stdint.h>

#include "quarterturn/attempt.h"
#include "quarterturn/audio.h"
#include "quarterturn/callout.h"
#include "quarterturn/flight.h"
#include "quarterturn/intake.h"
#include "quarterturn/maneuver.h"

enum { SETTINGS_PATH_SIZE = 512, SETTINGS_ADDRESS_SIZE = 64 };

/* Everything a command needs, in internal units. */
struct settings {
    struct flight_aircraft aircraft;
    struct intake_layout layout;
    char layout_file[SETTINGS_PATH_SIZE]; /* that the layout stands in */
    struct maneuver_standard standard;
    enum maneuver_kind maneuver;
    struct audio_settings audio;
    int64_t rest_ns; /* without packets, until sound rests; 0: never */
    struct callout_settings callout;     /* clip_s is filled by the command */
    char address[SETTINGS_ADDRESS_SIZE]; /* default "127.0.0.1" */
    uint16_t port;                       /* default 52180 */
    struct intake_allow allow;           /* who may send; default everybody */
    struct intake_group group[INTAKE_MAX_GROUPS];
    uint32_t group_count;
    int64_t signal_timeout_ns;             /* default 1 s */
    char data_folder[SETTINGS_PATH_SIZE];  /* holds config/ and sounds/ */
    char pages_folder[SETTINGS_PATH_SIZE]; /* "": no pages unless asked for */
    char logbook[SETTINGS_PATH_SIZE]; /* "": none unless asked for, and then the
                                         user's own */
    char person[DEBRIEF_PERSON_SIZE]; /* who flies, UTF-8; "" nobody said */
};

/* What the command line asked for; NULL where it did not. A NAME is looked
 * for in the configuration read, then as NAME.conf in aircraft/, layouts/ or
 * standards/ of the user's own folder, then of the data folder's config/; a
 * word with a slash or ending in .conf is a FILE. */
struct settings_choice {
    const char *own_folder; /* from settings_find_own, or NULL */
    const char *config;     /* else quarterturn.conf of the own folder, else of
                               the data folder's config/ */
    const char *layout;
    const char *aircraft;
    const char *maneuver;
    const char *standard;
    const char *help;   /* amount of help: "full", ... */
    const char *person; /* who flies */
};

/* The folder that holds config/ and sounds/: beside the executable's folder
 * when run from a build tree, ../share/quarterturn from there when it was
 * installed (and perhaps moved), else PREFIX/share/quarterturn of the build.
 * executable: its path.
 * Returns: 0, or ERR_ABSENT. */
int settings_find_data(const char *executable, char *out, size_t size);

/* The folder of the user's own configuration: $XDG_CONFIG_HOME/quarterturn,
 * else $HOME/.config/quarterturn. It need not exist.
 * Source: XDG Base Directory Specification 0.8.
 * Returns: 0, or ERR_ABSENT when the environment names no home. */
int settings_find_own(char *out, size_t size);

/* Read and check.
 * data_folder: from settings_find_data.
 * why: one line on failure.
 * Returns: 0, or ERR_USAGE with *out unspecified.
 * Thread: main, before the loop runs. */
int settings_load(const struct settings_choice *choice, const char *data_folder,
                  struct settings *out, char *why, size_t why_size);

/* Read a quantity with its unit: "64 mph", "30 deg", "0.3 s"; a bare number
 * takes bare_unit.
 * Returns: 0 with *out in the internal unit; ERR_FORMAT (no number, or text
 *    behind it), ERR_ABSENT (unknown unit), ERR_USAGE (a unit of another
 *    quantity). */
int settings_parse_quantity(const char *text, enum unit bare_unit, double *out);

#endif
