/* ordinary.h - running the program as a user who owns nothing. */
#ifndef SUPPORT_ORDINARY_H
#define SUPPORT_ORDINARY_H

#include "folder.h"
#include "process.h"

/* Start it with the words. When the test is run by root, the program and what
 * it reads are put into the folder, which any user may then write in, and it
 * is run as a user without any privilege; who is not root is such a user
 * already. */
void ordinary_start(const struct folder *folder, const char *const *words,
                    struct process *process);

#endif
