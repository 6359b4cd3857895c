/* main.c - the command table. */
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <uv.h>

#include "commands/commands.h"
#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "quarterturn/log.h"

struct command {
    const char *name;
    const char *words;
    const char *does; /* NULL: not for the user's hand */
    int (*run)(int argc, char **argv, const struct command_context *context);
};

static const struct command commands[] = {
    {"listen", "", "packets in, calls out: the daemon", command_listen},
    {"replay", "FILE", "a recorded stream through the same rooms",
     command_replay},
    {"debrief", "[FILE]", "grades every attempt in a recording; progress",
     command_debrief},
    {"rehearse", "", "flies a chandelle, well or wrongly, and sends it",
     command_rehearse},
    {"inspect", "[FILE]", "what arrives, decoded: every channel, rejects",
     command_inspect},
    {"discover", "[FILE]", "works out the layout of an unknown stream",
     command_discover},
    {"tell", "WORD...", "speaks to a running daemon: status, mute, mark, ...",
     command_tell},
    {"brief", "", "the plan card of a chandelle, before it is flown",
     command_brief},
    {"sounds", "[NAME...]", "lists, plays and checks the cue set",
     command_sounds},
    {"sound-worker", "", NULL, command_sound_worker},
};

enum { COMMANDS = sizeof commands / sizeof commands[0] };

static void print_help(void)
{
    (void)printf("usage: quarterturn [options] COMMAND [words]\n\n");
    for (size_t i = 0; i < COMMANDS; i++)
        if (commands[i].does != NULL)
            (void)printf("  %-8s %-10s %s\n", commands[i].name,
                         commands[i].words, commands[i].does);
    (void)printf(
        "\noptions of every command\n"
        "  --config FILE         configuration to read\n"
        "  --layout NAME|FILE    what the simulator's packets look like\n"
        "  --aircraft NAME|FILE  the airplane's figures\n"
        "  --standard NAME|FILE  tolerances to grade by\n"
        "  --maneuver NAME       what is flown (chandelle)\n"
        "  --events FILE|-       event lines, one JSON object a line\n"
        "  --quiet               captions of calls only\n"
        "  --verbose             more on standard error\n"
        "  --version, --help\n"
        "\nlisten:  --address A  --port N  --record FILE  --force  "
        "--wav FILE\n"
        "         --seconds N  --no-sound  --control PATH  "
        "--help-level LEVEL\n"
        "         --person NAME  --logbook[=FILE]  --pages FOLDER\n"
        "replay:  --speed 1|0.5|8|max  --wav FILE  --port N  --no-sound\n"
        "         --help-level LEVEL  --person NAME  --pages FOLDER\n"
        "debrief: --page FILE|-  --pages FOLDER  --json FILE|-  --csv FILE|-\n"
        "         --attempt N  --person NAME  --port N  --logbook[=FILE]\n"
        "rehearse: --direction left|right  --error NAME[=SIZE]...  --list\n"
        "         --unsteady N  --turbulence light|moderate  --wind DEG/KT\n"
        "         --weight W  --altitude A  --temperature T  --ground A\n"
        "         --heading DEG  --seed N  --rate N  --speed N|max\n"
        "         --address A  --port N  --record FILE  --truth FILE|-\n"
        "         --force  --hold-at DEG\n"
        "tell:    --control PATH  --json\n"
        "inspect: --address A  --port N  --seconds N  --json  --check\n"
        "discover: --output FILE  --force  --address A  --port N  "
        "--seconds N\n"
        "         --no-sound\n"
        "brief:   --weight W  --altitude A  --temperature T  --ground G\n"
        "         --direction left|right  --heading H  --wind FROM/KT  "
        "--json\n"
        "         --page FILE|-\n"
        "sounds:  --play  --wav FILE  --check FOLDER\n"
        "\nSimulator practice only. The airplane's handbook, current "
        "standards, local rules\nand a licensed instructor come first.\n");
}

/* Take a common option out of the words.
 * Returns: words used (1 or 2), 0 when it is not a common option, or a
 *    negative error when its value is missing. */
