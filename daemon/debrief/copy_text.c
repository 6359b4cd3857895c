/* copy_text.c - names and notes that people type, made safe to keep. */
#include <string.h>

#include "quarterturn/debrief.h"
#include "quarterturn/text.h"

void debrief_copy_text(const char *text, char *out, size_t size)
{
    const char *at = text != NULL ? text : "";
    size_t used = 0;

    while (*at != '\0') {
        size_t length = text_character_length(at);

        if (used + (length > 0 ? length : 1) >= size)
            break;
        if (length == 0 || text_is_control(at)) {
            out[used++] = '?';
        } else {
            memcpy(out + used, at, length);
            used += length;
        }
        at += length > 0 ? length : 1;
    }
    out[used] = '\0';
}
