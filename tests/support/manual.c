/* manual.c - looking words up in the manual pages. */
#include "manual.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "folder.h"

char *manual_read(const char *name)
{
    char path[64];

    (void)snprintf(path, sizeof path, "config/manual/%.40s", name);
    return folder_read_file(path, NULL);
}

/* Where the next line that begins with any of the two macros begins. */
static const char *next_of(const char *from, const char *end,
                           const char *macro_a, const char *macro_b)
{
    for (const char *at = from; (at = strchr(at, '\n')) != NULL && at < end;
         at++) {
        if (strncmp(at + 1, macro_a, strlen(macro_a)) == 0 ||
            strncmp(at + 1, macro_b, strlen(macro_b)) == 0)
            return at;
    }
    return end;
}

struct manual_part manual_under(const char *page, const char *heading)
{
    const char *end = page + strlen(page);
    char line[64];
    const char *at;

    (void)snprintf(line, sizeof line, "\n%.50s\n", heading);
    at = strstr(page, line);
    if (at == NULL)
        fail_msg("the manual page has no heading \"%s\"", heading);
    at += strlen(line) - 1;
    return (struct manual_part){at, next_of(at, end, ".Ss", ".Sh")};
}

bool manual_next(struct manual_part part, const char *macro, const char **at,
                 char word[MANUAL_WORD_SIZE])
{
    char head[16];

    (void)snprintf(head, sizeof head, ".It %.8s ", macro);
    *at = next_of(*at, part.end, head, head);
    if (*at == part.end)
        return false;
    *at += 1 + strlen(head);
    (void)snprintf(word, MANUAL_WORD_SIZE, "%.*s", (int)strcspn(*at, " \n"),
                   *at);
    return true;
}

bool manual_item(struct manual_part part, const char *macro, const char *word,
                 struct manual_part *item)
{
    char found[MANUAL_WORD_SIZE];
    const char *at = part.begin;

    while (manual_next(part, macro, &at, found)) {
        if (strcmp(found, word) == 0) {
            *item =
                (struct manual_part){at, next_of(at, part.end, ".It", ".El")};
            return true;
        }
    }
    return false;
}

static bool is_marked(struct manual_part part, const char *at)
{
    while (at > part.begin && at[-1] != '\n')
        at--;
    return *at == '.';
}

static bool find(struct manual_part part, const char *word, bool marked)
{
    size_t length = strlen(word);

    for (const char *at = part.begin;
         (at = strstr(at, word)) != NULL && at + length <= part.end; at++) {
        if (strchr(" \n&", at[-1]) != NULL && at[length] != '\0' &&
            strchr(" \n,.;:", at[length]) != NULL &&
            (!marked || is_marked(part, at)))
            return true;
    }
    return false;
}

bool manual_has(struct manual_part part, const char *word)
{
    return find(part, word, false);
}

bool manual_marks(struct manual_part part, const char *word)
{
    return find(part, word, true);
}
