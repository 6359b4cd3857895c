/* places.c - the lines and columns of options and sections. */
#include "places.h"

#include <string.h>

/* What libConfuse reads, and how far it has come. It hands its functions no
 * pointer of ours. */
static struct {
    const char *text;
    size_t length;
    size_t at;
    bool in_list; /* behind a value in braces */
    size_t counted;
    struct place place; /* of counted */
} reading;

/* A word, quoted text, one of = { } + , ( ) or, of no length, the end. */
struct token {
    size_t at;
    size_t end;
    char mark; /* 0 for words and quoted text */
};

static void count(struct place *place, char c)
{
    if (c == '\n') {
        place->line++;
        place->column = 1;
    } else if (((unsigned char)c & 0xc0) != 0x80) {
        place->column++;
    }
}

struct place place_of(const char *text, size_t at)
{
    struct place place = {1, 1};

    for (size_t i = 0; i < at; i++)
        count(&place, text[i]);
    return place;
}

/* The same of what is read, where places are asked for in their order: no
 * character is counted twice, however long the file. */
static struct place place_of_token(const struct token *token)
{
    for (; reading.counted < token->at; reading.counted++)
        count(&reading.place, reading.text[reading.counted]);
    return reading.place;
}

size_t place_end_of_quoted(const char *text, size_t length, size_t at)
{
    char quote = text[at++];

    for (; at < length && text[at] != quote; at++) {
        if (text[at] == '\\')
            at++;
    }
    return at < length ? at + 1 : length;
}

bool place_ends_word(char c)
{
    return strchr(" \t\r\n={}()+,\"'", c) != NULL;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

/* "${NAME}" stands for a variable of the environment; its braces open
 * nothing. */
static size_t end_of_variable(size_t at)
{
    const char *from = reading.text + at;
    const char *end;

    if (reading.length - at < 2 || from[0] != '$' || from[1] != '{')
        return at;
    end = memchr(from, '}', reading.length - at);
    return end == NULL ? at : (size_t)(end + 1 - reading.text);
}

static struct token token_from(size_t at)
{
    const char *text = reading.text;
    struct token token = {.mark = '\0'};

    while (at < reading.length && is_blank(text[at]))
        at++;
    token.at = at;
    token.end = at;
    if (at == reading.length)
        return token;
    if (text[at] == '"' || text[at] == '\'') {
        token.end = place_end_of_quoted(text, reading.length, at);
        return token;
    }
    if (place_ends_word(text[at])) {
        token.mark = text[at];
        token.end = at + 1;
        return token;
    }
    token.end = end_of_variable(at);
    if (token.end > at)
        return token;
    while (token.end < reading.length && !place_ends_word(text[token.end]))
        token.end++;
    return token;
}

/* The first word that does not close something. */
static struct token token_behind_closed(void)
{
    struct token token = token_from(reading.at);

    while (token.mark == '}' || token.mark == ',') {
        if (token.mark == '}')
            reading.in_list = false;
        token = token_from(token.end);
    }
    return token;
}

/* The first value behind an equals sign, or the brace that ends an empty
 * list.
 * equals: behind it.
 * in_list: whether braces are open behind it. */
static struct token value_from(size_t equals, bool *in_list)
{
    struct token value = token_from(equals);

    *in_list = value.mark == '{';
    if (*in_list)
        value = token_from(value.end);
    return value;
}

/* Go behind the next value or opening brace.
 * Returns: the word it is told by: its name, or an item of a list. */
static struct token step(void)
{
    struct token name = token_behind_closed();
    struct token next = token_from(name.end);

    /* An empty list reports nothing: on to what comes behind it. */
    while (!reading.in_list && (next.mark == '=' || next.mark == '+')) {
        if (next.mark == '+')
            next = token_from(next.end);
        next = value_from(next.end, &reading.in_list);
        reading.at = next.end;
        if (!reading.in_list)
            return name;
        if (next.mark != '}')
            return next;
        reading.in_list = false;
        name = token_behind_closed();
        next = token_from(name.end);
    }
    reading.at = name.end;
    if (!reading.in_list)
        reading.at = next.mark == '{' ? next.end : token_from(next.end).end;
    return name;
}

static struct place first_of_line(int line)
{
    size_t at = 0;
    size_t first;

    for (int i = 1; i < line && at < reading.length; at++)
        i += reading.text[at] == '\n';
    first = at;
    while (first < reading.length &&
           (reading.text[first] == ' ' || reading.text[first] == '\t'))
        first++;
    if (first == reading.length || is_blank(reading.text[first]))
        first = at;
    return (struct place){line, place_of(reading.text, first).column};
}

void places_begin(const char *text, size_t length)
{
    reading.text = text;
    reading.length = length;
    reading.at = 0;
    reading.in_list = false;
    reading.counted = 0;
    reading.place = (struct place){1, 1};
}

void places_end(void)
{
    reading.text = NULL;
    reading.length = 0;
}

struct place places_next(const char *name, int line)
{
    struct token token = step();
    size_t length = token.end - token.at;
    const char *word = reading.text + token.at;

    if (length == 0)
        return first_of_line(line);
    if (reading.in_list || word[0] == '"' || word[0] == '\'' ||
        (length == strlen(name) && memcmp(word, name, length) == 0))
        return place_of_token(&token);
    return first_of_line(line);
}

struct place places_stopped(int line)
{
    struct token token = token_behind_closed();
    struct place place = place_of_token(&token);

    if (place.line == line && token.end > token.at)
        return place;
    return first_of_line(line);
}
