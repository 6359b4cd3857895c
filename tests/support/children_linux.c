/* children_linux.c - the processes that a process started. */
#include "children.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* State and parent of a process (proc(5): behind the name, which is in
 * brackets and may hold anything). Returns: whether there is one. */
static bool look(int pid, char *state, int *parent)
{
    char path[64];
    char text[512];
    const char *at;
    size_t length;
    FILE *file;

    (void)snprintf(path, sizeof path, "/proc/%d/stat", pid);
    file = fopen(path, "r");
    if (file == NULL)
        return false;
    length = fread(text, 1, sizeof text - 1, file);
    (void)fclose(file);
    text[length] = '\0';
    at = strrchr(text, ')');
    if (at == NULL || at[1] == '\0')
        return false;
    *state = at[2];
    *parent = (int)strtol(at + 3, NULL, 10);
    return true;
}

bool children_lives(int pid)
{
    char state;
    int parent;

    return look(pid, &state, &parent) && state != 'Z' && state != 'X';
}

static void add(struct children *children, int pid)
{
    for (int i = 0; i < children->count; i++) {
        if (children->pid[i] == pid)
            return;
    }
    assert_true(children->count < CHILDREN_MOST);
    children->pid[children->count++] = pid;
}

void children_find(struct children *children, int parent)
{
    DIR *processes = opendir("/proc");
    const struct dirent *entry;

    assert_non_null(processes);
    while ((entry = readdir(processes)) != NULL) {
        int pid = (int)strtol(entry->d_name, NULL, 10);
        char state;
        int its_parent;

        if (pid > 0 && look(pid, &state, &its_parent) && its_parent == parent &&
            state != 'Z')
            add(children, pid);
    }
    (void)closedir(processes);
}

int children_one(int parent)
{
    struct children now = {.count = 0};

    children_find(&now, parent);
    assert_in_range(now.count, 0, 1);
    return now.count == 1 ? now.pid[0] : 0;
}
