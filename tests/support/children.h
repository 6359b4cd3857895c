/* children.h - the processes that a process started. */
#ifndef SUPPORT_CHILDREN_H
#define SUPPORT_CHILDREN_H

#include <stdbool.h>

enum { CHILDREN_MOST = 64 };

struct children {
    int pid[CHILDREN_MOST];
    int count;
};

/* Add those that the parent has now and that are not in the list. */
void children_find(struct children *children, int parent);
/* The only child that has not ended; 0: there is none. The test fails when
 * there are more. */
int children_one(int parent);
/* Whether a process is there and has not ended. */
bool children_lives(int pid);

#endif
