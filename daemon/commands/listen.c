/* listen.c - the daemon: packets in, calls out. */
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "keeper.h"
#include "loop.h"
#include "needs.h"
#include "outputs.h"
#include "quarterturn/control.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "reach.h"
#include "readers.h"
#include "ready.h"
#include "recording.h"
#include "rejects.h"
#include "resident.h"
#include "session.h"
#include "targets.h"
#include "told.h"
#include "turns.h"
#include "words.h"
#include "writers.h"

enum { KEEP_MS = 500 };

/* What the command line asked for. */
struct listen_choice {
    const char *address;   /* NULL: as configured */
    const char *recording; /* NULL: none */
    bool force;            /* replaces an earlier one */
    const char *control;   /* NULL: the user's own place */
    const char *help;      /* NULL: as configured */
    const char *person;    /* NULL: nobody said */
    double port;           /* below 0: as configured */
    double seconds;        /* 0: until stopped */
    bool silent;
    const char *logbook; /* NULL: as configured, else the user's own */
    bool log;
};

struct listen {
    struct settings settings;
    struct outputs outputs;
    struct writers *writers; /* NULL before flying */
    struct session *session;
    struct intake_udp *udp;
    struct recording recording;
    struct keeper keeper;
    struct told told;
    struct control *control;
    uv_loop_t loop;
    struct turns turns;
    uv_work_t first;     /* starts the threads */
    uv_timer_t deadline; /* of the session */
    uv_timer_t limit;    /* --seconds */
    uv_timer_t keep;     /* what was recorded, should it be killed */
    uv_signal_t interrupt;
    uv_signal_t terminate;
    uv_signal_t hangup;
    uint32_t said; /* reasons for a reject, as bits */
    bool heard;    /* a datagram has been taken */
    bool stopping;
    bool flown; /* what has been recorded is kept, whatever fails then */
    char why[SETTINGS_PATH_SIZE + 128];
};

/* The session's time is CLOCK_MONOTONIC here. */
static int64_t same_ns(void *context, int64_t t_ns)
{
    (void)context;
    return t_ns;
}

static void on_deadline(uv_timer_t *timer);

static void set_deadline(struct listen *listen)
{
    int64_t due_ns = session_deadline_ns(listen->session);
    int64_t wait_ms;

    if (due_ns == INT64_MAX) {
        (void)uv_timer_stop(&listen->deadline);
        return;
    }
    wait_ms = (due_ns - (int64_t)uv_hrtime()) / 1000000 + 1;
    (void)uv_timer_start(&listen->deadline, on_deadline,
                         wait_ms > 0 ? (uint64_t)wait_ms : 0, 0);
}

static void on_deadline(uv_timer_t *timer)
{
    struct listen *listen = timer->data;

    session_advance(listen->session, (int64_t)uv_hrtime());
    set_deadline(listen);
}

static void on_keep(uv_timer_t *timer)
{
    struct listen *listen = timer->data;

    if (recording_keep(&listen->recording) < 0)
        listen->outputs.failed = true;
    outputs_catch_up(&listen->outputs);
    outputs_rest_sound(&listen->outputs, (int64_t)uv_hrtime());
}

/* Time since 1970 less the monotonic clock. */
static int64_t read_epoch_ns(void)
{
    uv_timeval64_t now;

    (void)uv_gettimeofday(&now);
    return now.tv_sec * UNITS_NS_PER_S + now.tv_usec * INT64_C(1000) -
           (int64_t)uv_hrtime();
}

/* A clock that is set bends nothing that is being flown; but the machine may
 * have slept since the last flight, and the clock may have been wrong then. */
static void follow_clock(struct session *session)
{
    if (!session_has_signal(session) && !session->maneuver.in_attempt)
        session->unix_offset_ns = read_epoch_ns();
}

static void on_datagram(void *context, const struct intake_datagram *datagram)
{
    struct listen *listen = context;

    if (listen->stopping)
        return;
    outputs_begin(&listen->outputs, datagram->t_ns);
    session_advance(listen->session, datagram->t_ns);
    follow_clock(listen->session);
    if (recording_write(&listen->recording, datagram,
                        listen->session->unix_offset_ns) < 0)
        listen->outputs.failed = true;
    session_push(listen->session, datagram);
    if (session_has_signal(listen->session))
        outputs_keep_sound(&listen->outputs, datagram->t_ns);
    told_follow(&listen->told, datagram->t_ns);
    if (!listen->heard && listen->session->stream.counts.taken > 0) {
        char from[INTAKE_ADDRESS_TEXT];

        listen->heard = true;
        intake_udp_sender_text(&listen->session->senders.pin, from);
        log_line(LOG_LEVEL_NOTE, "packets arrive from %s and are understood",
                 from);
    }
    rejects_say(listen->session, listen->settings.layout.name,
                &datagram->sender, &listen->said);
    set_deadline(listen);
}

