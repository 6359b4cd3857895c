/* paper.h - writing a page that a browser shows and a printer prints.
 *
 * HTML5 in one file: no script, nothing fetched. Knows no flight: the rooms
 * to its right say what stands on the page. Text from outside goes through
 * paper_text alone, which escapes it; markup is the program's own. */
#ifndef QUARTERTURN_PAPER_H
#define QUARTERTURN_PAPER_H

#include <stdbool.h>
#include <stdio.h>

/* A page being written. Embedded by its owner. */
struct paper {
    FILE *file; /* borrowed */
    bool failed;
};

/* Begin a page: head, style, and the open body.
 * title: any UTF-8; escaped. */
void paper_begin(struct paper *paper, FILE *file, const char *title);
/* End it, with the caution that every page carries.
 * Returns: 0, or ERR_IO when anything could not be written. */
int paper_end(struct paper *paper);

/* Markup of the program's own, as it is. */
void paper_markup(struct paper *paper, const char *markup);
/* The same with numbers in it. format: as printf; with %s only for words of
 * the program's own that need no escaping. */
void paper_format(struct paper *paper, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* Text, escaped for an element and for a quoted attribute alike. What is no
 * UTF-8 and controls other than tab and newline become U+FFFD.
 * text: NUL-terminated, any bytes. */
void paper_text(struct paper *paper, const char *text);
/* A number with its decimals and the minus of the typographer, or a dash when
 * it is not known. */
void paper_number(struct paper *paper, double value, int decimals);
/* An element with text in it: <tag class="...">text</tag>. class_name: NULL
 * for none. */
void paper_element(struct paper *paper, const char *tag, const char *class_name,
                   const char *text);

#endif
