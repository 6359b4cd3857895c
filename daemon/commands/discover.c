/* discover.c - the command that works out the layout of an unknown stream. */
#include <errno.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "discover_live.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"
#include "targets.h"
#include "words.h"

enum { LAYOUT_TEXT = 16384 };

struct discover {
    struct intake_discovery *discovery;
    struct intake_discovered result;
    char text[LAYOUT_TEXT];
    char why[SETTINGS_PATH_SIZE + 128];
    struct discover_turn turn; /* live only */
};

/* ---- what came ---------------------------------------------------------- */

static int read_recording(struct discover *discover, const char *file)
{
    struct intake_recording *recording;
    struct intake_datagram datagram;
    int got = intake_recording_open(file, &recording, discover->why,
                                    sizeof discover->why);

    if (got < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", discover->why);
        return EXIT_COULD_NOT;
    }
    while ((got = intake_recording_next(recording, &datagram, discover->why,
                                        sizeof discover->why)) == 1)
        intake_discovery_push(discover->discovery, datagram.t_ns,
                              datagram.destination_port, datagram.data,
                              datagram.length);
    intake_recording_close(recording);
    if (got < 0)
        log_plain(LOG_LEVEL_WARNING, "%s", discover->why);
    return 0;
}

/* ---- what is said ------------------------------------------------------- */

/* The place of a channel as the layout writes it. */
static void place_of(const struct intake_layout *layout,
                     enum intake_channel channel, char *out, size_t size)
{
    out[0] = '\0';
    for (uint32_t p = 0; p < layout->packet_count; p++) {
        for (uint32_t f = 0; f < layout->packet[p].field_count; f++) {
            const struct intake_field *field = &layout->packet[p].field[f];
            const char *minus = field->scale < 0.0 ? "minus " : "";
            const char *unit = units_name(field->unit);

            if (field->channel != channel)
                continue;
            if (layout->form == INTAKE_FORM_TEXT)
                (void)snprintf(out, size, "column %u, %s%s",
                               (unsigned)field->column, minus, unit);
            else if (layout->form == INTAKE_FORM_BINARY)
                (void)snprintf(out, size, "byte %u %s, %s%s",
                               (unsigned)field->at,
                               intake_type_name(field->type), minus, unit);
            else if (layout->form == INTAKE_FORM_RECORDS)
                (void)snprintf(out, size, "key %" PRId64 " byte %u, %s%s",
                               field->key, (unsigned)field->at, minus, unit);
            else
                (void)snprintf(out, size, "%s, %s%s", field->name, minus, unit);
        }
    }
}

static void tell_findings(const struct intake_discovered *result)
{
    for (int i = 0; i < CHANNEL_COUNT; i++) {
        char place[128];
        char head[192];

        if (result->finding[i][0] == '\0')
            continue;
        place_of(&result->layout, (enum intake_channel)i, place, sizeof place);
        (void)snprintf(head, sizeof head, "  %-15s %-26s ",
                       intake_channel_name((enum intake_channel)i), place);
        log_wrapped(LOG_LEVEL_WARNING, head, result->finding[i]);
    }
    for (uint32_t i = 0; i < result->ask_count; i++)
        log_wrapped(LOG_LEVEL_WARNING, i == 0 ? "  Please: " : "          ",
                    result->ask[i]);
}

/* ---- the layout --------------------------------------------------------- */

/* A standard needs no working out: its ready layout is copied. */
static int take_ready_layout(struct discover *discover,
                             const struct command_context *context)
{
    const char *name = intake_form_name(discover->result.layout.form);
    char path[SETTINGS_PATH_SIZE];
    FILE *file;
    size_t length;

    (void)snprintf(path, sizeof path, "%s/config/layouts/%s.conf",
                   context->data_folder, name);
    file = fopen(path, "rb");
    if (file == NULL) {
        log_line(LOG_LEVEL_ERROR, "%s: cannot be read", path);
        return EXIT_COULD_NOT;
    }
    length = fread(discover->text, 1, sizeof discover->text - 1, file);
    discover->text[length] = '\0';
    (void)fclose(file);
    log_plain(LOG_LEVEL_WARNING,
              "The stream is of the open standard \"%s\".\n"
              "Its ready layout serves: --layout %s",
              name, name);
    return 0;
}

static int fail_to_write(const char *path, int why)
{
    log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", path, strerror(why));
    return EXIT_COULD_NOT;
}

/* Under a temporary name first: a half-written layout never bears the name. */
static int write_file(const char *path, const char *text)
{
    char temporary[SETTINGS_PATH_SIZE + 8];
    FILE *file;
    bool good;
    int why;

    if (file_is_special(path)) {
        log_line(LOG_LEVEL_ERROR, "%s: is there and is not a file", path);
        return EXIT_COULD_NOT;
    }
    (void)snprintf(temporary, sizeof temporary, "%s.part", path);
    file = file_open_part(temporary);
    if (file == NULL)
        return fail_to_write(path, errno);
    good = fputs(text, file) >= 0;
    good = fclose(file) == 0 && good;
    if (good && file_take_place(temporary, path) == 0)
        return 0;
    why = errno;
    (void)remove(temporary);
    return fail_to_write(path, why);
}

