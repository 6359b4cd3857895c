/* recording.h - the packets of a live session as a capture file, and the notes
 * made meanwhile in a file beside it. */
#ifndef COMMANDS_RECORDING_H
#define COMMANDS_RECORDING_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "quarterturn/debrief.h"
#include "quarterturn/intake.h"
#include "quarterturn/settings.h"

/* Embedded by its owner, all zero before the first recording_begin. */
struct recording {
    struct intake_recorder *recorder; /* NULL while nothing is recorded */
    char path[SETTINGS_PATH_SIZE];
    FILE *notes; /* NULL until the first note */
    bool has_first;
    int64_t first_ns; /* of its first datagram */
    int64_t epoch_ns; /* as it was then */
};

/* What a session that was killed left of a recording of that name, and its
 * notes, get another: path with ".torn" behind it, or ".torn.2" to ".torn.99".
 * Says so. One without a datagram is not worth it. why: one line on failure.
 * Returns: 0; ERR_IO, also while another session is recording there. */
int recording_set_aside(const char *path, char *why, size_t why_size);
/* Begin. path: copied. port: that datagrams are written to. why: one line on
 * failure. An older recording of that name, its notes and what was left of one
 * stay until this one ends and is kept.
 * Returns: 0; ERR_IO. */
int recording_begin(struct recording *recording, const char *path,
                    uint16_t port, char *why, size_t why_size);
/* A name that no file bears yet: quarterturn-YYYYMMDD-HHMMSSZ.pcap in the
 * folder of path, or in the working folder when it is NULL.
 * Returns: 0; ERR_FULL, ERR_BUSY when there is such a file. */
int recording_name(const char *path, char *out, size_t size);
/* Write a datagram. epoch_ns: to add to its time for time since 1970; that of
 *    the first one holds for the whole recording.
 * Returns: 0, also when nothing is recorded; ERR_IO (a full disk: said once,
 *    and the recording has ended). */
int recording_write(struct recording *recording,
                    const struct intake_datagram *datagram, int64_t epoch_ns);
/* Hand what is held back to the system: it then outlives the program.
 * Returns: as recording_write. */
int recording_keep(struct recording *recording);
/* Write a note that was made at t_ns.
 * Returns: 0, also when nothing is recorded; ERR_IO. */
int recording_note(struct recording *recording, int64_t t_ns, const char *text);
/* End, if one is going on. keep: false removes the file and its notes; else
 * both take the places of an older recording and its. why: one line on
 * failure.
 * Returns: 0; ERR_IO when it is not whole, ERR_BUSY when it is but could not
 *    take its name. */
int recording_end(struct recording *recording, bool keep, char *why,
                  size_t why_size);

#endif
