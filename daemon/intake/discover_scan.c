/* discover_scan.c - every number of a datagram whose form is known. */
#include <math.h>
#include <string.h>

#include "bytes.h"
#include "decode.h"
#include "discover.h"

enum { DEEPEST = 16 };

static struct decode_line clean(const char *text, size_t length)
{
    struct decode_line word = {text, length};

    return decode_trim(decode_unquote(decode_trim(word)));
}

/* ---- text --------------------------------------------------------------- */

/* Columns as decode_text counts them. */
static int scan_text(const struct discover_form *form, struct decode_line line,
                     discover_visit visit, void *context)
{
    char decimal = form->decimal_comma ? ',' : '.';
    uint32_t column = 1;
    int count = 0;
    size_t at = 0;

    while (at <= line.length && column <= INTAKE_MAX_COLUMNS) {
        size_t end = at;
        struct decode_line word;
        double value;

        if (form->separator == ' ') {
            while (at < line.length && decode_is_blank(line.text[at]))
                at++;
            end = at;
        }
        while (end < line.length && line.text[end] != form->separator)
            end++;
        word = clean(line.text + at, end - at);
        if (decode_number(word.text, word.length, decimal, &value) &&
            isfinite(value)) {
            visit(context, "", 0, column, value);
            count++;
        }
        column++;
        at = end + 1;
    }
    return count;
}

static int scan_pairs(const struct discover_form *form, const char *text,
                      size_t length, discover_visit visit, void *context)
{
    char decimal = form->decimal_comma ? ',' : '.';
    int count = 0;
    size_t at = 0;

    while (at < length) {
        size_t end = at;
        const char *assign;
        double value;

        while (end < length && text[end] != form->separator &&
               !decode_is_line_end(text[end]))
            end++;
        assign = memchr(text + at, form->assign, end - at);
        if (assign != NULL) {
            struct decode_line name =
                clean(text + at, (size_t)(assign - text) - at);
            struct decode_line word =
                clean(assign + 1, (size_t)(text + end - assign - 1));

            if (name.length > 0 && name.length < INTAKE_FIELD_NAME &&
                decode_number(word.text, word.length, decimal, &value) &&
                isfinite(value)) {
                visit(context, name.text, name.length, 0, value);
                count++;
            }
        }
        at = end + 1;
    }
    return count;
}

/* ---- JSON --------------------------------------------------------------- */

/* A walk through the text; names of members make up the path. The grammar is
 * not checked: the decoder does that, later. */
struct walk {
    const char *text;
    size_t length;
    size_t at;
    char path[INTAKE_FIELD_NAME];
    size_t path_length;
    size_t outer[DEEPEST]; /* length of the path of each container */
    uint32_t index[DEEPEST];
    bool array[DEEPEST];
    uint32_t depth;
    bool overflow;
};

static void set_member(struct walk *w, const char *name, size_t length)
{
    size_t from = w->depth > 0 ? w->outer[w->depth - 1] : 0;

    w->overflow = from + length + 1 >= sizeof w->path;
    if (w->overflow)
        return;
    if (from > 0)
        w->path[from++] = '.';
    memcpy(w->path + from, name, length);
    w->path_length = from + length;
}

static void set_index(struct walk *w)
{
    char digits[12];
    size_t length = 0;
    uint32_t index = w->index[w->depth - 1]++;

    do {
        memmove(digits + 1, digits, length++);
        digits[0] = (char)('0' + index % 10);
        index /= 10;
    } while (index > 0);
    set_member(w, digits, length);
}

static struct decode_line take_string(struct walk *w)
{
    size_t begin = ++w->at;

    while (w->at < w->length && w->text[w->at] != '"')
        w->at += w->text[w->at] == '\\' ? 2 : 1;
    if (w->at >= w->length)
        w->at = w->length;
    return (struct decode_line){w->text + begin, w->at++ - begin};
}

