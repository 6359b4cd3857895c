/* memory.h - private to the settings room: a text that is read as a file. */
#ifndef SETTINGS_MEMORY_H
#define SETTINGS_MEMORY_H

#include <stddef.h>
#include <stdio.h>

/* No file on a disk is made: a configuration can be read again in flight while
 * disks are full or slow.
 * text: borrowed until the file is closed.
 * Returns: at its beginning, to be closed; NULL, errno says why. */
FILE *memory_open(const char *text, size_t length);

#endif
