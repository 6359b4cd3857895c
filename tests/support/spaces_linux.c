/* spaces_linux.c - namespaces of a test's own. */
#define _GNU_SOURCE /* unshare */

#include <fcntl.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/types.h>
#include <unistd.h>

#include <cmocka.h>

#include "spaces.h"

static void write_file(const char *path, const char *text)
{
    int file = open(path, O_WRONLY | O_CLOEXEC);

    /* A kernel without setgroups has no need of it. */
    if (file < 0)
        return;
    assert_int_equal(write(file, text, strlen(text)), strlen(text));
    (void)close(file);
}

/* A user who is not root becomes root of namespaces of its own, and of
 * nothing else: user_namespaces(7). */
bool spaces_leave(int spaces)
{
    uid_t user = geteuid();
    gid_t group = getegid();
    char map[64];

    if (user == 0)
        return unshare(spaces) == 0;
    if (unshare(CLONE_NEWUSER | spaces) != 0)
        return false;
    write_file("/proc/self/setgroups", "deny");
    (void)snprintf(map, sizeof map, "0 %u 1", (unsigned)user);
    write_file("/proc/self/uid_map", map);
    (void)snprintf(map, sizeof map, "0 %u 1", (unsigned)group);
    write_file("/proc/self/gid_map", map);
    return true;
}

/* ---- folders ------------------------------------------------------------ */

bool spaces_own_folder(const char *path)
{
    if (!spaces_leave(CLONE_NEWNS))
        return false;
    /* What is mounted from here on is seen by this process and its children. */
    assert_int_equal(mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL), 0);
    assert_int_equal(mount("tmpfs", path, "tmpfs", 0, NULL), 0);
    return true;
}

void spaces_forbid_writing(const char *path)
{
    assert_int_equal(mount(path, path, NULL, MS_BIND, NULL), 0);
    assert_int_equal(
        mount(NULL, path, NULL, MS_REMOUNT | MS_BIND | MS_RDONLY, NULL), 0);
}

void spaces_unmount(const char *path)
{
    /* Also when something is open there. */
    assert_int_equal(umount2(path, MNT_DETACH), 0);
}
