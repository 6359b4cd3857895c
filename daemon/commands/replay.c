/* replay.c - a recorded stream through the same rooms as a live one. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "loop.h"
#include "needs.h"
#include "outputs.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "session.h"
#include "words.h"

struct replay {
    struct settings settings;
    struct outputs outputs;
    struct session *session;
    struct intake_source *source;
    struct intake_datagram next; /* the next one to push, if has_next */
    bool has_next;
    int64_t origin_ns; /* recorded time of the first datagram */
    int64_t end_ns;    /* recorded time of the last one */
    double speed;      /* 0: as fast as it goes */
    struct debrief_noted note[DEBRIEF_MAX_NOTED]; /* beside the recording */
    uint32_t note_count;
    uint32_t note_next;
    char why[SETTINGS_PATH_SIZE + 128];
    int status;
    /* paced replay only */
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    uint64_t start_monotonic_ns;
};

/* Fetch the next datagram; at a damaged end say so and stop. */
static void fetch(struct replay *replay)
{
    int got = intake_source_next(replay->source, &replay->next, replay->why,
                                 sizeof replay->why);

    replay->has_next = got == 1;
    if (got == 1)
        replay->end_ns = replay->next.t_ns > replay->end_ns ? replay->next.t_ns
                                                            : replay->end_ns;
    if (got < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", replay->why);
        replay->status = EXIT_COULD_NOT;
    }
}

/* Notes that were made before the next datagram came. */
static void give_notes(struct replay *replay, int64_t until_ns)
{
    while (replay->note_next < replay->note_count) {
        const struct debrief_noted *note = &replay->note[replay->note_next];
        int64_t t_ns = replay->origin_ns + note->since_ns;

        if (t_ns > until_ns)
            return;
        /* Behind the last datagram no attempt is followed. */
        if (t_ns <= replay->end_ns || replay->has_next)
            session_note(replay->session, t_ns, note->text);
        outputs_note(&replay->outputs, t_ns, note->text);
        replay->note_next++;
    }
}

static void push_next(struct replay *replay)
{
    give_notes(replay, replay->next.t_ns);
    session_push(replay->session, &replay->next);
    fetch(replay);
}

/* ---- as fast as it goes ------------------------------------------------- */

static void run_at_once(struct replay *replay)
{
    while (replay->has_next)
        push_next(replay);
}

/* ---- at a pace ---------------------------------------------------------- */

static int64_t to_monotonic_ns(void *context, int64_t t_ns)
{
    const struct replay *replay = context;
    double passed_ns = (double)(t_ns - replay->origin_ns) / replay->speed;

    return (int64_t)replay->start_monotonic_ns + (int64_t)passed_ns;
}

static int64_t virtual_now_ns(const struct replay *replay)
{
    double passed_ns = (double)(uv_hrtime() - replay->start_monotonic_ns);

    return replay->origin_ns + (int64_t)(passed_ns * replay->speed);
}

static void stop(struct replay *replay)
{
    uv_close((uv_handle_t *)&replay->timer, NULL);
    uv_close((uv_handle_t *)&replay->interrupt, NULL);
    outputs_stop_sound(&replay->outputs, replay->end_ns, 8000);
}

static void on_timer(uv_timer_t *timer)
{
    struct replay *replay = timer->data;
    int64_t now_ns = virtual_now_ns(replay);
    int64_t due_ns;
    int64_t wait_ms;

    while (replay->has_next && replay->next.t_ns <= now_ns)
        push_next(replay);
    if (!replay->has_next) {
        stop(replay);
        return;
    }
    session_advance(replay->session, now_ns);
    due_ns = session_deadline_ns(replay->session);
    if (replay->next.t_ns < due_ns)
        due_ns = replay->next.t_ns;
    wait_ms =
        (to_monotonic_ns(replay, due_ns) - (int64_t)uv_hrtime()) / 1000000;
    (void)uv_timer_start(timer, on_timer, wait_ms > 0 ? (uint64_t)wait_ms : 1,
                         0);
}

static void on_interrupt(uv_signal_t *handle, int number)
{
    (void)number;
    stop(handle->data);
}

static int run_paced(struct replay *replay, const char *program, bool silent)
{
    uv_timer_t *const timers[] = {&replay->timer, NULL};
    uv_signal_t *const signals[] = {&replay->interrupt, NULL};
    const struct loop_handles handles = {timers, signals};
    int status = loop_begin(&replay->loop, &handles, replay);

    if (status != 0)
        return status;
    replay->outputs.to_monotonic_ns = to_monotonic_ns;
    replay->outputs.clock_context = replay;
    if (!silent)
        outputs_start_sound(&replay->outputs, &replay->loop, program);
    replay->start_monotonic_ns = uv_hrtime();
    (void)uv_signal_start(&replay->interrupt, on_interrupt, SIGINT);
    (void)uv_timer_start(&replay->timer, on_timer, 0, 0);
    (void)uv_run(&replay->loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&replay->loop);
    return 0;
}

/* ---- the command -------------------------------------------------------- */

