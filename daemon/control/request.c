/* request.c - what a line asks for, checked before anything is done. */
#include "request.h"

#include <stdio.h>
#include <string.h>

struct verb_row {
    const char *name;
    const char *value; /* NULL: none belongs there */
};

static const struct verb_row row_of_verb[CONTROL_VERB_COUNT] = {
    [CONTROL_MUTE] = {"mute", NULL},
    [CONTROL_UNMUTE] = {"unmute", NULL},
    [CONTROL_HELP_LEVEL] = {"help-level", "LEVEL"},
    [CONTROL_MANEUVER] = {"maneuver", "NAME"},
    [CONTROL_AIRCRAFT] = {"aircraft", "NAME|FILE"},
    [CONTROL_MARK] = {"mark", "TEXT"},
    [CONTROL_AGAIN] = {"again", NULL},
    [CONTROL_NEW_ATTEMPT] = {"new-attempt", NULL},
    [CONTROL_RELOAD] = {"reload", NULL},
    [CONTROL_RECORD] = {"record", "on|off"},
    [CONTROL_STOP] = {"stop", NULL},
};

const char *control_verb_name(enum control_verb verb)
{
    return row_of_verb[verb].name;
}

const char *control_verb_value(enum control_verb verb)
{
    return row_of_verb[verb].value;
}

static enum request wrong(char why[CONTROL_SAID_SIZE], const char *text)
{
    (void)snprintf(why, CONTROL_SAID_SIZE, "%s", text);
    return REQUEST_WRONG;
}

/* "what; accepted: status, mute, ..." */
static enum request wrong_verb(char why[CONTROL_SAID_SIZE], const char *what)
{
    size_t used =
        (size_t)snprintf(why, CONTROL_SAID_SIZE, "%s; accepted: status", what);

    for (size_t i = 0; i < CONTROL_VERB_COUNT && used < CONTROL_SAID_SIZE; i++)
        used += (size_t)snprintf(why + used, CONTROL_SAID_SIZE - used, ", %s",
                                 row_of_verb[i].name);
    return REQUEST_WRONG;
}

static enum request read_help(const char *value,
                              struct control_command *command,
                              char why[CONTROL_SAID_SIZE])
{
    size_t used;

    if (callout_help_find(value, &command->help) == 0)
        return REQUEST_COMMAND;
    used = (size_t)snprintf(why, CONTROL_SAID_SIZE,
                            "no such amount of help; there is:");
    for (int i = 0; i < HELP_COUNT && used < CONTROL_SAID_SIZE; i++)
        used += (size_t)snprintf(why + used, CONTROL_SAID_SIZE - used, "%s %s",
                                 i > 0 ? "," : "",
                                 callout_help_name((enum callout_help)i));
    return REQUEST_WRONG;
}

static enum request read_switch(const char *value,
                                struct control_command *command,
                                char why[CONTROL_SAID_SIZE])
{
    command->on = strcmp(value, "on") == 0;
    if (command->on || strcmp(value, "off") == 0)
        return REQUEST_COMMAND;
    return wrong(why, "record takes on or off");
}

static bool is_plain(const char *text)
{
    for (; *text != '\0'; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            return false;
    return true;
}

static enum request read_value(const json_t *value,
                               struct control_command *command,
                               char why[CONTROL_SAID_SIZE])
{
    const char *name = row_of_verb[command->verb].name;
    bool wanted = row_of_verb[command->verb].value != NULL;

    command->value = json_string_value(value);
    if (value == NULL && !wanted)
        return REQUEST_COMMAND;
    if (!wanted || command->value == NULL || command->value[0] == '\0') {
        (void)snprintf(why, CONTROL_SAID_SIZE,
                       wanted ? "%s needs a \"value\" that is a text"
                              : "%s takes no \"value\"",
                       name);
        return REQUEST_WRONG;
    }
    /* Names and notes are shown in terminals. A NUL inside cannot come: the
     * reader of JSON refuses it. */
    if (!is_plain(command->value))
        return wrong(why, "a \"value\" has no control characters");
    switch (command->verb) {
    case CONTROL_HELP_LEVEL: return read_help(command->value, command, why);
    case CONTROL_RECORD: return read_switch(command->value, command, why);
    case CONTROL_MARK:
        if (strlen(command->value) > CONTROL_MAX_NOTE) {
            (void)snprintf(why, CONTROL_SAID_SIZE,
                           "a note has at most %d bytes", CONTROL_MAX_NOTE);
            return REQUEST_WRONG;
        }
        return REQUEST_COMMAND;
    default: return REQUEST_COMMAND;
    }
}

enum request request_read(const json_t *json, struct control_command *command,
                          char why[CONTROL_SAID_SIZE])
{
    const json_t *value = json_object_get(json, "value");
    const char *ask = json_string_value(json_object_get(json, "ask"));
    size_t verb = 0;

    memset(command, 0, sizeof *command);
    if (!json_is_object(json))
        return wrong(why, "not a JSON object; try {\"ask\":\"status\"}");
    if (ask == NULL)
        return wrong_verb(why, "no \"ask\"");
    if (json_object_size(json) > (value != NULL ? 2U : 1U))
        return wrong(why, "a member that is not known; accepted: ask, value");
    if (strcmp(ask, "status") == 0)
        return value == NULL ? REQUEST_STATUS
                             : wrong(why, "status takes no \"value\"");
    while (verb < CONTROL_VERB_COUNT &&
           strcmp(ask, row_of_verb[verb].name) != 0)
        verb++;
    if (verb == CONTROL_VERB_COUNT)
        return wrong_verb(why, "this \"ask\" is not known");
    command->verb = (enum control_verb)verb;
    return read_value(value, command, why);
}
