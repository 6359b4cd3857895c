/* told.c - what a running daemon is told to do. */
#include "told.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/log.h"

void told_begin(struct told *told, const struct told_parts *parts,
                const struct settings_choice *choice)
{
    told->parts = *parts;
    told->choice = *choice;
}

static int say(char said[CONTROL_SAID_SIZE], int error, const char *text)
{
    (void)snprintf(said, CONTROL_SAID_SIZE, "%s", text);
    return error;
}

/* ---- other settings ------------------------------------------------------ */

/* Whether something else was read that only a new start can bring. */
static bool needs_start(const struct settings *now, const struct settings *next)
{
    return strcmp(now->layout.name, next->layout.name) != 0 ||
           memcmp(&now->layout, &next->layout, sizeof now->layout) != 0 ||
           memcmp(&now->allow, &next->allow, sizeof now->allow) != 0 ||
           memcmp(now->group, next->group, sizeof now->group) != 0 ||
           now->signal_timeout_ns != next->signal_timeout_ns ||
           strcmp(now->audio.voice_folder, next->audio.voice_folder) != 0 ||
           strcmp(now->audio.device, next->audio.device) != 0 ||
           now->audio.buffer_frames != next->audio.buffer_frames;
}

/* The session's settings, changed where that can be done in flight. */
static void take_next(struct told *told, int64_t now_ns)
{
    const struct told_parts *parts = &told->parts;
    struct settings *settings = parts->settings;
    const struct settings *next = &told->next;
    struct callout_settings callout = next->callout;
    const char *value = NULL;

    memcpy(callout.clip_s, settings->callout.clip_s, sizeof callout.clip_s);
    settings->aircraft = next->aircraft;
    settings->standard = next->standard;
    settings->maneuver = next->maneuver;
    settings->audio.gain = next->audio.gain;
    settings->rest_ns = next->rest_ns;
    settings->callout = callout;
    told->waits = false;
    session_change(parts->session, now_ns);
    if (told->next_verb == CONTROL_AIRCRAFT)
        value = settings->aircraft.name;
    else if (told->next_verb == CONTROL_MANEUVER)
        value = maneuver_kind_name(settings->maneuver);
    outputs_command(parts->outputs, now_ns, control_verb_name(told->next_verb),
                    value);
}

/* Read the configuration with a choice. What is wrong in it changes nothing;
 * what is right waits for the end of a running attempt, which is flown and
 * judged by what it began with. */
static int change(struct told *told, int64_t now_ns, enum control_verb verb,
                  const struct settings_choice *choice,
                  char said[CONTROL_SAID_SIZE])
{
    const struct told_parts *parts = &told->parts;
    struct settings *next = &told->next;
    bool waited = told->waits;
    bool start;

    told->waits = false;
    if (settings_load(choice, parts->data_folder, next, said,
                      CONTROL_SAID_SIZE) < 0) {
        /* What waited is read again from what was chosen then. */
        char lost[CONTROL_SAID_SIZE];

        told->waits = waited && settings_load(&told->choice, parts->data_folder,
                                              next, lost, sizeof lost) == 0;
        return ERR_USAGE;
    }
    start = verb == CONTROL_RELOAD && needs_start(parts->settings, next);
    told->choice = *choice;
    told->next_verb = verb;
    told->waits = parts->session->maneuver.in_attempt;
    if (!told->waits)
        take_next(told, now_ns);
    (void)snprintf(said, CONTROL_SAID_SIZE, "%s%s",
                   told->waits ? "when the attempt is over" : "done",
                   start ? "; another layout, network, voice or sound device "
                           "is taken at the next start"
                         : "");
    return 0;
}