static int deliver(const struct discover *discover, const char *output)
{
    if (output == NULL) {
        (void)fputs(discover->text, stdout);
        return 0;
    }
    if (write_file(output, discover->text) != 0)
        return EXIT_COULD_NOT;
    log_plain(LOG_LEVEL_WARNING,
              "Written to %s.\nSee it: quarterturn inspect --layout %s", output,
              output);
    return 0;
}

/* ---- the command -------------------------------------------------------- */

static int tell(struct discover *discover, uint16_t port,
                const struct command_context *context)
{
    struct intake_discovered *result = &discover->result;
    int status = intake_discovery_end(discover->discovery, port, result);

    if (status == ERR_ABSENT) {
        log_line(LOG_LEVEL_ERROR, "no datagram came");
        return EXIT_COULD_NOT;
    }
    if (status != 0) {
        log_line(LOG_LEVEL_ERROR,
                 "the datagrams to port %u are neither text "
                 "nor numbers in a form that is known",
                 result->port);
        return EXIT_COULD_NOT;
    }
    log_plain(
        LOG_LEVEL_WARNING, "%u datagram%s in %.0f s to port %u, form \"%s\"",
        (unsigned)result->datagrams, result->datagrams == 1 ? "" : "s",
        result->seconds, result->port, intake_form_name(result->layout.form));
    if (result->standard)
        return take_ready_layout(discover, context);
    tell_findings(result);
    if (!result->enough) {
        log_line(LOG_LEVEL_ERROR, "not sure enough: no layout written");
        return EXIT_COULD_NOT;
    }
    if (discover_turn_settle(&discover->turn, &result->layout))
        log_wrapped(LOG_LEVEL_WARNING, "  ",
                    "in the left turn the heading grew: heading and bank are "
                    "counted to the left here, and are turned round");
    if (intake_layout_write(&result->layout, discover->text,
                            sizeof discover->text) < 0) {
        log_line(LOG_LEVEL_ERROR, "the layout is too long to write");
        return EXIT_COULD_NOT;
    }
    return 0;
}

/* Where to listen, from the configuration if it was not said. */
static int listen_and_read(struct discover *discover,
                           struct discover_live_wanted *wanted,
                           const struct command_context *context)
{
    struct settings *settings = calloc(1, sizeof *settings);
    int status;

    if (settings == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    if (settings_load(&context->choice, context->data_folder, settings,
                      discover->why, sizeof discover->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", discover->why);
        status = EXIT_WRONG_USAGE;
    } else {
        if (wanted->address == NULL)
            wanted->address = settings->address;
        if (wanted->port < 0.0)
            wanted->port = settings->port;
        wanted->group = settings->group;
        wanted->group_count = settings->group_count;
        wanted->program = context->program;
        wanted->audio = &settings->audio;
        status = discover_live(discover->discovery, wanted, &discover->turn);
    }
    free(settings);
    return status;
}

int command_discover(int argc, char **argv,
                     const struct command_context *context)
{
    struct discover_live_wanted wanted = {.port = -1.0, .seconds = 90.0};
    const char *output = NULL;
    const char *file = NULL;
    bool force = false;
    const struct words_option options[] = {
        {.name = "--address", .text = &wanted.address},
        {.name = "--port", .number = &wanted.port, .most = 65535},
        {.name = "--seconds",
         .number = &wanted.seconds,
         .fraction = true,
         .least = 1.0,
         .most = 3600.0},
        {.name = "--output", .text = &output},
        {.name = "--force", .flag = &force},
        {.name = "--no-sound", .flag = &wanted.silent},
        {.name = NULL}};
    struct targets_named target[TARGETS_MOST] = {{.option = "--output"}};
    struct discover *discover;
    int words = 0;
    int status = words_read(argc, argv, options, &file, 1, &words);

    if (status != 0)
        return status;
    /* As if it were not said. */
    if (targets_is_output(output))
        output = NULL;
    target[0].path = output;
    if (!targets_differ("discover", file, target))
        return EXIT_WRONG_USAGE;
    /* Before anybody flies for it. */
    if (!targets_may_write(output, force))
        return EXIT_COULD_NOT;
    discover = calloc(1, sizeof *discover);
    if (discover != NULL)
        discover->discovery = malloc(intake_discovery_size());
    if (discover == NULL || discover->discovery == NULL) {
        free(discover);
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    intake_discovery_begin(discover->discovery);
    status = words > 0 ? read_recording(discover, file)
                       : listen_and_read(discover, &wanted, context);
    if (status == 0)
        status =
            tell(discover,
                 words > 0 && wanted.port > 0.0 ? (uint16_t)wanted.port : 0,
                 context);
    if (status == 0)
        status = deliver(discover, output);
    free(discover->discovery);
    free(discover);
    return status;
}
