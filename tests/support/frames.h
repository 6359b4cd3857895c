/* frames.h - packets of the open standards with the values they carry, out of
 * the files of tests/oracle; what their words mean stands in
 * tests/oracle/make. */
#ifndef SUPPORT_FRAMES_H
#define SUPPORT_FRAMES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/intake.h"

enum { FRAME_VALUES = 24, FRAME_NAME = 64, FRAME_BYTES = 512 };

struct frame_value {
    enum intake_channel channel;
    enum unit unit;
    double value;     /* in the unit */
    double tolerance; /* in the unit */
};

struct frame {
    char name[FRAME_NAME];
    uint8_t bytes[FRAME_BYTES];
    size_t length;
    bool still_air;
    int32_t system;
    struct frame_value value[FRAME_VALUES];
    size_t value_count;
    char refused[FRAME_NAME]; /* the reason's name, "" when taken */
};

/* Read a file; the test fails when it cannot be read or a word in it is not
 * known.
 * Owns: the caller frees *out with free.
 * Returns: how many frames there are, above 0. */
size_t frames_load(const char *path, struct frame **out);

/* Decode a frame by a layout that is changed to the frame's own options, and
 * compare with what it must give. */
void frames_check(const struct frame *frame, struct intake_layout *layout);

/* Hand a decoder bytes in memory of exactly their length, so that a sanitizer
 * sees a read beyond it. */
enum intake_reject frames_decode(const struct intake_layout *layout,
                                 const uint8_t *bytes, size_t length,
                                 struct intake_sample *out);

/* Bytes written as hexadecimal digits, to the end or the first blank.
 * Returns: how many. */
size_t frames_read_hex(const char *text, uint8_t *out, size_t size);

/* Cut a packet at every length, and replace every byte of it by every other:
 * the decoder must stand it. What is taken must be finite.
 * least: a shorter packet must not be taken.
 * sealed: nor must a packet with a byte changed. */
void frames_torment(const struct intake_layout *layout, const uint8_t *bytes,
                    size_t length, size_t least, bool sealed);

#endif
