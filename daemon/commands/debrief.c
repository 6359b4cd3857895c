/* debrief.c - grades every attempt in a recording. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "debrief_logbook.h"
#include "fitting.h"
#include "needs.h"
#include "pages.h"
#include "playback.h"
#include "quarterturn/audio.h"
#include "quarterturn/debrief.h"
#include "quarterturn/log.h"
#include "session.h"
#include "targets.h"
#include "words.h"

/* More of a kind tell nothing new. */
enum { NOT_BEGUN_MOST = 10 };

struct debrief {
    struct settings settings;
    struct session session;
    struct playback playback;
    FILE *json; /* NULL: none */
    FILE *csv;
    const char *page;    /* NULL: none */
    struct pages *pages; /* NULL: none */
    bool text;
    bool log; /* into the logbook */
    struct debrief_logbook logbook;
    uint32_t only; /* the attempt asked for; 0: all */
    uint32_t attempts;
    uint32_t shown;
    uint32_t not_begun; /* turns that were not taken for an attempt */
    bool failed;
    bool page_failed;
    char why[SETTINGS_PATH_SIZE + 128];
};

/* One page shows one attempt too. */
static void write_page(struct debrief *debrief,
                       const struct debrief_attempt *attempt)
{
    if (pages_write_file(debrief->page, attempt, debrief->why,
                         sizeof debrief->why) == 0) {
        if (!targets_is_output(debrief->page))
            log_line(LOG_LEVEL_NOTE, "the page of attempt %u is %s",
                     attempt->number, debrief->page);
        return;
    }
    log_plain(LOG_LEVEL_ERROR, "%s", debrief->why);
    debrief->page_failed = true;
}

static void on_attempt(void *context, const struct debrief_attempt *attempt)
{
    struct debrief *debrief = context;

    debrief->attempts++;
    if (debrief->only != 0 && attempt->number != debrief->only)
        return;
    debrief->shown++;
    if (debrief->log)
        debrief_logbook_add(&debrief->logbook, attempt);
    if (debrief->text)
        debrief_attempt_print(stdout, attempt);
    if (debrief->json != NULL &&
        debrief_attempt_write_json(debrief->json, attempt) < 0)
        debrief->failed = true;
    /* One table holds one attempt: the first of those that are shown. */
    if (debrief->csv != NULL && debrief->shown == 1 &&
        debrief_series_write(debrief->csv, attempt) < 0)
        debrief->failed = true;
    if (debrief->page != NULL && debrief->shown == 1)
        write_page(debrief, attempt);
    if (debrief->pages != NULL)
        pages_write(debrief->pages, attempt);
}

/* Somebody meant an attempt and will look for it here. */
static void on_event(void *context, const struct maneuver_event *event,
                     const struct debrief_grade *grade)
{
    struct debrief *debrief = context;
    char why[DEBRIEF_LACK_SIZE];
    char text[DEBRIEF_LACK_SIZE + 128];
    int64_t from_ns = debrief->playback.origin_ns;

    (void)grade;
    if (event->kind != EVENT_NOT_BEGUN)
        return;
    debrief->not_begun++;
    if (debrief->not_begun > NOT_BEGUN_MOST)
        return;
    debrief_lack_text(&event->lack, true, why);
    (void)snprintf(text, sizeof text,
                   "the climbing turn at %.1f s was not taken for a %s: %s",
                   (double)(event->t_ns - from_ns) * 1e-9,
                   maneuver_kind_name(event->maneuver), why);
    log_wrapped(LOG_LEVEL_NOTE, "quarterturn: ", text);
}

static int fly(struct debrief *debrief)
{
    const struct session_sink sink = {
        .context = debrief, .event = on_event, .attempt = on_attempt};

    session_init(&debrief->session, &debrief->settings, &sink);
    while (debrief->playback.has_next)
        playback_push(&debrief->playback);
    /* What could be read of a damaged recording has been graded. */
    return playback_end(&debrief->playback);
}

