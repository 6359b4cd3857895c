/* copy_text.c - names and notes that people type, made safe to keep. */
#include <stdint.h>
#include <string.h>

#include "quarterturn/debrief.h"

/* Length of the character at the front, 0 when it is none.
 * Source: RFC 3629, section 4: no overlong form, no surrogate, nothing above
 * U+10FFFF. */
static size_t character_length(const unsigned char *at)
{
    size_t length = at[0] < 0x80   ? 1
                    : at[0] < 0xc2 ? 0
                    : at[0] < 0xe0 ? 2
                    : at[0] < 0xf0 ? 3
                    : at[0] < 0xf5 ? 4
                                   : 0;

    for (size_t i = 1; i < length; i++)
        if ((at[i] & 0xc0) != 0x80)
            return 0;
    if ((at[0] == 0xe0 && at[1] < 0xa0) || (at[0] == 0xed && at[1] > 0x9f) ||
        (at[0] == 0xf0 && at[1] < 0x90) || (at[0] == 0xf4 && at[1] > 0x8f))
        return 0;
    return length;
}

/* C0 and C1 controls and DEL would reach terminals and tables. */
static bool is_control(const unsigned char *at)
{
    return at[0] < 0x20 || at[0] == 0x7f || (at[0] == 0xc2 && at[1] < 0xa0);
}

bool debrief_is_text(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    size_t length = 1;

    while (*at != '\0' && length > 0) {
        length = character_length(at);
        at += length;
    }
    return length > 0;
}

void debrief_copy_text(const char *text, char *out, size_t size)
{
    const unsigned char *at = (const unsigned char *)(text != NULL ? text : "");
    size_t used = 0;

    while (*at != '\0') {
        size_t length = character_length(at);

        if (used + (length > 0 ? length : 1) >= size)
            break;
        if (length == 0 || is_control(at)) {
            out[used++] = '?';
        } else {
            memcpy(out + used, at, length);
            used += length;
        }
        at += length > 0 ? length : 1;
    }
    out[used] = '\0';
}
