/* words.c - values that are written as text. */
#include <math.h>
#include <string.h>

#include "decode.h"

bool decode_is_line_end(char c)
{
    return c == '\n' || c == '\r' || c == '\0';
}

bool decode_is_blank(char c)
{
    return c == ' ' || c == '\t';
}

struct decode_line decode_last_line(const char *text, size_t length)
{
    size_t end = length;
    size_t begin;

    while (end > 0 && (decode_is_line_end(text[end - 1]) ||
                       decode_is_blank(text[end - 1])))
        end--;
    begin = end;
    while (begin > 0 && !decode_is_line_end(text[begin - 1]))
        begin--;
    return (struct decode_line){text + begin, end - begin};
}

struct decode_line decode_trim(struct decode_line word)
{
    while (word.length > 0 && decode_is_blank(word.text[0])) {
        word.text++;
        word.length--;
    }
    while (word.length > 0 && decode_is_blank(word.text[word.length - 1]))
        word.length--;
    return word;
}

struct decode_line decode_unquote(struct decode_line word)
{
    word = decode_trim(word);
    if (word.length < 2 || word.text[0] != '"' ||
        word.text[word.length - 1] != '"')
        return word;
    return decode_trim((struct decode_line){word.text + 1, word.length - 2});
}

/* ASCII letters without regard to case. */
static bool is_word(struct decode_line word, const char *meant)
{
    if (word.length != strlen(meant))
        return false;
    for (size_t i = 0; i < word.length; i++) {
        char c = word.text[i];

        if (c >= 'A' && c <= 'Z')
            c = (char)(c - 'A' + 'a');
        if (c != meant[i])
            return false;
    }
    return true;
}

/* What printf makes of a value that the sender does not have. */
static bool is_nan_word(struct decode_line word)
{
    if (word.length > 0 && (word.text[0] == '-' || word.text[0] == '+')) {
        word.text++;
        word.length--;
    }
    return is_word(word, "nan");
}

enum intake_reject decode_word(const struct intake_packet *packet,
                               const struct intake_field *field,
                               struct decode_line word,
                               struct intake_sample *out)
{
    char decimal = packet->decimal_comma ? ',' : '.';
    double raw;

    word = decode_unquote(word);
    if ((field->optional && word.length == 0) || is_nan_word(word))
        return decode_store(field, (double)NAN, out);
    if (decode_number(word.text, word.length, decimal, &raw))
        return decode_store(field, raw, out);
    if (field->unit == UNIT_BOOL && is_word(word, "true"))
        return decode_store(field, 1.0, out);
    if (field->unit == UNIT_BOOL && is_word(word, "false"))
        return decode_store(field, 0.0, out);
    return INTAKE_NOT_A_NUMBER;
}

int intake_hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    return -1;
}

enum intake_reject decode_check_line(const struct intake_packet *packet,
                                     struct decode_line *line)
{
    return packet->checksum == INTAKE_CHECKSUM_XOR ? decode_check_xor(line)
                                                   : INTAKE_TAKEN;
}

enum intake_reject decode_check_xor(struct decode_line *line)
{
    unsigned sum = 0;
    size_t length = line->length;
    size_t at = 0;
    int high;
    int low;

    if (length < 3 || line->text[length - 3] != '*')
        return INTAKE_BAD_CHECKSUM;
    high = intake_hex_digit(line->text[length - 2]);
    low = intake_hex_digit(line->text[length - 1]);
    length -= 3;
    if (length > 0 && (line->text[0] == '$' || line->text[0] == '!'))
        at = 1;
    for (; at < length; at++)
        sum ^= (unsigned char)line->text[at];
    if (high < 0 || low < 0 || sum != (unsigned)(high * 16 + low))
        return INTAKE_BAD_CHECKSUM;
    line->length = length;
    return INTAKE_TAKEN;
}
