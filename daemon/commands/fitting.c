/* fitting.c - which of the ready layouts a recording fits. */
#include "fitting.h"

#include <stdlib.h>

#include "quarterturn/log.h"

/* Enough to tell: forms do not claim one another's packets. */
enum { DATAGRAMS_LOOKED_AT = 200 };

static const char *const ready[] = {
    "plain-text",  "plain-binary", "keyed-records", "name-value",
    "json-object", "nmea",         "dis",           "mavlink"};

/* How many of the first datagrams a layout understands. */
static int count_taken(const char *file, uint16_t port,
                       const struct intake_layout *layout)
{
    struct intake_source *source;
    struct intake_datagram datagram;
    struct intake_sample sample;
    char why[SETTINGS_PATH_SIZE + 128];
    int taken = 0;

    if (intake_source_open(file, layout, port, &source, why, sizeof why) < 0)
        return 0;
    for (int i = 0; i < DATAGRAMS_LOOKED_AT &&
                    intake_source_next(source, &datagram, why, sizeof why) > 0;
         i++)
        taken += intake_decode(layout, datagram.data, datagram.length,
                               &sample) == INTAKE_TAKEN;
    intake_source_close(source);
    return taken;
}

/* Returns: the name of the only one that understands something; NULL when
 * none or several do. */
static const char *find(const struct command_context *context, const char *file,
                        uint16_t port, struct settings_choice choice,
                        struct settings *scratch)
{
    const char *found = NULL;
    char why[SETTINGS_PATH_SIZE + 128];

    for (size_t i = 0; i < sizeof ready / sizeof ready[0]; i++) {
        choice.layout = ready[i];
        if (settings_load(&choice, context->data_folder, scratch, why,
                          sizeof why) != 0 ||
            count_taken(file, port, &scratch->layout) == 0)
            continue;
        if (found != NULL)
            return NULL;
        found = ready[i];
    }
    return found;
}

const char *fitting_find(const struct command_context *context,
                         const char *file, uint16_t port)
{
    struct settings *scratch = malloc(sizeof *scratch);
    const char *found = NULL;

    if (scratch != NULL)
        found = find(context, file, port, context->choice, scratch);
    free(scratch);
    return found;
}

void fitting_take(const struct command_context *context, const char *file,
                  uint16_t port, struct settings_choice *choice,
                  struct settings *settings)
{
    struct settings *scratch;
    const char *found;

    if (choice->layout != NULL ||
        count_taken(file, port, &settings->layout) > 0)
        return;
    scratch = malloc(sizeof *scratch);
    if (scratch == NULL)
        return;
    found = find(context, file, port, *choice, scratch);
    if (found != NULL) {
        char why[SETTINGS_PATH_SIZE + 128];

        choice->layout = found;
        /* It has just been loaded once: this cannot fail. */
        (void)settings_load(choice, context->data_folder, settings, why,
                            sizeof why);
        log_line(LOG_LEVEL_NOTE,
                 "read by layout \"%s\", as the configured one reads nothing",
                 found);
    }
    free(scratch);
}
