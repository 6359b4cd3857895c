/* comments.c - a configuration file without its comments.
 *
 * libConfuse 3.3 counts every line that ends in a comment more than once, so
 * that the lines in its messages would be wrong, and takes no comment inside
 * braces. It is given the file with blanks in their place. What is a comment
 * follows its own rules. */
#include "comments.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { CONTENT_LEAST = 4096 };

#define NO_END SIZE_MAX

/* Everything up to the end.
 * Returns: the content, to be freed; NULL when there is no memory. */
static char *read_whole(FILE *file, size_t *length)
{
    size_t room = CONTENT_LEAST;
    char *content = malloc(room);

    *length = 0;
    while (content != NULL) {
        char *more;

        *length += fread(content + *length, 1, room - *length, file);
        if (*length < room)
            break;
        room *= 2;
        more = realloc(content, room);
        if (more == NULL)
            free(content);
        content = more;
    }
    return content;
}

/* A text that is shortened in its own place. */
struct kept {
    char *text;
    size_t length;
};

static void keep(struct kept *kept, size_t from, size_t to)
{
    memmove(kept->text + kept->length, kept->text + from, to - from);
    kept->length += to - from;
}

/* One blank for each character, so that columns stay, also behind a comment
 * in UTF-8; the ends of lines are left. */
static void blank(struct kept *kept, size_t from, size_t to)
{
    for (; from < to; from++) {
        char c = kept->text[from];

        if (((unsigned char)c & 0xc0) != 0x80)
            kept->text[kept->length++] = c == '\n' ? c : ' ';
    }
}

static size_t end_of_line(const char *text, size_t length, size_t at)
{
    while (at < length && text[at] != '\n')
        at++;
    return at;
}

static size_t end_of_block(const char *text, size_t length, size_t at)
{
    for (at += 2; at + 1 < length; at++) {
        if (text[at] == '*' && text[at + 1] == '/')
            return at + 2;
    }
    return NO_END;
}

/* Returns: whether every comment ends; *kept ends where one does not.
 * A slash within a word without quotes, such as a path, begins no comment. */
static bool blank_comments(struct kept *kept, size_t length)
{
    const char *text = kept->text;
    bool in_word = false;
    size_t at = 0;

    while (at < length) {
        char c = text[at];
        char next = at + 1 < length ? text[at + 1] : '\0';
        size_t end = at;

        if (c == '"' || c == '\'') {
            end = place_end_of_quoted(text, length, at);
            keep(kept, at, end);
            at = end;
            in_word = false;
            continue;
        }
        if (c == '#' || (!in_word && c == '/' && next == '/'))
            end = end_of_line(text, length, at);
        else if (!in_word && c == '/' && next == '*')
            end = end_of_block(text, length, at);
        if (end == NO_END)
            return false;
        in_word = end == at && !place_ends_word(c);
        if (end > at)
            blank(kept, at, end);
        else
            keep(kept, at, ++end);
        at = end;
    }
    return true;
}

FILE *comments_leave_out(FILE *file, struct comments_text *left,
                         struct place *no_end)
{
    FILE *out = tmpfile();
    struct kept kept = {.length = 0};
    size_t length;

    no_end->line = 0;
    if (out == NULL)
        return NULL;
    kept.text = read_whole(file, &length);
    if (kept.text != NULL && !blank_comments(&kept, length))
        *no_end = place_of(kept.text, kept.length);
    if (kept.text != NULL && no_end->line == 0 && !ferror(file) &&
        fwrite(kept.text, 1, kept.length, out) == kept.length &&
        fflush(out) == 0) {
        rewind(out);
        left->text = kept.text;
        left->length = kept.length;
        return out;
    }
    free(kept.text);
    (void)fclose(out);
    return NULL;
}
