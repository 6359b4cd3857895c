/* store_posix.c - a file that is held for one writer.
 *
 * The lock is advisory and lies on the file itself; the system takes it away
 * from a process that dies. Who waited for it may find that the file of that
 * name has become another one meanwhile, and looks again. */
/* realpath() belongs to the X/Open part of POSIX.1-2008. */
#define _XOPEN_SOURCE 700

#include "store.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "quarterturn/error.h"
#include "quarterturn/file.h"

/* Names of people stand in it. */
enum { FILE_MODE = 0600, FOLDER_MODE = 0700 };

enum { LOOK_EVERY_MS = 2 };

/* One who stands still while he holds it must not hold up who waits: looked at
 * again and again, as there is no waiting for so long only. */
static int lock(int fd, int patience_ms)
{
    const struct timespec look = {.tv_nsec = LOOK_EVERY_MS * 1000000L};
    struct flock all = {.l_type = F_WRLCK, .l_whence = SEEK_SET};

    for (int waited_ms = 0; fcntl(fd, F_SETLK, &all) != 0;
         waited_ms += LOOK_EVERY_MS) {
        if (errno != EACCES && errno != EAGAIN && errno != EINTR)
            return ERR_IO;
        if (waited_ms >= patience_ms) {
            errno = EBUSY;
            return ERR_IO;
        }
        (void)nanosleep(&look, NULL);
    }
    return 0;
}

static int read_all(struct store *store)
{
    const size_t most = (size_t)LOGBOOK_MOST_MIB * 1024 * 1024;
    struct stat status;
    size_t capacity;

    if (fstat(store->fd, &status) != 0)
        return ERR_IO;
    if (!S_ISREG(status.st_mode)) {
        errno = EINVAL;
        return ERR_IO;
    }
    if ((size_t)status.st_size > most) {
        errno = EFBIG;
        return ERR_FULL;
    }
    capacity = (size_t)status.st_size + 1;
    store->bytes = malloc(capacity);
    if (store->bytes == NULL)
        return ERR_NO_MEMORY;
    while (store->size + 1 < capacity) {
        ssize_t got = pread(store->fd, store->bytes + store->size,
                            capacity - 1 - store->size, (off_t)store->size);

        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return ERR_IO;
        if (got == 0)
            break;
        store->size += (size_t)got;
    }
    store->bytes[store->size] = '\0';
    return 0;
}

/* Whether the file that is held is still the one of that name. */
static bool is_current(const struct store *store)
{
    struct stat held;
    struct stat named;

    return fstat(store->fd, &held) == 0 && stat(store->path, &named) == 0 &&
           held.st_dev == named.st_dev && held.st_ino == named.st_ino;
}

static int set_path(const char *path, struct store *store)
{
    char *real = realpath(path, NULL);
    const char *from = real != NULL ? real : path;
    bool fits = strlen(from) < sizeof store->path;

    if (fits)
        memcpy(store->path, from, strlen(from) + 1);
    free(real);
    if (!fits)
        errno = ENAMETOOLONG;
    return fits ? 0 : ERR_IO;
}

int store_open(const char *path, int patience_ms, struct store *store)
{
    int error;

    *store = (struct store){.fd = -1};
    do {
        store_close(store);
        store->fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOCTTY,
                         (mode_t)FILE_MODE);
        error = store->fd < 0 ? ERR_IO : set_path(path, store);
        if (error == 0)
            error = lock(store->fd, patience_ms);
    } while (error == 0 && !is_current(store));
    if (error == 0)
        error = read_all(store);
    if (error < 0) {
        int why = errno;

        store_close(store);
        errno = why;
    }
    return error;
}

int store_read(const char *path, struct store *store)
{
    int error;

    *store = (struct store){.fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY)};
    if (store->fd < 0)
        return errno == ENOENT ? ERR_ABSENT : ERR_IO;
    error = read_all(store);
    if (error < 0) {
        int why = errno;

        store_close(store);
        errno = why;
    }
    return error;
}