static int change_name(struct told *told, int64_t now_ns,
                       const struct control_command *command,
                       char said[CONTROL_SAID_SIZE])
{
    struct settings_choice choice = told->choice;
    bool aircraft = command->verb == CONTROL_AIRCRAFT;
    char *kept = aircraft ? told->aircraft : told->maneuver;
    size_t size = aircraft ? sizeof told->aircraft : sizeof told->maneuver;
    int error;

    if (strlen(command->value) >= size)
        return say(said, ERR_RANGE, "the name is too long");
    *(aircraft ? &choice.aircraft : &choice.maneuver) = command->value;
    error = change(told, now_ns, command->verb, &choice, said);
    if (error < 0)
        return error;
    memcpy(kept, command->value, strlen(command->value) + 1);
    *(aircraft ? &told->choice.aircraft : &told->choice.maneuver) = kept;
    return 0;
}

/* ---- the verbs ----------------------------------------------------------- */

static int set_help(struct told *told, int64_t now_ns,
                    const struct control_command *command)
{
    const struct told_parts *parts = &told->parts;

    /* It holds from now on, through a reload too. */
    told->choice.help = callout_help_name(command->help);
    told->next.callout.help = command->help;
    parts->settings->callout.help = command->help;
    session_set_help(parts->session, now_ns, command->help);
    outputs_command(parts->outputs, now_ns, control_verb_name(command->verb),
                    told->choice.help);
    return 0;
}

static int mute(struct told *told, int64_t now_ns, enum control_verb verb)
{
    outputs_mute(told->parts.outputs, now_ns, verb == CONTROL_MUTE);
    outputs_command(told->parts.outputs, now_ns, control_verb_name(verb), NULL);
    return 0;
}

static int mark(struct told *told, int64_t now_ns, const char *text,
                char said[CONTROL_SAID_SIZE])
{
    const struct told_parts *parts = &told->parts;

    if (!parts->session->begun)
        return say(said, ERR_ABSENT, "no packet has arrived yet");
    session_note(parts->session, now_ns, text);
    outputs_note(parts->outputs, now_ns, text);
    if (recording_note(parts->recording, now_ns, text) < 0)
        return say(said, 0,
                   "among the events only: it cannot be written beside the "
                   "recording");
    return 0;
}

static int again(struct told *told, int64_t now_ns,
                 char said[CONTROL_SAID_SIZE])
{
    const struct told_parts *parts = &told->parts;
    const struct callout *callout = &parts->session->callout;

    if (session_repeat_call(parts->session, now_ns) < 0)
        return say(said, ERR_ABSENT, "nothing has been said yet");
    outputs_command(parts->outputs, now_ns, control_verb_name(CONTROL_AGAIN),
                    NULL);
    return say(said, 0, callout->last.text);
}

static int new_attempt(struct told *told, int64_t now_ns,
                       char said[CONTROL_SAID_SIZE])
{
    const struct told_parts *parts = &told->parts;
    bool running = parts->session->maneuver.in_attempt;

    outputs_command(parts->outputs, now_ns,
                    control_verb_name(CONTROL_NEW_ATTEMPT), NULL);
    session_give_up(parts->session, now_ns);
    if (told->waits)
        take_next(told, now_ns);
    return say(said, 0,
               running ? "the attempt is given up" : "no attempt was running");
}

static int record(struct told *told, bool on, char said[CONTROL_SAID_SIZE])
{
    const struct told_parts *parts = &told->parts;
    struct recording *recording = parts->recording;
    char path[SETTINGS_PATH_SIZE];

    if (on == (recording->recorder != NULL))
        return say(said, ERR_BUSY,
                   on ? "a recording is going on" : "nothing is recorded");
    if (!on) {
        (void)snprintf(said, CONTROL_SAID_SIZE, "%s", recording->path);
        return recording_end(recording, true, said, CONTROL_SAID_SIZE);
    }
    if (recording_name(parts->record, path, sizeof path) < 0)
        return say(said, ERR_BUSY, "a file of this second's name is there");
    if (recording_begin(recording, path, parts->port, said, CONTROL_SAID_SIZE) <
        0)
        return ERR_IO;
    return say(said, 0, path);
}

