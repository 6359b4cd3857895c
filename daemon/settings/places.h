/* places.h - private to the settings room: where in a file something stands.
 *
 * libConfuse tells lines but no columns. It reports values and sections in the
 * order of the file, so the names they belong to are found by walking along
 * with it, word by word. */
#ifndef SETTINGS_PLACES_H
#define SETTINGS_PLACES_H

#include <stdbool.h>
#include <stddef.h>

/* Both from 1; a column is a character of UTF-8, and so is a tab. */
struct place {
    int line;
    int column;
};

/* The place of an offset in a text. */
struct place place_of(const char *text, size_t at);

/* What comes behind a quote that opens, the one that closes included; a
 * backslash takes the next character with it. */
size_t place_end_of_quoted(const char *text, size_t length, size_t at);

/* A character that no word without quotes holds. */
bool place_ends_word(char c);

/* Begin with the text of a file, its comments left out, that is read from now
 * on. One file at a time, by one thread.
 * Owns: the text stays the caller's, and must stay until places_end. */
void places_begin(const char *text, size_t length);
void places_end(void);

/* libConfuse reports the next value, or the next section that opens: the
 * place of its name, or, for a value in a list in braces, its own.
 * name: of the option or the section.
 * line: that libConfuse tells, whose first word is told if the text holds
 *    something else than was reported. */
struct place places_next(const char *name, int line);

/* libConfuse stopped at a line: the place of the name it has not reported
 * yet if that stands on it, else of the first word of the line. */
struct place places_stopped(int line);

#endif
