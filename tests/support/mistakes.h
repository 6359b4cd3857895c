/* mistakes.h - what is said of wrong configurations. */
#ifndef SUPPORT_MISTAKES_H
#define SUPPORT_MISTAKES_H

#include <stddef.h>

#include "folder.h"

/* A configuration, and parts of the one line that is said about it. */
struct mistake {
    const char *text;
    const char *place; /* "my.conf:LINE:COLUMN: " */
    const char *words;
};

/* Read each as "my.conf" in the folder. The test fails unless it is refused in
 * one line that begins with its place and holds its words. */
void mistakes_expect(const struct folder *folder, const struct mistake *mistake,
                     size_t count);

#endif
