/* text.h - what is text and what is only bytes. Pure. */
#ifndef QUARTERTURN_TEXT_H
#define QUARTERTURN_TEXT_H

#include <stdbool.h>
#include <stddef.h>

/* The UTF-8 character that a text begins with. Source: RFC 3629, section 4: no
 * overlong form, no surrogate, nothing above U+10FFFF.
 * text: ended by NUL, which counts as a character.
 * Returns: its length in bytes, 1 to 4; 0 when the text begins with none, be it
 *    that it was cut. */
size_t text_character_length(const char *text);

/* Is a text UTF-8 to its end? */
bool text_is_utf8(const char *text);

/* Does a text begin with a control, C0, C1 or DEL? What would move a terminal's
 * cursor and worse. */
bool text_is_control(const char *text);

#endif
