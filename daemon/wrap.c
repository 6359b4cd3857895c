/* wrap.c - text broken between words. */
#include "quarterturn/wrap.h"

#include <string.h>

/* Characters, as a terminal shows them: bytes that continue one do not
 * count. */
static int width_of(const char *text, int length)
{
    int width = 0;

    for (int i = 0; i < length; i++)
        width += ((unsigned char)text[i] & 0xC0U) != 0x80U;
    return width;
}

int wrap_take(const char **text, int room)
{
    const char *at = *text;
    int length = (int)strcspn(at, " ");

    for (;;) {
        int next = length + (int)strspn(at + length, " ");

        if (at[next] == '\0')
            break;
        next += (int)strcspn(at + next, " ");
        if (width_of(at, next) > room)
            break;
        length = next;
    }
    *text = at + length + strspn(at + length, " ");
    return length;
}

void wrap_print(FILE *file, int column, int indent, const char *text)
{
    while (*text != '\0') {
        const char *from = text;
        int length = wrap_take(&text, WRAP_COLUMNS - column);

        (void)fprintf(file, "%.*s", length, from);
        if (*text != '\0')
            (void)fprintf(file, "\n%*s", indent, "");
        column = indent;
    }
}
