/* resident.h - what the loop runs stays in memory.
 *
 * A system that is short of memory, as one that runs a simulator may be, takes
 * back the pages of code that was not used for a while and reads them from the
 * disk when they are needed. The code for a fault or for a rare call is just
 * such code, and the loop would stand still for it. */
#ifndef COMMANDS_RESIDENT_H
#define COMMANDS_RESIDENT_H

#include <stddef.h>

/* Hold in memory, for as long as the process lives, this program and the
 * libraries that its loop calls: their code and their data, not the heap.
 * Source: mlock(2), dl_iterate_phdr(3).
 * Returns: bytes held. Fewer when the system lets a process hold less
 *    (RLIMIT_MEMLOCK); 0 when nothing can be held. The program runs without,
 *    too. Thread: any, before the loop runs; reads from the disk. */
size_t resident_hold(void);

#endif
