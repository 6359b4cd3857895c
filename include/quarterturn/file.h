/* file.h - what a path leads to, before it is read or its place is taken.
 *
 * Files that must be whole or not be at all are written beside their place,
 * under the name with ".part" behind it, and take the place at the end. Who
 * may write in a folder of devices would replace a device that way: nothing
 * but an ordinary file is ever replaced. */
#ifndef QUARTERTURN_FILE_H
#define QUARTERTURN_FILE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

/* The size of an ordinary file, a link followed to where it leads.
 * Returns: bytes; ERR_ABSENT when nothing is there or it cannot be looked at;
 *    ERR_FORMAT when it is no file: a folder, a pipe, a device.
 * Thread: any but the sound callback. */
int64_t file_size(const char *path);

/* Does a path lead out of a folder when its links are followed? Opens neither.
 * folder: may itself be reached by a link; where that leads is what counts.
 * Returns: true as well if either cannot be followed to its end.
 * Thread: as file_size. */
bool file_strays(const char *folder, const char *path);

/* Open an ordinary file that lies in a folder, for reading in binary. What is
 * looked at is what is opened, also when somebody puts another file or a link
 * in its place meanwhile; nothing but an ordinary file is ever waited for.
 * folder: as in file_strays. size: receives the bytes, or why there are none:
 *    ERR_ABSENT when nothing is there; ERR_USAGE when it lies outside;
 *    ERR_FORMAT when it is no ordinary file; ERR_IO with the reason in errno.
 * Returns: NULL when it is not opened.
 * Owns: the caller closes. Thread: as file_size. */
FILE *file_open_inside(const char *folder, const char *path, int64_t *size);

/* Is something there that is no ordinary file? It may be written to, but
 * nothing may take its place. Thread: as file_size. */
bool file_is_special(const char *path);

/* Would two paths be one ordinary file, by whatever names and links they lead
 * there? Of files that are not there yet, the folder and the name count.
 * Thread: as file_size. */
bool file_is_same(const char *one, const char *other);

/* Open a file that is written beside its place: a new one, or what a program
 * that was killed left there, emptied. Waits for nobody, and follows no link.
 * It is the caller's alone until it is closed: no other program of this kind
 * empties it.
 * Returns: NULL with the reason in errno; EEXIST when something lies there that
 *    is no ordinary file; EBUSY when another program is writing it.
 * Owns: the caller closes. Thread: as file_size. */
FILE *file_open_part(const char *part);
/* Is another program writing a file that it opened so? Not where a file system
 * knows no locks. Thread: as file_size. */
bool file_is_being_written(const char *part);
/* The same as a descriptor, also of a file that is added to and not emptied.
 * mode: permissions of a new file, less the umask. Returns: -1 for NULL. */
int file_open_beside(const char *path, bool append, unsigned mode);

/* Open what is written in its place, emptied: a file that is read while it
 * grows, a pipe, a device. As fopen with "wb", but no program that is started
 * inherits it.
 * Returns: NULL with the reason in errno.
 * Owns: the caller closes. Thread: as file_size; waits for a pipe's reader. */
FILE *file_open_in_place(const char *path);

/* Give a file that was written beside its place the name it is meant for.
 * part: its name until now. path: the name to take; an ordinary file that
 *    bears it is replaced.
 * Returns: 0; ERR_IO with the reason in errno, EEXIST when what bears the name
 *    is no ordinary file; part is then left as it was.
 * Thread: as file_size. */
int file_take_place(const char *part, const char *path);

/* Hold the places of standard input, output and error that were closed before
 * the program began: a recording that was opened as number 1 would be printed
 * into. To read or write there still fails.
 * Thread: main, before anything is opened. */
void file_keep_standard(void);

#endif
