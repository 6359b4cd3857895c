/* discover_case.h - a recorded flight sent in any layout, for the tests of
 * finding layouts out. */
#ifndef SUPPORT_DISCOVER_CASE_H
#define SUPPORT_DISCOVER_CASE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "quarterturn/intake.h"

/* What a number tells: a channel of intake.h, or one of these, which look
 * like something they are not. */
enum {
    SENT_CONSTANT = CHANNEL_COUNT,
    SENT_COUNTER,
    SENT_NOISE,
    SENT_FUEL,        /* falls slowly, in the range of a speed */
    SENT_WIND_TRACK,  /* with 15 kt of wind */
    SENT_WIND_SPEED,  /* over ground, in the same wind */
    SENT_TURN_RATE,   /* rad/s */
    SENT_PITCH_RATE,  /* rad/s */
    SENT_PATH_ANGLE,  /* of the climb */
    SENT_BANK_WANTED, /* the bank of a second later */
    SENT_MAGNETIC,    /* heading less 7 degrees */
    SENT_DENSITY,     /* air density over that of sea level */
    SENT_CLOCK_TEXT   /* day's time in s, from 40000 on */
};

/* One number of a datagram. */
struct sent {
    int what;
    enum unit unit;        /* UNIT_NONE: internal units */
    double scale;          /* sent = value in unit / scale; 0 is 1 */
    enum intake_type type; /* bytes only; text has four decimals */
    bool big_endian;
    const char *name; /* pairs, JSON */
    int decimals;     /* words: 0 is 4 */
};

enum { SENT_MOST = 20 };

struct check_flight;

struct discover_case {
    const char *title;
    const char *flight; /* of tests/replay, recorded as plain-binary */
    const struct check_flight *made; /* or one made for this */
    double rate_hz;                  /* 0: as recorded; made: needed */
    double from_s;                   /* 0, 0: the whole flight */
    double to_s;
    bool mirrored;
    enum intake_form form;
    const char *head; /* bytes before the first number */
    size_t head_length;
    char separator;
    char assign;
    bool decimal_comma;
    size_t key_bytes; /* records: 2 or 4, and numbers in each */
    size_t per_record;
    size_t split; /* 0, or the numbers of the first of two datagrams */
    struct sent sent[SENT_MOST]; /* ended by name and scale all zero: count */
    size_t count;
};

/* Send the case to a discovery, work it out, read the layout it writes back
 * as configuration, and compare what that decodes with the flight. Fails the
 * test when a channel it is sure of is wrong.
 * out: what it found. */
void discover_case_run(const struct discover_case *c,
                       struct intake_discovered *out);

#endif