static void say_no_attempt(const struct debrief *debrief, const char *file)
{
    const struct settings *settings = &debrief->settings;
    const char *name = maneuver_kind_name(settings->maneuver);
    double entry_kt = units_kt(settings->aircraft.entry_speed_mps);
    double band_kt = units_kt(settings->standard.entry_speed_band_mps);

    if (debrief->not_begun > 0)
        log_line(LOG_LEVEL_ERROR, "%s: nobody began a %s in it", file, name);
    else
        log_line(LOG_LEVEL_ERROR,
                 "%s: nobody began a %s in it (it begins from steady, level "
                 "flight at %.4g to %.4g kt)",
                 file, name, entry_kt - band_kt, entry_kt + band_kt);
}

/* Say why there is nothing to see. */
static int explain(const struct debrief *debrief, const char *file)
{
    if (debrief->not_begun > NOT_BEGUN_MOST)
        log_line(LOG_LEVEL_NOTE, "%u more climbing turns were not taken either",
                 debrief->not_begun - NOT_BEGUN_MOST);
    if (debrief->page != NULL && debrief->shown > 1)
        log_line(LOG_LEVEL_NOTE,
                 "%u attempts, and the page shows the first; another with "
                 "--attempt N, all with --pages FOLDER",
                 debrief->shown);
    if (debrief->shown > 0)
        return 0;
    if (debrief->attempts > 0)
        log_line(LOG_LEVEL_ERROR, "%s: there is no attempt %u; it holds %u",
                 file, debrief->only, debrief->attempts);
    else
        say_no_attempt(debrief, file);
    return EXIT_COULD_NOT;
}

/* When a call sounds depends on how long those before it take. */
static int load_durations(struct debrief *debrief)
{
    struct audio_bank bank;

    if (audio_bank_load(debrief->settings.audio.voice_folder, &bank,
                        debrief->why, sizeof debrief->why) < 0) {
        log_plain(LOG_LEVEL_ERROR, "%s", debrief->why);
        return EXIT_COULD_NOT;
    }
    audio_bank_durations(&bank, debrief->settings.callout.clip_s);
    audio_bank_free(&bank);
    return 0;
}

static int open_file(const char *path, FILE **out)
{
    if (path == NULL)
        return 0;
    *out = targets_open(path);
    if (*out != NULL)
        return 0;
    log_line(LOG_LEVEL_ERROR, "%s: cannot be written: %s", path,
             strerror(errno));
    return EXIT_COULD_NOT;
}

static void close_file(struct debrief *debrief, FILE *file, const char *path)
{
    bool bad;

    if (file == NULL)
        return;
    bad = !targets_close(file);
    if (bad || debrief->failed) {
        log_line(LOG_LEVEL_ERROR, "%s: not written whole", path);
        debrief->failed = true;
    }
}

struct debrief_choice {
    struct settings_choice settings;
    const char *json;
    const char *csv;
    const char *page;
    const char *logbook; /* NULL: as configured, else the user's own */
    bool log;
    const char *pages;
    double attempt;
    double port;
};

static int open_pages(struct debrief *debrief, const char *folder)
{
    if (folder == NULL || pages_open(folder, &debrief->pages, debrief->why,
                                     sizeof debrief->why) == 0)
        return 0;
    log_plain(LOG_LEVEL_ERROR, "%s", debrief->why);
    return EXIT_COULD_NOT;
}

static int load_settings(struct debrief *debrief,
                         const struct command_context *context,
                         const struct debrief_choice *choice)
{
    if (settings_load(&choice->settings, context->data_folder,
                      &debrief->settings, debrief->why,
                      sizeof debrief->why) == 0)
        return 0;
    log_plain(LOG_LEVEL_ERROR, "%s", debrief->why);
    return EXIT_WRONG_USAGE;
}

/* Returns: its path; "": the user's own. */
static const char *logbook_of(const struct debrief *debrief,
                              const struct debrief_choice *choice)
{
    return choice->logbook != NULL ? choice->logbook
                                   : debrief->settings.logbook;
}

/* Standard output holds one thing. file: NULL: none. */
static int check_targets(const struct debrief *debrief, const char *file,
                         const struct debrief_choice *choice)
{
    const struct targets_named target[TARGETS_MOST] = {
        {"--page", choice->page},
        {"--json", choice->json},
        {"--csv", choice->csv},
        {"--logbook", choice->log ? logbook_of(debrief, choice) : NULL}};

    if (targets_is_output(choice->page) + targets_is_output(choice->json) +
            targets_is_output(choice->csv) >
        1) {
        log_line(LOG_LEVEL_ERROR,
                 "debrief: one of --page, --json and --csv may be \"-\": "
                 "standard output holds one thing");
        return EXIT_WRONG_USAGE;
    }
    return targets_differ("debrief", file, target) ? 0 : EXIT_WRONG_USAGE;
}

