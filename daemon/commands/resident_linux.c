/* resident_linux.c - what the loop runs stays in memory. */
#define _GNU_SOURCE /* dl_iterate_phdr */

#include "resident.h"

#include <link.h>
#include <stdbool.h>
#include <string.h>
#include <sys/mman.h>

#include "quarterturn/log.h"

/* Whether the loop calls into it. The rest of what is loaded, the codecs of
 * libsndfile first of all, is for reading files and for the sound worker. */
static bool is_of_the_loop(const char *path)
{
    static const char *const library[] = {"libc.so.", "libm.so.", "libuv.so.",
                                          "libjansson.so."};
    const char *name = strrchr(path, '/');

    /* The program itself has no name. */
    if (path[0] == '\0')
        return true;
    name = name != NULL ? name + 1 : path;
    for (size_t i = 0; i < sizeof library / sizeof library[0]; i++) {
        if (strncmp(name, library[i], strlen(library[i])) == 0)
            return true;
    }
    return false;
}

static int hold_object(struct dl_phdr_info *info, size_t size, void *context)
{
    size_t *held = context;

    (void)size;
    if (!is_of_the_loop(info->dlpi_name))
        return 0;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *part = &info->dlpi_phdr[i];
        ElfW(Addr) at = info->dlpi_addr + part->p_vaddr;

        if (part->p_type != PT_LOAD)
            continue;
        /* NOLINTNEXTLINE(performance-no-int-to-ptr): it is told as a number */
        if (mlock((const void *)at, part->p_memsz) == 0)
            *held += part->p_memsz;
    }
    return 0;
}

size_t resident_hold(void)
{
    size_t held = 0;

    (void)dl_iterate_phdr(hold_object, &held);
    log_line(LOG_LEVEL_DETAIL,
             "%zu KiB of program and libraries are held in memory",
             held / 1024);
    return held;
}
