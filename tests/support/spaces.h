/* spaces.h - namespaces of a test's own: a network, mounts. */
#ifndef SUPPORT_SPACES_H
#define SUPPORT_SPACES_H

#include <stdbool.h>

/* Leave the machine's own for good. spaces: CLONE_NEW... of clone(2).
 * Returns: false when that is forbidden to this user. */
bool spaces_leave(int spaces);

/* Mount a file system in memory on an empty folder, seen by this test and what
 * it starts. Returns: as spaces_leave. */
bool spaces_own_folder(const char *path);
/* Let nothing more be opened for writing, made, renamed or removed below a
 * folder of that file system (EROFS) until it is unmounted; what is open stays
 * open. */
void spaces_forbid_writing(const char *path);
/* Take away what was mounted there last. */
void spaces_unmount(const char *path);

#endif
