/* inspect.c - the command that shows what arrives. */
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <uv.h>

#include "commands.h"
#include "fitting.h"
#include "inspect_json.h"
#include "inspect_tally.h"
#include "loop.h"
#include "needs.h"
#include "quarterturn/audio.h"
#include "quarterturn/error.h"
#include "quarterturn/log.h"
#include "quarterturn/wrap.h"
#include "words.h"

enum { REFRESH_MS = 1000, OUTPUT_FD = 1 };

/* What the words ask for. */
struct wanted {
    const char *file; /* NULL: live */
    const char *address;
    double port; /* below 0: not said */
    double seconds;
    bool check;
    bool json;
};

struct inspect {
    struct settings settings;
    struct inspect_tally tally;
    bool json; /* one object at the end instead of tables */
    char why[512];
};

static int print_end(const struct inspect *inspect)
{
    if (!inspect->json) {
        inspect_tally_print(&inspect->tally, inspect->settings.layout_file,
                            stdout);
        return 0;
    }
    /* Of standard output that cannot be written main tells. */
    return inspect_json_print(&inspect->tally, inspect->settings.layout_file,
                              stdout)
               ? 0
               : EXIT_COULD_NOT;
}

/* The live part. */
struct live {
    struct inspect *inspect;
    uv_loop_t loop;
    uv_timer_t refresh;
    uv_timer_t end;
    uv_signal_t interrupt;
    uv_signal_t terminate;
    struct intake_udp *udp;
    bool terminal;
};

/* ---- a recording -------------------------------------------------------- */

