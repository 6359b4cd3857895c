/* table.c - the table of a voice, cues.tsv. */
#include "table.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/file.h"
#include "share.h"

enum { LINE_SIZE = 256, COLUMNS = 4, MOST_LINES = 1000, MOST_BYTES = 65536 };

struct reader {
    struct audio_table *table;
    char path[AUDIO_FULL_PATH];
    unsigned line;
    int findings;
    audio_report report;
    void *context;
};

static void find(struct reader *reader, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void find(struct reader *reader, const char *format, ...)
{
    char text[AUDIO_FULL_PATH + LINE_SIZE];
    va_list list;
    int used;

    used = reader->line > 0 ? snprintf(text, sizeof text,
                                       "%s:%u: ", reader->path, reader->line)
                            : snprintf(text, sizeof text, "%s: ", reader->path);
    va_start(list, format);
    (void)vsnprintf(text + used, sizeof text - (size_t)used, format, list);
    va_end(list);
    reader->findings++;
    reader->report(reader->context, text);
}

/* Cut a line at its tabs. Returns: number of columns, COLUMNS + 1 if there
 * are more. */
static int split(char *line, char *column[COLUMNS])
{
    int count = 0;

    for (;;) {
        char *tab = strchr(line, '\t');

        if (count == COLUMNS)
            return COLUMNS + 1;
        column[count++] = line;
        if (tab == NULL)
            return count;
        *tab = '\0';
        line = tab + 1;
    }
}

/* A voice is one folder: a name that leads out of it is refused, on every
 * system (a drive, a backslash). */
static bool stays_inside(const char *file)
{
    return file[0] != '\0' && file[0] != '.' && strpbrk(file, "/\\:") == NULL;
}

static void read_row(struct reader *reader, char *line)
{
    char *column[COLUMNS];
    struct audio_table_row *row;
    enum callout_clip clip;
    int count = split(line, column);

    if (count != COLUMNS) {
        find(reader,
             "%s columns; four are wanted, separated by one tab each: "
             "clip, file, text, stretch",
             count < COLUMNS ? "too few" : "too many");
        return;
    }
    if (callout_clip_find(column[0], &clip) != 0) {
        find(reader, "there is no clip named \"%.40s\"", column[0]);
        return;
    }
    row = &reader->table->row[clip];
    if (row->line > 0) {
        find(reader, "clip \"%s\" was already in line %u", column[0],
             row->line);
        return;
    }
    if (strlen(column[1]) >= sizeof row->file ||
        strlen(column[2]) >= sizeof row->text) {
        find(reader, "file and text may have at most %d characters",
             AUDIO_TABLE_FIELD - 1);
        return;
    }
    if (!stays_inside(column[1])) {
        find(reader,
             "file \"%s\": must be the name of a file in the same folder",
             column[1]);
        return;
    }
    row->line = reader->line;
    memcpy(row->file, column[1], strlen(column[1]) + 1);
    memcpy(row->text, column[2], strlen(column[2]) + 1);
}

static void read_lines(struct reader *reader, FILE *file)
{
    char line[LINE_SIZE];

    while (fgets(line, sizeof line, file) != NULL) {
        size_t length = strcspn(line, "\r\n");

        reader->line++;
        if (reader->line > MOST_LINES ||
            (line[length] == '\0' && length == sizeof line - 1)) {
            find(reader,
                 "this is no table of a voice: lines of at most %d "
                 "characters, at most %d lines",
                 LINE_SIZE - 2, MOST_LINES);
            return;
        }
        line[length] = '\0';
        if (length > 0 && line[0] != '#')
            read_row(reader, line);
    }
}

int audio_table_read(const char *folder, struct audio_table *table,
                     audio_report report, void *context)
{
    struct reader reader = {
        .table = table, .report = report, .context = context};
    int64_t size;
    FILE *file;

    memset(table, 0, sizeof *table);
    (void)snprintf(reader.path, sizeof reader.path, "%.*s/cues.tsv",
                   AUDIO_PATH_SIZE - 1, folder);
    if (strlen(folder) >= sizeof table->folder) {
        find(&reader, "the path is too long");
        return ERR_ABSENT;
    }
    memcpy(table->folder, folder, strlen(folder) + 1);
    file = file_open_inside(folder, reader.path, &size);
    if (size == ERR_USAGE) {
        find(&reader, "is a link that leads out of the voice's folder");
        return ERR_ABSENT;
    }
    if (file != NULL && size > MOST_BYTES) {
        (void)fclose(file);
        file = NULL;
    }
    if (file == NULL) {
        find(&reader, size == ERR_ABSENT
                          ? "there is no such file; a voice is a folder with "
                            "this table and its clips"
                          : "cannot be read as the table of a voice");
        return ERR_ABSENT;
    }
    read_lines(&reader, file);
    (void)fclose(file);
    for (int i = 0; i < CLIP_COUNT; i++) {
        if (table->row[i].line == 0)
            find(&reader, "the table ends without a row for clip \"%s\"",
                 callout_clip_name((enum callout_clip)i));
    }
    return reader.findings;
}

void audio_table_path(const struct audio_table *table, enum callout_clip clip,
                      char out[AUDIO_FULL_PATH])
{
    (void)snprintf(out, AUDIO_FULL_PATH, "%s/%s", table->folder,
                   table->row[clip].file);
}