static void stop(struct listen *listen)
{
    if (listen->stopping)
        return;
    listen->stopping = true;
    (void)ready_tell("STOPPING=1");
    if (listen->udp != NULL)
        intake_udp_close(listen->udp);
    if (listen->control != NULL)
        control_close(listen->control);
    outputs_stop_sound(&listen->outputs, (int64_t)uv_hrtime(), 500);
    turns_end(&listen->turns);
    uv_close((uv_handle_t *)&listen->deadline, NULL);
    uv_close((uv_handle_t *)&listen->limit, NULL);
    uv_close((uv_handle_t *)&listen->keep, NULL);
    uv_close((uv_handle_t *)&listen->interrupt, NULL);
    uv_close((uv_handle_t *)&listen->terminate, NULL);
    uv_close((uv_handle_t *)&listen->hangup, NULL);
}

static void on_signal(uv_signal_t *handle, int number)
{
    (void)number;
    stop(handle->data);
}

static void on_limit(uv_timer_t *timer)
{
    stop(timer->data);
}

static int begin_loop(struct listen *listen, double seconds)
{
    uv_timer_t *const timers[] = {&listen->deadline, &listen->limit,
                                  &listen->keep, NULL};
    uv_signal_t *const signals[] = {&listen->interrupt, &listen->terminate,
                                    &listen->hangup, NULL};
    const struct loop_handles handles = {timers, signals};
    int status = loop_begin(&listen->loop, &handles, listen);

    if (status != 0)
        return status;
    loop_start_threads(&listen->loop, &listen->first);
    turns_begin(&listen->turns, &listen->loop);
    (void)uv_signal_start(&listen->interrupt, on_signal, SIGINT);
    (void)uv_signal_start(&listen->terminate, on_signal, SIGTERM);
    if (seconds > 0.0)
        (void)uv_timer_start(&listen->limit, on_limit,
                             (uint64_t)(seconds * 1000.0), 0);
    return 0;
}

/* ---- being told --------------------------------------------------------- */

/* SIGHUP is "reload" with its answer in the log. */
static void on_hangup(uv_signal_t *handle, int number)
{
    static const struct control_command reload = {.verb = CONTROL_RELOAD};
    struct listen *listen = handle->data;
    char said[CONTROL_SAID_SIZE] = "";

    (void)number;
    (void)ready_tell_reloading();
    if (told_command(&listen->told, (int64_t)uv_hrtime(), &reload, said) < 0)
        log_plain(LOG_LEVEL_ERROR, "%s", said);
    else
        log_line(LOG_LEVEL_NOTE, "configuration read again: %s", said);
    (void)ready_tell("READY=1");
    set_deadline(listen);
}

static void tell_status(void *context, struct control_status *out)
{
    struct listen *listen = context;

    told_status(&listen->told, out);
}

static int tell_command(void *context, const struct control_command *command,
                        char said[CONTROL_SAID_SIZE])
{
    struct listen *listen = context;
    int error;

    if (command->verb == CONTROL_STOP) {
        /* On the loop's next turn, so that the answer still gets out. */
        (void)uv_timer_start(&listen->limit, on_limit, 0, 0);
        return 0;
    }
    error = told_command(&listen->told, (int64_t)uv_hrtime(), command, said);
    set_deadline(listen);
    return error;
}

/* Without being asked for, a control socket is a convenience: flying goes on
 * when it cannot be had. */
static int open_control(struct listen *listen, const char *path)
{
    const struct control_handlers handlers = {listen, tell_status,
                                              tell_command};
    char own[SETTINGS_PATH_SIZE];
    bool asked = path != NULL;

    if (!asked) {
        if (control_default_path(own, sizeof own) < 0) {
            log_line(LOG_LEVEL_NOTE, "XDG_RUNTIME_DIR is not set: only "
                                     "--control PATH lets \"tell\" in");
            return 0;
        }
        path = own;
    }
    if (control_open(&listen->loop, path, &handlers, &listen->control,
                     listen->why, sizeof listen->why) == 0)
        return 0;
    log_line(asked ? LOG_LEVEL_ERROR : LOG_LEVEL_WARNING,
             "%s: no control socket", listen->why);
    return asked ? EXIT_COULD_NOT : 0;
}

