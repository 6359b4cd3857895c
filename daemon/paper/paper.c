/* paper.c - writing a page that a browser shows and a printer prints. */
#include "quarterturn/paper.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include "quarterturn/error.h"
#include "style.h"

void paper_markup(struct paper *paper, const char *markup)
{
    if (fputs(markup, paper->file) == EOF)
        paper->failed = true;
}

void paper_format(struct paper *paper, const char *format, ...)
{
    va_list list;

    va_start(list, format);
    if (vfprintf(paper->file, format, list) < 0)
        paper->failed = true;
    va_end(list);
}

/* Length of the whole, shortest-form UTF-8 character that text begins with; 0
 * when it does not begin with one. Source: RFC 3629, section 4. */
static size_t character_length(const unsigned char *text)
{
    static const struct {
        unsigned char first, last; /* of the first byte */
        unsigned char least, most; /* of the second */
        unsigned char more;        /* bytes behind the first */
    } form[] = {
        {0xC2, 0xDF, 0x80, 0xBF, 1}, {0xE0, 0xE0, 0xA0, 0xBF, 2},
        {0xE1, 0xEC, 0x80, 0xBF, 2}, {0xED, 0xED, 0x80, 0x9F, 2},
        {0xEE, 0xEF, 0x80, 0xBF, 2}, {0xF0, 0xF0, 0x90, 0xBF, 3},
        {0xF1, 0xF3, 0x80, 0xBF, 3}, {0xF4, 0xF4, 0x80, 0x8F, 3},
    };

    if (text[0] < 0x80)
        return 1;
    for (size_t i = 0; i < sizeof form / sizeof form[0]; i++) {
        if (text[0] < form[i].first || text[0] > form[i].last)
            continue;
        if (text[1] < form[i].least || text[1] > form[i].most)
            return 0;
        for (size_t k = 2; k <= form[i].more; k++)
            if ((text[k] & 0xC0) != 0x80)
                return 0;
        return form[i].more + 1U;
    }
    return 0;
}

static void write_bytes(struct paper *paper, const void *bytes, size_t length)
{
    if (fwrite(bytes, 1, length, paper->file) != length)
        paper->failed = true;
}

void paper_text(struct paper *paper, const char *text)
{
    const unsigned char *at = (const unsigned char *)text;

    while (*at != '\0') {
        size_t length = character_length(at);

        switch (*at) {
        case '&': paper_markup(paper, "&amp;"); break;
        case '<': paper_markup(paper, "&lt;"); break;
        case '>': paper_markup(paper, "&gt;"); break;
        case '"': paper_markup(paper, "&quot;"); break;
        case '\'': paper_markup(paper, "&#39;"); break;
        default:
            /* C1 controls are two bytes, C2 80 to C2 9F. */
            if (length == 0 || (*at < 0x20 && *at != '\t' && *at != '\n') ||
                *at == 0x7F || (at[0] == 0xC2 && at[1] < 0xA0))
                paper_markup(paper, "\xEF\xBF\xBD");
            else
                write_bytes(paper, at, length);
            break;
        }
        at += length == 0 ? 1 : length;
    }
}

void paper_number(struct paper *paper, double value, int decimals)
{
    char text[64];

    if (!isfinite(value)) {
        paper_markup(paper, "\xE2\x80\x93");
        return;
    }
    (void)snprintf(text, sizeof text, "%.*f", decimals, fabs(value));
    /* No minus before what is nought once rounded. */
    if (value < 0.0 && strspn(text, "0.") != strlen(text))
        paper_markup(paper, "\xE2\x88\x92");
    paper_markup(paper, text);
}

void paper_element(struct paper *paper, const char *tag, const char *class_name,
                   const char *text)
{
    if (class_name == NULL)
        paper_format(paper, "<%s>", tag);
    else
        paper_format(paper, "<%s class=\"%s\">", tag, class_name);
    paper_text(paper, text);
    paper_format(paper, "</%s>", tag);
}

void paper_begin(struct paper *paper, FILE *file, const char *title)
{
    *paper = (struct paper){.file = file};
    paper_markup(paper,
                 "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n"
                 "<meta charset=\"utf-8\">\n"
                 "<meta name=\"viewport\" "
                 "content=\"width=device-width, initial-scale=1\">\n"
                 "<meta name=\"color-scheme\" content=\"light dark\">\n");
    paper_element(paper, "title", NULL, title);
    paper_markup(paper, "\n<style>\n");
    paper_markup(paper, paper_style);
    paper_markup(paper, paper_style_plots);
    paper_markup(paper, paper_style_print);
    paper_markup(paper, "</style>\n</head>\n<body>\n");
}

int paper_end(struct paper *paper)
{
    paper_markup(paper,
                 "<footer><p>For simulator practice only. The airplane's own "
                 "handbook, the current standards, local rules and a licensed "
                 "instructor come first.</p></footer>\n</body>\n</html>\n");
    if (fflush(paper->file) != 0 || ferror(paper->file))
        paper->failed = true;
    return paper->failed ? ERR_IO : 0;
}