static int inspect_recording(struct inspect *inspect,
                             const struct wanted *wanted)
{
    uint16_t port = wanted->port > 0.0 ? (uint16_t)wanted->port : 0;
    struct intake_datagram datagram;
    struct intake_source *source;
    int status;
    int got;

    if (intake_source_open(wanted->file, &inspect->settings.layout, port,
                           &source, inspect->why, sizeof inspect->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", inspect->why);
        return EXIT_COULD_NOT;
    }
    while ((got = intake_source_next(source, &datagram, inspect->why,
                                     sizeof inspect->why)) == 1)
        inspect_tally_push(&inspect->tally, &datagram);
    if (!inspect->json) {
        (void)printf("layout \"%s\", %s", inspect->settings.layout.name,
                     wanted->file);
        if (intake_source_port(source) != 0)
            (void)printf(", to port %u", intake_source_port(source));
        (void)printf("\n");
    }
    status = print_end(inspect);
    if (!inspect->json)
        inspect_print_other(intake_source_other(source),
                            intake_source_skipped(source), stdout);
    intake_source_close(source);
    if (got < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", inspect->why);
        return EXIT_COULD_NOT;
    }
    return status;
}

/* ---- live --------------------------------------------------------------- */

static void on_datagram(void *context, const struct intake_datagram *datagram)
{
    struct live *live = context;

    inspect_tally_push(&live->inspect->tally, datagram);
}

static void on_refresh(uv_timer_t *timer)
{
    struct live *live = timer->data;

    inspect_tally_tick(&live->inspect->tally, (int64_t)uv_hrtime());
    if (!live->terminal)
        return;
    /* Cursor home, clear what is below it. */
    (void)printf("\033[H\033[J");
    inspect_tally_print(&live->inspect->tally,
                        live->inspect->settings.layout_file, stdout);
    (void)fflush(stdout);
}

static void stop(struct live *live)
{
    uv_close((uv_handle_t *)&live->refresh, NULL);
    uv_close((uv_handle_t *)&live->end, NULL);
    uv_close((uv_handle_t *)&live->interrupt, NULL);
    uv_close((uv_handle_t *)&live->terminate, NULL);
    if (live->udp != NULL)
        intake_udp_close(live->udp);
    live->udp = NULL;
}

static void on_end(uv_timer_t *timer)
{
    stop(timer->data);
}

static void on_signal(uv_signal_t *handle, int number)
{
    struct live *live = handle->data;

    (void)number;
    /* Both signals may come in one turn of the loop. */
    if (!uv_is_closing((uv_handle_t *)handle))
        stop(live);
}

static int start_live(struct live *live, const struct wanted *wanted)
{
    struct inspect *inspect = live->inspect;
    const char *address =
        wanted->address != NULL ? wanted->address : inspect->settings.address;
    uint16_t port =
        wanted->port >= 0.0 ? (uint16_t)wanted->port : inspect->settings.port;
    const struct intake_place place = {address, port, inspect->settings.group,
                                       inspect->settings.group_count};
    int status = intake_udp_open(&live->loop, &place, on_datagram, live,
                                 &live->udp, inspect->why, sizeof inspect->why);

    if (status != 0) {
        log_line(LOG_LEVEL_ERROR, "%s", inspect->why);
        stop(live);
        return status == ERR_USAGE ? EXIT_WRONG_USAGE : EXIT_COULD_NOT;
    }
    log_line(LOG_LEVEL_NOTE, "listening on %s port %u for layout \"%s\"",
             address, intake_udp_port(live->udp),
             inspect->settings.layout.name);
    (void)uv_timer_start(&live->refresh, on_refresh, REFRESH_MS, REFRESH_MS);
    if (wanted->seconds > 0.0)
        (void)uv_timer_start(&live->end, on_end,
                             (uint64_t)(wanted->seconds * 1e3), 0);
    (void)uv_signal_start(&live->interrupt, on_signal, SIGINT);
    (void)uv_signal_start(&live->terminate, on_signal, SIGTERM);
    return 0;
}

static int inspect_live(struct inspect *inspect, const struct wanted *wanted)
{
    struct live live = {.inspect = inspect};
    uv_timer_t *const timers[] = {&live.refresh, &live.end, NULL};
    uv_signal_t *const signals[] = {&live.interrupt, &live.terminate, NULL};
    const struct loop_handles handles = {timers, signals};
    int status = loop_begin(&live.loop, &handles, &live);

    if (status != 0)
        return status;
    live.terminal = !inspect->json && uv_guess_handle(OUTPUT_FD) == UV_TTY;
    status = start_live(&live, wanted);
    (void)uv_run(&live.loop, UV_RUN_DEFAULT);
    (void)uv_loop_close(&live.loop);
    if (status == 0 && live.terminal)
        (void)printf("\033[H\033[J");
    return status == 0 ? print_end(inspect) : status;
}

/* ---- the command -------------------------------------------------------- */

static int count_channels(const struct intake_layout *layout)
{
    uint32_t channels = intake_layout_channels(layout);
    int count = 0;

    for (int i = 0; i < CHANNEL_COUNT; i++) {
        if ((channels & CHANNEL_BIT(i)) != 0)
            count++;
    }
    return count;
}

/* As listen does at its start: its clips can be read. */
static int check_voice(const struct settings *settings)
{
    char why[SETTINGS_PATH_SIZE + 256];
    struct audio_bank bank;

    if (audio_bank_load(settings->audio.voice_folder, &bank, why, sizeof why) <
        0) {
        log_plain(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_COULD_NOT;
    }
    audio_bank_free(&bank);
    return 0;
}

static int print_check(const struct settings *settings)
{
    int status = needs_explain_layout(&settings->layout);
    char text[640];

    if (status == 0)
        status = check_voice(settings);
    if (status == 0) {
        int channels = count_channels(&settings->layout);

        (void)snprintf(text, sizeof text,
                       "configuration is good: %s, aircraft \"%s\", layout "
                       "\"%s\" (%d channel%s), standard \"%s\", %s port %u",
                       maneuver_kind_name(settings->maneuver),
                       settings->aircraft.name, settings->layout.name, channels,
                       channels == 1 ? "" : "s", settings->standard.name,
                       settings->address, settings->port);
        wrap_print(stdout, 0, 2, text);
        (void)putchar('\n');
    }
    return status;
}

/* What nothing was taken of may be a stream that is known, only not by the
 * layout that was looked with. */
static void say_no_fit(const struct inspect *inspect,
                       const struct command_context *context,
                       const struct wanted *wanted)
{
    const char *layout = inspect->settings.layout.name;
    const char *file = wanted->file != NULL ? wanted->file : "";
    const char *found = NULL;

    if (wanted->file != NULL)
        found = fitting_find(context, wanted->file,
                             wanted->port > 0.0 ? (uint16_t)wanted->port : 0);
    if (found != NULL)
        log_line(LOG_LEVEL_ERROR,
                 "no datagram fits layout \"%s\"; layout \"%s\" fits it: "
                 "--layout %s",
                 layout, found, found);
    else
        log_line(LOG_LEVEL_ERROR,
                 "no datagram fits layout \"%s\"; one that does may be found "
                 "by: quarterturn discover%s%s",
                 layout, file[0] != '\0' ? " " : "", file);
}

static int show(struct inspect *inspect, const struct command_context *context,
                const struct wanted *wanted)
{
    const struct intake_counts *counts = &inspect->tally.stream.counts;
    int status;

    inspect->json = wanted->json;
    inspect_tally_init(&inspect->tally, &inspect->settings.layout,
                       &inspect->settings.allow,
                       inspect->settings.signal_timeout_ns);
    status = wanted->file != NULL ? inspect_recording(inspect, wanted)
                                  : inspect_live(inspect, wanted);
    if (status != 0)
        return status;
    if (counts->taken == 0) {
        if (counts->datagrams == 0)
            log_line(LOG_LEVEL_ERROR, "no datagram came");
        else if (counts->rejected[INTAKE_NOT_ALLOWED] == counts->datagrams)
            log_line(LOG_LEVEL_ERROR,
                     "no datagram is from a sender in the list network "
                     "{ allow }");
        else
            say_no_fit(inspect, context, wanted);
        return EXIT_COULD_NOT;
    }
    return 0;
}

int command_inspect(int argc, char **argv,
                    const struct command_context *context)
{
    struct wanted wanted = {.port = -1.0};
    const struct words_option options[] = {
        {.name = "--address", .text = &wanted.address},
        {.name = "--port", .number = &wanted.port, .most = 65535},
        {.name = "--seconds",
         .number = &wanted.seconds,
         .fraction = true,
         .least = 0.01,
         .most = 1e6},
        {.name = "--check", .flag = &wanted.check},
        {.name = "--json", .flag = &wanted.json},
        {.name = NULL}};
    struct inspect *inspect;
    int words = 0;
    int status = words_read(argc, argv, options, &wanted.file, 1, &words);

    if (status == 0 && wanted.check && wanted.file != NULL) {
        log_line(LOG_LEVEL_ERROR,
                 "inspect: --check looks at the configuration alone; \"%s\" "
                 "is one word too many",
                 wanted.file);
        status = EXIT_WRONG_USAGE;
    }
    if (status != 0)
        return status;
    inspect = calloc(1, sizeof *inspect);
    if (inspect == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    if (settings_load(&context->choice, context->data_folder,
                      &inspect->settings, inspect->why,
                      sizeof inspect->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", inspect->why);
        status = EXIT_WRONG_USAGE;
    } else {
        status = wanted.check ? print_check(&inspect->settings)
                              : show(inspect, context, &wanted);
    }
    free(inspect);
    return status;
}
