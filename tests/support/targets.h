/* targets.h - what reads bytes that anybody may have written, each behind one
 * function: for the fuzzer, and for a test that hands them the fuzzer's seeds.
 *
 * Run from the top of the project: they read config/. They abort the program
 * when a promise is broken. */
#ifndef SUPPORT_TARGETS_H
#define SUPPORT_TARGETS_H

#include <stddef.h>
#include <stdint.h>

/* The first byte chooses a layout that comes with the program, the rest is a
 * datagram. Beyond the layouts stand two choices that put a checksum about
 * the bytes, which no chance would find: an NMEA 0183 sentence without its
 * '$', and a MAVLink message, its kind chosen by the next byte. */
void target_decode(const uint8_t *data, size_t size);
/* A capture file. */
void target_capture(const uint8_t *data, size_t size);
/* The first byte chooses between a whole configuration and a layout, the rest
 * is the file. */
void target_settings(const uint8_t *data, size_t size);

/* The table of a voice, cues.tsv. */
void target_table(const uint8_t *data, size_t size);
/* The notes beside a recording. */
void target_notes(const uint8_t *data, size_t size);

/* One line that a running program is told. */
void target_control(const uint8_t *data, size_t size);

/* The first byte chooses a layout, the rest is what a simulator gone mad does:
 * flown legs, wild values, damaged, doubled and chance datagrams, other
 * senders, times of all kinds, and what a user asks meanwhile. */
void target_session(const uint8_t *data, size_t size);

#endif