/* The socket and the recording: what can fail for a reason of the user's,
 * before any other file is touched. */
static int open_edges(struct listen *listen, const char *recording)
{
    const struct settings *settings = &listen->settings;
    const struct intake_place place = {settings->address, settings->port,
                                       settings->group, settings->group_count};
    int error = intake_udp_open(&listen->loop, &place, on_datagram, listen,
                                &listen->udp, listen->why, sizeof listen->why);

    if (error == 0 && recording != NULL)
        error = recording_begin(&listen->recording, recording,
                                intake_udp_port(listen->udp), listen->why,
                                sizeof listen->why);
    if (error < 0) {
        log_line(LOG_LEVEL_ERROR, "%s", listen->why);
        return error == ERR_USAGE ? EXIT_WRONG_USAGE : EXIT_COULD_NOT;
    }
    (void)uv_timer_start(&listen->keep, on_keep, KEEP_MS, KEEP_MS);
    return 0;
}

static void begin_told(struct listen *listen,
                       const struct command_context *context,
                       const struct listen_choice *wanted)
{
    const struct told_parts parts = {.settings = &listen->settings,
                                     .session = listen->session,
                                     .outputs = &listen->outputs,
                                     .recording = &listen->recording,
                                     .turns = &listen->turns,
                                     .writers = listen->writers,
                                     .data_folder = context->data_folder,
                                     .record = wanted->recording,
                                     .port = intake_udp_port(listen->udp)};
    struct settings_choice choice = context->choice;

    choice.help = wanted->help;
    choice.person = wanted->person;
    told_begin(&listen->told, &parts, &choice);
    (void)uv_signal_start(&listen->hangup, on_hangup, SIGHUP);
}

/* Nobody has to read what is written while the loop runs. */
static int begin_writers(struct listen *listen)
{
    static const int fd[WRITERS_STANDARD] = {1, 2};
    int error = writers_begin(fd, &listen->writers);

    if (error == 0)
        return 0;
    log_line(LOG_LEVEL_ERROR, "cannot start: %s", error_name(error));
    return EXIT_COULD_NOT;
}

/* Fly until stopped. */
static int fly(struct listen *listen, const struct command_context *context,
               const struct outputs_choice *choice,
               const struct listen_choice *wanted)
{
    struct session_sink sink = outputs_sink(&listen->outputs);
    struct outputs_choice live = *choice;
    int status;

    live.writers = listen->writers;
    status = outputs_open(&listen->outputs, &live, &listen->settings);
    if (status != 0)
        return status;
    session_init(listen->session, &listen->settings, &sink);
    listen->session->unix_offset_ns = read_epoch_ns();
    begin_told(listen, context, wanted);
    listen->outputs.to_monotonic_ns = same_ns;
    if (listen->keeper.loop != NULL)
        listen->outputs.keeper = &listen->keeper;
    if (!wanted->silent)
        outputs_start_sound(&listen->outputs, &listen->loop, context->program);
    reach_say(&listen->settings, intake_udp_port(listen->udp));
    if (ready_tell("READY=1") < 0)
        log_line(LOG_LEVEL_WARNING, "the service manager could not be told "
                                    "that the daemon is ready");
    outputs_use_loop(&listen->outputs, &listen->loop);
    listen->flown = true;
    (void)resident_hold();
    log_to(writers_file(listen->writers, WRITERS_ERR));
    (void)uv_run(&listen->loop, UV_RUN_DEFAULT);
    outputs_use_loop(&listen->outputs, NULL);
    session_end(listen->session);
    rejects_print_counts(&listen->session->stream.counts);
    return outputs_close(&listen->outputs, listen->session->now_ns, true);
}