static bool open_container(struct walk *w, bool array)
{
    if (w->depth == DEEPEST)
        return false;
    w->outer[w->depth] = w->path_length;
    w->index[w->depth] = 0;
    w->array[w->depth++] = array;
    w->at++;
    return true;
}

static int take_value(struct walk *w, struct decode_line word,
                      discover_visit visit, void *context)
{
    double value;

    if (w->overflow || !decode_number(word.text, word.length, '.', &value) ||
        !isfinite(value))
        return 0;
    visit(context, w->path, w->path_length, 0, value);
    return 1;
}

static struct decode_line take_plain(struct walk *w)
{
    size_t begin = w->at;

    while (w->at < w->length && memchr(",]} \t\r\n", w->text[w->at], 7) == NULL)
        w->at++;
    return (struct decode_line){w->text + begin, w->at - begin};
}

static int scan_json(const char *text, size_t length, discover_visit visit,
                     void *context)
{
    struct walk w = {.text = text, .length = length};
    int count = 0;

    while (w.at < length) {
        char c = text[w.at];
        bool in_array = w.depth > 0 && w.array[w.depth - 1];

        if (decode_is_blank(c) || decode_is_line_end(c) || c == ',') {
            w.at++;
            continue;
        }
        if (c == '}' || c == ']') {
            if (w.depth == 0)
                return -1;
            w.path_length = w.outer[--w.depth];
            w.at++;
            continue;
        }
        if (w.depth == 0 && c != '{' && c != '[')
            return -1;
        if (in_array) {
            set_index(&w);
        } else if (w.depth > 0) {
            struct decode_line name;

            if (c != '"')
                return -1;
            name = take_string(&w);
            while (w.at < length && (decode_is_blank(text[w.at]) ||
                                     decode_is_line_end(text[w.at])))
                w.at++;
            if (w.at >= length || text[w.at++] != ':')
                return -1;
            while (w.at < length && (decode_is_blank(text[w.at]) ||
                                     decode_is_line_end(text[w.at])))
                w.at++;
            set_member(&w, name.text, name.length);
            c = w.at < length ? text[w.at] : '}';
        }
        if (c == '{' || c == '[') {
            if (!open_container(&w, c == '['))
                return -1;
        } else {
            count += take_value(&w, c == '"' ? take_string(&w) : take_plain(&w),
                                visit, context);
        }
    }
    return w.depth == 0 ? count : -1;
}

int discover_scan(const struct discover_form *form, const uint8_t *data,
                  size_t length, discover_visit visit, void *context)
{
    const char *text = (const char *)data;

    while (length > 0 &&
           (text[length - 1] == '\0' || decode_is_line_end(text[length - 1])))
        length--;
    if (form->form == INTAKE_FORM_JSON)
        return scan_json(text, length, visit, context);
    if (form->form == INTAKE_FORM_PAIRS)
        return scan_pairs(form, text, length, visit, context);
    return scan_text(form, decode_last_line(text, length), visit, context);
}

/* ---- bytes -------------------------------------------------------------- */

static const uint8_t *find_record(const struct discover_form *form, int64_t key,
                                  const uint8_t *data, size_t length)
{
    for (size_t at = form->records_at; at + form->record_size <= length;
         at += form->record_size) {
        int64_t found = form->key_type == INTAKE_U32
                            ? bytes_u32(data + at, form->key_big_endian)
                            : bytes_u16(data + at, form->key_big_endian);

        if (found == key)
            return data + at;
    }
    return NULL;
}

bool discover_read(const struct discover_form *form,
                   const struct discover_place *place, const uint8_t *data,
                   size_t length, double *out)
{
    struct intake_field field = {.type = place->type,
                                 .big_endian = place->big_endian};

    if (form->form == INTAKE_FORM_RECORDS) {
        data = find_record(form, place->key, data, length);
        if (data == NULL)
            return false;
        length = form->record_size;
    }
    if (place->at + intake_type_size(place->type) > length)
        return false;
    *out = decode_load(&field, data + place->at);
    return isfinite(*out);
}
