/* comments.c - a configuration file without its comments.
 *
 * libConfuse 3.3 counts every line that ends in a comment more than once, so
 * that the lines in its messages would be wrong, and takes no comment inside
 * braces. It is given the file with blanks in their place. What is a comment
 * follows its own rules. */
#include "comments.h"

#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/error.h"

#define NO_END SIZE_MAX

/* Everything up to the end, and no more than there may be: a device has no
 * end. */
static int read_whole(FILE *file, char **content, size_t *length)
{
    const size_t most = (size_t)COMMENTS_MOST_KIB * 1024;

    *content = malloc(most + 1);
    if (*content == NULL)
        return ERR_NO_MEMORY;
    errno = 0;
    *length = fread(*content, 1, most + 1, file);
    if (ferror(file))
        return ERR_IO;
    return *length > most ? ERR_FULL : 0;
}

/* A text that is shortened in its own place. */
struct kept {
    char *text;
    size_t length;
    uint32_t braces; /* that open something */
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

/* Returns: 0, or what comments_leave_out returns; *kept ends where that is.
 * A slash within a word without quotes, such as a path, begins no comment. */
static int blank_comments(struct kept *kept, size_t length)
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
            return ERR_FORMAT;
        if (c == '{' && ++kept->braces > COMMENTS_MOST_BRACES)
            return ERR_RANGE;
        in_word = end == at && !place_ends_word(c);
        if (end > at)
            blank(kept, at, end);
        else
            keep(kept, at, ++end);
        at = end;
    }
    return 0;
}

int comments_leave_out(FILE *file, struct comments_text *left, struct place *at)
{
    struct kept kept = {.length = 0};
    size_t length;
    int error = read_whole(file, &kept.text, &length);

    if (error == 0) {
        error = blank_comments(&kept, length);
        if (error < 0)
            *at = place_of(kept.text, kept.length);
    }
    if (error < 0) {
        int why = errno;

        free(kept.text);
        errno = why;
        return error;
    }
    left->text = kept.text;
    left->length = kept.length;
    return 0;
}
