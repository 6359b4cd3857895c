/* choose.c - which aircraft, layout and standard is meant by a word. */
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "sections.h"

enum { LIST_SIZE = 400 };

struct kind_row {
    const char *name; /* of the section and of the "use" option */
    const char *folder;
    const char *standing; /* when nothing is said */
};

static const struct kind_row row_of_kind[] = {
    [SECTION_AIRCRAFT] = {"aircraft", "aircraft", "club-trainer"},
    [SECTION_LAYOUT] = {"layout", "layouts", "plain-text"},
    [SECTION_STANDARD] = {"standard", "standards", "training"},
};

/* A word and where it was written, for messages. */
struct wish {
    const struct kind_row *kind;
    const char *word;
    cfg_t *section; /* the "use" section, or NULL: command line */
    struct place at;
};

static int fail_wish(const struct wish *wish, const struct reader_why *why,
                     const char *message)
{
    if (wish->section != NULL)
        return reader_fail(why, wish->section, wish->at, "%s", message);
    if (why->text[0] == '\0')
        (void)snprintf(why->text, why->size, "--%s %s: %s", wish->kind->name,
                       wish->word, message);
    return ERR_USAGE;
}

static bool is_file_word(const char *word)
{
    size_t length = strlen(word);

    return strchr(word, '/') != NULL ||
           (length > 5 && strcmp(word + length - 5, ".conf") == 0);
}

/* A file named in a configuration stands relative to that configuration, one
 * named on the command line relative to the working folder.
 * Returns: 0, or ERR_FULL. */
static int resolve(const struct wish *wish, char *out, size_t size)
{
    const char *slash = NULL;
    int length = 0;

    if (wish->section != NULL && wish->word[0] != '/')
        slash = strrchr(wish->section->filename, '/');
    if (slash != NULL)
        length = (int)(slash + 1 - wish->section->filename);
    length = snprintf(out, size, "%.*s%s", length,
                      slash != NULL ? wish->section->filename : "", wish->word);
    return length < 0 || (size_t)length >= size ? ERR_FULL : 0;
}

/* "name" of "folder/name.conf". */
static void stem_of(const char *path, char *out, size_t size)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash == NULL ? path : slash + 1;
    const char *dot = strrchr(name, '.');
    size_t length = dot == NULL ? strlen(name) : (size_t)(dot - name);

    (void)snprintf(out, size, "%.*s", (int)length, name);
}

static void list_titles(cfg_t *file, const char *kind, char *out, size_t size)
{
    for (unsigned i = 0; i < cfg_size(file, kind); i++)
        reader_list_add(out, size, cfg_title(cfg_getnsec(file, kind, i)));
}

/* The section of a file: that of the title, or the only one.
 * title: NULL takes the only one, else the one named like the file. */
static int take_section(const char *path, const struct kind_row *kind,
                        const char *title, struct section_chosen *out,
                        const struct reader_why *why)
{
    char titles[LIST_SIZE] = "";
    char stem[INTAKE_NAME_SIZE];
    cfg_t *file;
    int status = reader_open(path, &file, why);

    if (status != 0)
        return status;
    out->file = file;
    if (title == NULL && cfg_size(file, kind->name) == 1) {
        out->section = cfg_getnsec(file, kind->name, 0);
        return 0;
    }
    stem_of(path, stem, sizeof stem);
    if (title == NULL)
        title = stem;
    out->section = cfg_gettsec(file, kind->name, title);
    if (out->section != NULL)
        return 0;
    list_titles(file, kind->name, titles, sizeof titles);
    (void)reader_fail(why, file, (struct place){1, 1},
                      "no %s \"%s\" in this file; it has: %s", kind->name,
                      title, titles[0] == '\0' ? "none" : titles);
    cfg_free(file);
    out->file = NULL;
    return ERR_USAGE;
}

bool file_exists(const char *path)
{
    FILE *file = fopen(path, "r");

    if (file != NULL)
        (void)fclose(file);
    return file != NULL;
}

/* Look for NAME.conf in one folder.
 * Returns: 0 chosen; ERR_ABSENT when there is no such file, its neighbours
 *    added to names; ERR_USAGE with the reason told. */
static int choose_in_folder(const char *folder, const struct wish *wish,
                            char names[LIST_SIZE], struct section_chosen *out,
                            const struct reader_why *why)
{
    char path[SETTINGS_PATH_SIZE];
    int length = snprintf(path, sizeof path, "%s/%s.conf", folder, wish->word);

    if (length >= 0 && (size_t)length < sizeof path && file_exists(path))
        return take_section(path, wish->kind, wish->word, out, why);
    folder_list_names(folder, names, LIST_SIZE);
    return ERR_ABSENT;
}

static int choose_by_name(const struct section_place *place,
                          const struct wish *wish, struct section_chosen *out,
                          const struct reader_why *why)
{
    char folder[SETTINGS_PATH_SIZE];
    char names[LIST_SIZE] = "";
    char message[LIST_SIZE + 64];
    int status = ERR_ABSENT;
    int length;

    out->section = cfg_gettsec(place->config, wish->kind->name, wish->word);
    if (out->section != NULL)
        return 0;
    list_titles(place->config, wish->kind->name, names, sizeof names);
    if (place->own_folder != NULL) {
        length = snprintf(folder, sizeof folder, "%s/%s", place->own_folder,
                          wish->kind->folder);
        if (length >= 0 && (size_t)length < sizeof folder)
            status = choose_in_folder(folder, wish, names, out, why);
    }
    length = snprintf(folder, sizeof folder, "%s/config/%s", place->data_folder,
                      wish->kind->folder);
    if (length < 0 || (size_t)length >= sizeof folder)
        return fail_wish(wish, why, "the data folder's path is too long");
    if (status == ERR_ABSENT)
        status = choose_in_folder(folder, wish, names, out, why);
    if (status != ERR_ABSENT)
        return status;
    (void)snprintf(message, sizeof message, "no %s \"%.31s\"; there is: %s",
                   wish->kind->name, wish->word,
                   names[0] == '\0' ? "none" : names);
    return fail_wish(wish, why, message);
}

int section_choose(const struct section_place *place, enum section_kind kind,
                   const char *word, struct section_chosen *out,
                   const struct reader_why *why)
{
    struct wish wish = {&row_of_kind[kind], word, NULL, {0, 0}};
    const struct reader_value *value = NULL;
    char path[SETTINGS_PATH_SIZE];
    cfg_t *use = NULL;
    int status = section_find_single(place->config, "use", &use, why);

    out->section = NULL;
    out->file = NULL;
    if (status != 0)
        return status;
    if (word == NULL && use != NULL)
        value = reader_get(use, wish.kind->name);
    if (word == NULL)
        wish.word = value == NULL ? wish.kind->standing : value->text;
    if (value != NULL) {
        wish.section = use;
        wish.at = value->at;
    }
    if (!is_file_word(wish.word))
        return choose_by_name(place, &wish, out, why);
    if (resolve(&wish, path, sizeof path) != 0)
        return fail_wish(&wish, why, "the path is too long");
    if (!file_exists(path))
        return fail_wish(&wish, why, "there is no such file");
    return take_section(path, wish.kind, NULL, out, why);
}
