/* notes.c - the notes beside a recording, one JSON object a line. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/error.h"

/* A year: more is no recording of ours, and t * 1e9 must fit. */
static const double longest_s = 365.0 * 86400.0;

int debrief_notes_path(const char *recording, char *out, size_t size)
{
    int length = snprintf(out, size, "%s.notes.jsonl", recording);

    return length < 0 || (size_t)length >= size ? ERR_FULL : 0;
}

int debrief_notes_write(FILE *file, const struct debrief_noted *note)
{
    json_t *object = json_pack("{s:f, s:s}", "t", (double)note->since_ns * 1e-9,
                               "text", note->text);
    char *line = json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(17));
    bool written =
        line != NULL && fprintf(file, "%s\n", line) > 0 && fflush(file) == 0;

    free(line);
    json_decref(object);
    return written ? 0 : ERR_IO;
}

static int read_line(const char *line, size_t length, int64_t least_ns,
                     struct debrief_noted *out)
{
    json_t *object = json_loadb(line, length, JSON_REJECT_DUPLICATES, NULL);
    const json_t *t = json_object_get(object, "t");
    const char *text = json_string_value(json_object_get(object, "text"));
    double since_s = json_number_value(t);
    int error = ERR_FORMAT;

    if (json_is_number(t) && text != NULL && strlen(text) < sizeof out->text &&
        since_s >= 0.0 && since_s <= longest_s) {
        out->since_ns = llround(since_s * 1e9);
        memcpy(out->text, text, strlen(text) + 1);
        error = out->since_ns >= least_ns ? 0 : ERR_FORMAT;
    }
    json_decref(object);
    return error;
}

int debrief_notes_read(const char *path, struct debrief_noted *out,
                       uint32_t *count, uint32_t *line)
{
    /* Six bytes for one at most, and the names around them. */
    char text[6 * DEBRIEF_NOTED_SIZE + 128];
    FILE *file = fopen(path, "r");
    int64_t least_ns = 0;
    int error = 0;

    *count = *line = 0;
    if (file == NULL)
        return 0;
    while (error == 0 && *count < DEBRIEF_MAX_NOTED &&
           fgets(text, sizeof text, file) != NULL) {
        ++*line;
        error = read_line(text, strlen(text), least_ns, &out[*count]);
        if (error == 0)
            least_ns = out[(*count)++].since_ns;
    }
    (void)fclose(file);
    return error;
}
