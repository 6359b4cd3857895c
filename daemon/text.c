/* text.c - what is text and what is only bytes. */
#include "quarterturn/text.h"

size_t text_character_length(const char *text)
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
    const unsigned char *at = (const unsigned char *)text;

    if (at[0] < 0x80)
        return 1;
    for (size_t i = 0; i < sizeof form / sizeof form[0]; i++) {
        if (at[0] < form[i].first || at[0] > form[i].last)
            continue;
        if (at[1] < form[i].least || at[1] > form[i].most)
            return 0;
        for (size_t k = 2; k <= form[i].more; k++)
            if ((at[k] & 0xC0) != 0x80)
                return 0;
        return form[i].more + 1U;
    }
    return 0;
}

bool text_is_utf8(const char *text)
{
    size_t length = 1;

    while (*text != '\0' && length > 0) {
        length = text_character_length(text);
        text += length;
    }
    return length > 0;
}

bool text_is_control(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;

    /* C1 controls are two bytes, C2 80 to C2 9F. */
    return at[0] < 0x20 || at[0] == 0x7F ||
           (at[0] == 0xC2 && at[1] >= 0x80 && at[1] < 0xA0);
}