int store_probe(const char *path)
{
    char folder[LOGBOOK_PATH_SIZE];
    const char *slash = strrchr(path, '/');
    size_t length = slash == NULL ? 0 : (size_t)(slash + 1 - path);

    if (file_is_special(path)) {
        errno = EINVAL;
        return ERR_IO;
    }
    if (access(path, F_OK) == 0)
        return access(path, R_OK | W_OK) == 0 ? 0 : ERR_IO;
    (void)snprintf(folder, sizeof folder, "%.*s", (int)length, path);
    return access(length > 0 ? folder : ".", W_OK | X_OK) == 0 ? 0 : ERR_IO;
}

static int write_all(int fd, const char *text, size_t length)
{
    while (length > 0) {
        ssize_t done = write(fd, text, length);

        if (done < 0 && errno == EINTR)
            continue;
        if (done < 0)
            return ERR_IO;
        text += done;
        length -= (size_t)done;
    }
    return 0;
}

/* A file's name is on the disk when its folder is. Some file systems know no
 * such thing: then there is nothing to be done. */
static void sync_folder(const char *path)
{
    char folder[LOGBOOK_PATH_SIZE];
    char *slash;
    int fd;

    (void)snprintf(folder, sizeof folder, "%s", path);
    slash = strrchr(folder, '/');
    if (slash == NULL)
        (void)snprintf(folder, sizeof folder, ".");
    else
        slash[slash == folder ? 1 : 0] = '\0';
    fd = open(folder, O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return;
    (void)fsync(fd);
    (void)close(fd);
}

int store_append(struct store *store, size_t keep, const char *text,
                 size_t length)
{
    bool fresh = store->size == 0;
    int why;

    if (keep != store->size && ftruncate(store->fd, (off_t)keep) != 0)
        return ERR_IO;
    if (lseek(store->fd, (off_t)keep, SEEK_SET) >= 0 &&
        write_all(store->fd, text, length) == 0 && fsync(store->fd) == 0) {
        if (fresh)
            sync_folder(store->path);
        return 0;
    }
    /* What is left if this fails too, the next one sets aside. */
    why = errno;
    if (ftruncate(store->fd, (off_t)keep) == 0)
        errno = why;
    return ERR_IO;
}

int store_replace(struct store *store, const char *text, size_t length)
{
    char part[sizeof store->path + 8];
    struct stat status;
    int why;
    int fd;

    (void)snprintf(part, sizeof part, "%s.part", store->path);
    if (fstat(store->fd, &status) != 0)
        return ERR_IO;
    fd = file_open_beside(part, false, FILE_MODE);
    if (fd < 0)
        return ERR_IO;
    if (fchmod(fd, status.st_mode & 07777) == 0 &&
        write_all(fd, text, length) == 0 && fsync(fd) == 0 &&
        file_take_place(part, store->path) == 0) {
        (void)close(fd);
        sync_folder(store->path);
        return 0;
    }
    why = errno;
    (void)close(fd);
    (void)unlink(part);
    errno = why;
    return ERR_IO;
}

int store_set_aside(const struct store *store, const char *bytes, size_t length)
{
    char torn[sizeof store->path + 8];
    int error;
    int fd;

    (void)snprintf(torn, sizeof torn, "%s.torn", store->path);
    fd = file_open_beside(torn, true, FILE_MODE);
    if (fd < 0)
        return ERR_IO;
    error = write_all(fd, bytes, length);
    if (error == 0)
        error = write_all(fd, "\r\n", 2);
    if (error == 0 && fsync(fd) != 0)
        error = ERR_IO;
    (void)close(fd);
    return error;
}

void store_close(struct store *store)
{
    if (store->fd >= 0)
        (void)close(store->fd);
    free(store->bytes);
    store->fd = -1;
    store->bytes = NULL;
    store->size = 0;
}

int store_make_folder(const char *path)
{
    char part[LOGBOOK_PATH_SIZE];
    size_t length = strlen(path);

    if (length >= sizeof part) {
        errno = ENAMETOOLONG;
        return ERR_IO;
    }
    memcpy(part, path, length + 1);
    for (size_t i = 1; i <= length; i++) {
        if (part[i] != '/' && part[i] != '\0')
            continue;
        part[i] = '\0';
        if (mkdir(part, (mode_t)FOLDER_MODE) != 0 && errno != EEXIST)
            return ERR_IO;
        part[i] = path[i];
    }
    return 0;
}
