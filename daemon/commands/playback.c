/* playback.c - a recording and its notes, in order. */
#include "playback.h"

#include <string.h>

#include "commands.h"
#include "quarterturn/log.h"

/* Fetch the next datagram; at a damaged end say so and stop. */
static void fetch(struct playback *playback)
{
    int got = intake_source_next(playback->source, &playback->next,
                                 playback->why, sizeof playback->why);

    playback->has_next = got == 1;
    if (got == 1 && playback->next.t_ns > playback->end_ns)
        playback->end_ns = playback->next.t_ns;
    if (got < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", playback->why);
        playback->status = EXIT_COULD_NOT;
    }
}

static void load_notes(struct playback *playback)
{
    char path[SETTINGS_PATH_SIZE + 16];
    uint32_t line = 0;

    if (debrief_notes_path(playback->file, path, sizeof path) == 0 &&
        debrief_notes_read(path, playback->note, &playback->note_count, &line) <
            0)
        log_plain(LOG_LEVEL_WARNING,
                  "%s:%u: not a note; this and later ones are left out", path,
                  line);
}

int playback_open(struct playback *playback, const char *file,
                  const struct settings *settings, struct session *session,
                  uint16_t port)
{
    memset(playback, 0, sizeof *playback);
    playback->file = file;
    playback->settings = settings;
    playback->session = session;
    playback->end_ns = INT64_MIN;
    if (intake_source_open(file, &settings->layout, port, &playback->source,
                           playback->why, sizeof playback->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", playback->why);
        return EXIT_COULD_NOT;
    }
    fetch(playback);
    if (!playback->has_next) {
        if (playback->status == 0 && port != 0)
            log_line(LOG_LEVEL_ERROR,
                     "%s: the recording holds no UDP datagram to port %u", file,
                     port);
        else if (playback->status == 0)
            log_line(LOG_LEVEL_ERROR, "%s: the recording holds no UDP datagram",
                     file);
        playback_close(playback);
        return EXIT_COULD_NOT;
    }
    playback->origin_ns = playback->next.t_ns;
    load_notes(playback);
    return 0;
}

/* Notes that were made before the next datagram came. */
static void give_notes(struct playback *playback, int64_t until_ns)
{
    while (playback->note_next < playback->note_count) {
        const struct debrief_noted *note = &playback->note[playback->note_next];
        int64_t t_ns = playback->origin_ns + note->since_ns;

        if (t_ns > until_ns)
            return;
        /* Behind the last datagram no attempt is followed. */
        if (t_ns <= playback->end_ns || playback->has_next)
            session_note(playback->session, t_ns, note->text);
        if (playback->on_note != NULL)
            playback->on_note(playback->context, t_ns, note->text);
        playback->note_next++;
    }
}

void playback_push(struct playback *playback)
{
    give_notes(playback, playback->next.t_ns);
    session_push(playback->session, &playback->next);
    fetch(playback);
}

static void say_nothing_taken(const struct playback *playback)
{
    const struct intake_counts *counts = &playback->session->stream.counts;

    if (counts->rejected[INTAKE_NOT_ALLOWED] == counts->datagrams)
        log_line(LOG_LEVEL_ERROR,
                 "%s: no datagram is from a sender in the list network "
                 "{ allow }",
                 playback->file);
    else
        log_line(LOG_LEVEL_ERROR,
                 "%s: no datagram fits layout \"%s\"; quarterturn "
                 "inspect shows why",
                 playback->file, playback->settings->layout.name);
}

int playback_end(struct playback *playback)
{
    give_notes(playback, INT64_MAX);
    session_advance(playback->session, playback->end_ns);
    session_end(playback->session);
    if (playback->session->stream.counts.taken == 0) {
        say_nothing_taken(playback);
        playback->status = EXIT_COULD_NOT;
    }
    return playback->status;
}

void playback_close(struct playback *playback)
{
    intake_source_close(playback->source);
    playback->source = NULL;
}