static int read_speed(const char *text, double *speed)
{
    char *end;

    if (text == NULL) {
        *speed = 1.0;
        return 0;
    }
    if (strcmp(text, "max") == 0) {
        *speed = 0.0;
        return 0;
    }
    *speed = strtod(text, &end);
    if (end == text || *end != '\0' || !(*speed >= 0.05 && *speed <= 100.0)) {
        log_line(LOG_LEVEL_ERROR,
                 "replay: --speed takes max or a number from 0.05 to 100, not "
                 "\"%s\"",
                 text);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

static void print_end(const struct replay *replay, const char *wav)
{
    const struct intake_skipped *skipped =
        intake_source_skipped(replay->source);
    uint64_t other = intake_source_other(replay->source) + skipped->not_ip +
                     skipped->not_udp + skipped->fragment + skipped->cut_short +
                     skipped->malformed;

    outputs_print_counts(&replay->session->stream.counts);
    if (other > 0)
        log_line(LOG_LEVEL_NOTE, "%" PRIu64 " frames of other traffic skipped",
                 other);
    if (wav != NULL)
        log_line(LOG_LEVEL_NOTE, "what was to be heard is in %s", wav);
}

static void say_nothing_taken(const struct replay *replay, const char *file)
{
    const struct intake_counts *counts = &replay->session->stream.counts;

    if (counts->rejected[INTAKE_NOT_ALLOWED] == counts->datagrams)
        log_line(LOG_LEVEL_ERROR,
                 "%s: no datagram is from a sender in the list network "
                 "{ allow }",
                 file);
    else
        log_line(LOG_LEVEL_ERROR,
                 "%s: no datagram fits layout \"%s\"; quarterturn "
                 "inspect shows why",
                 file, replay->settings.layout.name);
}

static void load_notes(struct replay *replay, const char *file)
{
    char path[SETTINGS_PATH_SIZE + 16];
    uint32_t line = 0;

    if (debrief_notes_path(file, path, sizeof path) == 0 &&
        debrief_notes_read(path, replay->note, &replay->note_count, &line) < 0)
        log_plain(LOG_LEVEL_WARNING,
                  "%s:%u: not a note; this and later ones are left out", path,
                  line);
}

static int fly(struct replay *replay, const char *file,
               const struct command_context *context,
               const struct outputs_choice *choice, bool silent)
{
    struct session_sink sink;
    int status = outputs_open(&replay->outputs, choice, &replay->settings);
    bool keep;

    if (status != 0)
        return status;
    fetch(replay);
    if (!replay->has_next && replay->status == 0) {
        log_line(LOG_LEVEL_ERROR, "%s: the recording holds no UDP datagram",
                 file);
        replay->status = EXIT_COULD_NOT;
    }
    if (replay->has_next) {
        replay->origin_ns = replay->next.t_ns;
        sink = outputs_sink(&replay->outputs);
        session_init(replay->session, &replay->settings, &sink);
        outputs_begin(&replay->outputs, replay->origin_ns);
        load_notes(replay, file);
        if (replay->speed > 0.0)
            replay->status = run_paced(replay, context->program, silent);
        else
            run_at_once(replay);
        give_notes(replay, INT64_MAX);
        session_advance(replay->session, replay->end_ns);
        session_end(replay->session);
        if (replay->session->stream.counts.taken == 0) {
            say_nothing_taken(replay, file);
            replay->status = EXIT_COULD_NOT;
        }
    }
    keep = replay->status == 0;
    status = outputs_close(&replay->outputs, replay->end_ns, keep);
    if (keep)
        print_end(replay, choice->wav);
    return replay->status != 0 ? replay->status : status;
}

int command_replay(int argc, char **argv, const struct command_context *context)
{
    struct outputs_choice choice = {.events = context->events,
                                    .quiet = context->quiet};
    const char *speed = NULL;
    const char *file = NULL;
    struct settings_choice wanted = context->choice;
    double port = 0.0;
    bool silent = false;
    int words = 0;
    const struct words_option options[] = {
        {.name = "--speed", .text = &speed},
        {.name = "--wav", .text = &choice.wav},
        {.name = "--port", .number = &port, .least = 1, .most = 65535},
        {.name = "--no-sound", .flag = &silent},
        {.name = "--help-level", .text = &wanted.help},
        {.name = NULL}};
    struct replay *replay;
    int status = words_read(argc, argv, options, &file, 1, &words);

    if (status != 0)
        return status;
    if (file == NULL) {
        log_line(LOG_LEVEL_ERROR, "replay: which recording? replay FILE");
        return EXIT_WRONG_USAGE;
    }
    replay = calloc(1, sizeof *replay);
    if (replay != NULL)
        replay->session = calloc(1, sizeof *replay->session);
    if (replay == NULL || replay->session == NULL) {
        free(replay);
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    status = read_speed(speed, &replay->speed);
    if (status == 0 &&
        settings_load(&wanted, context->data_folder, &replay->settings,
                      replay->why, sizeof replay->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", replay->why);
        status = EXIT_WRONG_USAGE;
    }
    if (status == 0)
        status = needs_explain_layout(&replay->settings.layout);
    if (status == 0 &&
        intake_source_open(file, &replay->settings.layout, (uint16_t)port,
                           &replay->source, replay->why,
                           sizeof replay->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", replay->why);
        status = EXIT_COULD_NOT;
    }
    if (status == 0) {
        status = fly(replay, file, context, &choice, silent);
        intake_source_close(replay->source);
    }
    free(replay->session);
    free(replay);
    return status;
}
