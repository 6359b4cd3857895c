/* folder_posix.c - what files a folder holds. */
#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "sections.h"

static int is_configuration(const struct dirent *entry)
{
    size_t length = strlen(entry->d_name);

    return length > 5 && entry->d_name[0] != '.' &&
           strcmp(entry->d_name + length - 5, ".conf") == 0;
}

void folder_list_names(const char *folder, char *out, size_t size)
{
    struct dirent **entry;
    int count = scandir(folder, &entry, is_configuration, alphasort);

    if (count < 0)
        return;
    for (int i = 0; i < count; i++) {
        entry[i]->d_name[strlen(entry[i]->d_name) - 5] = '\0';
        reader_list_add(out, size, entry[i]->d_name);
        free(entry[i]);
    }
    free(entry);
}
