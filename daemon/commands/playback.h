/* playback.h - a recording and the notes beside it, given to a session in the
 * order in which they came. Shared by the commands that fly a recording. */
#ifndef COMMANDS_PLAYBACK_H
#define COMMANDS_PLAYBACK_H

#include <stdbool.h>
#include <stdint.h>

#include "quarterturn/debrief.h"
#include "quarterturn/intake.h"
#include "session.h"

/* Embedded by its owner. */
struct playback {
    const char *file;
    const struct settings *settings;
    struct session *session;
    struct intake_source *source;
    struct intake_datagram next; /* the next one to push, if has_next */
    bool has_next;
    int64_t origin_ns; /* recorded time of the first datagram */
    int64_t end_ns;    /* recorded time of the last one */
    struct debrief_noted note[DEBRIEF_MAX_NOTED];
    uint32_t note_count;
    uint32_t note_next;
    /* Told of each note, also of those outside an attempt; NULL: nobody. */
    void (*on_note)(void *context, int64_t t_ns, const char *text);
    void *context;
    char why[SETTINGS_PATH_SIZE + 128];
    int status; /* 0, or EXIT_COULD_NOT of a damaged recording */
};

/* Open a recording, fetch its first datagram and the notes beside it. Says
 * what is wrong itself.
 * file, settings, session: borrowed; session_init is the owner's, before the
 *    first playback_push.
 * port: the stream to this port; 0: the one there is.
 * Returns: 0, or the exit status; then there is nothing to close. */
int playback_open(struct playback *playback, const char *file,
                  const struct settings *settings, struct session *session,
                  uint16_t port);
/* Push the next datagram, behind the notes made before it came, and fetch the
 * one after it. Only while has_next. */
void playback_push(struct playback *playback);
/* Give the remaining notes, let time pass to the last datagram, end the
 * session. Says so when no datagram fits the layout.
 * Returns: 0, or the exit status. */
int playback_end(struct playback *playback);
void playback_close(struct playback *playback);

#endif
