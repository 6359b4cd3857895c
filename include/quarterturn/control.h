/* control.h - speaking to a running daemon.
 *
 * A local socket (libuv pipe) that only its owner can open. One JSON object a
 * line in, one a line out:
 *   {"ask":"status"}                      ->  {"ok":true,"status":{...}}
 *   {"ask":"help-level","value":"sparse"} ->  {"ok":true,"said":"..."}
 *   anything else            ->  {"ok":false,"error":"what is wrong"}
 * Wrong input changes nothing. */
#ifndef QUARTERTURN_CONTROL_H
#define QUARTERTURN_CONTROL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/audio.h"
#include "quarterturn/intake.h"
#include "quarterturn/maneuver.h"

struct uv_loop_s;
struct control;

enum {
    CONTROL_MAX_LINE = 1024, /* bytes of a request, its newline included */
    CONTROL_MAX_CLIENTS = 8,
    CONTROL_MAX_PATH = 100, /* less than any system allows a socket */
    CONTROL_MAX_REPLY = 4096,
    CONTROL_MAX_NOTE = 120, /* bytes of the text of a note */
    CONTROL_SAID_SIZE = 640
};

/* What "status" tells. */
struct control_status {
    const char *version;
    const char *layout;
    const char *aircraft;
    const char *standard;
    const char *maneuver;
    uint16_t port;
    struct intake_counts counts;
    bool signal;           /* packets are arriving */
    double rate_hz;        /* of those taken, lately */
    const char *sender;    /* "" when there is none */
    const char *recording; /* file, NULL when nothing is recorded */
    uint32_t attempts;
    enum maneuver_phase phase;
    bool in_attempt;
    struct maneuver_lack lack; /* of what could begin now */
    uint32_t calls;
    /* Of one turn of the loop: by the wall; without what other programs on the
     * machine took away; and of one that waited for something in between. */
    double longest_turn_s;
    double longest_held_s;
    double longest_wait_s;
    uint64_t calls_dropped; /* too late to help */
    enum callout_help help;
    uint32_t silent; /* bits of the topics that are faded out */
    bool muted;
    bool change_waits;   /* for the end of the attempt */
    uint64_t lines_lost; /* of standard output and error: nobody read them */
    bool has_audio;      /* false with --no-sound */
    struct audio_status audio;
};

/* What can be asked beside the status. */
enum control_verb {
    CONTROL_MUTE,
    CONTROL_UNMUTE,
    CONTROL_HELP_LEVEL,
    CONTROL_MANEUVER,
    CONTROL_AIRCRAFT,
    CONTROL_MARK,
    CONTROL_AGAIN,
    CONTROL_NEW_ATTEMPT,
    CONTROL_RELOAD,
    CONTROL_RECORD,
    CONTROL_STOP,
    CONTROL_VERB_COUNT
};

/* "help-level", ... */
const char *control_verb_name(enum control_verb verb);
/* What stands behind it ("LEVEL", "on|off"), NULL for nothing. */
const char *control_verb_value(enum control_verb verb);

/* A request that has been checked: a value where one belongs, a known level of
 * help, "on" or "off", a note without control characters. */
struct control_command {
    enum control_verb verb;
    const char *value; /* UTF-8, not empty; NULL where none belongs */
    enum callout_help help;
    bool on;
};

/* What the daemon does when asked. Called on the loop. */
struct control_handlers {
    void *context;
    void (*status)(void *context, struct control_status *out);
    /* said: receives one line: what was done, or may stay empty; on failure
     * why not. Returns: 0, or a negative error with nothing changed. */
    int (*command)(void *context, const struct control_command *command,
                   char said[CONTROL_SAID_SIZE]);
};

/* Where the socket of this user lies: $XDG_RUNTIME_DIR/quarterturn.sock.
 * Returns: 0, or ERR_ABSENT when there is no such folder. */
int control_default_path(char *out, size_t size);

/* Listen on a socket; a stale one that nobody answers on is replaced.
 * handlers: copied. why: one line on failure.
 * Returns: 0; ERR_BUSY when a daemon answers there; ERR_IO, ERR_NO_MEMORY.
 * Owns: *out until control_close and the loop's end. */
int control_open(struct uv_loop_s *loop, const char *path,
                 const struct control_handlers *handlers, struct control **out,
                 char *why, size_t why_size);
/* Stop, remove the socket, free in the loop's own time. */
void control_close(struct control *control);

/* Answer one request: the whole of the protocol, without the socket.
 * line, length: any bytes, without the newline. out: a line with its newline
 *    and a NUL. Returns: bytes without the NUL.   Thread: loop. */
size_t control_answer(const struct control_handlers *handlers, const char *line,
                      size_t length, char out[CONTROL_MAX_REPLY]);

/* Ask a running daemon and wait for its answer, at most timeout_ms.
 * request: one line, without newline. reply: the same.
 * why: one line on failure. Returns: 0; ERR_ABSENT when no daemon answers at
 *    path; ERR_RANGE when the request is too long; ERR_IO. */
int control_ask(const char *path, const char *request, uint32_t timeout_ms,
                char reply[CONTROL_MAX_REPLY], char *why, size_t why_size);

#endif
