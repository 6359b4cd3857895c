/* recording.c - the packets of a live session, and its notes. */
#include "recording.h"

#include <errno.h>
#include <string.h>
#include <time.h>

#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"

enum { NOTES_PATH_SIZE = SETTINGS_PATH_SIZE + 16 };

int recording_begin(struct recording *recording, const char *path,
                    uint16_t port, char *why, size_t why_size)
{
    char notes[NOTES_PATH_SIZE];
    int error;

    if (strlen(path) >= sizeof recording->path) {
        (void)snprintf(why, why_size, "%.60s...: the path is too long", path);
        return ERR_IO;
    }
    error =
        intake_recorder_open(path, port, &recording->recorder, why, why_size);
    if (error < 0) {
        recording->recorder = NULL;
        return error;
    }
    memcpy(recording->path, path, strlen(path) + 1);
    recording->has_first = false;
    if (debrief_notes_path(path, notes, sizeof notes) == 0 &&
        !file_is_special(notes))
        (void)remove(notes);
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
    char path[NOTES_PATH_SIZE];

    if (recording->recorder == NULL || !recording->has_first)
        return 0;
    if (recording->notes == NULL &&
        debrief_notes_path(recording->path, path, sizeof path) == 0 &&
        !file_is_special(path))
        recording->notes = file_open_in_place(path);
    if (recording->notes == NULL)
        return ERR_IO;
    (void)snprintf(note.text, sizeof note.text, "%s", text);
    return debrief_notes_write(recording->notes, &note);
}

int recording_end(struct recording *recording, bool keep, char *why,
                  size_t why_size)
{
    int error;

    if (recording->recorder == NULL)
        return 0;
    error = intake_recorder_close(recording->recorder, keep);
    if (error == ERR_BUSY)
        (void)snprintf(why, why_size,
                       "%s.part: the recording stays here and cannot take "
                       "its name: %s",
                       recording->path, strerror(errno));
    recording->recorder = NULL;
    if (recording->notes != NULL && fclose(recording->notes) != 0)
        error = ERR_IO;
    recording->notes = NULL;
    if (error == ERR_IO)
        (void)snprintf(why, why_size, "%s: the recording is not whole",
                       recording->path);
    return error;
}
