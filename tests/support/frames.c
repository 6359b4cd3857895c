/* frames.c - packets of the open standards with the values they carry. */
#include "frames.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "near.h"

enum { LINE_SIZE = 2048 };

static int digit_of(char c)
{
    static const char digits[] = "0123456789abcdef";
    const char *hit = c == '\0' ? NULL : strchr(digits, c);

    return hit == NULL ? -1 : (int)(hit - digits);
}

size_t frames_read_hex(const char *text, uint8_t *out, size_t size)
{
    size_t count = 0;

    while (digit_of(text[0]) >= 0 && digit_of(text[1]) >= 0) {
        assert_true(count < size);
        out[count++] = (uint8_t)(digit_of(text[0]) * 16 + digit_of(text[1]));
        text += 2;
    }
    assert_true(*text == '\0' || *text == ' ' || *text == '\n');
    return count;
}

static void read_frame(char *words, struct frame *out)
{
    char *word = strtok(words, " \n");

    memset(out, 0, sizeof *out);
    out->system = -1;
    assert_non_null(word);
    snprintf(out->name, sizeof out->name, "%.63s", word);
    while ((word = strtok(NULL, " \n")) != NULL) {
        if (strcmp(word, "still_air") == 0)
            out->still_air = true;
        else if (strncmp(word, "system=", 7) == 0)
            out->system = (int32_t)strtol(word + 7, NULL, 10);
        else
            out->length = frames_read_hex(word, out->bytes, sizeof out->bytes);
    }
    assert_true(out->length > 0);
}

static double read_number(const char *word)
{
    char *end;
    double value;

    assert_non_null(word);
    value = strtod(word, &end);
    assert_true(end != word && *end == '\0');
    return value;
}

static void read_value(char *words, struct frame *frame)
{
    struct frame_value *value = &frame->value[frame->value_count++];
    const char *channel = strtok(words, " ");
    const char *number = strtok(NULL, " ");
    const char *unit = strtok(NULL, " ");

    assert_true(frame->value_count <= FRAME_VALUES);
    assert_non_null(unit);
    assert_int_equal(intake_channel_find(channel, &value->channel), 0);
    assert_int_equal(units_find(unit, &value->unit), 0);
    value->value = read_number(number);
    value->tolerance = read_number(strtok(NULL, " "));
}

static void read_line(char *line, struct frame *frame, size_t *count)
{
    line[strcspn(line, "\n")] = '\0';
    if (line[0] == '\0' || line[0] == '#' || strcmp(line, "only") == 0)
        return;
    if (strncmp(line, "frame ", 6) == 0)
        read_frame(line + 6, &frame[(*count)++]);
    else if (*count > 0 && strncmp(line, "gives ", 6) == 0)
        read_value(line + 6, &frame[*count - 1]);
    else if (*count > 0 && strncmp(line, "refused ", 8) == 0)
        snprintf(frame[*count - 1].refused, FRAME_NAME, "%.63s", line + 8);
    else
        fail_msg("not known: %s", line);
}

size_t frames_load(const char *path, struct frame **out)
{
    enum { MOST_FRAMES = 100 };
    struct frame *frame = calloc(MOST_FRAMES, sizeof *frame);
    FILE *file = fopen(path, "r");
    char line[LINE_SIZE];
    size_t count = 0;

    assert_non_null(frame);
    if (file == NULL)
        fail_msg("%s cannot be opened", path);
    while (fgets(line, sizeof line, file) != NULL) {
        assert_true(count < MOST_FRAMES);
        read_line(line, frame, &count);
    }
    fclose(file);
    assert_true(count > 0);
    *out = frame;
    return count;
}

enum intake_reject frames_decode(const struct intake_layout *layout,
                                 const uint8_t *bytes, size_t length,
                                 struct intake_sample *out)
{
    uint8_t *exact = malloc(length > 0 ? length : 1);
    enum intake_reject reject;

    assert_non_null(exact);
    memcpy(exact, bytes, length);
    reject = intake_decode(layout, length > 0 ? exact : NULL, length, out);
    free(exact);
    return reject;
}

static void check_value(const struct frame *frame,
                        const struct frame_value *wanted,
                        const struct intake_sample *sample)
{
    char what[FRAME_NAME * 2];
    double value;

    snprintf(what, sizeof what, "%s: %s", frame->name,
             intake_channel_name(wanted->channel));
    if ((sample->valid & CHANNEL_BIT(wanted->channel)) == 0)
        fail_msg("%s is missing", what);
    value = units_from_internal(wanted->unit, sample->value[wanted->channel]);
    if (wanted->unit == UNIT_DEG)
        near_check_deg(value, wanted->value, wanted->tolerance, what, __FILE__,
                       __LINE__);
    else
        near_check(value, wanted->value, wanted->tolerance, what, __FILE__,
                   __LINE__);
}

void frames_check(const struct frame *frame, struct intake_layout *layout)
{
    struct intake_sample sample;
    enum intake_reject reject;
    uint32_t channels = 0;

    layout->still_air = frame->still_air;
    layout->system = frame->system;
    reject = frames_decode(layout, frame->bytes, frame->length, &sample);
    if (frame->refused[0] != '\0') {
        assert_string_equal(intake_reject_name(reject), frame->refused);
        return;
    }
    if (reject != INTAKE_TAKEN)
        fail_msg("%s: %s", frame->name, intake_reject_name(reject));
    for (size_t i = 0; i < frame->value_count; i++) {
        check_value(frame, &frame->value[i], &sample);
        channels |= CHANNEL_BIT(frame->value[i].channel);
    }
    if (sample.valid != channels)
        fail_msg("%s: channels %#x, not %#x", frame->name, sample.valid,
                 channels);
    /* What a layout promises it must be able to keep. */
    assert_int_equal(channels & ~intake_layout_channels(layout), 0);
}

static void check_finite(const struct intake_sample *sample)
{
    for (unsigned i = 0; i < CHANNEL_COUNT; i++) {
        if ((sample->valid >> i & 1) != 0)
            assert_true(isfinite(sample->value[i]));
    }
}

void frames_torment(const struct intake_layout *layout, const uint8_t *bytes,
                    size_t length, size_t least, bool sealed)
{
    uint8_t changed[FRAME_BYTES];
    struct intake_sample sample;

    assert_true(length <= sizeof changed);
    for (size_t cut = 0; cut < length; cut++) {
        if (frames_decode(layout, bytes, cut, &sample) != INTAKE_TAKEN)
            continue;
        if (cut < least)
            fail_msg("taken at %zu of %zu bytes", cut, length);
        check_finite(&sample);
    }
    memcpy(changed, bytes, length);
    for (size_t at = 0; at < length; at++) {
        for (unsigned change = 1; change < 256; change++) {
            changed[at] = (uint8_t)(bytes[at] ^ change);
            if (frames_decode(layout, changed, length, &sample) != INTAKE_TAKEN)
                continue;
            if (sealed)
                fail_msg("taken with byte %zu changed", at);
            check_finite(&sample);
        }
        changed[at] = bytes[at];
    }
}
