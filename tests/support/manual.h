/* manual.h - looking words up in the manual pages. */
#ifndef SUPPORT_MANUAL_H
#define SUPPORT_MANUAL_H

#include <stdbool.h>
#include <stddef.h>

enum { MANUAL_WORD_SIZE = 48 };

/* A piece of a page's source, with the rest of the page behind it. */
struct manual_part {
    const char *begin;
    const char *end;
};

/* Read config/manual/NAME; the test fails if it cannot be.
 * Owns: the caller frees. */
char *manual_read(const char *name);
/* The part under a heading: "\n.Ss listen\n" up to the next heading. The test
 * fails when there is none. */
struct manual_part manual_under(const char *page, const char *heading);
/* The item about a word, ".It Cm port" or, behind a macro "Fl", an option:
 * from the words behind it up to the next item.
 * Returns: false when the part has none. */
bool manual_item(struct manual_part part, const char *macro, const char *word,
                 struct manual_part *item);
/* The next item's word behind *at, which is moved on; the first word alone.
 * Returns: false when there is no more. */
bool manual_next(struct manual_part part, const char *macro, const char **at,
                 char word[MANUAL_WORD_SIZE]);
/* Whether a part has a word of its own: blanks, marks or ends of lines stand
 * about it. manual_marks: on a line of markup, not in running text. */
bool manual_has(struct manual_part part, const char *word);
bool manual_marks(struct manual_part part, const char *word);

#endif
