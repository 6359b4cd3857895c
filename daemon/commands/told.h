/* told.h - what a running daemon is told to do: by its control socket and by
 * SIGHUP. */
#ifndef COMMANDS_TOLD_H
#define COMMANDS_TOLD_H

#include "outputs.h"
#include "quarterturn/control.h"
#include "recording.h"
#include "session.h"
#include "turns.h"

/* What is told about; all borrowed. */
struct told_parts {
    struct settings *settings; /* in use by the session */
    struct session *session;
    struct outputs *outputs;
    struct recording *recording;
    const char *data_folder;
    const struct turns *turns;
    const struct writers *writers;
    const char *record; /* --record, or NULL */
    uint16_t port;      /* that datagrams arrive on */
};

/* Embedded by its owner; fields are private to told. */
struct told {
    struct told_parts parts;
    struct settings_choice choice; /* the command line's, changed by hand */
    char aircraft[SETTINGS_PATH_SIZE];
    char maneuver[INTAKE_NAME_SIZE];
    /* Settings that wait for the end of an attempt. */
    struct settings next;
    enum control_verb next_verb;
    bool waits;
    /* packets a second, over a second or two */
    int64_t rate_from_ns;
    uint64_t rate_from_taken;
    double rate_hz;
    char sender[INTAKE_ADDRESS_TEXT];
};

/* choice: the command line's. */
void told_begin(struct told *told, const struct told_parts *parts,
                const struct settings_choice *choice);
/* Do what was asked at now_ns; every verb but CONTROL_STOP, which is its
 * owner's. said: see struct control_handlers. Returns: 0, or an error. */
int told_command(struct told *told, int64_t now_ns,
                 const struct control_command *command,
                 char said[CONTROL_SAID_SIZE]);
/* To be called after each datagram: counts the rate, and does what waited for
 * the end of an attempt. */
void told_follow(struct told *told, int64_t now_ns);
/* Fill the status. out: points into told and what it is told about. */
void told_status(struct told *told, struct control_status *out);

#endif
