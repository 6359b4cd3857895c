/* test_completions.c - what the shells complete, against the program itself. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"
#include "process.h"
#include "quarterturn/control.h"

static const char *const common[] = {
    "--config", "--layout", "--aircraft", "--standard", "--maneuver",
    "--events", "--quiet",  "--verbose",  "--version",  "--help"};
static const char *const shells[] = {"bash", "zsh", "fish"};

enum {
    MOST_COMMANDS = 16,
    COMMON = sizeof common / sizeof common[0],
    SHELLS = sizeof shells / sizeof shells[0],
    MOST_OPTIONS = 40,
    OPTION_SIZE = 24
};

/* The commands, as --help lists them. */
static char commands[MOST_COMMANDS][OPTION_SIZE];
static size_t command_count;

static int read_commands(void **state)
{
    const char *words[] = {"--help", NULL};
    struct process help;
    const char *line;

    (void)state;
    process_run(&help, words);
    line = strstr(help.out, "\n\n");
    if (line == NULL)
        return -1;
    for (line += 2; strncmp(line, "  ", 2) == 0;
         line = strchr(line, '\n') + 1) {
        if (command_count == MOST_COMMANDS)
            return -1;
        (void)snprintf(commands[command_count++], OPTION_SIZE, "%.*s",
                       (int)strcspn(line + 2, " "), line + 2);
    }
    return command_count > 0 ? 0 : -1;
}

struct options {
    char name[MOST_OPTIONS][OPTION_SIZE];
    size_t count;
};

static bool has(const struct options *options, const char *name)
{
    for (size_t i = 0; i < options->count; i++)
        if (strcmp(options->name[i], name) == 0)
            return true;
    return false;
}

/* Every word with two dashes from text on to end. */
static void collect(const char *text, const char *end, struct options *options)
{
    while ((text = strstr(text, "--")) != NULL && text < end) {
        size_t length = 2 + strspn(text + 2, "abcdefghijklmnopqrstuvwxyz-");

        if (length > 2 && length < OPTION_SIZE) {
            assert_true(options->count < MOST_OPTIONS);
            (void)snprintf(options->name[options->count++], OPTION_SIZE, "%.*s",
                           (int)length, text);
        }
        text += length;
    }
}

/* The options of a command as --help tells them: behind "command:" up to the
 * next line that begins with a letter. */
static void read_help(const char *command, struct options *options)
{
    const char *words[] = {"--help", NULL};
    struct process help;
    char head[32];
    const char *begin;
    const char *end;

    process_run(&help, words);
    (void)snprintf(head, sizeof head, "\n%s:", command);
    begin = strstr(help.out, head);
    assert_non_null(begin);
    end = strchr(begin + 1, '\n');
    while (end != NULL && end[1] == ' ')
        end = strchr(end + 1, '\n');
    assert_non_null(end);
    memset(options, 0, sizeof *options);
    collect(begin, end, options);
    assert_true(options->count > 0);
}

/* Whether a command knows an option: it is given without more, and the
 * complaint is not that there is none. */
static void help_tells_no_option_that_is_not_there(void **state)
{
    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        struct options options;

        read_help(commands[i], &options);
        for (size_t k = 0; k < options.count; k++) {
            /* A word too many behind it, so that nothing is begun. */
            const char *words[] = {commands[i], "--none", options.name[k],
                                   NULL};
            const char *turned[] = {commands[i], options.name[k], "--none",
                                    "--none", NULL};
            struct process run;
            char wrong[96];

            process_run(&run, words);
            assert_int_equal(run.status, 2);
            assert_non_null(strstr(run.err, "has no option --none"));
            process_run(&run, turned);
            (void)snprintf(wrong, sizeof wrong, "has no option %s",
                           options.name[k]);
            assert_null(strstr(run.err, wrong));
        }
    }
}

/* ---- bash, asked what it would complete --------------------------------- */

/* What bash offers for the last of the words. */
static void complete(const char *words, struct process *bash)
{
    char script[512];
    const char *arguments[] = {"--norc", "-c", script, NULL};

    (void)snprintf(script, sizeof script,
                   ". config/completions/quarterturn.bash; "
                   "COMP_WORDS=(%s); COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); "
                   "_quarterturn; printf '%%s\\n' \"${COMPREPLY[@]}\"",
                   words);
    process_run_other(bash, "bash", arguments);
    if (bash->status != 0 || bash->err[0] != '\0')
        fail_msg("%s: %s", words, bash->err);
}

static void bash_completes_the_options_of_each_command(void **state)
{
    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        struct options told;
        struct options offered = {0};
        struct process bash;
        char words[64 + OPTION_SIZE];

        read_help(commands[i], &told);
        (void)snprintf(words, sizeof words, "quarterturn %.23s --",
                       commands[i]);
        complete(words, &bash);
        collect(bash.out, bash.out + strlen(bash.out), &offered);
        for (size_t k = 0; k < told.count; k++)
            if (!has(&offered, told.name[k]))
                fail_msg("bash: %s lacks %s", commands[i], told.name[k]);
        for (size_t k = 0; k < COMMON; k++)
            assert_true(has(&offered, common[k]));
        assert_int_equal(offered.count, told.count + COMMON);
    }
}

