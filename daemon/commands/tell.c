/* tell.c - speaks to a running daemon. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "quarterturn/control.h"
#include "quarterturn/log.h"
#include "words.h"

enum { ANSWER_WITHIN_MS = 3000, MOST_WORDS = 64 };

/* ---- the answer in words ------------------------------------------------- */

static const char *text_of(const json_t *object, const char *name)
{
    const char *text = json_string_value(json_object_get(object, name));

    return text != NULL ? text : "";
}

static long long whole_of(const json_t *object, const char *name)
{
    return (long long)json_integer_value(json_object_get(object, name));
}

static bool truth_of(const json_t *object, const char *name)
{
    return json_is_true(json_object_get(object, name));
}

static void print_stream(const json_t *status)
{
    const char *reason;
    json_t *count;

    (void)printf("quarterturn %s: %s, %s, standard %s\n",
                 text_of(status, "version"), text_of(status, "maneuver"),
                 text_of(status, "aircraft"), text_of(status, "standard"));
    (void)printf("stream     port %lld, layout %s; ", whole_of(status, "port"),
                 text_of(status, "layout"));
    if (truth_of(status, "signal"))
        (void)printf("%.1f a second from %s\n",
                     json_number_value(json_object_get(status, "rate_hz")),
                     text_of(status, "sender"));
    else
        (void)printf("nothing arrives\n");
    (void)printf("datagrams  %lld, %lld taken\n", whole_of(status, "datagrams"),
                 whole_of(status, "taken"));
    json_object_foreach(json_object_get(status, "rejected"), reason, count)(
        void) printf("           %lld not taken: %s\n",
                     (long long)json_integer_value(count), reason);
}

enum { COUNT_SIZE = 48 };

/* Returns: out, "1 call" or "2 calls". */
static const char *count_of(const json_t *object, const char *key,
                            const char *thing, char out[COUNT_SIZE])
{
    long long count = whole_of(object, key);

    (void)snprintf(out, COUNT_SIZE, "%lld %s%s", count, thing,
                   count == 1 ? "" : "s");
    return out;
}

static void print_sound(const json_t *status)
{
    const json_t *sound = json_object_get(status, "sound");
    const json_t *latency = json_object_get(sound, "latency_ms");
    char underruns[COUNT_SIZE], restarts[COUNT_SIZE];

    (void)printf("sound      ");
    if (!json_is_object(sound)) {
        (void)printf("off\n");
        return;
    }
    (void)printf("%s%s", text_of(sound, "state"),
                 truth_of(status, "muted") ? ", muted" : "");
    if (json_is_number(latency))
        (void)printf(", %s, %.1f ms behind", text_of(sound, "device"),
                     json_number_value(latency));
    (void)printf("; %s, %s\n",
                 count_of(sound, "underruns", "underrun", underruns),
                 count_of(sound, "restarts", "restart", restarts));
}

/* In an attempt there is nothing to wait for. */
static void print_ready(const json_t *status)
{
    const json_t *lacks = json_object_get(status, "lacks");

    if (truth_of(status, "ready"))
        (void)printf("ready      yes\n");
    else if (json_is_object(lacks))
        (void)printf("ready      no: %s\n", text_of(lacks, "text"));
}

static void print_status(const json_t *status)
{
    char attempts[COUNT_SIZE], calls[COUNT_SIZE], lines[COUNT_SIZE];
    const char *recording = text_of(status, "recording");
    json_t *topic;
    size_t i;

    print_stream(status);
    (void)printf("flight     %s, %s, %s%s\n", text_of(status, "phase"),
                 count_of(status, "attempts", "attempt", attempts),
                 count_of(status, "calls", "call", calls),
                 truth_of(status, "change_waits")
                     ? "; other settings after the attempt"
                     : "");
    print_ready(status);
    (void)printf("help       %s", text_of(status, "help"));
    json_array_foreach(json_object_get(status, "silent"), i, topic)(void)
        printf("%s %s", i == 0 ? ", silent on" : ",", json_string_value(topic));
    (void)printf("\n");
    print_sound(status);
    (void)printf("recording  %s\n", recording[0] != '\0' ? recording : "none");
    if (whole_of(status, "lines_lost") > 0)
        (void)printf("output     %s lost: nobody was reading\n",
                     count_of(status, "lines_lost", "line", lines));
}

/* Returns: exit status. */
static int print_answer(const char *reply, bool raw)
{
    json_t *answer = json_loads(reply, 0, NULL);
    const json_t *status = json_object_get(answer, "status");
    bool done = truth_of(answer, "ok");

    if (raw)
        (void)printf("%s\n", reply);
    else if (!done)
        log_line(LOG_LEVEL_ERROR, "tell: %s", text_of(answer, "error"));
    else if (status != NULL)
        print_status(status);
    else
        (void)printf("%s\n", text_of(answer, "said")[0] != '\0'
                                 ? text_of(answer, "said")
                                 : "done");
    json_decref(answer);
    return done ? EXIT_DONE : EXIT_COULD_NOT;
}

/* ---- the question -------------------------------------------------------- */

