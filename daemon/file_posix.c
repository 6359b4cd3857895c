/* file_posix.c - what kind of file a path leads to, and where it lies. */

/* realpath belongs to the X/Open part of POSIX. */
#define _XOPEN_SOURCE 700 /* NOLINT: the name is the C library's */
#include "quarterturn/file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "quarterturn/error.h"

int64_t file_size(const char *path)
{
    struct stat info;

    if (stat(path, &info) != 0)
        return ERR_ABSENT;
    /* Opening a pipe would wait for its writer. */
    if (!S_ISREG(info.st_mode))
        return ERR_FORMAT;
    return (int64_t)info.st_size;
}

bool file_is_special(const char *path)
{
    return file_size(path) == ERR_FORMAT;
}

/* The folder that a path lies in, and its name there.
 * Returns: whether the folder is there. */
static bool find_folder(const char *path, struct stat *folder,
                        const char **name)
{
    const char *slash = strrchr(path, '/');
    char *above =
        slash == NULL ? strdup(".") : strndup(path, (size_t)(slash + 1 - path));
    bool there = above != NULL && stat(above, folder) == 0;

    free(above);
    *name = slash == NULL ? path : slash + 1;
    return there;
}

static bool is_one(const struct stat *one, const struct stat *other)
{
    return one->st_dev == other->st_dev && one->st_ino == other->st_ino;
}

bool file_is_same(const char *one, const char *other)
{
    struct stat first;
    struct stat second;
    const char *name[2];
    bool there = stat(one, &first) == 0;

    if ((stat(other, &second) == 0) != there)
        return false;
    if (there)
        return S_ISREG(first.st_mode) && is_one(&first, &second);
    return find_folder(one, &first, &name[0]) &&
           find_folder(other, &second, &name[1]) && is_one(&first, &second) &&
           strcmp(name[0], name[1]) == 0;
}

static void close_quietly(int file)
{
    int why = errno;

    (void)close(file);
    errno = why;
}

/* Of the whole file, for writing. The system takes it away when the file is
 * closed, be it that the program was killed. */
static const struct flock whole_lock = {.l_type = F_WRLCK,
                                        .l_whence = SEEK_SET};

/* Returns: whether it is the caller's alone now, or nobody can tell: a file
 * system without locks is written to all the same. */
static bool take_alone(int file)
{
    struct flock lock = whole_lock;

    if (fcntl(file, F_SETLK, &lock) == 0 ||
        (errno != EACCES && errno != EAGAIN))
        return true;
    errno = EBUSY;
    return false;
}

bool file_is_being_written(const char *part)
{
    struct flock lock = whole_lock;
    int file;
    bool taken;

    if (file_size(part) < 0)
        return false;
    file =
        open(part, O_WRONLY | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (file < 0)
        return false;
    taken = fcntl(file, F_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
    (void)close(file);
    return taken;
}

int file_open_beside(const char *path, bool append, unsigned mode)
{
    const int how = append ? O_APPEND : 0;
    struct stat opened;
    int file;

    if (file_is_special(path)) {
        errno = EEXIST;
        return -1;
    }
    file = open(path,
                O_WRONLY | O_CREAT | O_NOFOLLOW | O_NONBLOCK | O_NOCTTY |
                    O_CLOEXEC | how,
                (mode_t)mode);
    if (file < 0)
        return -1;
    if (fstat(file, &opened) == 0) {
        /* Who emptied a file before looking at it would empty a stranger's. */
        if (!S_ISREG(opened.st_mode))
            errno = EEXIST;
        else if (append || (take_alone(file) && ftruncate(file, 0) == 0))
            return file;
    }
    close_quietly(file);
    return -1;
}

FILE *file_open_part(const char *part)
{
    int file = file_open_beside(part, false, 0666);
    FILE *stream = file < 0 ? NULL : fdopen(file, "wb");

    if (file >= 0 && stream == NULL)
        close_quietly(file);
    return stream;
}

FILE *file_open_in_place(const char *path)
{
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_NOCTTY | O_CLOEXEC,
                    (mode_t)0666);
    FILE *stream = file < 0 ? NULL : fdopen(file, "wb");

    if (file >= 0 && stream == NULL)
        close_quietly(file);
    return stream;
}

int file_take_place(const char *part, const char *path)
{
    /* Looked at again: a flight is long. */
    if (file_is_special(path)) {
        errno = EEXIST;
        return ERR_IO;
    }
    return rename(part, path) == 0 ? 0 : ERR_IO;
}

/* Both are real paths; only "/" itself ends in a slash. */
static bool lies_in(const char *file, const char *folder)
{
    size_t length = strlen(folder);

    if (length == 1)
        return true;
    return strncmp(file, folder, length) == 0 && file[length] == '/';
}

bool file_strays(const char *folder, const char *path)
{
    char *real_folder = realpath(folder, NULL);
    char *real_path = realpath(path, NULL);
    bool strays = real_folder == NULL || real_path == NULL ||
                  !lies_in(real_path, real_folder);

    free(real_folder);
    free(real_path);
    return strays;
}

/* Whether the opened file is the one that lies in the folder: a look before the
 * opening alone may have seen another. */
static bool is_opened(const struct stat *opened, const char *folder,
                      const char *path)
{
    char *real_folder = realpath(folder, NULL);
    char *real_path = realpath(path, NULL);
    struct stat there;
    bool same = real_folder != NULL && real_path != NULL &&
                lies_in(real_path, real_folder) &&
                lstat(real_path, &there) == 0 && is_one(&there, opened);

    free(real_folder);
    free(real_path);
    return same;
}

static int64_t opened_size(int file, const char *folder, const char *path)
{
    struct stat opened;

    if (fstat(file, &opened) != 0)
        return ERR_IO;
    if (!is_opened(&opened, folder, path))
        return ERR_USAGE;
    if (!S_ISREG(opened.st_mode))
        return ERR_FORMAT;
    return (int64_t)opened.st_size;
}

FILE *file_open_inside(const char *folder, const char *path, int64_t *size)
{
    FILE *stream = NULL;
    int file;

    /* A device may do something when it is opened. */
    *size = file_size(path);
    if (*size == ERR_ABSENT)
        return NULL;
    if (file_strays(folder, path))
        *size = ERR_USAGE;
    if (*size < 0)
        return NULL;
    file = open(path, O_RDONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    *size = file < 0 ? ERR_IO : opened_size(file, folder, path);
    if (*size >= 0) {
        stream = fdopen(file, "rb");
        if (stream == NULL)
            *size = ERR_IO;
    }
    if (file >= 0 && stream == NULL)
        close_quietly(file);
    return stream;
}

/* Each is opened for what nobody does with it. The lowest number that is free
 * is taken. */
void file_keep_standard(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) < 0 && errno == EBADF)
            (void)open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}
