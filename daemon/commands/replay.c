/* replay.c - a recorded stream through the same rooms as a live one. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "fitting.h"
#include "loop.h"
#include "needs.h"
#include "outputs.h"
#include "playback.h"
#include "quarterturn/log.h"
#include "rejects.h"
#include "session.h"
#include "targets.h"
#include "words.h"

struct replay {
    struct settings settings;
    struct outputs outputs;
    struct session session;
    struct playback playback;
    double speed; /* 0: as fast as it goes */
    char why[SETTINGS_PATH_SIZE + 128];
    /* paced replay only */
    uv_loop_t loop;
    uv_timer_t timer;
    uv_signal_t interrupt;
    uint64_t start_monotonic_ns;
};

static void on_note(void *context, int64_t t_ns, const char *text)
{
    struct replay *replay = context;

    outputs_note(&replay->outputs, t_ns, text);
}

/* ---- as fast as it goes ------------------------------------------------- */

static void run_at_once(struct replay *replay)
{
    while (replay->playback.has_next)
        playback_push(&replay->playback);
}

/* ---- at a pace ---------------------------------------------------------- */

static int64_t to_monotonic_ns(void *context, int64_t t_ns)
{
    const struct replay *replay = context;
    double passed_ns =
        (double)(t_ns - replay->playback.origin_ns) / replay->speed;

    return (int64_t)replay->start_monotonic_ns + (int64_t)passed_ns;
}

static int64_t virtual_now_ns(const struct replay *replay)
{
    double passed_ns = (double)(uv_hrtime() - replay->start_monotonic_ns);

    return replay->playback.origin_ns + (int64_t)(passed_ns * replay->speed);
}

static void stop(struct replay *replay)
{
    uv_close((uv_handle_t *)&replay->timer, NULL);
    uv_close((uv_handle_t *)&replay->interrupt, NULL);
    outputs_stop_sound(&replay->outputs, replay->playback.end_ns, 8000);
}

static void on_timer(uv_timer_t *timer)
{
    struct replay *replay = timer->data;
    struct playback *playback = &replay->playback;
    int64_t now_ns = virtual_now_ns(replay);
    int64_t due_ns;
    int64_t wait_ms;

    while (playback->has_next && playback->next.t_ns <= now_ns)
        playback_push(playback);
    if (!playback->has_next) {
        stop(replay);
        return;
    }
    session_advance(&replay->session, now_ns);
    due_ns = session_deadline_ns(&replay->session);
    if (playback->next.t_ns < due_ns)
        due_ns = playback->next.t_ns;
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
    outputs_use_loop(&replay->outputs, &replay->loop);
    (void)uv_run(&replay->loop, UV_RUN_DEFAULT);
    outputs_use_loop(&replay->outputs, NULL);
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
        intake_source_skipped(replay->playback.source);
    uint64_t other = intake_source_other(replay->playback.source) +
                     skipped->not_ip + skipped->not_udp + skipped->fragment +
                     skipped->cut_short + skipped->malformed;

    rejects_print_counts(&replay->session.stream.counts);
    if (other > 0)
        log_line(LOG_LEVEL_NOTE, "%" PRIu64 " frame%s of other traffic skipped",
                 other, other == 1 ? "" : "s");
    if (wav != NULL)
        log_line(LOG_LEVEL_NOTE, "what was to be heard is in %s", wav);
}

static int fly(struct replay *replay, const struct command_context *context,
               const struct outputs_choice *choice, bool silent)
{
    struct playback *playback = &replay->playback;
    struct session_sink sink;
    int status = outputs_open(&replay->outputs, choice, &replay->settings);
    int written;

    if (status != 0)
        return status;
    sink = outputs_sink(&replay->outputs);
    session_init(&replay->session, &replay->settings, &sink);
    outputs_begin(&replay->outputs, playback->origin_ns);
    playback->on_note = on_note;
    playback->context = replay;
    if (replay->speed > 0.0)
        status = run_paced(replay, context->program, silent);
    else
        run_at_once(replay);
    if (status == 0)
        status = playback_end(playback);
    written = outputs_close(&replay->outputs, playback->end_ns, status == 0);
    if (status == 0)
        print_end(replay, choice->wav);
    return status != 0 ? status : written;
}

static int check_targets(const char *file, const struct outputs_choice *choice)
{
    const struct targets_named target[TARGETS_MOST] = {
        {"--events", choice->events}, {"--wav", choice->wav}};

    return targets_differ("replay", file, target) ? 0 : EXIT_WRONG_USAGE;
}

static int prepare(struct replay *replay, const struct settings_choice *wanted,
                   const char *data_folder)
{
    if (settings_load(wanted, data_folder, &replay->settings, replay->why,
                      sizeof replay->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", replay->why);
        return EXIT_WRONG_USAGE;
    }
    return needs_explain_layout(&replay->settings.layout);
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
        {.name = "--wav", .text = &choice.wav, .file = true},
        {.name = "--pages", .text = &choice.pages},
        {.name = "--port", .number = &port, .least = 1, .most = 65535},
        {.name = "--no-sound", .flag = &silent},
        {.name = "--help-level", .text = &wanted.help},
        {.name = "--person", .text = &wanted.person, .utf8 = true},
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
    if (replay == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    status = read_speed(speed, &replay->speed);
    if (status == 0)
        status = check_targets(file, &choice);
    if (status == 0)
        status = prepare(replay, &wanted, context->data_folder);
    if (status == 0)
        fitting_take(context, file, (uint16_t)port, &wanted, &replay->settings);
    if (status == 0)
        status = playback_open(&replay->playback, file, &replay->settings,
                               &replay->session, (uint16_t)port);
    if (status == 0) {
        status = fly(replay, context, &choice, silent);
        playback_close(&replay->playback);
    }
    free(replay);
    return status;
}
