/* brief.h - the plan card: a chandelle worked out before it is flown.
 *
 * Pure but for the writing. Works a plan out for an airplane, a day and a
 * direction, and writes it as text, JSON or a page; each line says whether it
 * was computed, comes from the handbook or the standard, or is convention. */
#ifndef QUARTERTURN_BRIEF_H
#define QUARTERTURN_BRIEF_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "quarterturn/maneuver.h"
#include "quarterturn/performance.h"

/* What is asked for. Internal units. */
struct brief_wish {
    struct performance_conditions conditions; /* altitude_m NaN: the least
                                                 that keeps the height asked */
    double ground_m;    /* elevation of the ground, -500..5000 */
    double heading_rad; /* at the entry */
    int direction;      /* +1 right, -1 left */
};

/* Where a figure comes from. */
enum brief_basis {
    BASIS_COMPUTED,  /* by the program, from the figures below */
    BASIS_HANDBOOK,  /* the airplane's own, as configured */
    BASIS_STANDARD,  /* of the published standard */
    BASIS_CONVENTION /* common practice or this project's own number */
};

/* "computed", "handbook", "standard", "convention". */
const char *brief_basis_name(enum brief_basis basis);

/* The entry speed: the slowest of these is taken. */
enum brief_entry { ENTRY_CONFIGURED, ENTRY_MANEUVERING, ENTRY_CRUISE };

/* What another day or load would give; NaN gain: not flyable or not known. */
struct brief_other {
    const char *what; /* "at maximum weight" */
    double gain_m;
};

enum { BRIEF_OTHERS = 4 };

struct brief_plan {
    struct flight_aircraft aircraft;
    struct maneuver_standard standard;
    struct brief_wish wish; /* as planned: the altitude chosen, the
                               temperature and weight put in */
    bool below_height;      /* the altitude asked for is too low */
    double least_altitude_m;
    double density_altitude_m;
    enum brief_entry entry_by;
    double entry_mps;       /* CAS */
    double maneuvering_mps; /* CAS, at today's weight */
    double cruise_mps;      /* CAS at the handbook's altitude; NaN unknown */
    double stall_mps;       /* CAS, 1 g, today's weight */
    double finish_most_mps; /* CAS */
    bool misses_finish;     /* the line ends outside of what is allowed */
    double load_factor;     /* level turn at the entry bank */
    double turn_stall_mps;  /* CAS, at that load factor */
    double ninety_rad;      /* heading, [0, 2 pi) */
    double finish_rad;      /* heading, [0, 2 pi) */
    struct performance_reference line;
    uint32_t other_count;
    struct brief_other other[BRIEF_OTHERS];
    double drift_m;            /* over the ground during the maneuver */
    double drift_to_rad;       /* [0, 2 pi) */
    double wind_from_left_mps; /* across the entry heading; right negative */
};

/* Work a plan out.
 * why: one line on failure.
 * Returns: 0; ERR_RANGE when the wish is out of range or allows no chandelle
 *    (out unspecified). Thread: any. */
int brief_make(const struct flight_aircraft *aircraft,
               const struct maneuver_standard *standard,
               const struct brief_wish *wish, struct brief_plan *out, char *why,
               size_t why_size);

/* As text of at most 80 columns. Returns: 0 or ERR_IO. */
int brief_print(FILE *file, const struct brief_plan *plan);
/* As one JSON object, units in the names. Returns: 0, ERR_IO, ERR_NO_MEMORY. */
int brief_write_json(FILE *file, const struct brief_plan *plan);
/* As a page for a browser and a printer. Returns: 0 or ERR_IO. */
int brief_write_page(FILE *file, const struct brief_plan *plan);

/* ---- the card, line by line --------------------------------------------- */

enum { BRIEF_MAX_LINES = 32, BRIEF_VALUE_SIZE = 64, BRIEF_NOTE_SIZE = 160 };

struct brief_line {
    const char *section; /* the same pointer for lines of one section */
    const char *label;
    char value[BRIEF_VALUE_SIZE];
    char note[BRIEF_NOTE_SIZE]; /* "" for none */
    enum brief_basis basis;
};

/* The figures of a plan in the order of the card. Returns: how many. */
uint32_t brief_lines(const struct brief_plan *plan,
                     struct brief_line out[BRIEF_MAX_LINES]);
/* What to do before the entry, and what to watch: constant lines, ended by
 * NULL. */
extern const char *const brief_setup[];
extern const char *const brief_watch[];

#endif
