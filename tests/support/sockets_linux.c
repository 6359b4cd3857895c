/* sockets_linux.c - the sockets that a process has open. */
#include "sockets.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* The kernel's own tables hold no number that is too large.
 * NOLINTBEGIN(cert-err34-c) */

enum { MOST = 128, LISTENS = 0x10000 /* __SO_ACCEPTCON of proc(5) */ };

struct inodes {
    unsigned long number[MOST];
    int count;
};

static void find_inodes(struct inodes *inodes, int pid)
{
    char path[64];
    const struct dirent *entry;
    DIR *folder;

    (void)snprintf(path, sizeof path, "/proc/%d/fd", pid);
    folder = opendir(path);
    assert_non_null(folder);
    inodes->count = 0;
    while ((entry = readdir(folder)) != NULL) {
        char target[64];
        ssize_t length =
            readlinkat(dirfd(folder), entry->d_name, target, sizeof target - 1);

        if (length < 0)
            continue;
        target[length] = '\0';
        assert_true(inodes->count < MOST);
        if (sscanf(target, "socket:[%lu]", &inodes->number[inodes->count]) == 1)
            inodes->count++;
    }
    (void)closedir(folder);
}

static bool owns(const struct inodes *inodes, unsigned long number)
{
    for (int i = 0; i < inodes->count; i++)
        if (inodes->number[i] == number)
            return true;
    return false;
}

/* proc(5), /proc/net/udp and its kind: "sl local remote st ... inode". */
static void read_inet(struct sockets *sockets, const struct inodes *inodes,
                      int pid, const char *kind)
{
    char path[64];
    char line[512];
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/net/%s", pid, kind);
    file = fopen(path, "r");
    /* A kernel without IPv6 has none of its files. */
    if (file == NULL && strchr(kind, '6') != NULL)
        return;
    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        unsigned char byte[4];
        unsigned long inode;
        unsigned address;
        unsigned port;

        if (sscanf(line, "%*s %*[^:]:%*x %*s %*s %*s %*s %*s %*s %*s %lu",
                   &inode) != 1 ||
            !owns(inodes, inode))
            continue;
        if (strcmp(kind, "udp") != 0) {
            sockets->other_inet++;
            continue;
        }
        assert_int_equal(sscanf(line, "%*s %x:%x", &address, &port), 2);
        memcpy(byte, &address, sizeof byte);
        sockets->udp++;
        sockets->udp_port = (uint16_t)port;
        (void)snprintf(sockets->udp_address, sizeof sockets->udp_address,
                       "%u.%u.%u.%u", byte[0], byte[1], byte[2], byte[3]);
    }
    (void)fclose(file);
}

/* /proc/net/unix: "num: references protocol flags type state inode path". */
static void read_unix(struct sockets *sockets, const struct inodes *inodes,
                      int pid)
{
    char path[64];
    char line[512];
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/net/unix", pid);
    file = fopen(path, "r");
    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL) {
        unsigned long inode;
        unsigned flags;
        char name[108] = "";

        if (sscanf(line, "%*s %*s %*s %x %*s %*s %lu %107s", &flags, &inode,
                   name) < 2 ||
            !owns(inodes, inode) || (flags & LISTENS) == 0)
            continue;
        sockets->unix_listening++;
        memcpy(sockets->unix_path, name, sizeof name);
    }
    (void)fclose(file);
}

void sockets_find(struct sockets *sockets, int pid)
{
    static const char *const kinds[] = {"udp",  "udp6", "tcp",
                                        "tcp6", "raw",  "raw6"};
    struct inodes inodes;

    memset(sockets, 0, sizeof *sockets);
    find_inodes(&inodes, pid);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        read_inet(sockets, &inodes, pid, kinds[i]);
    read_unix(sockets, &inodes, pid);
}

/* NOLINTEND(cert-err34-c) */