/* before: what the list is an answer to. */
static void list_verbs(const char *before)
{
    char text[512];
    size_t used = (size_t)snprintf(text, sizeof text, "status");

    for (int i = 0; i < CONTROL_VERB_COUNT && used < sizeof text; i++) {
        const char *value = control_verb_value((enum control_verb)i);

        used += (size_t)snprintf(text + used, sizeof text - used, ", %s%s%s",
                                 control_verb_name((enum control_verb)i),
                                 value != NULL ? " " : "",
                                 value != NULL ? value : "");
    }
    log_line(LOG_LEVEL_ERROR, "tell: %s %s", before, text);
}

/* What may stand behind a verb that wants something. */
static void say_value(enum control_verb verb)
{
    char text[256];
    size_t used =
        (size_t)snprintf(text, sizeof text, "%s", control_verb_value(verb));

    if (verb == CONTROL_MARK)
        (void)snprintf(text + used, sizeof text - used, " of up to %d bytes",
                       CONTROL_MAX_NOTE);
    for (int i = 0;
         verb == CONTROL_HELP_LEVEL && i < HELP_COUNT && used < sizeof text;
         i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%s %s",
                                 i > 0 ? "," : ":",
                                 callout_help_name((enum callout_help)i));
    for (int i = 0; verb == CONTROL_MANEUVER && i < MANEUVER_KIND_COUNT &&
                    used < sizeof text;
         i++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%s %s",
                                 i > 0 ? "," : ":",
                                 maneuver_kind_name((enum maneuver_kind)i));
    log_line(LOG_LEVEL_ERROR, "tell: %s wants %s", control_verb_name(verb),
             text);
}

/* The daemon answers to programs; to a hand, what is accepted is said in the
 * words of the command line.
 * Returns: 0 or EXIT_WRONG_USAGE. */
static int check_words(const char *const *word, int count)
{
    const char *value = NULL; /* what "status" wants behind it */
    int verb = 0;

    if (count == 0) {
        list_verbs("what?");
        return EXIT_WRONG_USAGE;
    }
    while (verb < CONTROL_VERB_COUNT &&
           strcmp(word[0], control_verb_name((enum control_verb)verb)) != 0)
        verb++;
    if (verb < CONTROL_VERB_COUNT) {
        value = control_verb_value((enum control_verb)verb);
    } else if (strcmp(word[0], "status") != 0) {
        char before[96];

        (void)snprintf(before, sizeof before,
                       "\"%.48s\" is not known; there is:", word[0]);
        list_verbs(before);
        return EXIT_WRONG_USAGE;
    }
    if (value == NULL && count > 1) {
        log_line(LOG_LEVEL_ERROR, "tell: nothing belongs behind %s", word[0]);
        return EXIT_WRONG_USAGE;
    }
    if (value != NULL && (count == 1 || word[1][0] == '\0')) {
        say_value((enum control_verb)verb);
        return EXIT_WRONG_USAGE;
    }
    return 0;
}

/* Words behind the verb are one value: a note need not be quoted.
 * Returns: owned by the caller, or NULL when it is not UTF-8. */
static char *make_request(const char *const *word, int count)
{
    char value[CONTROL_MAX_LINE] = "";
    size_t used = 0;
    json_t *object;
    char *line;

    for (int i = 1; i < count && used < sizeof value; i++)
        used += (size_t)snprintf(value + used, sizeof value - used, "%s%s",
                                 i > 1 ? " " : "", word[i]);
    object = count > 1 ? json_pack("{s:s, s:s}", "ask", word[0], "value", value)
                       : json_pack("{s:s}", "ask", word[0]);
    line = json_dumps(object, JSON_COMPACT);
    json_decref(object);
    return line;
}

static int ask(const char *path, const char *const *word, int count, bool raw)
{
    char reply[CONTROL_MAX_REPLY];
    char why[SETTINGS_PATH_SIZE + 64];
    char *request = make_request(word, count);
    int status;

    if (request == NULL) {
        log_line(LOG_LEVEL_ERROR, "tell: this is not UTF-8");
        return EXIT_WRONG_USAGE;
    }
    status =
        control_ask(path, request, ANSWER_WITHIN_MS, reply, why, sizeof why);
    free(request);
    if (status < 0) {
        log_line(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_COULD_NOT;
    }
    return print_answer(reply, raw);
}

int command_tell(int argc, char **argv, const struct command_context *context)
{
    const char *path = NULL;
    const char *word[MOST_WORDS];
    char default_path[SETTINGS_PATH_SIZE];
    bool raw = false;
    int count = 0;
    const struct words_option options[] = {{.name = "--control", .text = &path},
                                           {.name = "--json", .flag = &raw},
                                           {.name = NULL}};
    int status = words_read(argc, argv, options, word, MOST_WORDS, &count);

    (void)context;
    if (status == 0)
        status = check_words(word, count);
    if (status != 0)
        return status;
    if (path == NULL) {
        if (control_default_path(default_path, sizeof default_path) < 0) {
            log_line(LOG_LEVEL_ERROR,
                     "tell: XDG_RUNTIME_DIR is not set; name the daemon's "
                     "socket with --control PATH");
            return EXIT_COULD_NOT;
        }
        path = default_path;
    }
    return ask(path, word, count, raw);
}
