/* paper.c - writing a page that a browser shows and a printer prints. */
#include "quarterturn/paper.h"

#include <math.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include "quarterturn/error.h"
#include "quarterturn/text.h"
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

static void write_bytes(struct paper *paper, const void *bytes, size_t length)
{
    if (fwrite(bytes, 1, length, paper->file) != length)
        paper->failed = true;
}

void paper_text(struct paper *paper, const char *text)
{
    while (*text != '\0') {
        size_t length = text_character_length(text);

        switch (*text) {
        case '&': paper_markup(paper, "&amp;"); break;
        case '<': paper_markup(paper, "&lt;"); break;
        case '>': paper_markup(paper, "&gt;"); break;
        case '"': paper_markup(paper, "&quot;"); break;
        case '\'': paper_markup(paper, "&#39;"); break;
        default:
            if (length == 0 ||
                (text_is_control(text) && *text != '\t' && *text != '\n'))
                paper_markup(paper, "\xEF\xBF\xBD");
            else
                write_bytes(paper, text, length);
            break;
        }
        text += length == 0 ? 1 : length;
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
