/* tell.c - speaks to a running daemon. */
#include <stdio.h>
#include <string.h>

#include "commands.h"
#include "quarterturn/control.h"
#include "quarterturn/log.h"
#include "words.h"

enum { ANSWER_WITHIN_MS = 3000 };

static bool is_word(const char *text)
{
    for (; *text != '\0'; text++)
        if (!((*text >= 'a' && *text <= 'z') || *text == '-'))
            return false;
    return true;
}

int command_tell(int argc, char **argv, const struct command_context *context)
{
    const char *path = NULL;
    const char *request = NULL;
    char default_path[SETTINGS_PATH_SIZE];
    char reply[CONTROL_MAX_REPLY];
    char why[SETTINGS_PATH_SIZE + 64];
    int words = 0;
    const struct words_option options[] = {{.name = "--control", .text = &path},
                                           {.name = NULL}};
    int status = words_read(argc, argv, options, &request, 1, &words);

    (void)context;
    if (status != 0)
        return status;
    if (request == NULL || !is_word(request)) {
        log_line(LOG_LEVEL_ERROR, "tell: what? tell status, tell stop");
        return EXIT_WRONG_USAGE;
    }
    if (path == NULL) {
        if (control_default_path(default_path, sizeof default_path) < 0) {
            log_line(LOG_LEVEL_ERROR,
                     "tell: XDG_RUNTIME_DIR is not set; name the daemon's "
                     "socket with --control PATH");
            return EXIT_COULD_NOT;
        }
        path = default_path;
    }
    if (control_ask(path, request, ANSWER_WITHIN_MS, reply, why, sizeof why) <
        0) {
        log_line(LOG_LEVEL_ERROR, "%s", why);
        return EXIT_COULD_NOT;
    }
    (void)printf("%s\n", reply);
    return strncmp(reply, "{\"ok\":true", 10) == 0 ? EXIT_DONE : EXIT_COULD_NOT;
}