static int run(struct listen *listen, const struct command_context *context,
               const struct outputs_choice *choice,
               const struct listen_choice *wanted)
{
    int status = begin_loop(listen, wanted->seconds);

    if (status != 0)
        return status;
    readers_may_go();
    status = open_edges(listen, wanted->recording);
    if (status == 0)
        status = open_control(listen, wanted->control);
    if (status == 0 && (wanted->log || listen->settings.logbook[0] != '\0'))
        status =
            keeper_begin(&listen->keeper, &listen->loop,
                         wanted->logbook != NULL ? wanted->logbook
                                                 : listen->settings.logbook);
    if (status == 0)
        status = begin_writers(listen);
    if (status == 0)
        status = fly(listen, context, choice, wanted);
    stop(listen);
    (void)uv_run(&listen->loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&listen->loop);
    if (keeper_end(&listen->keeper) != 0)
        status = EXIT_COULD_NOT;
    if (recording_end(&listen->recording, listen->flown, listen->why,
                      sizeof listen->why) < 0) {
        log_line(LOG_LEVEL_ERROR, "%s", listen->why);
        status = EXIT_COULD_NOT;
    }
    if (listen->writers != NULL && writers_end(listen->writers) != 0)
        status = EXIT_COULD_NOT;
    return status;
}

static int check_targets(const struct outputs_choice *choice,
                         const struct listen_choice *wanted)
{
    const struct targets_named target[TARGETS_MOST] = {
        {"--record", wanted->recording},
        {"--events", choice->events},
        {"--wav", choice->wav},
        {"--logbook", wanted->logbook}};

    if (!targets_differ("listen", NULL, target))
        return EXIT_WRONG_USAGE;
    return targets_may_write(wanted->recording, wanted->force) ? 0
                                                               : EXIT_COULD_NOT;
}

static int prepare(struct listen *listen, const struct command_context *context,
                   const struct listen_choice *wanted)
{
    struct settings_choice choice = context->choice;
    const char *address = wanted->address;
    double port = wanted->port;

    choice.help = wanted->help;
    choice.person = wanted->person;
    if (settings_load(&choice, context->data_folder, &listen->settings,
                      listen->why, sizeof listen->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", listen->why);
        return EXIT_WRONG_USAGE;
    }
    if (port >= 0.0)
        listen->settings.port = (uint16_t)port;
    if (address != NULL) {
        if (strlen(address) >= sizeof listen->settings.address) {
            log_line(LOG_LEVEL_ERROR, "listen: \"%s\" is not a numeric address",
                     address);
            return EXIT_WRONG_USAGE;
        }
        memcpy(listen->settings.address, address, strlen(address) + 1);
    }
    return needs_explain_layout(&listen->settings.layout);
}

static int listen_with(const struct command_context *context,
                       const struct outputs_choice *choice,
                       const struct listen_choice *wanted)
{
    struct listen *listen = calloc(1, sizeof *listen);
    int status;

    if (listen != NULL)
        listen->session = calloc(1, sizeof *listen->session);
    if (listen == NULL || listen->session == NULL) {
        free(listen);
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    status = prepare(listen, context, wanted);
    if (status == 0)
        status = check_targets(choice, wanted);
    if (status == 0)
        status = run(listen, context, choice, wanted);
    free(listen->session);
    free(listen);
    return status;
}

int command_listen(int argc, char **argv, const struct command_context *context)
{
    struct outputs_choice choice = {
        .events = context->events, .quiet = context->quiet, .live = true};
    struct listen_choice wanted = {.port = -1.0};
    int words = 0;
    const struct words_option options[] = {
        {.name = "--address", .text = &wanted.address},
        {.name = "--port", .number = &wanted.port, .least = 0, .most = 65535},
        {.name = "--record", .text = &wanted.recording, .file = true},
        {.name = "--force", .flag = &wanted.force},
        {.name = "--wav", .text = &choice.wav, .file = true},
        {.name = "--pages", .text = &choice.pages},
        {.name = "--seconds",
         .number = &wanted.seconds,
         .fraction = true,
         .least = 0.1,
         .most = 1e6},
        {.name = "--control", .text = &wanted.control},
        {.name = "--no-sound", .flag = &wanted.silent},
        {.name = "--logbook",
         .text = &wanted.logbook,
         .flag = &wanted.log,
         .file = true},
        {.name = "--help-level", .text = &wanted.help},
        {.name = "--person", .text = &wanted.person, .utf8 = true},
        {.name = NULL}};
    int status = words_read(argc, argv, options, NULL, 0, &words);

    return status != 0 ? status : listen_with(context, &choice, &wanted);
}