static int show_logbook(struct debrief *debrief,
                        const struct command_context *context,
                        const struct debrief_choice *choice)
{
    int status = load_settings(debrief, context, choice);

    if (status == 0)
        status = check_targets(debrief, NULL, choice);
    return status != 0
               ? status
               : debrief_logbook_show(logbook_of(debrief, choice),
                                      choice->settings.person, choice->page);
}

static int run(struct debrief *debrief, const char *file,
               const struct command_context *context,
               struct debrief_choice *choice)
{
    int status = load_settings(debrief, context, choice);

    if (status == 0)
        status = check_targets(debrief, file, choice);
    if (status != 0)
        return status;
    fitting_take(context, file, (uint16_t)choice->port, &choice->settings,
                 &debrief->settings);
    debrief->only = (uint32_t)choice->attempt;
    debrief->log = choice->log;
    debrief->page = choice->page;
    debrief->text = !targets_is_output(choice->json) &&
                    !targets_is_output(choice->csv) &&
                    !targets_is_output(choice->page);
    status = needs_explain_layout(&debrief->settings.layout);
    if (status == 0)
        status = load_durations(debrief);
    if (status == 0)
        status = playback_open(&debrief->playback, file, &debrief->settings,
                               &debrief->session, (uint16_t)choice->port);
    if (status != 0)
        return status;
    status = open_file(choice->json, &debrief->json);
    if (status == 0)
        status = open_file(choice->csv, &debrief->csv);
    if (status == 0)
        status = open_pages(debrief, choice->pages);
    if (status == 0)
        status = fly(debrief);
    if (status == 0)
        status = explain(debrief, file);
    playback_close(&debrief->playback);
    if ((debrief->logbook.count > 0 || debrief->logbook.failed) &&
        debrief_logbook_write(&debrief->logbook, logbook_of(debrief, choice)) !=
            0)
        status = EXIT_COULD_NOT;
    if (debrief->pages != NULL && pages_close(debrief->pages) < 0)
        debrief->page_failed = true;
    close_file(debrief, debrief->json, choice->json);
    close_file(debrief, debrief->csv, choice->csv);
    return status == 0 && (debrief->failed || debrief->page_failed)
               ? EXIT_COULD_NOT
               : status;
}

int command_debrief(int argc, char **argv,
                    const struct command_context *context)
{
    struct debrief_choice choice = {.settings = context->choice};
    const char *file = NULL;
    int words = 0;
    const struct words_option options[] = {
        {.name = "--json", .text = &choice.json},
        {.name = "--csv", .text = &choice.csv},
        {.name = "--page", .text = &choice.page},
        {.name = "--pages", .text = &choice.pages},
        {.name = "--person", .text = &choice.settings.person, .utf8 = true},
        {.name = "--logbook",
         .text = &choice.logbook,
         .flag = &choice.log,
         .file = true},
        {.name = "--attempt",
         .number = &choice.attempt,
         .least = 1,
         .most = 1e6},
        {.name = "--port", .number = &choice.port, .least = 1, .most = 65535},
        {.name = NULL}};
    struct debrief *debrief;
    int status = words_read(argc, argv, options, &file, 1, &words);

    if (status != 0)
        return status;
    if (file == NULL && !choice.log) {
        log_line(LOG_LEVEL_ERROR,
                 "debrief: which recording? debrief FILE, or debrief "
                 "--logbook for the progress");
        return EXIT_WRONG_USAGE;
    }
    debrief = calloc(1, sizeof *debrief);
    if (debrief == NULL) {
        log_line(LOG_LEVEL_ERROR, "out of memory");
        return EXIT_COULD_NOT;
    }
    status = file == NULL ? show_logbook(debrief, context, &choice)
                          : run(debrief, file, context, &choice);
    free(debrief);
    return status;
}
