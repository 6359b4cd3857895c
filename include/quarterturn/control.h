/* control.h - speaking to a running daemon.
 *
 * A local socket (libuv pipe) that only its owner can open. One JSON object a
 * line in, one a line out:
 *   {"ask":"status"}  ->  {"ok":true,"status":{...}}
 *   {"ask":"stop"}    ->  {"ok":true}
 *   anything else     ->  {"ok":false,"error":"what is wrong"}
 * Wrong input changes nothing. */
#ifndef QUARTERTURN_CONTROL_H
#define QUARTERTURN_CONTROL_H

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
    CONTROL_MAX_REPLY = 2048
};

/* What "status" tells. */
struct control_status {
    const char *version;
    const char *layout;
    const char *aircraft;
    uint16_t port;
    struct intake_counts counts;
    bool signal; /* packets are arriving */
    uint32_t attempts;
    enum maneuver_phase phase;
    uint32_t calls;
    /* Of one turn of the loop: by the wall, and without what other programs
     * on the machine took away. */
    double longest_turn_s;
    double longest_held_s;
    bool has_audio; /* false with --no-sound */
    struct audio_status audio;
};

/* What the daemon does when asked. Called on the loop. */
struct control_handlers {
    void *context;
    void (*status)(void *context, struct control_status *out);
    void (*stop)(void *context);
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
 * request: a verb ("status"). reply: a line without newline.
 * why: one line on failure. Returns: 0; ERR_ABSENT when no daemon answers at
 *    path; ERR_IO. */
int control_ask(const char *path, const char *request, uint32_t timeout_ms,
                char reply[CONTROL_MAX_REPLY], char *why, size_t why_size);

#endif
