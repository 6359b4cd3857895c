/* recording.c - the packets of a live session, and its notes. */
#include "recording.h"

#include <errno.h>
#include <string.h>
#include <time.h>

#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"

enum {
    PART_PATH_SIZE = SETTINGS_PATH_SIZE + 16,
    NOTES_PATH_SIZE = PART_PATH_SIZE + 16,
    MOST_TORN = 99,
    EMPTY_SIZE = 24 /* a capture file's own header */
};

/* While it is written; its notes stand beside it under that name too, so that
 * those of an older recording stay its own until it is replaced. */
static void part_of(const char *path, char part[PART_PATH_SIZE])
{
    (void)snprintf(part, PART_PATH_SIZE, "%s.part", path);
}

/* A name that no file bears yet. Returns: whether there is one. */
static bool torn_of(const char *path, char torn[PART_PATH_SIZE])
{
    (void)snprintf(torn, PART_PATH_SIZE, "%s.torn", path);
    for (int i = 2; file_size(torn) != ERR_ABSENT; i++) {
        if (i > MOST_TORN)
            return false;
        (void)snprintf(torn, PART_PATH_SIZE, "%s.torn.%d", path, i);
    }
    return true;
}

int recording_set_aside(const char *path, char *why, size_t why_size)
{
    char part[PART_PATH_SIZE];
    char torn[PART_PATH_SIZE];
    char notes[2][NOTES_PATH_SIZE];

    if (strlen(path) >= SETTINGS_PATH_SIZE) {
        (void)snprintf(why, why_size, "%.60s...: the path is too long", path);
        return ERR_IO;
    }
    part_of(path, part);
    if (file_is_being_written(part)) {
        (void)snprintf(why, why_size, "%s: another session is recording there",
                       path);
        return ERR_IO;
    }
    if (file_size(part) <= EMPTY_SIZE)
        return 0;
    errno = EEXIST;
    if (!torn_of(path, torn) || file_take_place(part, torn) < 0) {
        (void)snprintf(why, why_size,
                       "%s: left by a session that was killed, and cannot be "
                       "kept under another name: %s",
                       part, strerror(errno));
        return ERR_IO;
    }
    if (debrief_notes_path(part, notes[0], NOTES_PATH_SIZE) == 0 &&
        debrief_notes_path(torn, notes[1], NOTES_PATH_SIZE) == 0 &&
        file_size(notes[0]) >= 0)
        (void)file_take_place(notes[0], notes[1]);
    log_line(LOG_LEVEL_WARNING,
             "%s: left by a session that was killed: kept as %s", part, torn);
    return 0;
}

int recording_begin(struct recording *recording, const char *path,
                    uint16_t port, char *why, size_t why_size)
{
    int error;

    error = recording_set_aside(path, why, why_size);
    if (error == 0)
        error = intake_recorder_open(path, port, &recording->recorder, why,
                                     why_size);
    if (error < 0) {
        recording->recorder = NULL;
        return error;
    }
    memcpy(recording->path, path, strlen(path) + 1);
    recording->has_first = false;
    return 0;
}

int recording_name(const char *path, char *out, size_t size)
{
    const char *slash = path != NULL ? strrchr(path, '/') : NULL;
    int folder = slash != NULL ? (int)(slash + 1 - path) : 0;
    time_t now = time(NULL);
    const struct tm *utc = gmtime(&now);
    char stamp[32] = "";
    int length;

    if (utc != NULL)
        (void)strftime(stamp, sizeof stamp, "%Y%m%d-%H%M%SZ", utc);
    length = snprintf(out, size, "%.*squarterturn-%s.pcap", folder,
                      path != NULL ? path : "", stamp);
    if (length < 0 || (size_t)length >= size)
        return ERR_FULL;
    return file_size(out) == ERR_ABSENT ? 0 : ERR_BUSY;
}

static int give_up(struct recording *recording)
{
    char unused[SETTINGS_PATH_SIZE];

    log_line(LOG_LEVEL_WARNING,
             "the recording cannot be written any more; flying on without");
    (void)recording_end(recording, true, unused, sizeof unused);
    return ERR_IO;
}

int recording_keep(struct recording *recording)
{
    if (recording->recorder == NULL ||
        intake_recorder_flush(recording->recorder) == 0)
        return 0;
    return give_up(recording);
}

int recording_write(struct recording *recording,
                    const struct intake_datagram *datagram, int64_t epoch_ns)
{
    if (recording->recorder == NULL || datagram->length > INTAKE_MAX_DATAGRAM)
        return 0;
    if (!recording->has_first)
        recording->epoch_ns = epoch_ns;
    if (intake_recorder_write(
            recording->recorder, datagram->t_ns + recording->epoch_ns,
            &datagram->sender, datagram->data, datagram->length) == 0) {
        if (!recording->has_first)
            recording->first_ns = datagram->t_ns;
        recording->has_first = true;
        return 0;
    }
    return give_up(recording);
}

int recording_note(struct recording *recording, int64_t t_ns, const char *text)
{
    struct debrief_noted note = {.since_ns = t_ns - recording->first_ns};
    char part[PART_PATH_SIZE];
    char notes[NOTES_PATH_SIZE];

    if (recording->recorder == NULL || !recording->has_first)
        return 0;
    part_of(recording->path, part);
    if (recording->notes == NULL &&
        debrief_notes_path(part, notes, sizeof notes) == 0 &&
        !file_is_special(notes))
        recording->notes = file_open_in_place(notes);
    if (recording->notes == NULL)
        return ERR_IO;
    (void)snprintf(note.text, sizeof note.text, "%s", text);
    return debrief_notes_write(recording->notes, &note);
}

/* The notes go with their recording: took: to its name, in place of those of
 * the one it replaced. Returns: 0 or ERR_IO. */
static int end_notes(struct recording *recording, bool keep, bool took)
{
    char part[PART_PATH_SIZE];
    char notes[2][NOTES_PATH_SIZE];
    bool any = recording->notes != NULL;
    int error = 0;

    part_of(recording->path, part);
    if (any && fclose(recording->notes) != 0)
        error = ERR_IO;
    recording->notes = NULL;
    if (debrief_notes_path(part, notes[0], NOTES_PATH_SIZE) < 0 ||
        debrief_notes_path(recording->path, notes[1], NOTES_PATH_SIZE) < 0)
        return ERR_IO;
    if (any && !keep)
        (void)remove(notes[0]);
    else if (any && took && file_take_place(notes[0], notes[1]) < 0)
        error = ERR_IO;
    else if (!any && took && file_size(notes[1]) >= 0)
        (void)remove(notes[1]);
    return error;
}

int recording_end(struct recording *recording, bool keep, char *why,
                  size_t why_size)
{
    char part[PART_PATH_SIZE];
    bool took;
    int error;
    int reason;

    if (recording->recorder == NULL)
        return 0;
    part_of(recording->path, part);
    took = keep && file_size(part) >= 0;
    error = intake_recorder_close(recording->recorder, keep);
    reason = errno;
    took = took && file_size(part) == ERR_ABSENT;
    recording->recorder = NULL;
    if (end_notes(recording, keep, took) < 0)
        error = ERR_IO;
    if (error == ERR_BUSY)
        (void)snprintf(why, why_size,
                       "%s: the recording stays here and cannot take its "
                       "name: %s",
                       part, strerror(reason));
    if (error == ERR_IO)
        (void)snprintf(why, why_size, "%s: the recording is not whole",
                       recording->path);
    return error;
}
