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

/* Blanks in place of everything but the ends of lines. */
static void blank(char *text, size_t from, size_t to)
{
    for (; from < to; from++) {
        if (text[from] != '\n')
            text[from] = ' ';
    }
}

/* Behind the closing character; a backslash takes the next one with it. */
static size_t end_of_quoted(const char *text, size_t length, size_t at)
{
    char quote = text[at++];

    for (; at < length && text[at] != quote; at++) {
        if (text[at] == '\\')
            at++;
    }
    return at < length ? at + 1 : length;
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

static int line_of(const char *text, size_t at)
{
    int line = 1;

    for (size_t i = 0; i < at; i++)
        line += text[i] == '\n';
    return line;
}

/* A slash within a word without quotes, such as a path, begins no comment. */
static bool ends_word(char c)
{
    return strchr(" \t\r\n={}()+,\"'", c) != NULL;
}

/* Returns: 0, or the line of a comment that has no end. */
static int blank_comments(char *text, size_t length)
{
    bool in_word = false;
    size_t at = 0;

    while (at < length) {
        char c = text[at];
        char next = at + 1 < length ? text[at + 1] : '\0';
        size_t end;

        if (c == '"' || c == '\'') {
            at = end_of_quoted(text, length, at);
            in_word = false;
            continue;
        }
        end = at;
        if (c == '#' || (!in_word && c == '/' && next == '/'))
            end = end_of_line(text, length, at);
        else if (!in_word && c == '/' && next == '*')
            end = end_of_block(text, length, at);
        if (end == NO_END)
            return line_of(text, at);
        blank(text, at, end);
        in_word = end == at && !ends_word(c);
        at = end > at ? end : at + 1;
    }
    return 0;
}

FILE *comments_leave_out(FILE *file, int *no_end)
{
    FILE *out = tmpfile();
    size_t length;
    char *text;

    *no_end = 0;
    if (out == NULL)
        return NULL;
    text = read_whole(file, &length);
    if (text != NULL) {
        *no_end = blank_comments(text, length);
        if (*no_end == 0 && !ferror(file) &&
            fwrite(text, 1, length, out) == length && fflush(out) == 0) {
            free(text);
            rewind(out);
            return out;
        }
    }
    free(text);
    (void)fclose(out);
    return NULL;
}