int told_command(struct told *told, int64_t now_ns,
                 const struct control_command *command,
                 char said[CONTROL_SAID_SIZE])
{
    switch (command->verb) {
    case CONTROL_MUTE:
    case CONTROL_UNMUTE: return mute(told, now_ns, command->verb);
    case CONTROL_HELP_LEVEL: return set_help(told, now_ns, command);
    case CONTROL_AIRCRAFT:
    case CONTROL_MANEUVER: return change_name(told, now_ns, command, said);
    case CONTROL_MARK: return mark(told, now_ns, command->value, said);
    case CONTROL_AGAIN: return again(told, now_ns, said);
    case CONTROL_NEW_ATTEMPT: return new_attempt(told, now_ns, said);
    case CONTROL_RELOAD:
        return change(told, now_ns, command->verb, &told->choice, said);
    case CONTROL_RECORD: return record(told, command->on, said);
    case CONTROL_STOP:
    case CONTROL_VERB_COUNT: break;
    }
    return ERR_USAGE;
}

/* ---- following ----------------------------------------------------------- */

void told_follow(struct told *told, int64_t now_ns)
{
    const struct session *session = told->parts.session;
    uint64_t taken = session->stream.counts.taken;
    int64_t passed_ns = now_ns - told->rate_from_ns;

    if (passed_ns >= UNITS_NS_PER_S) {
        /* The first window began long before the first packet. */
        told->rate_hz = told->rate_from_ns != 0
                            ? (double)(taken - told->rate_from_taken) * 1e9 /
                                  (double)passed_ns
                            : 0.0;
        told->rate_from_ns = now_ns;
        told->rate_from_taken = taken;
    }
    if (told->waits && !session->maneuver.in_attempt)
        take_next(told, now_ns);
}

static void tell_stream(struct told *told, struct control_status *out)
{
    const struct told_parts *parts = &told->parts;
    const struct session *session = parts->session;

    out->layout = parts->settings->layout.name;
    out->port = parts->port;
    out->counts = session->stream.counts;
    out->signal = session_has_signal(session);
    out->rate_hz = out->signal ? told->rate_hz : 0.0;
    if (out->signal)
        intake_udp_sender_text(&session->senders.pin, told->sender);
    out->sender = out->signal ? told->sender : "";
    out->recording =
        parts->recording->recorder != NULL ? parts->recording->path : NULL;
}

static void tell_flight(const struct told *told, struct control_status *out)
{
    const struct told_parts *parts = &told->parts;
    const struct maneuver *maneuver = &parts->session->maneuver;
    const struct callout *callout = &parts->session->callout;

    out->aircraft = parts->settings->aircraft.name;
    out->standard = parts->settings->standard.name;
    out->maneuver = maneuver_kind_name(parts->settings->maneuver);
    out->attempts = maneuver->attempts;
    out->phase = maneuver->in_attempt ? maneuver->attempt.phase : PHASE_SETUP;
    out->in_attempt = maneuver->in_attempt;
    out->change_waits = told->waits;
    out->calls_dropped = callout->dropped;
    out->help = callout->settings.help;
    out->silent = callout_silent_topics(callout);
    maneuver_readiness(maneuver, &out->lack);
    /* What was last seen of a flight that is out of sight tells nothing. */
    if (!out->signal && !out->in_attempt)
        out->lack = (struct maneuver_lack){LACK_DATA, NAN, NAN, NAN};
}

void told_status(struct told *told, struct control_status *out)
{
    const struct told_parts *parts = &told->parts;

    out->version = QUARTERTURN_VERSION;
    tell_stream(told, out);
    tell_flight(told, out);
    out->calls = parts->outputs->calls;
    out->muted = parts->outputs->muted;
    out->longest_turn_s =
        (double)parts->turns->longest_ns / (double)UNITS_NS_PER_S;
    out->longest_held_s =
        (double)parts->turns->longest_held_ns / (double)UNITS_NS_PER_S;
    out->longest_wait_s =
        (double)parts->turns->longest_wait_ns / (double)UNITS_NS_PER_S;
    out->lines_lost = writers_lost(parts->writers);
    out->has_audio = parts->outputs->audio != NULL;
    if (out->has_audio)
        audio_output_status(parts->outputs->audio, &out->audio);
}