static void bash_completes_words_and_values(void **state)
{
    static const struct {
        const char *words;
        const char *out;
    } row[] = {
        {"quarterturn li", "listen\n"},
        {"quarterturn --layout listen re", "replay\nrehearse\n"},
        {"quarterturn listen --help-level s", "sparse\nsummary\n"},
        {"quarterturn tell re", "reload\nrecord\n"},
        {"quarterturn tell --control socket m", "mute\nmaneuver\nmark\n"},
        {"quarterturn tell help-level f", "full\nfading\n"},
        {"quarterturn tell record o", "on\noff\n"},
        {"quarterturn replay --speed m", "max\n"},
        {"quarterturn replay LICEN", "LICENSE\n"},
        {"quarterturn inspect --check LICEN", "LICENSE\n"},
        {"quarterturn sounds --check soun", "sounds\n"},
        {"quarterturn listen --port 5", "\n"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        struct process bash;

        complete(row[i].words, &bash);
        if (strcmp(bash.out, row[i].out) != 0)
            fail_msg("%s: %s", row[i].words, bash.out);
    }
}

static void bash_knows_every_command(void **state)
{
    struct process bash;
    char expected[MOST_COMMANDS * (OPTION_SIZE + 1)] = "";
    size_t used = 0;

    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        used += (size_t)snprintf(expected + used, sizeof expected - used,
                                 "%.23s\n", commands[i]);
    }
    complete("quarterturn ''", &bash);
    assert_string_equal(bash.out, expected);
}

static void bash_knows_every_word_of_tell(void **state)
{
    struct process bash;
    size_t lines = 0;

    (void)state;
    complete("quarterturn tell ''", &bash);
    for (const char *c = bash.out; *c != '\0'; c++)
        lines += *c == '\n';
    assert_int_equal(lines, CONTROL_VERB_COUNT + 1);
    for (int i = 0; i < CONTROL_VERB_COUNT; i++)
        assert_non_null(
            strstr(bash.out, control_verb_name((enum control_verb)i)));
}

/* ---- the three files beside one another ---------------------------------- */

/* The part of a file that belongs to a command. */
static char *part_of(const char *shell, const char *command, char **end)
{
    char path[64];
    char head[64];
    char *text;
    char *begin;

    (void)snprintf(path, sizeof path, "config/completions/quarterturn.%s",
                   shell);
    text = folder_read_file(path, NULL);
    (void)snprintf(head, sizeof head, "    %.23s)\n", command);
    begin = strstr(text, head);
    assert_non_null(begin);
    *end = strstr(begin, ";;");
    assert_non_null(*end);
    memmove(text, begin, (size_t)(*end - begin));
    *end = text + (*end - begin);
    **end = '\0';
    return text;
}

static void zsh_has_the_options_of_each_command(void **state)
{
    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        struct options told;
        struct options offered = {0};
        char *end;
        char *text = part_of("zsh", commands[i], &end);

        read_help(commands[i], &told);
        collect(text, end, &offered);
        free(text);
        for (size_t k = 0; k < told.count; k++)
            if (!has(&offered, told.name[k]))
                fail_msg("zsh: %s lacks %s", commands[i], told.name[k]);
        assert_int_equal(offered.count, told.count);
    }
}

static void fish_has_the_options_of_each_command(void **state)
{
    char *text = folder_read_file("config/completions/quarterturn.fish", NULL);

    (void)state;
    for (size_t i = 0; i < command_count; i++) {
        struct options told;
        char head[64];
        size_t count = 0;
        const char *at = text;
        int length = snprintf(head, sizeof head, "-n \"$%s\" -l ", commands[i]);

        read_help(commands[i], &told);
        while ((at = strstr(at, head)) != NULL) {
            char name[OPTION_SIZE];

            at += length;
            (void)snprintf(name, sizeof name, "--%.*s", (int)strcspn(at, " "),
                           at);
            if (!has(&told, name))
                fail_msg("fish: %s has no %s", commands[i], name);
            count++;
        }
        assert_int_equal(count, told.count);
    }
    free(text);
}

static void every_shell_knows_the_common_options_and_the_levels(void **state)
{
    (void)state;
    for (size_t i = 0; i < SHELLS; i++) {
        char path[64];
        char *text;

        (void)snprintf(path, sizeof path, "config/completions/quarterturn.%s",
                       shells[i]);
        text = folder_read_file(path, NULL);
        for (size_t k = 0; k < COMMON; k++) {
            char option[32];

            (void)snprintf(option, sizeof option, "%s%s",
                           strcmp(shells[i], "fish") == 0 ? "-l " : "--",
                           common[k] + 2);
            assert_non_null(strstr(text, option));
        }
        assert_non_null(strstr(text, "full sparse warnings fading summary"));
        for (int k = 0; k < CONTROL_VERB_COUNT; k++)
            assert_non_null(
                strstr(text, control_verb_name((enum control_verb)k)));
        free(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(help_tells_no_option_that_is_not_there),
        cmocka_unit_test(bash_completes_the_options_of_each_command),
        cmocka_unit_test(bash_completes_words_and_values),
        cmocka_unit_test(bash_knows_every_command),
        cmocka_unit_test(bash_knows_every_word_of_tell),
        cmocka_unit_test(zsh_has_the_options_of_each_command),
        cmocka_unit_test(fish_has_the_options_of_each_command),
        cmocka_unit_test(every_shell_knows_the_common_options_and_the_levels),
    };

    return cmocka_run_group_tests_name("completions", tests, read_commands,
                                       NULL) != 0;
}