static int take_common(char **words, struct command_context *context)
{
    struct {
        const char *name;
        const char **text;
        bool *flag;
    } const options[] = {
        {"--config", &context->choice.config, NULL},
        {"--layout", &context->choice.layout, NULL},
        {"--aircraft", &context->choice.aircraft, NULL},
        {"--standard", &context->choice.standard, NULL},
        {"--maneuver", &context->choice.maneuver, NULL},
        {"--events", &context->events, NULL},
        {"--quiet", NULL, &context->quiet},
        {"--verbose", NULL, &context->verbose},
    };

    for (size_t i = 0; i < sizeof options / sizeof options[0]; i++) {
        size_t length = strlen(options[i].name);

        if (strncmp(words[0], options[i].name, length) != 0)
            continue;
        if (options[i].flag != NULL && words[0][length] == '\0') {
            *options[i].flag = true;
            return 1;
        }
        if (options[i].text != NULL && words[0][length] == '=') {
            *options[i].text = words[0] + length + 1;
            return 1;
        }
        if (options[i].text != NULL && words[0][length] == '\0') {
            *options[i].text = words[1];
            return words[1] != NULL ? 2 : ERR_USAGE;
        }
    }
    return 0;
}

/* Take the common options out of argv, wherever they stand.
 * Returns: 0, or the exit status plus one when the program is to end. */
static int read_common(int *argc, char **argv, struct command_context *context)
{
    int kept = 0;

    for (int i = 1; i < *argc;) {
        int used = take_common(&argv[i], context);

        if (used < 0) {
            log_line(LOG_LEVEL_ERROR, "%s needs a value", argv[i]);
            return EXIT_WRONG_USAGE + 1;
        }
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            print_help();
            return EXIT_DONE + 1;
        }
        if (strcmp(argv[i], "--version") == 0) {
            version_print(stdout);
            return EXIT_DONE + 1;
        }
        if (used == 0) {
            argv[kept++] = argv[i];
            used = 1;
        }
        i += used;
    }
    argv[kept] = NULL;
    *argc = kept;
    return 0;
}

/* Returns: exit status. */
static int run(int argc, char **argv)
{
    char executable[SETTINGS_PATH_SIZE];
    char data_folder[SETTINGS_PATH_SIZE];
    char own_folder[SETTINGS_PATH_SIZE];
    size_t size = sizeof executable;
    struct command_context context = {.program = executable,
                                      .data_folder = data_folder};
    int ended;

    if (log_is_journal())
        log_to_journal();
    ended = read_common(&argc, argv, &context);
    if (ended != 0)
        return ended - 1;
    /* Captions are read as they come, through a pipe too. */
    (void)setvbuf(stdout, NULL, _IOLBF, BUFSIZ);
    if (argc == 0) {
        log_line(LOG_LEVEL_ERROR, "which command? quarterturn --help");
        return EXIT_WRONG_USAGE;
    }
    if (context.verbose)
        log_set_level(LOG_LEVEL_DETAIL);
    else if (context.quiet)
        log_set_level(LOG_LEVEL_WARNING);
    if (uv_exepath(executable, &size) != 0 ||
        settings_find_data(executable, data_folder, sizeof data_folder) < 0) {
        log_line(LOG_LEVEL_ERROR, "the folder with config/ and sounds/ was not "
                                  "found: is quarterturn installed?");
        return EXIT_COULD_NOT;
    }
    if (settings_find_own(own_folder, sizeof own_folder) == 0)
        context.choice.own_folder = own_folder;
    for (size_t i = 0; i < COMMANDS; i++)
        if (strcmp(argv[0], commands[i].name) == 0)
            return commands[i].run(argc, argv, &context);
    log_line(LOG_LEVEL_ERROR, "there is no command \"%s\"; quarterturn --help",
             argv[0]);
    return EXIT_WRONG_USAGE;
}

/* What was printed has to be somewhere: a full disk is no success. Why an
 * earlier line could not be written is not known any more. */
static int flush(int status)
{
    const char *why = fflush(stdout) != 0 ? strerror(errno) : NULL;

    if (why == NULL && !ferror(stdout))
        return status;
    log_line(LOG_LEVEL_ERROR, "standard output cannot be written%s%s",
             why != NULL ? ": " : "", why != NULL ? why : "");
    return status != EXIT_DONE ? status : EXIT_COULD_NOT;
}

int main(int argc, char **argv)
{
    file_keep_standard();
    return flush(run(argc, argv));
}
